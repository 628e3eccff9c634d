"""The gear train and the face of one gear: turned by the crank, seen from either end, with the lash of every mesh.

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

_WRONG = "Reached by barring back: the gears rest on the wrong flank. Back off further, then come forward."
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
            "Turn the crank gear and watch which way each gear goes. Reverse it: the others wait until the play "
            "is taken up.",
            "Only the teeth and the senses are true: where the shafts sit in the gear case is not shown.",
        )

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
        return figures.Picture({**data, "to_turn": True})

    def _figure(self) -> figures.Picture:
        return self._pictures[self.seen_from]

    def _flank(self, gear: Turned) -> str:
        driver = self.pack.train.gear(gear.driver).title
        return figures.draw({"draw": "flank", "driver": driver, "driven": gear.name}, styled=False)

    def _more(self) -> dict[str, Any]:
        return {
            "turned": self.pack.crank,
            "seen_from": self.seen_from,
            "views": {end: picture.svg for end, picture in self._pictures.items()},
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
                words.append(f"play {gear.lash:.2f}° behind the {self.pack.train.gear(gear.driver).title}")
            facts.append((gear.name, ", ".join(words)))
        return [*facts, ("Marks", self._back())]


class ClockFace(TrainTurned):
    """The face of one gear, read like a clock, while the crank is turned.

    Parameters
    ----------
    pack : Pack
        The engine.
    gear : str, optional
        The gear; the one that bears the lock pin's mark by default.
    seen_from : str, optional
        The end it is seen from at first; the one that the pack reads its positions from by default.
    """

    kind = "clock"
    heading = "Follow the mark on the clock face"

    def __init__(self, pack: Pack, gear: str = "", seen_from: str = "") -> None:
        table = pack.lock_pin_table
        self.gear = pack.train.gear(gear or (pack.crank if table.watched == "flywheel" else table.watched))
        self.watched = not gear or gear == table.watched
        super().__init__(pack, seen_from or table.seen_from)

    def _chosen(self, gears: tuple[Turned, ...]) -> tuple[Turned, ...]:
        way = self.pack.train.path(self.pack.crank, self.gear.id).gears
        return tuple(gear for gear in gears if gear.id in way)

    @property
    def name(self) -> str:
        """What bears the mark, in words."""
        return "flywheel" if self.watched and self.pack.lock_pin_table.watched == "flywheel" else self.gear.title

    @property
    def lead(self) -> tuple[str, ...]:
        """What it shows, and how it is turned."""
        return (
            f"Bar the engine and read where the mark on the {self.name} stands, like the hour hand of a clock.",
            "From the other end the same mark stands at the mirrored hour.",
        )

    def _drawn(self, end: str) -> figures.Picture:
        if self.watched and self.pack.lock_pin.dial is not None:
            data = figures.marks_figure(
                self.pack.lock_pin, self.name, hand=self.pack.lock_pin_table.seats, seen_from=end
            )
        else:
            forward = next(gear for gear in self.gears if gear.id == self.gear.id)
            data = {
                "draw": "clock",
                "seen_from": end,
                "name": self.name,
                "hand": str(self.mark_at(self.gear.id, end)),
                "turns": "clockwise" if forward.clockwise == (end == "front") else "anticlockwise",
            }
        return figures.Picture({**data, "to_turn": self.gear.id})

    def _more(self) -> dict[str, Any]:
        return {
            **super()._more(),
            "watched": self.gear.id,
            "zones": self._zones(),
            "wrong": _WRONG,
            "sum": self._sum(),
            "larger": 1,
            "hole": None,
        }

    def _sum(self) -> list[str]:
        """Return how the play from crank to mark adds up; nothing where there is no mesh or the pack gives no sizes."""
        path = self.pack.train.path(self.pack.crank, self.gear.id)
        try:
            return list(path.lash_lines()) if path.legs else []
        except GearError:
            return []

    def _facts(self) -> list[tuple[str, str]]:
        return [*super()._facts(), *(("Play in all", line) for line in self._sum())]

    def _zones(self) -> list[dict[str, Any]]:
        """Return what to do in which part of the turn, by crank degrees after the mark's place; the last one is all."""
        pin = self.pack.lock_pin
        if not self.watched or pin.dial is None:
            return []
        table = self.pack.lock_pin_table
        valves = f", if the valves of cylinder {table.cylinder} are shut" if table.tells_stroke == "valves" else ""
        return [
            {"to": float(to), "words": words}
            for to, words in (
                (-pin.back_off, "Before the mark “back off to”: bar on forward."),
                (-pin.press_from, "Between “back off to” and “press from”: bar on forward, and do not press yet."),
                (-pin.clearance, "Between “press from” and the place of the pin: press, and bar on slowly."),
                (pin.clearance, f"At its place: the pin seats here{valves}."),
                (pin.give_up, "Past the place: bar on a little, pressing, but not beyond “give up”."),
                (360 / pin.dial.turns_per_crank, "Past “give up”: stop pressing. Back off, then come forward again."),
            )
        ]
