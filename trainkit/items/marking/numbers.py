"""Numbers with units, and hands and scales that are set."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from trainkit import quantities
from trainkit.errors import QuantityError
from trainkit.items.marking.marks import Mark, not_yet, share_of, unusable
from trainkit.items.misconceptions import both_advice, misconception

if TYPE_CHECKING:
    from trainkit.items.item import NumberItem, SetItem
    from trainkit.items.key import NumberKey, NumberRule, SetKey
    from trainkit.items.responses import NumberResponse, SetResponse

__all__ = ["mark_number", "mark_setting"]

# The right value written with another unit: the thinking is right, the wrench would still be set wrongly.
WRONG_UNIT = "right-number-wrong-unit"
WRONG_UNIT_SHARE = 0.25
# The last digits of a conversion must not decide: a billionth of the answer is far below any wrench.
SLACK = 1e-9


def mark_number(item: NumberItem, key: NumberKey, given: NumberResponse) -> Mark:
    """Mark a number by its distance from the exact answer, or by the rule that it shows.

    Where it shows two rules at once the reason names both, and the mark the first of them.
    """
    try:
        value, unit = _read(key, given)
        in_key_unit = _in_unit(key, value, unit)
    except QuantityError as error:
        return unusable(item, f"The number could not be read. {error.rule} {error.remedy}")
    if in_key_unit is None:
        return unusable(item, f"The answer is asked in {' or '.join(item.units)}. “{unit}” is none of them.")
    slack = key.tolerance + abs(key.answer) * SLACK
    if abs(in_key_unit - key.answer) <= slack:
        return share_of(item, 1.0, f"{key.shown} is right.")
    shown = _recognised(key.rules, lambda wrong: abs(in_key_unit - wrong) <= slack)
    if shown:
        return _slip(item, shown)
    both = next((pair for pair in key.pairs if abs(in_key_unit - pair.value) <= slack), None)
    if both is not None:
        advice = both_advice(both.first, both.second)
        return not_yet(item, advice, both.first, method=advice)
    if unit != key.unit and abs(value - key.answer) <= slack:
        return share_of(
            item,
            WRONG_UNIT_SHARE,
            f"The number {value:g} is right, but in {key.unit}; the answer says {unit}. "
            "Write down the unit first, then the number, and read both aloud before setting the wrench.",
            WRONG_UNIT,
            # The part of the points alone tells as much; which unit it would be right in stays open.
            method=misconception(WRONG_UNIT).method(),
        )
    return not_yet(item, "This number comes from none of the usual slips. Go through the working step by step.")


def mark_setting(item: SetItem, key: SetKey, given: SetResponse) -> Mark:
    """Mark a hand or scale by how far it stands from where it should, the short way round."""
    scale = item.scale
    if not scale.low <= given.value <= scale.high:
        return unusable(item, f"The scale runs from {scale.low:g} to {scale.high:g} {scale.unit}. Set it again.")

    def near(where: float) -> bool:
        off = abs(given.value - where)
        if key.turn is not None:
            off = min(off % key.turn, -off % key.turn)
        return off <= key.tolerance + SLACK * max(1.0, abs(where))

    if near(key.answer):
        return share_of(item, 1.0, f"{key.shown} is right.")
    shown = _recognised(key.rules, near)
    if shown:
        return _slip(item, shown)
    return not_yet(item, "This setting comes from none of the usual slips. Go through the working step by step.")


def _slip(item: NumberItem | SetItem, shown: str) -> Mark:
    """Return the mark of a number that a wrong rule gives; what is told of a rule holds nothing that was drawn."""
    found = misconception(shown)
    return not_yet(item, found.advice(), shown, method=found.method(single=True))


def _recognised(rules: Sequence[NumberRule], near: Callable[[float], bool]) -> str | None:
    return next((rule.misconception for rule in rules if near(rule.value)), None)


def _read(key: NumberKey, given: NumberResponse) -> tuple[float, str]:
    """Return number and unit as they were meant: a unit in the text goes before the picked one."""
    try:
        value = quantities.number(given.text)
    except QuantityError:
        if key.quantity != "torque":
            raise
        torque = quantities.torque(given.text)
        return torque.value, torque.unit
    if key.quantity == "torque":
        torque = quantities.torque(f"{given.text} {given.unit}")
        return torque.value, torque.unit
    return value, given.unit or key.unit


def _in_unit(key: NumberKey, value: float, unit: str) -> float | None:
    if unit == key.unit:
        return value
    if key.quantity == "torque":
        return quantities.torque(f"{value!r} {unit}").to(key.unit).value
    return None
