"""The tool itself: what it may deviate, and which one suits a value."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items import examples
from trainkit.items.difficulty import digits
from trainkit.items.distinct_answers import NEAR, Number, told_apart
from trainkit.items.kinds import Given
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate, NumberQuestion, NumberTemplate
from trainkit.items.template import Redraw, redraw_if
from trainkit.items.torque_units import drawing
from trainkit.items.torque_units.rules import BAND_READINGS, BAND_RULES, Band
from trainkit.quantities import THIN, UNITS, Torque, plain

if TYPE_CHECKING:
    from trainkit.fasteners import Wrench
    from trainkit.packs import Pack


# Tolerances that an exercise may state, per cent of the set value; 4 and 6 are those of ISO 6789.
_PER_CENT = (2, 3, 4, 5, 6)
_OCCASIONS = ("yearly test", "new wrench", "after a fall", "after a repair", "back from loan", "after 5,000 clicks")
# Steps to which a tester reads, in any unit, and how many of them fit into the deviation.
_TESTER_STEPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0)
_FEWEST_STEPS, _MOST_STEPS = 3, 30
# How far a limit keeps from a step of the tester, unless it is one, in steps.
_CLEAR = 0.1


class ToleranceBand(NumberTemplate):
    """The largest or smallest reading that a wrench may give at a setting: a limit, which is rounded inward.

    Difficulty: the digits of the setting and those of the answer.
    """

    name = "torque-units/tolerance-band"
    skill = "Work out what a wrench may deviate"
    quantity = "torque"
    weights = MappingProxyType({"digits set": 0.5, "digits asked": 0.25})

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once, or ask for another draw."""
        wrench = examples.wrench(rng)
        setting = Torque(drawing.draw_value(rng, wrench.usable_from.value, wrench.high, wrench.step), wrench.unit)
        share = rng.choice(_PER_CENT) / 100
        step = _tester_step(rng, setting.value * share, wrench.step)
        case = Band(setting, wrench.high, share, rng.random() < 0.5, step)
        numbers = told_apart(
            BAND_RULES, case, case.limit, lambda limit: _inward(case, limit), NEAR * step, readings=BAND_READINGS
        )
        told, shown = setting.shown(wrench.step), Torque(numbers.answer, wrench.unit).shown(step)
        size = f"{plain(step, step)}{THIN}{wrench.unit}"
        deviation, limit = plain(float(f"{setting.value * share:.4g}")), plain(float(f"{float(case.limit):.6g}"))
        which, sign, way = ("largest", "+", "down") if case.upper else ("smallest", "−", "up")
        per_cent = f"{plain(share * 100)}{THIN}%"
        return NumberQuestion(
            prompt=f"The wrench is tried on a tester. Which is the {which} reading that still passes?",
            given=(
                Given(label="Occasion", value=f"{rng.choice(_OCCASIONS)}, {examples.EXAMPLE}"),
                *drawing.scale_rows(wrench),
                Given(label="Set on the wrench", value=told),
                Given(label="Tolerance", value=f"±{per_cent} of the set value"),
            ),
            to_nearest=f"in steps of {size}, as the tester reads",
            numbers=numbers,
            unit=wrench.unit,
            shown=shown,
            working=(
                f"{per_cent} of {told} is {deviation}{THIN}{wrench.unit}.",
                f"{plain(setting.value)} {sign} {deviation} = {limit}{THIN}{wrench.unit}.",
                f"This limit is rounded {way}, so that the reading passes: {shown}.",
            ),
            features={"digits set": digits(told), "digits asked": digits(shown)},
            instead=examples.WRENCH,
        )


def _tester_step(rng: random.Random, deviation: float, marks: float) -> float:
    """Draw to what step the tester reads: no coarser than the wrench is marked, and fine enough for the deviation."""
    fit = [step for step in _TESTER_STEPS if step <= marks and _FEWEST_STEPS * step <= deviation <= _MOST_STEPS * step]
    redraw_if(not fit)
    return rng.choice(fit)


def _inward(case: Band, limit: Number) -> float:
    """Put a limit on a step that passes; ask for another draw where the last digit of a calculator would decide."""
    steps = Fraction(limit) / Fraction(repr(case.step))
    off = abs(steps - round(steps))
    redraw_if(limit <= 0 or 0 < off < _CLEAR)
    return case.inward(Fraction(limit))


# How far a torque keeps from an end of what a wrench is good for, and how wide the torques are that one wrench alone
# suits, as shares.
_OFF_THE_ENDS = 0.03
_LEAST_ROOM = 0.1
_LARGEST_PRINTED = 2000
_OPTIONS = 4
_TRIES = 200


class WhichWrench(ChoiceTemplate):
    """Which of several wrenches suits a value that is printed in one unit, while their scales have others.

    Difficulty: the conversions to the units of the scales; the digits of the torque; the wrenches that seem to suit
    where units are left out.
    """

    name = "torque-units/which-wrench"
    skill = "Choose the wrench that suits a torque"
    weights = MappingProxyType({"unit changes": 1.0, "digits": 0.25, "seem to suit": 0.5})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[str]:
        """Draw once, or ask for another draw."""
        rack = _rack(rng)
        suited = rng.choice(list(rack))
        wanted, step = _wanted(rng, rack[suited], list(rack))
        unit, shown = wanted.unit, {drawing.scale_text(wrench): wrench for wrench in rack}
        shows, reasons = {}, {}
        for text, wrench in shown.items():
            verdict = wrench.suits(wanted)
            fits = "suits" if verdict == "suits" else f"is {verdict}"
            reasons[text] = f"{wanted.shown(step)} is {wanted.to(wrench.unit).shown()}: the wrench from {text} {fits}."
            if verdict != "suits":
                by_number = wrench.low <= wanted.value <= wrench.high
                shows[text] = "tool-by-number" if by_number else f"tool-{verdict.replace(' ', '-')}"
        units = (unit, *(each for each in UNITS if each != unit and each in {one.unit for one in shown.values()}))
        return ChoiceQuestion(
            prompt="Which of these torque wrenches suits the torque of the job sheet?",
            given=(Given(label="Job sheet", value=wanted.shown(step)), drawing.factor_row(*units)),
            texts={text: text for text in shown},
            right=drawing.scale_text(suited),
            shows=shows,
            reasons=reasons,
            working=(
                *reasons.values(),
                "A wrench is used above a fifth of its largest value and within its scale.",
            ),
            features={
                "unit changes": drawing.unit_changes(*units),
                "digits": digits(wanted.shown(step)),
                "seem to suit": list(shows.values()).count("tool-by-number"),
            },
            instead=examples.WRENCH,
        )


def _rack(rng: random.Random) -> dict[Wrench, tuple[float, float]]:
    """Draw wrenches, each of which alone suits some torques, and between which torques, in N·m.

    So any of them can be the right one, and neither their numbers nor their units tell which.

    Raises
    ------
    Redraw
        If none are found.
    """
    for _ in range(_TRIES):
        drawn = {examples.wrench(rng): None for _ in range(_OPTIONS)}
        ranges = {wrench: _suited(wrench) for wrench in drawn}
        alone = {
            wrench: _longest(ends, [other for each, other in ranges.items() if each != wrench])
            for wrench, ends in ranges.items()
        }
        if len(drawn) == _OPTIONS and all(high > low * (1 + _LEAST_ROOM) for low, high in alone.values()):
            return alone
    raise Redraw


def _suited(wrench: Wrench) -> tuple[float, float]:
    """Return between which torques a wrench suits, in N·m."""
    return float(wrench.usable_from.newton_metres), float(Torque(wrench.high, wrench.unit).newton_metres)


def _longest(ends: tuple[float, float], others: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return the longest part of a range that lies clear of its ends and of other ranges."""
    free = [(ends[0] * (1 + _OFF_THE_ENDS), ends[1] * (1 - _OFF_THE_ENDS))]
    for low, high in others:
        below, above = low * (1 - _OFF_THE_ENDS), high * (1 + _OFF_THE_ENDS)
        free = [part for one, two in free for part in ((one, min(two, below)), (max(one, above), two))]
    return max(free, key=lambda part: part[1] - part[0])


def _wanted(rng: random.Random, ends: tuple[float, float], rack: Sequence[Wrench]) -> tuple[Torque, float]:
    """Draw a torque between two, and the step to which it is printed; best so that its number fits a wrong wrench."""
    found = []
    for unit in rng.sample(examples.UNITS, len(examples.UNITS)):
        low, high = (Torque(end, "N·m").to(unit).value for end in ends)
        step = 0.1 if unit == "kgf·m" else 1.0
        if high > _LARGEST_PRINTED or math.floor(high / step) < math.ceil(low / step):
            continue
        wanted = Torque(drawing.draw_value(rng, low, high, step), unit)
        seem = any(each.low <= wanted.value <= each.high and each.suits(wanted) != "suits" for each in rack)
        found.append((not seem, wanted, step))
    redraw_if(not found)
    _, wanted, step = min(found, key=lambda each: each[0])
    return wanted, step
