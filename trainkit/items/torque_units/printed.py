"""Values printed in two units: the pair that does not belong, and the column that is the master."""

from __future__ import annotations

import math
import random
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items import examples
from trainkit.items.difficulty import digits
from trainkit.items.kinds import Given
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import Redraw
from trainkit.items.torque_units import drawing
from trainkit.quantities import THIN, DualUnit, Torque, dual_unit, plain, round_to_step, settable

if TYPE_CHECKING:
    from trainkit.packs import Pack


# The columns of a question lie no further apart than this share: further off, anyone sees it.
_CLOSE = 0.06
# How many steps a second column may lie beyond what rounding can explain.
_OFF = 3
# A verdict on a pair has to stand further from a rounding edge than the last digit of a printed factor, in steps.
_CLEAR = 0.02
_COARSE = "not known which"
# So often the step of the second column is left open where the pair can be judged all the same.
_STEP_UNKNOWN = 0.4
# Columns of job sheets: their units, the steps to which each unit is printed, and how far the first column goes.
_UNITS = (
    *(("N·m", "lbf·ft"), ("lbf·ft", "N·m"), ("N·m", "lbf·in"), ("lbf·in", "N·m")),
    *(("kgf·m", "N·m"), ("N·m", "kgf·m"), ("kgf·m", "lbf·ft"), ("lbf·ft", "kgf·m")),
)
_STEPS = {
    "N·m": (0.5, 1.0, 2.0, 5.0),
    "lbf·ft": (0.5, 1.0, 2.0, 5.0),
    "lbf·in": (1.0, 2.0, 5.0),
    "kgf·m": (0.1, 0.2, 0.5),
}
_RANGES = {"N·m": (10.0, 200.0), "lbf·ft": (8.0, 150.0), "lbf·in": (60.0, 300.0), "kgf·m": (1.0, 20.0)}
# A coarse column goes further than these, so that it has as many values as a fine one: so many steps, but no further
# than this. Beside inch-pounds it does not: nobody prints large torques in these.
_STEPS_MOST = 400
_FURTHEST = {"N·m": 600.0, "lbf·ft": 450.0, "lbf·in": 600.0, "kgf·m": 60.0}
# So many rows of a pair of columns are looked at for a pair of one kind, and so often others are drawn.
_ROWS, _TRIES = 8, 60
_SAID = ("first", "second", "either", "neither", "undecidable")
_ONE_WAY = ("first", "second")
# What is said of a pair whose first column becomes the second by rounding, or not, and the other way round.
_VERDICTS = {(True, True): "either", (True, False): "first", (False, True): "second", (False, False): "neither"}
_OPEN = ", whatever the step"
_COUNTS = (2, 3, 4, 5, 6, 8, 10, 12)  # fasteners of the joint that a sheet is about
_SHEET = "an example job sheet"


@dataclass(frozen=True, slots=True)
class Columns:
    """The two columns of a job sheet: their units, printed steps, and the first column's range."""

    first: str
    second: str
    step_first: float
    step_second: float
    low: float
    high: float

    def shown(self, pair: DualUnit) -> str:
        """Write a pair as a job sheet prints it."""
        return f"{pair.first.shown(self.step_first)} ({pair.second.shown(self.step_second)})"

    @property
    def row(self) -> Given:
        """The line of the data table that says how the columns are printed."""
        first = f"{plain(self.step_first, self.step_first)}{THIN}{self.first}"
        return Given(
            label="Printed to", value=f"{first} and {plain(self.step_second, self.step_second)}{THIN}{self.second}"
        )

    @property
    def coarse_row(self) -> Given:
        """The same where the second column may have been rounded to ten of its steps."""
        first = f"{plain(self.step_first, self.step_first)}{THIN}{self.first}"
        fine, coarse = (plain(times * self.step_second, self.step_second) for times in (1, 10))
        return Given(label="Printed to", value=f"{first} and, {_COARSE}, {fine} or {coarse}{THIN}{self.second}")


def _columns(rng: random.Random, units: tuple[str, str]) -> Columns:
    """Draw two columns of these units: the step of each, and how far the first one goes."""
    first, second = units
    step, other = rng.choice(_STEPS[first]), rng.choice(_STEPS[second])
    low, high = _RANGES[first]
    if second != "lbf·in":
        high = max(high, min(_STEPS_MOST * step, _FURTHEST[first]))
    return Columns(first, second, step, other, low, high)


def _clear(pair: DualUnit) -> bool:
    """Tell whether the printed factors, four digits each, lead to the same verdict."""
    forward, back = pair.first_converted.value, pair.second_converted.value
    return all(drawing.off_edge(forward, step, _CLEAR) for step in pair.steps_second) and all(
        drawing.off_edge(back, step, _CLEAR) for step in pair.steps_first
    )


def _kind(pair: DualUnit) -> str:
    """Return what can be said of a pair; of one whose step is not known, that it changes nothing."""
    return pair.master if len(pair.steps_second) == 1 else f"{pair.master}{_OPEN}"


def _row(columns: Columns, at: int, rng: random.Random, kinds: Collection[str]) -> Iterator[DualUnit]:
    """Yield the pairs of some kinds that one value of the first column could be printed in, by chance."""
    coarse = all(kind.endswith(_OPEN) for kind in kinds)
    step, other = columns.step_first, columns.step_second
    # Half a step of the first column, in steps of the second, is what rounding can explain at most.
    explained = Torque(step, columns.first).to(columns.second).value / other / 2
    off_most = 1 if coarse else _OFF + math.ceil(max(explained, 0.5))
    mark, steps = (10 * other, (other, 10 * other)) if coarse else (other, other)
    column = Torque(round_to_step(at * step, step), columns.first)
    nearest = settable(column, Torque(mark, columns.second)).value
    for off in rng.sample(range(-off_most, off_most + 1), 2 * off_most + 1):
        value = round_to_step(nearest + off * mark, other)
        if value <= 0 or _at_a_glance(columns, column.value, value, coarse) not in kinds:
            continue
        pair = dual_unit(column, Torque(value, columns.second), step, steps)
        if _kind(pair) in kinds and abs(pair.gap) <= _CLOSE and _clear(pair):
            yield pair


def _at_a_glance(columns: Columns, first: float, second: float, coarse: bool) -> str:
    """Return what can be said of a pair, in floats: it may be off near a rounding edge, where no pair is taken."""
    worth = _worth(columns)
    back = abs(second * worth - first) * 2 < columns.step_first
    steps = (columns.step_second, 10 * columns.step_second) if coarse else (columns.step_second,)
    said = {_VERDICTS[abs(first / worth - second) * 2 < step, back] for step in steps}
    verdict = said.pop() if len(said) == 1 else "undecidable"
    return f"{verdict}{_OPEN}" if coarse else verdict


@lru_cache(maxsize=32)
def _worth(columns: Columns) -> float:
    """Return how much of the first unit one of the second is."""
    return Torque(1.0, columns.second).to(columns.first).value


def _one(columns: Columns, kinds: Collection[str], rng: random.Random, low: float, high: float) -> DualUnit | None:
    """Draw a pair of one of these kinds, its first column between two values; None where a few rows have none."""
    first, last = max(1, math.ceil(low / columns.step_first)), math.floor(high / columns.step_first)
    for _ in range(_ROWS if first <= last else 0):
        pair = next(_row(columns, rng.randint(first, last), rng, kinds), None)
        if pair is not None:
            return pair
    return None


def _four(columns: Columns, rng: random.Random) -> tuple[DualUnit, DualUnit, list[DualUnit]] | None:
    """Draw a pair that does not belong, one that goes one way only, and two that go both ways.

    How many of the others are smaller than the odd one is drawn beforehand, so that the numbers tell nothing.
    """
    kinds = rng.sample([_ONE_WAY, ("either",), ("either",)], 3)
    smaller = rng.randrange(4)
    for _ in range(_TRIES):
        odd = _one(columns, ("neither",), rng, columns.low, columns.high)
        if odd is None:
            return None
        step, value = columns.step_first, odd.first.value
        ranges = [(columns.low, value - step) if at < smaller else (value + step, columns.high) for at in range(3)]
        found = [_one(columns, kind, rng, *ends) for kind, ends in zip(kinds, ranges, strict=True)]
        pairs = [odd, *(pair for pair in found if pair is not None)]
        if len({pair.first for pair in pairs}) == len({pair.second for pair in pairs}) == 4:
            others = sorted(pairs[1:], key=lambda pair: pair.master == "either")
            return odd, others[0], others[1:]
    return None


class OddPair(ChoiceTemplate):
    """One of four printed pairs does not belong together.

    Difficulty: the conversions between the two units; the digits of a pair; how little is amiss with the odd one, as
    steps of its second column go into one.
    """

    name = "torque-units/odd-pair"
    skill = "Find a printed pair that does not belong together"
    weights = MappingProxyType({"unit changes": 2.0, "digits": 0.5, "closeness": 2.0})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[str]:
        """Draw once, or ask for another draw."""
        columns = _columns(rng, rng.choice(_UNITS))
        drawn = _four(columns, rng)
        if drawn is None:
            raise Redraw
        odd, one_way, either = drawn
        pairs = [odd, one_way, *either]
        working = {columns.shown(pair): pair.working for pair in sorted(pairs, key=lambda pair: pair.first)}
        off = abs(odd.second.value - odd.first.to(columns.second).value) / columns.step_second
        return ChoiceQuestion(
            prompt="A job sheet prints torques in two units. Which pair does not belong together?",
            given=(columns.row, drawing.factor_row(columns.first, columns.second)),
            texts={text: text for text in working},
            right=columns.shown(odd),
            shows={columns.shown(one_way): "checks-one-way"},
            reasons={text: " ".join(lines) for text, lines in working.items()},
            working=tuple(line for lines in working.values() for line in lines),
            features={
                "unit changes": drawing.unit_changes(columns.first, columns.second),
                "digits": digits(*working) / len(working),
                "closeness": 1 / max(off, 0.5),
            },
            instead=_SHEET,
        )


class MasterColumn(ChoiceTemplate):
    """Which of two printed columns is the master, if any.

    Difficulty: the conversions between the two units; the steps to try for each column, both ways; the digits.
    """

    name = "torque-units/master-column"
    skill = "Say which printed column is the master"
    weights = MappingProxyType({"unit changes": 1.0, "steps tried": 0.25, "digits": 0.25})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[str]:
        """Draw once, or ask for another draw."""
        columns, pair = _mastered(rng)
        texts = {
            "first": f"The {columns.first} column",
            "second": f"The {columns.second} column",
            "either": "Either column may be",
            "neither": "Neither: the two do not belong together",
            "undecidable": "Nobody can tell from what is printed",
        }
        right = pair.master
        return ChoiceQuestion(
            prompt="A job sheet prints one torque in two units. From which column was the other one worked out?",
            given=(
                examples.named(f"{rng.choice(_COUNTS)} {examples.name(rng)}"),
                Given(label="Printed", value=columns.shown(pair)),
                columns.coarse_row if len(pair.steps_second) > 1 else columns.row,
                drawing.factor_row(columns.first, columns.second),
            ),
            texts=texts,
            right=right,
            shows={name: _shows(right, name) for name in texts if name != right},
            reasons={right: " ".join(pair.working)},
            working=pair.working,
            features={
                "unit changes": drawing.unit_changes(columns.first, columns.second),
                "steps tried": 4.0 if len(pair.steps_second) > 1 else 2.0,
                "digits": digits(columns.shown(pair)),
            },
            instead=_SHEET,
        )


def _mastered(rng: random.Random) -> tuple[Columns, DualUnit]:
    """Draw a pair of which each thing that can be said is said equally often, and its columns."""
    said, units = rng.choice(_SAID), rng.choice(_UNITS)
    # That a step is not known must not give the answer away: it is said of pairs, too, where it changes nothing.
    left_open = said == "undecidable" or rng.random() < _STEP_UNKNOWN
    kinds = (f"{said}{_OPEN}",) if left_open else (said,)
    for _ in range(_TRIES):
        columns = _columns(rng, units)
        pair = _one(columns, kinds, rng, columns.low, columns.high)
        if pair is not None:
            return columns, pair
    raise Redraw


def _shows(right: str, chosen: str) -> str:
    """Return what a wrong choice of the master shows, or nothing."""
    if "undecidable" in (right, chosen):
        return "step-overlooked"
    match right, chosen:
        case (("first" | "second"), ("first" | "second")):
            return "master-reversed"
        case (("first" | "second"), "neither"):
            return "checks-one-way"
        case (("first" | "second"), "either"):
            return "close-is-enough"
        case "either", ("first" | "second"):
            return "checks-one-way"
        case "neither", _:
            return "close-is-enough"
    return ""
