"""Converting to the unit of a scale, and putting a value on its nearest mark."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import digits, row, uneven
from trainkit.items.item import Given, Item, NumberItem
from trainkit.items.key import Key, NumberKey, NumberRule
from trainkit.items.template import Redraw, Template
from trainkit.items.torque_units.drawing import (
    NEAR,
    draw_value,
    facts,
    keep_off_edge,
    pairs_apart,
    print_step,
    rules_apart,
    scale,
    torque_wrenches,
    unit_changes,
    units_of,
    wrench_rows,
)
from trainkit.items.torque_units.rules import (
    CONVERSION_FINISHES,
    CONVERSION_READINGS,
    CONVERSION_RULES,
    MARK_RULES,
    Conversion,
    Mark,
)
from trainkit.quantities import THIN, Torque, factor, plain, settable

if TYPE_CHECKING:
    from trainkit.fasteners import Wrench
    from trainkit.packs import Pack, Tool

__all__ = ["Convert", "Converted", "NearestMark", "converted"]


# Nobody prints a torque in a unit so small that it takes five figures.
_LARGEST_PRINTED = 2000


@dataclass(frozen=True, slots=True)
class Converted:
    """A torque of the job sheet, the wrench that it is to be set on, its mark, and the marks of the wrong rules."""

    tool: Tool
    wrench: Wrench
    printed: str
    case: Conversion
    answer: Torque
    rules: tuple[NumberRule, ...]


def converted(rng: random.Random, pack: Pack) -> Converted:
    """Draw a torque in one unit for a wrench in another.

    Raises
    ------
    Redraw
        If the mark cannot be set, or two ways to it cannot be told apart.
    """
    tool = rng.choice(torque_wrenches(pack))
    wrench = scale(tool)
    columns = _columns(units_of(pack, "N·m", "lbf·ft"), wrench)
    if not columns:
        raise Redraw
    unit, step, low, high = rng.choice(columns)
    given = Torque(draw_value(rng, low, high, step), unit)
    case = Conversion(given, wrench.unit, wrench.step)
    keep_off_edge(case.exact, wrench.step)
    answer = settable(given, Torque(wrench.step, wrench.unit))
    if not wrench.low <= answer.value <= wrench.high:
        raise Redraw
    rules = rules_apart(
        CONVERSION_RULES,
        case,
        answer.value,
        wrench.step,
        small=("rough-factor", "kgf-as-ten", "rounds-down", "rounds-on-the-way"),
    )
    return Converted(tool, wrench, given.shown(step), case, answer, rules)


@lru_cache(maxsize=256)
def _columns(units: tuple[str, ...], wrench: Wrench) -> tuple[tuple[str, float, float, float], ...]:
    """Return the units a job sheet could print for this scale: unit, printed step, least and largest value."""
    found = []
    low, high = wrench.usable_from, Torque(wrench.high, wrench.unit)
    for unit in units:
        if unit == wrench.unit:
            continue
        ends = low.to(unit).value, high.to(unit).value
        step = print_step(unit, *ends)
        if step is not None and ends[1] <= _LARGEST_PRINTED:
            found.append((unit, step, *ends))
    return tuple(found)


class Convert(Template):
    """A torque in one unit is to be set on a wrench whose scale has another.

    Difficulty: the conversions on the way, the digits of the torque, and whether the scale goes in uneven steps.
    """

    name = "torque-units/convert"
    skill = "Convert a torque to the unit of the wrench"
    kind = "number"
    weights = MappingProxyType({"unit changes": 1.0, "digits": 0.25, "uneven step": 0.5})

    def features(self, item: Item, key: Key) -> Mapping[str, float]:  # noqa: ARG002 - the item tells it all
        """Return unit changes, digits, and whether the step is uneven."""
        return {
            "unit changes": unit_changes(item),
            "digits": digits(row(item, "Job sheet")),
            "uneven step": uneven(row(item, "From mark to mark")),
        }

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[Item, Key]:  # noqa: ARG002 - nothing here is shuffled
        """Draw once, or ask for another draw."""
        drawn = converted(rng, pack)
        tool, wrench, case, answer, rules = drawn.tool, drawn.wrench, drawn.case, drawn.answer, drawn.rules
        unit = case.given.unit
        pairs = pairs_apart(
            CONVERSION_RULES,
            case,
            answer.value,
            rules,
            wrench.step,
            readings=CONVERSION_READINGS,
            finishes=CONVERSION_FINISHES,
        )
        size = f"{plain(wrench.step, wrench.step)}{THIN}{wrench.unit}"
        item = NumberItem(
            prompt="Convert the torque of the job sheet to the unit of this wrench. Which mark do you set?",
            given=(
                Given(label="Job sheet", value=drawn.printed),
                *wrench_rows(tool, wrench),
                facts(unit, wrench.unit),
            ),
            units=units_of(pack, unit, wrench.unit),
            to_nearest=f"to the nearest {size}, the step of the wrench",
        )
        key = NumberKey(
            template=self.name,
            working=(
                *_links(unit, wrench.unit),
                f"{drawn.printed} = {plain(case.exact)}{THIN}{wrench.unit}",
                f"The scale goes in steps of {size}, so the nearest mark is {answer.shown(wrench.step)}.",
            ),
            answer=answer.value,
            unit=wrench.unit,
            tolerance=NEAR * wrench.step,
            shown=answer.shown(wrench.step),
            rules=rules,
            pairs=pairs,
        )
        return item, key


def _links(unit: str, into: str) -> tuple[str, ...]:
    """Say how much one of the larger unit is in the smaller, to seven digits."""
    larger, smaller = sorted((unit, into), key=factor, reverse=True)
    return (f"1{THIN}{larger} = {float(factor(larger) / factor(smaller)):.7g}{THIN}{smaller}",)


class NearestMark(Template):
    """A value between two marks is to be put on the nearer one.

    Difficulty: the digits of the value, and whether the scale goes in uneven steps.
    """

    name = "torque-units/nearest-mark"
    skill = "Find the nearest mark of a wrench"
    kind = "number"
    weights = MappingProxyType({"digits": 0.25, "uneven step": 1.0})

    def features(self, item: Item, key: Key) -> Mapping[str, float]:  # noqa: ARG002 - the item tells it all
        """Return digits, and whether the step is uneven."""
        return {"digits": digits(row(item, "Worked out")), "uneven step": uneven(row(item, "From mark to mark"))}

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[Item, Key]:  # noqa: ARG002 - nothing here is shuffled
        """Draw once, or ask for another draw."""
        tool = rng.choice(torque_wrenches(pack))
        wrench = scale(tool)
        # One decimal more than the scale has, so that the value lies between two marks.
        fine = wrench.step / 10
        exact = draw_value(rng, wrench.usable_from.value, wrench.high - wrench.step, fine)
        wanted = Torque(exact, wrench.unit)
        keep_off_edge(exact, wrench.step)
        answer = settable(wanted, Torque(wrench.step, wrench.unit))
        rules = rules_apart(
            MARK_RULES,
            Mark(exact, wrench.step),
            answer.value,
            fine,
            small=("rounds-down", "rounds-up", "whole-numbers-only"),
            rounded=False,
        )
        size = f"{plain(wrench.step, wrench.step)}{THIN}{wrench.unit}"
        below, above = (Torque(rule(Mark(exact, wrench.step)) or 0.0, wrench.unit) for rule in _NEIGHBOURS)
        item = NumberItem(
            prompt="The value to be set has been worked out. Which mark of this wrench is nearest to it?",
            given=(Given(label="Worked out", value=wanted.shown(fine)), *wrench_rows(tool, wrench)),
            units=(wrench.unit,),
            to_nearest=f"to the nearest {size}, the step of the wrench",
        )
        key = NumberKey(
            template=self.name,
            working=(
                f"The marks on either side are {below.shown(wrench.step)} and {above.shown(wrench.step)}.",
                f"{wanted.shown(fine)} is nearer to {answer.shown(wrench.step)}.",
            ),
            answer=answer.value,
            unit=wrench.unit,
            tolerance=NEAR * fine,
            shown=answer.shown(wrench.step),
            rules=rules,
        )
        return item, key


_NEIGHBOURS = (MARK_RULES["rounds-down"], MARK_RULES["rounds-up"])
