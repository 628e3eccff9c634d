"""A list of settings to be checked: torques of the job sheet, and the marks that somebody set for them."""

from __future__ import annotations

import math
import random
from collections.abc import Collection, Iterable, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.fasteners import Wrench
from trainkit.items import examples
from trainkit.items.difficulty import digits
from trainkit.items.kinds import Given
from trainkit.items.questions import SeveralQuestion, SeveralTemplate
from trainkit.items.template import Redraw, redraw_if
from trainkit.items.torque_units.converting import Converted, converted
from trainkit.items.torque_units.drawing import NEAR, factor_row, off_edge, step_text, unit_changes
from trainkit.items.torque_units.rules import MARK_RULES, ScaleMark
from trainkit.quantities import THIN, Torque, plain, round_to_step

if TYPE_CHECKING:
    from trainkit.packs import Pack


LINES = 6
FEWEST_WRONG = 3
# Who rounds up does so only where a value is seen to lie off its mark, in steps.
_OFF = 0.1
# So many torques are drawn to find wrong settings that are told apart by what they show.
_DRAWS = 30

Setting = tuple[Converted, Torque]  # what was asked, and what was set
Rack = dict[Wrench, str]  # the wrenches, and what each is called
_CALLED = ("wrench A", "wrench B", "wrench C")


class WhichSettings(SeveralTemplate):
    """Of several settings that somebody made from the job sheet those are to be taken that are right.

    Difficulty: the conversions on the way; the digits of the torques, for each line; the right settings among them,
    because none of the errors is known beforehand.
    """

    name = "torque-units/which-settings"
    skill = "Check a list of settings against the job sheet"
    weights = MappingProxyType({"unit changes": 0.5, "digits": 0.25, "right": 0.5})

    def __init__(self, wanted: Iterable[str] = ()) -> None:
        self._wanted = tuple(wanted)[: LINES - 1]

    def aimed(self, shows: Iterable[str], /) -> WhichSettings:
        """Return a template that takes up these errors before others."""
        return WhichSettings(shows)

    def ask(self, rng: random.Random, _pack: Pack, /) -> SeveralQuestion[str]:
        """Draw once, or ask for another draw."""
        rack = {examples.wrench(rng): name for name in _CALLED}
        right, wrong = _settings(rng, tuple(rack), self._wanted)
        lines: dict[str, Setting] = {_line(rack, setting): setting for setting in (*right, *wrong.values())}
        redraw_if(not right or len(wrong) < FEWEST_WRONG or len(lines) < len(right) + len(wrong))
        units = dict.fromkeys(
            unit for drawn, _ in lines.values() for unit in (drawn.case.given.unit, drawn.wrench.unit)
        )
        tools = {rack[drawn.wrench]: drawn.wrench for drawn, _ in lines.values()}
        reasons = {line: _reason(rack, *setting) for line, setting in lines.items()}
        return SeveralQuestion(
            prompt="Somebody set these wrenches by the job sheet. "
            "Which settings are right? There may be more than one.",
            given=(
                *(Given(label=f"From mark to mark, {name}", value=step_text(tools[name])) for name in sorted(tools)),
                factor_row(*units),
            ),
            texts={line: line for line in lines},
            right=[_line(rack, setting) for setting in right],
            shows={_line(rack, setting): code for code, setting in wrong.items()},
            reasons=reasons,
            working=tuple(reasons.values()),
            features={
                "unit changes": unit_changes(*units),
                "digits": digits(*lines) / len(lines),
                "right": len(right),
            },
            instead=examples.WRENCH,
        )


def _settings(
    rng: random.Random, wrenches: Sequence[Wrench], wanted: Collection[str]
) -> tuple[list[Setting], dict[str, Setting]]:
    """Return a right setting or two, and wrong ones by what each shows; every line has a torque of its own.

    A right one has the wrench and the units of a wrong one, as far as there is such, so that these tell nothing.
    """
    drawn: dict[str, Converted] = {}
    for _ in range(_DRAWS):
        try:
            found = converted(rng, rng.choice(wrenches))
        except Redraw:
            continue
        drawn.setdefault(found.printed, found)
    by_code: dict[str, list[Setting]] = {}
    for each in drawn.values():
        for code, value in {**{rule.misconception: rule.value for rule in each.rules}, **_off_the_mark(each)}.items():
            if each.wrench.low <= value <= each.wrench.high:
                by_code.setdefault(code, []).append((each, Torque(value, each.wrench.unit)))
    taken: set[str] = set()
    wrong: dict[str, Setting] = {}
    count = min(rng.randint(1, 2), LINES - len(wanted))
    # Those that are wanted come first, each group in an order by chance.
    for code in sorted(rng.sample(sorted(by_code), len(by_code)), key=lambda code: code not in wanted):
        open_to = [setting for setting in by_code[code] if setting[0].printed not in taken]
        if open_to and len(wrong) < LINES - count:
            wrong[code] = rng.choice(open_to)
            taken.add(wrong[code][0].printed)
    others = [each for each in drawn.values() if each.printed not in taken]
    rng.shuffle(others)
    sorts = [_sort(each) for each, _ in rng.sample(list(wrong.values()), len(wrong))]
    others.sort(key=lambda each: sorts.index(_sort(each)) if _sort(each) in sorts else len(sorts))
    return [(each, each.answer) for each in others[:count]], wrong


def _sort(drawn: Converted) -> tuple[Wrench, str]:
    return drawn.wrench, drawn.case.given.unit


def _off_the_mark(drawn: Converted) -> dict[str, float]:
    """Return what is set by somebody who converts rightly and then misses the nearest mark, by what it shows.

    Only what can be told from the right mark and from what wrong conversions give, and hangs on no last digit.
    """
    exact, step = drawn.case.exact, drawn.wrench.step
    # What each is rounded to; who sets between the marks reads a tenth of a step.
    steps = {"rounds-up": step, "whole-numbers-only": 1.0, "between-marks": step / 10}
    others = [drawn.answer.value, *(rule.value for rule in drawn.rules)]
    found = {code: MARK_RULES[code](ScaleMark(exact, step)) for code, size in steps.items() if off_edge(exact, size)}
    found["between-marks"] = round_to_step(exact, step / 10) if "between-marks" in found else None
    if abs(exact - drawn.answer.value) < _OFF * step:
        found.pop("rounds-up", None)  # so near to a mark nobody rounds
    apart = {
        code: value
        for code, value in found.items()
        if value is not None and all(abs(value - other) > NEAR * step / 10 for other in others)
    }
    # Where two of them agree, nobody could say which it was.
    return {code: value for code, value in apart.items() if list(apart.values()).count(value) == 1}


def _line(rack: Rack, setting: Setting) -> str:
    drawn, mark = setting
    step = drawn.wrench.step
    on_mark = math.isclose(mark.value, round_to_step(mark.value, step))
    return f"Job sheet {drawn.printed}, {rack[drawn.wrench]} at {mark.shown(step if on_mark else step / 10)}"


def _reason(rack: Rack, drawn: Converted, mark: Torque) -> str:
    exact = f"{plain(drawn.case.exact)}{THIN}{drawn.wrench.unit}"
    nearest = drawn.answer.shown(drawn.wrench.step)
    verdict = "as set" if mark == drawn.answer else f"not {_line(rack, (drawn, mark)).rpartition(' at ')[2]}"
    return f"{drawn.printed} = {exact}, so the nearest mark is {nearest}, {verdict}."
