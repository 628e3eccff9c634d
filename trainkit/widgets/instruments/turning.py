"""The gear train: turned by any of its gears, seen from either end, with the lash of every mesh.

Lash is followed mesh by mesh. Each gear has an angle in its own forward sense; one that is driven is never behind its
driver, and never further ahead of it than the lash of the mesh: so it stays where it is when the sense is reversed,
until the lash is taken up. This module gives the ratios, the lash and where everything stands at the start; the screen
follows the crank by these numbers alone.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.errors import GearError, ItemError
from trainkit.gears import VIEWPOINTS, Clock, Viewpoint, seen, signed
from trainkit.gears.exact import written
from trainkit.gears.viewpoints import viewpoint
from trainkit.widgets.instruments.base import Instrument

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainkit.gears import Gear, GearTrain
    from trainkit.packs import Pack


QUANTUM = Fraction(1, 20)
"""Degrees of the crank of the finest step; every angle of the crank is a whole number of these."""

STEPS = (1, 20, 200)
"""The steps that can be chosen, in the finest: 0.05°, 1° and 10°."""

_EXAMPLE = " The shafts' places are an example."
_PIN_AT = Clock(9)  # seen from the front

# So many times as large lash can be drawn, if no tooth then moves by more than this share of its pitch.
_LARGER = (20, 10, 5, 2)
_MOST_OF_PITCH = 0.4


@dataclass(frozen=True, slots=True)
class Turned:
    """One gear, and how it follows the crank.

    Parameters
    ----------
    id, name : str
        Identifier, and what people call it.
    teeth : int
        Number of teeth.
    driver : str
        The gear that turns it; empty for the crank itself.
    step : fractions.Fraction
        Turns for one turn of the driver, above zero.
    rate : fractions.Fraction
        Turns for one turn of the crank, above zero.
    clockwise : bool
        Whether its forward sense is clockwise, seen from the front.
    lash : float
        Play of the mesh with its driver in degrees of this gear.
    known : bool
        Whether the pack tells the lash as an angle; without it there is none here.
    kind : str
        What joins it with its driver: external, internal, chain, belt, shaft; empty for the crank.
    """

    id: str
    name: str
    teeth: int
    driver: str
    step: Fraction
    rate: Fraction
    clockwise: bool
    lash: float
    known: bool
    kind: str


def turned_by_crank(pack: Pack) -> tuple[Turned, ...]:
    """Return the gears of a pack, each after the one that drives it when the crank is turned.

    Raises
    ------
    ItemError
        If the pack has no crank gear.

    Examples
    --------
    >>> from trainkit import packs
    >>> [(gear.id, gear.driver, str(gear.rate)) for gear in turned_by_crank(packs.load("dunlin"))][:3]
    [('crank', '', '1'), ('idler', 'crank', '3/2'), ('cam', 'idler', '1/2')]
    """
    train, crank = pack.train, pack.crank
    if not crank:
        raise ItemError(
            pack.name,
            rule="The train is turned by the crank, and this pack names no crank gear.",
            remedy='Give one of its [[gears]] the role = "crank".',
        )
    forward = seen(signed(pack.engine.rotation), stated_from=pack.engine.seen_from, seen_from="front")
    found: list[Turned] = []
    for gear in _outwards(train, crank):
        path = train.path(crank, gear.id)
        last = path.legs[-1] if path.legs else None
        lash, known = _lash(train, gear.id, crank)
        found.append(
            Turned(
                id=gear.id,
                name=gear.title,
                teeth=gear.teeth or 0,
                driver=last.source.id if last else "",
                step=abs(last.ratio) if last else Fraction(1),
                rate=abs(path.ratio),
                clockwise=forward * path.ratio > 0,
                lash=lash,
                known=known,
                kind=last.mesh.kind if last else "",
            )
        )
    return tuple(found)


def _outwards(train: GearTrain, crank: str) -> list[Gear]:
    """Return the gears in the order of the pack, but none before the one that drives it."""
    waiting = list(train.gears)
    found: list[Gear] = []
    while waiting:
        placed = {gear.id for gear in found}
        following = next(gear for gear in waiting if gear.id == crank or train.path(crank, gear.id).gears[-2] in placed)
        waiting.remove(following)
        found.append(following)
    return found


def _lash(train: GearTrain, gear: str, crank: str) -> tuple[float, bool]:
    legs = train.path(crank, gear).legs
    if not legs:
        return 0.0, True
    try:
        return legs[-1].lash, True
    except GearError:  # no size is given, so its millimetres are no angle
        return 0.0, False


def larger(gears: Sequence[Turned]) -> int:
    """Return how many times as large the lash can be drawn, 1 where there is none."""
    shares = [gear.lash * gear.teeth / 360 for gear in gears if gear.lash]
    return next((size for size in _LARGER if shares and max(shares) * size <= _MOST_OF_PITCH), 1)


class TrainTurned(Instrument):
    """The gear train of a pack, turned by the crank.

    Parameters
    ----------
    pack : Pack
        The engine. At the start it stands with the lock pin's mark at its place.
    seen_from : str, optional
        The end it is seen from at first; the one that the sense of rotation is stated from by default.
    """

    kind = "gears"
    heading = "Turn the gear train"

    def __init__(self, pack: Pack, seen_from: str = "") -> None:
        super().__init__()
        self.pack = pack
        self.seen_from: Viewpoint = viewpoint(seen_from or pack.engine.seen_from)
        self.gears = self._chosen(turned_by_crank(pack))
        self._pictures = {end: self._drawn(end) for end in VIEWPOINTS}

    @property
    def lead(self) -> tuple[str, ...]:
        """What it shows, and how it is turned."""
        return (
            "Which way does each gear turn? Set your arrows first, then take hold of any gear.",
            f"Reverse it and watch the lash. Walk round the engine.{'' if self._sits else _EXAMPLE}",
        )

    @property
    def _sits(self) -> bool:
        """Whether the pack says where every shaft sits in the gear case."""
        return all(self.pack.train.gear(gear.id).at_mm for gear in self.gears)

    def _chosen(self, gears: tuple[Turned, ...]) -> tuple[Turned, ...]:
        return gears

    def mark_at(self, gear: str, seen_from: str) -> Clock:
        """Return where the mark of a gear stands at the start: the pack's mark at its place, a chalk line on top."""
        table = self.pack.lock_pin_table
        watched = self.pack.crank if table.watched == "flywheel" else table.watched
        if gear != watched:
            # Where the bore of the pin sits in the case is not in a pack; any place does to see the hole come by.
            return _PIN_AT.seen(stated_from="front", seen_from=seen_from) if gear == table.hole_in else Clock(0)
        return Clock.parse(table.seats).seen(stated_from=table.seen_from, seen_from=seen_from)

    def mark_name(self, gear: str) -> str:
        """Return what the mark of a gear is."""
        table = self.pack.lock_pin_table
        if gear == table.watched:
            return "witness tooth" if table.tells_stroke == "witness" else "mark"
        if table.watched == "flywheel" and gear == self.pack.crank:
            return "flywheel mark"
        return "lock pin hole" if gear == table.hole_in else "chalk line"

    def _drawn(self, end: str) -> figures.Picture:
        return figures.Picture(self._data(end))

    def _data(self, end: str) -> dict[str, Any]:
        """Return the data of the picture from one end."""
        crank, table = self.pack.crank, self.pack.lock_pin_table
        forward = next(gear for gear in self.gears if gear.id == crank)
        sense = "clockwise" if forward.clockwise == (end == "front") else "anticlockwise"
        shown = [gear.id for gear in self.gears if gear.teeth][:12]
        data = figures.train_figure(self.pack.train, seen_from=end, turning=(crank, sense), gears=shown)
        kinds = {"chalk line": "chalk", "flywheel mark": "chalk", "lock pin hole": "hole"}
        for gear in data["gears"]:
            gear[kinds.get(self.mark_name(gear["id"]), "witness")] = str(self.mark_at(gear["id"], end))
            if gear["id"] == table.hole_in:
                gear["hole"] = gear["pin"] = str(_PIN_AT.seen(stated_from="front", seen_from=end))
        return {**data, "to_turn": True}

    def _figure(self) -> figures.Picture:
        return self._pictures[self.seen_from]

    def _flank(self, gear: Turned) -> str:  # noqa: ARG002 - the browser draws the flanks of a train itself
        return ""

    def _more(self) -> dict[str, Any]:
        return {
            "turned": self.pack.crank,
            "seen_from": self.seen_from,
            "views": self._views(),
            "gears": [
                {
                    **asdict(gear),
                    "step": [gear.step.numerator, gear.step.denominator],
                    "rate": [gear.rate.numerator, gear.rate.denominator],
                    "mark": {"name": self.mark_name(gear.id), "at": float(self.mark_at(gear.id, "front").degrees)},
                    "flank": self._flank(gear) if gear.lash else "",
                }
                for gear in self.gears
            ],
            "quantum": [QUANTUM.numerator, QUANTUM.denominator],
            "steps": list(STEPS),
            "larger": larger(self.gears),
            "stroke": self._stroke(),
            "hole": self._hole(),
            "back": self._back(),
            **self._layout(),
        }

    def _views(self) -> dict[str, str]:
        """Return the pictures that the kernel draws: where the browser draws, the one that is printed."""
        return {self.seen_from: self._figure().svg}

    def _layout(self) -> dict[str, Any]:
        """Return how the gears sit, for the picture that the browser draws."""
        table = self.pack.lock_pin_table
        places = figures.standing(self._data("front"))
        return {
            "layout": {
                "places": places,
                "watched": table.watched if table.watched in places else None,
                "hours": self.pack.crank if table.watched == "flywheel" else table.watched,
                "pin": table.hole_in if table.hole_in in places else None,
            }
        }

    def _stroke(self) -> dict[str, Any]:
        """Return which dead centre the start is: what one turn of the crank later is the other."""
        table = self.pack.lock_pin_table
        return {"cylinder": table.cylinder, "at": table.dead_centre}

    def _hole(self) -> dict[str, Any] | None:
        """Return which gear bears the hole of the lock pin, how often it comes by, and how near is in line."""
        table = self.pack.lock_pin_table
        bearer = self.pack.crank if table.hole_in == "flywheel" else table.hole_in
        gear = next((each for each in self.gears if each.id == bearer), None)
        if gear is None:  # not on the way to the gear whose face is shown
            return None
        between = Fraction(360, table.holes)
        return {
            "gear": gear.id,
            "every": [between.numerator, between.denominator],
            "near": float(self.pack.lock_pin.clearance * gear.rate),
        }

    def _back(self) -> str:
        """Return in words when all marks are back at their places."""
        turns = self.pack.train.marks_meet([gear.id for gear in self.gears], of=self.pack.crank)
        count = "one turn" if turns == 1 else f"{written(turns)} turns"
        return f"All marks stand at their places again after {count} of the crank."

    def _facts(self) -> list[tuple[str, str]]:
        facts = []
        for gear in self.gears:
            words = [f"{gear.teeth} teeth"] if gear.teeth else []
            words.append(f"{self.mark_name(gear.id)} at {self.mark_at(gear.id, self.seen_from)}")
            if gear.lash:
                words.append(f"lash {gear.lash:.2f}° behind the {self.pack.train.gear(gear.driver).title}")
            facts.append((gear.name, ", ".join(words)))
        return [*facts, ("Marks", self._back())]
