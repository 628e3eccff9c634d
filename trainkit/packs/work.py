"""The work of a pack: steps, what must come before what and why, configurations, parts and hazards."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainkit.packs.base import Id, OneLine, PackModel, Paragraph, Sourced

# The cautions that open every sheet, in the order in which they are shown, each with what it is about.
USUAL_CAUTIONS: dict[str, str] = {
    "starting": "isolating and locking out the starting system, automatic and remote start included",
    "start-attempt": "trying the start after lock-out",
    "controls": "keeping everyone else away from the controls",
    "driven-machine": "securing the driven machine against turning the engine back",
    "heater": "a heater that has its own supply",
    "barring": "a bar that compression can throw",
    "signals": "the second person and the agreed signals",
    "fuel-pressure": "relieving fuel pressure, as a fuel jet pierces skin",
    "fuel-jet": "a wound by a fuel jet, and leaks that nobody feels for by hand",
    "flames": "no flames near fuel",
    "gears": "keeping hands and loose clothing clear of gears",
    "hot": "hot surfaces",
    "coolant": "hot coolant under pressure",
    "springs": "springs under load",
    "protection": "eye protection and gloves, and no gloves beside moving gears",
    "lifting": "lifting heavy parts",
    "floor": "fuel on the floor",
}

# What sort of work a step can be.
DEEDS: dict[str, str] = {
    "clean": "cleans or dries faces",
    "count": "counts tools and loose parts",
    "close": "closes an opening through which something may have fallen",
    "set": "sets a position on purpose",
    "check": "checks a position",
    "mark": "makes a witness mark",
    "tell-stroke": "tells compression from exhaust",
    "clear": "sees that everybody is clear",
    "agree": "asks the person in charge to agree",
}


class Step(Sourced):
    """One step of the work.

    Parameters
    ----------
    id, text : str
        Identifier, and what is done, as the apprentice reads it: one action, a verb first.
    tool, adapter : str, optional
        Identifiers of the tool and of an adapter on it.
    fastener, stage : str, optional
        The fastener that is tightened and the stage it is brought to.
    loosens : str, optional
        The fastener that is loosened or taken out.
    takes_off, fits, handles : tuple of str
        Parts that come off, go on, or are otherwise handled.
    critical : bool
        Whether doing it wrongly, or leaving it out, can hurt the engine or a person.
    pin : str, optional
        What becomes of the pin named by ``tool``: ``in``, ``out``, or ``tried`` (in and out again). The first tool of
        kind ``pin`` is the lock pin; dowels and lock plates are pins too.
    turns_engine : str
        How far the engine is turned: ``to the mark``, ``90 degrees`` of the crank or ``2 turns``; empty if it is not.
    puts_on, takes_away : tuple of str
        Tools that stay on the engine after the step, and tools that come off it: bar, holder, tray, strap.
    makes_safe, proves, restores : tuple of str
        Energies that the step isolates and locks, proves dead, or brings back.
    at_engine : bool
        Whether hands are at the engine, as they are if nothing is said; not where the work is done at the bench.
    needs_live : tuple of str
        Energies that the step needs in service: priming, bleeding, a first start.
    people : int
        How many it takes, 1 or 2.
    exposed_to : tuple of str
        Energies, kinds of energy or kinds of caution that reach the hands here, beside those that reach every step at
        the engine.
    does : tuple of str
        What sort of work it is, from :data:`DEEDS`; marking tells from it what a wrong order shows.
    """

    id: Id
    text: OneLine
    tool: str = ""
    adapter: str = ""
    fastener: str = ""
    stage: str = ""
    loosens: str = ""
    takes_off: Annotated[tuple[str, ...], Field(max_length=40)] = ()
    fits: Annotated[tuple[str, ...], Field(max_length=40)] = ()
    handles: Annotated[tuple[str, ...], Field(max_length=40)] = ()
    critical: bool = False
    pin: Literal["in", "out", "tried"] | None = None
    turns_engine: Annotated[str, Field(pattern=r"^(|to the mark|\d{1,4}(\.\d+)? (degrees|turns?))$")] = ""
    puts_on: Annotated[tuple[str, ...], Field(max_length=20)] = ()
    takes_away: Annotated[tuple[str, ...], Field(max_length=20)] = ()
    makes_safe: Annotated[tuple[str, ...], Field(max_length=20)] = ()
    proves: Annotated[tuple[str, ...], Field(max_length=20)] = ()
    restores: Annotated[tuple[str, ...], Field(max_length=20)] = ()
    at_engine: bool = True
    needs_live: Annotated[tuple[str, ...], Field(max_length=20)] = ()
    people: Annotated[int, Field(ge=1, le=2)] = 1
    exposed_to: Annotated[tuple[str, ...], Field(max_length=40)] = ()
    does: Annotated[tuple[str, ...], Field(max_length=10)] = ()

    @property
    def crank_degrees(self) -> float | None:
        """How far it turns the engine in crank degrees; None where it does not, or to a mark."""
        number, _, unit = self.turns_engine.partition(" ")
        if unit not in ("degrees", "turn", "turns"):
            return None
        return float(number) * (1 if unit == "degrees" else 360)

    @property
    def parts(self) -> tuple[str, ...]:
        """All parts it names, each once."""
        return tuple(dict.fromkeys((*self.takes_off, *self.fits, *self.handles)))


class Edge(PackModel):
    """One precedence: what must come before what, and why.

    Parameters
    ----------
    before, after : str
        Identifiers of the two steps.
    reason : str
        Why it must be so, a whole sentence.
    dangerous : bool
        Whether the wrong order can hurt the engine or a person; most other pairs are only convenient.
    shows : str, optional
        Code of the misconception that the wrong order shows.
    """

    before: str
    after: str
    reason: OneLine
    dangerous: bool = False
    shows: str = ""


class Configuration(PackModel):
    """A variant of the engine or the job that changes some steps.

    Parameters
    ----------
    id, name : str
        Identifier and what people call it.
    drops : tuple of str
        Steps that do not apply here.
    adds : tuple of str
        Steps that apply only here (and in other configurations that add them too).
    replaces : mapping of str to str
        For a step that does not apply here, the one that is done in its place.
    """

    id: Id
    name: OneLine
    drops: Annotated[tuple[str, ...], Field(max_length=400)] = ()
    adds: Annotated[tuple[str, ...], Field(max_length=400)] = ()
    replaces: Annotated[dict[str, str], Field(default_factory=dict, max_length=400)]

    @property
    def without(self) -> tuple[str, ...]:
        """Steps that do not apply here, dropped or replaced."""
        return (*self.drops, *self.replaces)

    @property
    def own(self) -> tuple[str, ...]:
        """Steps that apply here and not everywhere, added or replacing."""
        return (*self.adds, *self.replaces.values())


class Part(Sourced):
    """One part and what becomes of it.

    Parameters
    ----------
    id, name : str
        Identifier and what people call it.
    fate : str
        ``refit`` (the same part goes back), ``renew`` (a new one in its place), ``transfer`` (from the old unit
        to the new one), ``discard`` (nothing goes back), ``return`` (the old unit goes back for overhaul) or
        ``stays`` (it is not taken off).
    single_use : bool
        Whether it may be used once only.
    seals : bool, optional
        Whether it seals; false where it holds or locks a joint, which may open if such a part is used again.
    count : int
        How many there are.
    """

    id: Id
    name: OneLine
    fate: Literal["refit", "renew", "transfer", "discard", "return", "stays"] | None = None
    single_use: bool = False
    count: Annotated[int, Field(ge=1, le=200)] = 1
    seals: bool | None = None


class Hazard(PackModel):
    """One caution.

    Parameters
    ----------
    kind : str
        One of :data:`USUAL_CAUTIONS`, or ``other``.
    title, text : str
        A few words, and what to do.
    """

    kind: Literal[
        "starting",
        "start-attempt",
        "controls",
        "driven-machine",
        "heater",
        "barring",
        "signals",
        "fuel-pressure",
        "fuel-jet",
        "flames",
        "gears",
        "hot",
        "coolant",
        "springs",
        "protection",
        "lifting",
        "floor",
        "other",
    ]
    title: OneLine
    text: Paragraph


class Provenance(PackModel):
    """Where the values come from.

    Parameters
    ----------
    values : str
        ``invented`` (training values) or ``manual``.
    manual, edition : str
        Title and edition of the manual, in a pack that claims one; each value then names its page.
    text : str, optional
        What else is to be said.
    """

    values: Literal["invented", "manual"]
    manual: Annotated[str, Field(max_length=160)] = ""
    edition: Annotated[str, Field(max_length=80)] = ""
    text: Annotated[str, Field(max_length=1200)] = ""
