"""Converting to the unit of a scale, and putting a value on its nearest mark."""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items import examples
from trainkit.items.difficulty import digits, uneven
from trainkit.items.distinct_answers import Numbers
from trainkit.items.kinds import Given, NumberRule
from trainkit.items.questions import NumberQuestion, NumberTemplate
from trainkit.items.template import redraw_if
from trainkit.items.torque_units import drawing
from trainkit.items.torque_units.rules import (
    CONVERSION_FINISHES,
    CONVERSION_READINGS,
    CONVERSION_RULES,
    MARK_RULES,
    Conversion,
    ScaleMark,
)
from trainkit.quantities import THIN, Torque, factor, plain, settable

if TYPE_CHECKING:
    from trainkit.fasteners import Wrench
    from trainkit.packs import Pack


# Nobody prints a torque in a unit so small that it takes five figures.
_LARGEST_PRINTED = 2000


@dataclass(frozen=True, slots=True)
class Converted:
    """A torque of the job sheet, the scale that it is to be set on, its mark, and the marks of the wrong rules."""

    wrench: Wrench
    printed: str
    case: Conversion
    answer: Torque
    rules: tuple[NumberRule, ...]


def converted(rng: random.Random, wrench: Wrench) -> Converted:
    """Draw a torque in one unit for a wrench in another.

    Raises
    ------
    Redraw
        If the mark cannot be set, or two ways to it cannot be told apart.
    """
    columns = _columns(wrench)
    redraw_if(not columns)
    unit, step, low, high = rng.choice(columns)
    given = Torque(drawing.draw_value(rng, low, high, step), unit)
    case = Conversion(given, wrench.unit, wrench.step)
    drawing.keep_off_edge(case.exact, wrench.step)
    answer = settable(given, Torque(wrench.step, wrench.unit))
    redraw_if(not wrench.low <= answer.value <= wrench.high)
    rules = drawing.rules_apart(
        CONVERSION_RULES,
        case,
        answer.value,
        wrench.step,
        small=("rough-factor", "kgf-as-ten", "rounds-down", "rounds-on-the-way"),
    )
    return Converted(wrench, given.shown(step), case, answer, rules)


@lru_cache(maxsize=1024)
def _columns(wrench: Wrench) -> tuple[tuple[str, float, float, float], ...]:
    """Return the units a job sheet could print for this scale: unit, printed step, least and largest value."""
    found = []
    low, high = wrench.usable_from, Torque(wrench.high, wrench.unit)
    for unit in examples.UNITS:
        if unit == wrench.unit:
            continue
        ends = low.to(unit).value, high.to(unit).value
        step = drawing.print_step(unit, *ends)
        if step is not None and ends[1] <= _LARGEST_PRINTED:
            found.append((unit, step, *ends))
    return tuple(found)


class Convert(NumberTemplate):
    """A torque in one unit is to be set on a wrench whose scale has another.

    Difficulty: the conversions on the way, the digits of the torque, and whether the scale goes in uneven steps.
    """

    name = "torque-units/convert"
    skill = "Convert a torque to the unit of the wrench"
    quantity = "torque"
    weights = MappingProxyType({"unit changes": 1.0, "digits": 0.25, "uneven step": 0.5})

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once, or ask for another draw."""
        drawn = converted(rng, examples.wrench(rng))
        wrench, case, rules = drawn.wrench, drawn.case, drawn.rules
        unit, answer, size = case.given.unit, drawn.answer.value, drawing.step_text(wrench)
        pairs = drawing.pairs_apart(
            CONVERSION_RULES,
            case,
            answer,
            rules,
            wrench.step,
            readings=CONVERSION_READINGS,
            finishes=CONVERSION_FINISHES,
        )
        shown = drawn.answer.shown(wrench.step)
        return NumberQuestion(
            prompt="Convert the torque to the unit of this wrench. Which mark do you set?",
            given=(
                examples.named(examples.name(rng)),
                Given(label="Job sheet", value=drawn.printed),
                *drawing.scale_rows(wrench),
                drawing.factor_row(unit, wrench.unit),
            ),
            units=examples.UNITS,
            to_nearest=f"to the nearest {size}, the step of the wrench",
            numbers=Numbers(answer, drawing.NEAR * wrench.step, rules, pairs),
            unit=wrench.unit,
            shown=shown,
            working=(
                *_links(unit, wrench.unit),
                f"{drawn.printed} = {plain(case.exact)}{THIN}{wrench.unit}",
                f"The scale goes in steps of {size}, so the nearest mark is {shown}.",
            ),
            features={
                "unit changes": drawing.unit_changes(unit, wrench.unit),
                "digits": digits(drawn.printed),
                "uneven step": uneven(size),
            },
            instead=examples.WRENCH,
        )


def _links(unit: str, into: str) -> tuple[str, ...]:
    """Say how much one of the larger unit is in the smaller, to seven digits."""
    larger, smaller = sorted((unit, into), key=factor, reverse=True)
    return (f"1{THIN}{larger} = {float(factor(larger) / factor(smaller)):.7g}{THIN}{smaller}",)


class NearestMark(NumberTemplate):
    """A value between two marks is to be put on the nearer one.

    Difficulty: the digits of the value, and whether the scale goes in uneven steps.
    """

    name = "torque-units/nearest-mark"
    skill = "Find the nearest mark of a wrench"
    quantity = "torque"
    weights = MappingProxyType({"digits": 0.25, "uneven step": 1.0})

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once, or ask for another draw."""
        wrench = examples.wrench(rng)
        # One decimal more than the scale has, so that the value lies between two marks.
        fine = wrench.step / 10
        case = ScaleMark(
            drawing.draw_value(rng, wrench.usable_from.value, wrench.high - wrench.step, fine), wrench.step
        )
        wanted = Torque(case.exact, wrench.unit)
        drawing.keep_off_edge(case.exact, wrench.step)
        answer = settable(wanted, Torque(wrench.step, wrench.unit))
        small = ("rounds-down", "rounds-up", "whole-numbers-only")
        rules = drawing.rules_apart(MARK_RULES, case, answer.value, fine, small=small, rounded=False)
        below, above = (Torque(rule(case) or 0.0, wrench.unit) for rule in _NEIGHBOURS)
        told, shown, size = wanted.shown(fine), answer.shown(wrench.step), drawing.step_text(wrench)
        return NumberQuestion(
            prompt="The setting has been worked out. Which mark of this wrench is nearest to it?",
            given=(
                examples.named(examples.name(rng)),
                Given(label="Worked out", value=told),
                *drawing.scale_rows(wrench),
            ),
            to_nearest=f"to the nearest {size}, the step of the wrench",
            numbers=Numbers(answer.value, drawing.NEAR * fine, rules),
            unit=wrench.unit,
            shown=shown,
            working=(
                f"The marks on either side are {below.shown(wrench.step)} and {above.shown(wrench.step)}.",
                f"{told} is nearer to {shown}.",
            ),
            features={"digits": digits(told), "uneven step": uneven(size)},
            instead=examples.WRENCH,
        )


_NEIGHBOURS = (MARK_RULES["rounds-down"], MARK_RULES["rounds-up"])
