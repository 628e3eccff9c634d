"""A thread designation is read, and the jacking screw is picked that fits."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.errors import FastenerError
from trainkit.fasteners import Thread
from trainkit.items.difficulty import digits
from trainkit.items.distinct_answers import choices
from trainkit.items.kinds import Given
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.tightening.joints import choose, thread_of
from trainkit.quantities import THIN

if TYPE_CHECKING:
    from trainkit.packs import Pack


# Lengths that screws are stocked in, mm: common practice, no source.
_LENGTHS = (12, 16, 20, 25, 30, 35, 40, 45, 50, 60, 70)
# Sizes of jacking screws that a flange of a small engine takes, mm.
_LEAST, _MOST = 5.0, 16.0
_PITCHES = ("0.5", "0.75", "1", "1.25", "1.5", "1.75", "2")
_METRIC = ("5", "6", "8", "10", "12", "14", "16")
_INCH = ("1/4", "5/16", "3/8", "7/16", "1/2", "9/16", "5/8")
_OPTIONS = 5


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
    flange, travel : int
        Thickness of the flange, and how far it is to be pressed off, mm.
    others : tuple of Thread
        Further threads of the same system that screws are at hand in.
    """

    thread: Thread
    flange: int
    travel: int
    others: tuple[Thread, ...]

    @property
    def length(self) -> int:
        """The shortest screw that reaches through the flange and does the travel."""
        return next(length for length in _LENGTHS if length >= self.flange + self.travel)

    @property
    def screw(self) -> Screw:
        """The screw that fits."""
        return Screw(self.thread, self.length)


def _same(one: float, other: float) -> bool:
    return abs(one - other) < 1e-6


def _other_pitch(case: Hole) -> Thread | None:
    """Return a thread of the same diameter: the coarse one, for a coarse hole the next finer."""
    found = [other for other in case.others if _same(other.diameter, case.thread.diameter)]
    found = [other for other in found if not _same(other.pitch, case.thread.pitch)]
    return max(found, key=lambda other: other.pitch, default=None)


def _pitch_as_length(case: Hole) -> Screw | None:
    """Take the pitch that is written for a length, so that the diameter alone is left."""
    other = _other_pitch(case)
    return Screw(other, case.length) if other and other.coarse and _writes_pitch(case.thread) else None


def _pitch_left_out(case: Hole) -> Screw | None:
    """Take another pitch of the same diameter; where the hole is fine another fine one, if there is one."""
    if not _writes_pitch(case.thread):
        other = _other_pitch(case)
        return Screw(other, case.length) if other else None
    found = [other for other in case.others if _same(other.diameter, case.thread.diameter) and not other.coarse]
    found = [other for other in found if not _same(other.pitch, case.thread.pitch)]
    near = min(found, key=lambda other: abs(other.pitch - case.thread.pitch), default=None)
    return Screw(near, case.length) if near else None


def _writes_pitch(thread: Thread) -> bool:
    """Tell whether a designation writes a pitch in millimetres; coarse ones and inch threads do not."""
    return thread.system == "metric" and not thread.coarse


def _pitch_alone(case: Hole) -> Screw | None:
    found = [other for other in case.others if _same(other.pitch, case.thread.pitch)]
    found = [other for other in found if not _same(other.diameter, case.thread.diameter)]
    near = min(found, key=lambda other: abs(other.diameter - case.thread.diameter), default=None)
    return Screw(near, case.length) if near else None


def _too_short(case: Hole) -> Screw | None:
    """Take a screw that just fills the flange."""
    found = [length for length in _LENGTHS if length <= case.flange]
    return Screw(case.thread, found[-1]) if found else None


SCREW_RULES: Mapping[str, Callable[[Hole], Screw | None]] = MappingProxyType(
    {
        "pitch-read-as-length": _pitch_as_length,
        "pitch-left-out": _pitch_left_out,
        "pitch-alone": _pitch_alone,
        "screw-too-short": _too_short,
    }
)


class JackingScrew(ChoiceTemplate):
    """The jacking screw is to be picked that fits the marked holes.

    Difficulty: a thread in inches; a pitch that is left out because it is the coarse one; the digits of thickness and
    travel.
    """

    name = "tightening/jacking-screw"
    skill = "read a thread and pick the screw that fits"
    weights = MappingProxyType({"inches": 0.5, "pitch left out": 0.5, "digits": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[Screw]:
        """Draw once."""
        fastener = choose(
            rng,
            pack,
            lambda each: _LEAST - 0.01 <= thread_of(each.thread).diameter <= _MOST + 0.01,
            f"a thread from {_LEAST:g} to {_MOST:g} mm",
        )
        own = thread_of(fastener.thread)
        sizes = [each for each in _stock(own.system) if _same(each.diameter, own.diameter)]
        # The thread of the pack, or another pitch of its size.
        thread = rng.choice([own, rng.choice(sizes)])
        case = Hole(thread, rng.randint(12, 26), rng.randint(6, 18), _stock(own.system))
        right = case.screw
        offered = choices(right, {code: rule(case) for code, rule in SCREW_RULES.items()}, _fillers(case))
        offered = dict(list(offered.items())[:_OPTIONS])
        return ChoiceQuestion(
            prompt="A flange sticks on its dowels. It is pressed off with jacking screws in its tapped holes, "
            "which go right through. Which screws fit?",
            given=(
                Given(label="Marked beside the holes", value=str(thread)),
                Given(label="Thickness of the flange", value=f"{case.flange}{THIN}mm"),
                Given(label="To be pressed off by", value=f"{case.travel}{THIN}mm"),
                Given(label="Lengths", value="measured under the head, in millimetres"),
            ),
            texts={screw: str(screw) for screw in offered},
            right=right,
            shows=offered,
            reasons={screw: _reason(case, screw) for screw in offered},
            working=(
                f"{thread} has a diameter of {_size(thread)} and {_pitch(thread)}. Both must agree.",
                f"The screw reaches through {case.flange}{THIN}mm and then {case.travel}{THIN}mm further: "
                f"at least {case.flange + case.travel}{THIN}mm.",
                f"So: {right}.",
            ),
            features={
                "inches": thread.system != "metric",
                "pitch left out": thread.system == "metric" and thread.coarse,
                "digits": digits(str(case.flange), str(case.travel)),
            },
        )


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


def _fillers(case: Hole) -> list[Screw]:
    """Return further screws that do not fit: another diameter with another pitch, the nearest sizes first."""
    found = [
        other
        for other in case.others
        if not _same(other.diameter, case.thread.diameter) and not _same(other.pitch, case.thread.pitch)
    ]
    found.sort(key=lambda other: (abs(other.diameter - case.thread.diameter), other.pitch))
    return [Screw(other, case.length) for other in found]


def _size(thread: Thread) -> str:
    if thread.system == "metric":
        return f"{thread.diameter:g}{THIN}mm"
    size = str(thread).partition("-")[0]
    return size if "#" in size else f"{size}{THIN}in"


def _pitch(thread: Thread) -> str:
    if thread.system == "metric":
        return f"a pitch of {thread.pitch:g}{THIN}mm"
    return f"{round(25.4 / thread.pitch)} threads to the inch"


def _reason(case: Hole, screw: Screw) -> str:
    if screw == case.screw:
        return "Diameter and pitch agree, and the screw is long enough."
    if not _same(screw.thread.diameter, case.thread.diameter):
        return f"The diameter is {_size(screw.thread)}, not {_size(case.thread)}."
    if not _same(screw.thread.pitch, case.thread.pitch):
        return f"It has {_pitch(screw.thread)}, the hole {_pitch(case.thread)}."
    return f"It ends {case.flange + case.travel - screw.length}{THIN}mm short of what is needed."
