"""A number with its unit."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainkit import quantities
from trainkit.errors import QuantityError
from trainkit.items.kinds.lines import number_told
from trainkit.items.kinds.rules import NUMBER_MET, SLACK, recognised, slip
from trainkit.items.kinds.values import Kind, Known, NumberRule, Shown, Value
from trainkit.items.marks import Mark, not_yet, share_of, unusable
from trainkit.items.misconceptions import both_advice, misconception

# The right value written with another unit: the thinking is right, the wrench would still be set wrongly.
WRONG_UNIT = "right-number-wrong-unit"
_WRONG_UNIT_SHARE = 0.25


class NumberItem(Shown):
    """A number with its unit is asked.

    ``units`` are what the unit picker offers, in the order shown; ``to_nearest`` says in words how closely to
    answer ("to the nearest 1 N·m, the step of the wrench").
    """

    kind: Literal["number"] = "number"
    units: tuple[str, ...]
    to_nearest: str


class NumberPair(Value):
    """Two wrong rules of thought at once, and the number that they give together, in the key's unit."""

    first: str
    second: str
    value: float


class NumberKey(Known):
    """The right number.

    ``answer`` is the exact value in ``unit``; an answer counts as right within ``tolerance`` of it (same unit), and
    a rule, or a pair of them, is recognised within the same distance. ``quantity`` is ``"torque"`` (any notation of
    torque is read), or the plain name of what is counted or measured in ``unit`` ("crank angle").
    """

    kind: Literal["number"] = "number"
    quantity: str = "torque"
    answer: float
    unit: str
    tolerance: Annotated[float, Field(ge=0)]
    shown: str  # the answer as it is written for a person, "42 N·m"
    rules: tuple[NumberRule, ...] = ()
    pairs: tuple[NumberPair, ...] = ()


class NumberResponse(Value):
    """A number as it was typed, and the unit that was picked beside it.

    ``text`` may hold a unit of its own (``"31 lbf·ft"``); it then goes before the picked one.
    """

    kind: Literal["number"] = "number"
    text: Annotated[str, Field(min_length=1, max_length=60)]
    unit: Annotated[str, Field(max_length=20)] = ""


def _mark(item: NumberItem, key: NumberKey, given: NumberResponse) -> Mark:
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
    shown = recognised(key.rules, lambda wrong: abs(in_key_unit - wrong) <= slack)
    if shown:
        return slip(item, shown)
    both = next((pair for pair in key.pairs if abs(in_key_unit - pair.value) <= slack), None)
    if both is not None:
        advice = both_advice(both.first, both.second)
        return not_yet(item, advice, both.first, method=advice)
    if unit != key.unit and abs(value - key.answer) <= slack:
        return share_of(
            item,
            _WRONG_UNIT_SHARE,
            f"The number {value:g} is right, but in {key.unit}; the answer says {unit}. "
            "Write down the unit first, then the number, and read both aloud before setting the wrench.",
            WRONG_UNIT,
            # The part of the points alone tells as much; which unit it would be right in stays open.
            method=misconception(WRONG_UNIT).method(),
        )
    return not_yet(item, "This number comes from none of the usual slips. Go through the working step by step.")


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


def _accidents(item: NumberItem, key: NumberKey) -> dict[str, float]:
    found = dict.fromkeys((rule.misconception for rule in key.rules), NUMBER_MET)
    if key.quantity == "torque" and set(item.units) - {key.unit}:
        found[WRONG_UNIT] = NUMBER_MET
    return found


KIND: Kind[NumberItem, NumberKey, NumberResponse] = Kind(
    "number",
    rule="All points for a number as near to the right one as the question asks, a quarter for the right number "
    "with another unit, otherwise none.",
    mark=_mark,
    accidents=_accidents,
    tells=lambda _, key, line: number_told(line, key.answer, key.tolerance),
)
