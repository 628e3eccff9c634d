"""From item, key and response to a mark: what was earned, why, and what the answer shows.

The same response always gets the same mark. A response of the wrong kind, of absurd size or with an option that was
never offered earns nothing and says why; it never raises.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any

from trainkit import procedures, quantities
from trainkit.errors import QuantityError, ResponseError
from trainkit.items import scenarios
from trainkit.items.item import ActionsItem, ChoiceItem, Item, NumberItem, OrderItem
from trainkit.items.key import ActionsKey, ChoiceKey, Key, NumberKey, OrderKey
from trainkit.items.misconceptions import misconception
from trainkit.items.responses import (
    ActionsResponse,
    ChoiceResponse,
    NumberResponse,
    OrderResponse,
    Response,
    read_response,
)

__all__ = ["Mark", "mark", "no_answer"]

# A dangerous pair the wrong way round leaves at most this share of the points, however good the rest.
DANGEROUS_CAP = 0.25
# The right value written with another unit: the thinking is right, the wrench would still be set wrongly.
WRONG_UNIT_SHARE = 0.25


@dataclass(frozen=True, slots=True)
class Mark:
    """What a response earned, and why.

    Parameters
    ----------
    points, out_of : float
        Earned and possible points; ``0 <= points <= out_of``, rounded to a hundredth.
    verdict : str
        ``"right"``, ``"in part"``, ``"not yet"`` or ``"no answer"``.
    reason : str
        What the answer shows and what to do next, whole sentences.
    misconception : str or None
        Code of the misconception that the answer shows, if one is recognised.
    critical : bool
        Whether the answer would hurt the engine or a person.
    """

    points: float
    out_of: float
    verdict: str
    reason: str
    misconception: str | None = None
    critical: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Return the mark as plain JSON data."""
        return asdict(self)


def no_answer(item: Item) -> Mark:
    """Return the mark of an item that was not answered."""
    return Mark(0.0, item.points, "no answer", "There is no answer to this question.")


def mark(item: Item, key: Key, response: Response | dict[str, Any]) -> Mark:
    """Mark a response.

    Parameters
    ----------
    item : Item
        What was shown.
    key : Key
        What is right.
    response : Response or dict
        What was given; a dict is read strictly first.

    Returns
    -------
    Mark

    Examples
    --------
    >>> from trainkit.items.item import ChoiceItem, Option
    >>> from trainkit.items.key import ChoiceKey
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> key = ChoiceKey(template="t/t", working=("On.",), right="a")
    >>> mark(item, key, {"kind": "choice", "option": "a"}).verdict
    'right'
    >>> mark(item, key, {"kind": "choice", "option": "z"}).points
    0.0
    """
    try:
        given = read_response(response) if not isinstance(response, _RESPONSES) else response
    except ResponseError as error:
        return _not_yet(item, f"The answer could not be read. {error.rule}")
    if isinstance(item, NumberItem) and isinstance(key, NumberKey) and isinstance(given, NumberResponse):
        return _number(item, key, given)
    if isinstance(item, ChoiceItem) and isinstance(key, ChoiceKey) and isinstance(given, ChoiceResponse):
        return _choice(item, key, given)
    if isinstance(item, OrderItem) and isinstance(key, OrderKey) and isinstance(given, OrderResponse):
        return _order(item, key, given)
    if isinstance(item, ActionsItem) and isinstance(key, ActionsKey) and isinstance(given, ActionsResponse):
        return _actions(item, key, given)
    return _not_yet(item, f"This question asks for an answer of the kind “{item.kind}”, not “{given.kind}”.")


_RESPONSES = (NumberResponse, ChoiceResponse, OrderResponse, ActionsResponse)


def _not_yet(item: Item, reason: str, shown: str | None = None, critical: bool = False) -> Mark:
    return Mark(0.0, item.points, "not yet", reason, shown, critical)


def _share(item: Item, share: float, reason: str, shown: str | None = None, critical: bool = False) -> Mark:
    share = min(1.0, max(0.0, share)) if math.isfinite(share) else 0.0
    verdict = "right" if share >= 1.0 else "in part" if share > 0.0 else "not yet"
    return Mark(round(share * item.points, 2), item.points, verdict, reason, shown, critical)


def _number(item: NumberItem, key: NumberKey, given: NumberResponse) -> Mark:
    try:
        value, unit = _read_number(key, given)
    except QuantityError as error:
        return _not_yet(item, f"The number could not be read. {error.rule} {error.remedy}")
    in_key_unit = _in_unit(key, value, unit)
    if in_key_unit is None:
        return _not_yet(item, f"The answer is asked in one of: {', '.join(item.units)}. “{unit}” is none of them.")
    # The last digits of a conversion must not decide: a billionth of the answer is far below any wrench.
    slack = key.tolerance + abs(key.answer) * 1e-9
    if abs(in_key_unit - key.answer) <= slack:
        return _share(item, 1.0, f"{key.shown} is right.")
    for rule in key.rules:
        if abs(in_key_unit - rule.value) <= slack:
            return _not_yet(item, misconception(rule.misconception).advice(), rule.misconception)
    if unit != key.unit and abs(value - key.answer) <= slack:
        return _share(
            item,
            WRONG_UNIT_SHARE,
            f"The number {value:g} is right, but in {key.unit}; the answer says {unit}. "
            "Write down the unit first, then the number.",
            "right-number-wrong-unit",
        )
    return _not_yet(item, "This number comes from none of the usual slips. Go through the working step by step.")


def _read_number(key: NumberKey, given: NumberResponse) -> tuple[float, str]:
    """Return the number and the unit as they were meant: a unit in the text goes before the picked one."""
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
    if key.quantity == "torque":
        return quantities.torque(f"{value!r} {unit}").to(key.unit).value if unit != key.unit else value
    return value if unit == key.unit else None


def _choice(item: ChoiceItem, key: ChoiceKey, given: ChoiceResponse) -> Mark:
    if given.option not in {option.id for option in item.options}:
        return _not_yet(item, "This option was not offered. Choose one of those shown.")
    reason = key.reasons.get(given.option, "")
    if given.option == key.right:
        return _share(item, 1.0, reason or "That is right.")
    shown = key.shows.get(given.option) or None
    advice = misconception(shown).advice() if shown else "Go through the working step by step."
    return _not_yet(item, f"{reason} {advice}".strip(), shown, given.option in key.critical)


def _order(item: OrderItem, key: OrderKey, given: OrderResponse) -> Mark:
    if sorted(given.cards) != sorted(card.id for card in item.cards):
        return _not_yet(item, "Every card has to stand in the order once. Put all of them in order.")
    procedure = procedures.Procedure(
        tuple(key.cards), tuple(procedures.Edge(b.before, b.after, b.reason, b.dangerous) for b in key.bonds)
    )
    judgement = procedure.judge(given.cards)
    if not judgement.broken:
        return _share(item, 1.0, "Every step stands where it may stand.")
    share = procedure.score(given.cards)
    broken = {(pair.before, pair.after) for pair in judgement.broken}
    bonds = [bond for bond in key.bonds if (bond.before, bond.after) in broken]
    dangerous = [bond for bond in bonds if bond.dangerous]
    shown = next((bond.misconception for bond in (*dangerous, *bonds) if bond.misconception), None)
    sentences = [
        f"“{key.cards[bond.before]}” comes before “{key.cards[bond.after]}”: {bond.reason}"
        for bond in (dangerous or bonds)[:2]
    ]
    moves = judgement.fewest_moves
    sentences.append(f"{'One move' if moves == 1 else f'{moves} moves'} would put the order right.")
    if dangerous:
        sentences.append("A pair that can hurt the engine or a person stands the wrong way round.")
        share = min(share, DANGEROUS_CAP)
    if shown:
        sentences.append(misconception(shown).advice())
    return _share(item, share, " ".join(sentences), shown, bool(dangerous))


def _actions(item: ActionsItem, key: ActionsKey, given: ActionsResponse) -> Mark:
    offered = {option.id for option in item.actions}
    if len(given.actions) > item.limit or not offered.issuperset(given.actions):
        return _not_yet(item, "The record holds actions that this scenario does not offer. Play it again.")
    play, _ = scenarios.replay(key.model, item.scene, given.actions)
    verdict = play.verdict(given.gave_up)
    return _share(item, verdict.share, verdict.reason, verdict.misconception, verdict.critical)
