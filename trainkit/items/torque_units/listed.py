"""A list of settings to be checked: torques of the job sheet, and the marks that somebody set for them."""

from __future__ import annotations

import random
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import digits
from trainkit.items.item import Given, Item, SeveralItem
from trainkit.items.key import Key, SeveralKey
from trainkit.items.template import Redraw, Template
from trainkit.items.torque_units.converting import Converted, converted
from trainkit.items.torque_units.drawing import facts, lettered, unit_changes
from trainkit.quantities import THIN, Torque, plain

if TYPE_CHECKING:
    from trainkit.packs import Pack

__all__ = ["WhichSettings"]

LINES = 6
FEWEST_WRONG = 3
# So many torques are drawn to find wrong settings that are told apart by what they show.
_DRAWS = 30

Setting = tuple[Converted, Torque]  # what was asked, and the mark that was set


class WhichSettings(Template):
    """Of several settings that somebody made from the job sheet those are to be taken that are right.

    Difficulty: the conversions on the way; the digits of the torques, for each line; the right settings among them,
    because none of the errors is known beforehand.
    """

    name = "torque-units/which-settings"
    skill = "Check a list of settings against the job sheet"
    kind = "several"
    weights = MappingProxyType({"unit changes": 0.5, "digits": 0.25, "right": 0.5})

    def features(self, item: Item, key: Key) -> Mapping[str, float]:
        """Return unit changes, digits for each line, and right settings."""
        texts = [option.text for option in getattr(item, "options", ())]
        return {
            "unit changes": unit_changes(item),
            "digits": sum(map(digits, texts)) / len(texts),
            "right": len(getattr(key, "right", ())),
        }

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[Item, Key]:
        """Draw once, or ask for another draw."""
        right, wrong = _settings(rng, pack)
        lines: dict[str, Setting] = {_line(setting): setting for setting in (*right, *wrong.values())}
        if not right or len(wrong) < FEWEST_WRONG or len(lines) < len(right) + len(wrong):
            raise Redraw
        options, letters = lettered(lines, shuffle)
        units = dict.fromkeys(
            unit for drawn, _ in lines.values() for unit in (drawn.case.given.unit, drawn.wrench.unit)
        )
        tools = {drawn.tool.name: drawn.wrench for drawn, _ in lines.values()}
        item = SeveralItem(
            prompt="Somebody set these wrenches by the job sheet. "
            "Which settings are right? There may be more than one.",
            given=(
                *(
                    Given(
                        label=f"From mark to mark, {name}",
                        value=f"{plain(tools[name].step, tools[name].step)}{THIN}{tools[name].unit}",
                    )
                    for name in sorted(tools)
                ),
                facts(*dict.fromkeys(units)),
            ),
            options=options,
        )
        reasons = {line: _reason(*setting) for line, setting in lines.items()}
        key = SeveralKey(
            template=self.name,
            working=tuple(reasons.values()),
            right=tuple(letters[_line(setting)] for setting in right),
            shows={letters[_line(setting)]: code for code, setting in wrong.items()},
            reasons={letters[line]: reason for line, reason in reasons.items()},
        )
        return item, key


def _settings(rng: random.Random, pack: Pack) -> tuple[list[Setting], dict[str, Setting]]:
    """Return a right setting or two, and wrong ones by what each shows; every line has a torque of its own."""
    drawn: dict[str, Converted] = {}
    for _ in range(_DRAWS):
        try:
            found = converted(rng, pack)
        except Redraw:
            continue
        drawn.setdefault(found.printed, found)
    by_code: dict[str, list[Setting]] = {}
    for each in drawn.values():
        for rule in each.rules:
            if each.wrench.low <= rule.value <= each.wrench.high:
                by_code.setdefault(rule.misconception, []).append((each, Torque(rule.value, each.wrench.unit)))
    taken: set[str] = set()
    wrong: dict[str, Setting] = {}
    count = rng.randint(1, 2)
    for code in rng.sample(sorted(by_code), len(by_code)):
        open_to = [setting for setting in by_code[code] if setting[0].printed not in taken]
        if open_to and len(wrong) < LINES - count:
            wrong[code] = rng.choice(open_to)
            taken.add(wrong[code][0].printed)
    others = [each for each in drawn.values() if each.printed not in taken]
    return [(each, each.answer) for each in rng.sample(others, min(count, len(others)))], wrong


def _line(setting: Setting) -> str:
    drawn, mark = setting
    return f"Job sheet {drawn.printed}, {drawn.tool.name} at {mark.shown(drawn.wrench.step)}"


def _reason(drawn: Converted, mark: Torque) -> str:
    exact = f"{plain(drawn.case.exact)}{THIN}{drawn.wrench.unit}"
    nearest = drawn.answer.shown(drawn.wrench.step)
    verdict = "as set" if mark == drawn.answer else f"not {mark.shown(drawn.wrench.step)}"
    return f"{drawn.printed} = {exact}, so the nearest mark is {nearest}, {verdict}."
