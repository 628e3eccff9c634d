"""A thread designation is read, and the jacking screw is picked that fits."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.errors import FastenerError
from trainkit.fasteners import Thread
from trainkit.items import examples
from trainkit.items.difficulty import digits
from trainkit.items.kinds import Given
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import redraw_if
from trainkit.quantities import THIN, plain

if TYPE_CHECKING:
    from trainkit.packs import Pack


# Lengths that screws are stocked in, mm: common practice, no source; and what the shortest one has to be longer than.
_LENGTHS = (25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 90, 100)
_PITCHES = ("0.5", "0.75", "1", "1.25", "1.5", "1.75", "2", "2.5", "3")
_METRIC = ("5", "6", "8", "10", "12", "14", "16", "18", "20", "22", "24")
_INCH = ("1/4", "5/16", "3/8", "7/16", "1/2", "9/16", "5/8", "3/4", "7/8")
_SHORTEST = 20
_SYSTEMS = ("metric", "inch")  # a mechanic meets both, whatever this engine has
_OPTIONS = 5
# Thickness and travel come in halves, mm: so many questions that drawing again hardly ever finds one of them.
_HALF = 0.5
_LEAST_FLANGE, _LEAST_TRAVEL, _MOST_TRAVEL = 8, 5, 30


@dataclass(frozen=True, slots=True)
class Screw:
    """A screw to choose: its thread and its length under the head, mm."""

    thread: Thread
    length: int

    def __str__(self) -> str:
        if self.thread.system == "metric":
            return f"{self.thread}×{self.length}"
        return f"{self.thread}, {self.length}{THIN}mm long"


@dataclass(frozen=True, slots=True)
class Hole:
    """A tapped hole through a flange.

    Parameters
    ----------
    thread : Thread
        What is marked beside it.
    flange, travel : float
        Thickness of the flange, and how far it is to be pressed off, mm.
    """

    thread: Thread
    flange: float
    travel: float

    @property
    def needed(self) -> float:
        """The least length under the head, mm."""
        return self.flange + self.travel

    def fits(self, screw: Screw) -> bool:
        """Tell whether a screw fits the thread, reaches through the flange and does the travel."""
        return screw.thread == self.thread and screw.length >= self.needed


def _same(one: float, other: float) -> bool:
    return abs(one - other) < 1e-6


def _writes_pitch(thread: Thread) -> bool:
    """Tell whether a designation writes a pitch in millimetres; coarse ones and inch threads do not."""
    return thread.system == "metric" and not thread.coarse


def shown_by(case: Hole, right: Screw, screw: Screw) -> str:
    """Return what somebody thinks who takes a wrong screw, or nothing."""
    hole = case.thread
    same_size, same_pitch = (
        _same(a, b) for a, b in ((hole.diameter, screw.thread.diameter), (hole.pitch, screw.thread.pitch))
    )
    if same_size and same_pitch:
        return "screw-too-short" if screw.length < right.length else ""
    if same_size:
        # The pitch that is written is taken for a length, so that the diameter alone is left.
        return "pitch-read-as-length" if _writes_pitch(hole) and screw.thread.coarse else "pitch-left-out"
    return "pitch-alone" if same_pitch else ""


class JackingScrew(ChoiceTemplate):
    """The jacking screw is to be picked that fits the marked holes.

    Difficulty: a thread in inches; a pitch that is left out because it is the coarse one; the digits of thickness and
    travel.
    """

    name = "tightening/jacking-screw"
    skill = "read a thread and pick the screw that fits"
    weights = MappingProxyType({"inches": 0.5, "pitch left out": 0.5, "digits": 0.25})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[Screw]:
        """Draw once."""
        screws = _screws(rng, _stock(rng.choice(_SYSTEMS)))
        # Any of them can be the right one: the hole follows from it.
        right = rng.choice(screws)
        case = _hole(rng, right)
        offered = dict.fromkeys(screws, "")
        for screw in sorted(screws, key=lambda each: abs(each.length - right.length)):
            code = shown_by(case, right, screw)
            if screw != right and code not in offered.values():
                offered[screw] = code
        redraw_if(not any(offered.values()))
        thread = case.thread
        return ChoiceQuestion(
            prompt="A flange sticks on its dowels. Press it off with jacking screws in its tapped holes, "
            "which go right through. Which are the shortest screws that fit?",
            given=(
                Given(label="Flange", value=examples.EXAMPLE),
                Given(label="Marked beside the holes", value=str(thread)),
                Given(label="Thickness of the flange", value=_millimetres(case.flange)),
                Given(label="To be pressed off by", value=_millimetres(case.travel)),
                Given(label="Lengths", value="measured under the head, in millimetres"),
            ),
            texts={screw: str(screw) for screw in offered},
            right=right,
            shows=offered,
            reasons={screw: _reason(case, right, screw) for screw in offered},
            working=(
                f"{thread} has a diameter of {_size(thread)} and {_pitch(thread)}. Both must agree.",
                f"The screw reaches through {_millimetres(case.flange)} and then {_millimetres(case.travel)} further: "
                f"at least {_millimetres(case.needed)}.",
                f"So: {right}.",
            ),
            features={
                "inches": thread.system != "metric",
                "pitch left out": thread.system == "metric" and thread.coarse,
                "digits": digits(plain(case.flange), plain(case.travel)),
            },
            instead=examples.SCREW,
        )


def _screws(rng: random.Random, stock: Sequence[Thread]) -> list[Screw]:
    """Draw screws of two sizes, which share a pitch, in four threads; one of the threads comes in two lengths."""
    first = rng.choice(stock)
    own = [each for each in stock if _same(each.diameter, first.diameter) and each != first]
    shared = _one_of(rng, own)
    across = [each for each in stock if _same(each.pitch, shared.pitch) and not _same(each.diameter, first.diameter)]
    other = _one_of(rng, across)
    beside = [each for each in stock if _same(each.diameter, other.diameter) and each != other]
    # The fourth is of the first size where that has a third pitch, else of the other size.
    third = [each for each in own if each != shared]
    threads = [first, shared, other, _one_of(rng, third or beside)]
    threads.append(rng.choice(threads))
    screws = [Screw(thread, rng.choice(_LENGTHS)) for thread in threads]
    redraw_if(len(set(screws)) < _OPTIONS)
    return screws


def _one_of(rng: random.Random, threads: Sequence[Thread]) -> Thread:
    redraw_if(not threads)
    return rng.choice(threads)


def _hole(rng: random.Random, right: Screw) -> Hole:
    """Draw a hole for which this is the shortest screw, as lengths are stocked."""
    shorter = max((length for length in _LENGTHS if length < right.length), default=_SHORTEST)
    # Halves are exact in floats, so that a screw of just the length needed is found to fit.
    needed = _HALF * rng.randint(2 * shorter + 1, 2 * right.length)
    travel = _HALF * rng.randint(2 * _LEAST_TRAVEL, int(2 * min(_MOST_TRAVEL, needed - _LEAST_FLANGE)))
    return Hole(right.thread, needed - travel, travel)


def _millimetres(length: float) -> str:
    return f"{plain(length)}{THIN}mm"


@lru_cache(maxsize=4)
def _stock(system: str) -> tuple[Thread, ...]:
    """Return the threads that screws are at hand in."""
    if system == "metric":
        names = [f"M{size}x{pitch}" for size in _METRIC for pitch in _PITCHES]
    else:
        names = [f"{size} {series}" for size in _INCH for series in ("UNC", "UNF")]
    found = []
    for name in names:
        try:
            found.append(Thread(name))
        except FastenerError:
            continue  # the standard does not pair them
    return tuple(found)


def _size(thread: Thread) -> str:
    if thread.system == "metric":
        return f"{thread.diameter:g}{THIN}mm"
    size = str(thread).partition("-")[0]
    return size if "#" in size else f"{size}{THIN}in"


def _pitch(thread: Thread) -> str:
    if thread.system == "metric":
        return f"a pitch of {thread.pitch:g}{THIN}mm"
    return f"{round(25.4 / thread.pitch)} threads to the inch"


def _reason(case: Hole, right: Screw, screw: Screw) -> str:
    if screw == right:
        return "Diameter and pitch agree, and the screw is just long enough."
    if not _same(screw.thread.diameter, case.thread.diameter):
        return f"The diameter is {_size(screw.thread)}, not {_size(case.thread)}."
    if not _same(screw.thread.pitch, case.thread.pitch):
        return f"It has {_pitch(screw.thread)}, the hole {_pitch(case.thread)}."
    if case.fits(screw):
        return f"It fits, but {right} is shorter and fits too."
    return f"It ends {_millimetres(case.needed - screw.length)} short of what is needed."
