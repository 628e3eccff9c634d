"""Values printed in two units: the pair that does not belong, and the column that is the master."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import digits
from trainkit.items.kinds import Given
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import Redraw, lacking, redraw_if
from trainkit.items.torque_units import drawing
from trainkit.quantities import THIN, DualUnit, Torque, dual_unit, plain, round_to_step, settable, torque

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
# A table has at most about this many values in its first column.
_ROWS = 300


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


def _columns(rng: random.Random, pack: Pack) -> Columns:
    """Return two columns that the pack prints."""
    printed = tuple(stage.torque for fastener in pack.fasteners for stage in fastener.stages if stage.torque)
    if not printed:
        raise lacking(
            pack, "a torque that the pack prints in two units", "Print the stages under [[fasteners]] in two units"
        )
    found = _tables(printed, tuple((tool.unit, tool.high or 0.0) for tool in drawing.torque_wrenches(pack)))
    redraw_if(not found)
    return rng.choice(found)


@lru_cache(maxsize=64)
def _tables(printed: tuple[tuple[str, str], ...], ends: tuple[tuple[str, float], ...]) -> tuple[Columns, ...]:
    """Return the columns for each pair of units, over the range of the printed values and some room round them."""
    most = max(torque(high, unit) for unit, high in ends)
    values: dict[tuple[str, str], list[float]] = {}
    for first, second in printed:
        values.setdefault((drawing.unit_of(first), drawing.unit_of(second)), []).append(torque(first).value)
    found = []
    for (first, second), column in sorted(values.items()):
        low, high = 0.7 * min(column), min(max(max(column) * 1.6, min(column) * 4), most.to(first).value)
        step = drawing.print_step(first, low, high)
        other = drawing.print_step(second, *(Torque(end, first).to(second).value for end in (low, high)))
        if step is not None and other is not None:
            found.append(Columns(first, second, step, other, low, min(high, low + _ROWS * step)))
    return tuple(found)


@lru_cache(maxsize=128)
def _sorted(columns: Columns) -> dict[str, tuple[DualUnit, ...]]:
    """Return every pair that the columns could print, by what can be said about it."""
    found: dict[str, list[DualUnit]] = {}
    for pair in _every(columns):
        kind = {"first": "one way", "second": "one way"}.get(pair.master, pair.master)
        if len(pair.steps_second) > 1 and kind != "undecidable":
            kind = f"{kind}, whatever the step"
        if abs(pair.gap) <= _CLOSE and _clear(pair):
            found.setdefault(kind, []).append(pair)
    return {kind: tuple(pairs) for kind, pairs in found.items()}


def _clear(pair: DualUnit) -> bool:
    """Tell whether the printed factors, four digits each, lead to the same verdict."""
    forward, back = pair.first_converted.value, pair.second_converted.value
    return all(drawing.off_edge(forward, step, _CLEAR) for step in pair.steps_second) and all(
        drawing.off_edge(back, step, _CLEAR) for step in pair.steps_first
    )


def _every(columns: Columns) -> Iterator[DualUnit]:
    step, other = columns.step_first, columns.step_second
    # Half a step of the first column, in steps of the second, is what rounding can explain at most.
    explained = Torque(step, columns.first).to(columns.second).value / other / 2
    off_most = _OFF + math.ceil(max(explained, 0.5))
    for at in range(int(columns.low / step), int(columns.high / step) + 1):
        column = Torque(round_to_step(at * step, step), columns.first)
        nearest = settable(column, Torque(other, columns.second)).value
        for off in range(-off_most, off_most + 1):
            value = round_to_step(nearest + off * other, other)
            if column.value > 0 and value > 0:
                yield dual_unit(column, Torque(value, columns.second), step, other)
        coarse = settable(column, Torque(10 * other, columns.second)).value
        for off in (0, -1, 1):
            value = round_to_step(coarse + off * 10 * other, other)
            if column.value > 0 and value > 0:
                yield dual_unit(column, Torque(value, columns.second), step, (other, 10 * other))


def _one(columns: Columns, kind: str, rng: random.Random) -> DualUnit:
    pairs = _sorted(columns).get(kind)
    if not pairs:
        raise Redraw
    return rng.choice(pairs)


class OddPair(ChoiceTemplate):
    """One of four printed pairs does not belong together.

    Difficulty: the conversions between the two units; the digits of a pair; how little is amiss with the odd one, as
    steps of its second column go into one.
    """

    name = "torque-units/odd-pair"
    skill = "Find a printed pair that does not belong together"
    weights = MappingProxyType({"unit changes": 2.0, "digits": 0.5, "closeness": 2.0})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[str]:
        """Draw once, or ask for another draw."""
        columns = _columns(rng, pack)
        odd, one_way, *either = (_one(columns, kind, rng) for kind in ("neither", "one way", "either", "either"))
        pairs = [odd, one_way, *either]
        redraw_if(len({pair.first for pair in pairs}) < 4 or len({pair.second for pair in pairs}) < 4)
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
        )


class MasterColumn(ChoiceTemplate):
    """Which of two printed columns is the master, if any.

    Difficulty: the conversions between the two units; the steps to try for each column, both ways; the digits.
    """

    name = "torque-units/master-column"
    skill = "Say which printed column is the master"
    weights = MappingProxyType({"unit changes": 1.0, "steps tried": 0.25, "digits": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[str]:
        """Draw once, or ask for another draw."""
        columns = _columns(rng, pack)
        kind = rng.choice(("one way", "either", "neither", "undecidable"))
        # That a step is not known must not give the answer away: it is said of pairs, too, where it changes nothing.
        whatever = f"{kind}, whatever the step"
        if rng.random() < _STEP_UNKNOWN and whatever in _sorted(columns):
            kind = whatever
        pair = _one(columns, kind, rng)
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
        )


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
