"""How what a person entered is understood, before it is recorded.

A number is read back in words first; an answer that cannot be one (a card left out, an option that was never
offered) is refused with what to do, and is not recorded.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit import quantities
from trainkit.errors import QuantityError, ResponseError
from trainkit.items.item import (
    ChoiceItem,
    GridItem,
    InsertItem,
    NumberItem,
    OrderItem,
    PointItem,
    SetItem,
    SeveralItem,
    TextItem,
)
from trainkit.items.responses import (
    ChoiceResponse,
    GridResponse,
    InsertResponse,
    NumberResponse,
    OrderResponse,
    PointResponse,
    SetResponse,
    SeveralResponse,
    TextResponse,
    read_response,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainkit.items.item import Item, Option
    from trainkit.items.responses import Response

__all__ = ["Understood", "fit", "understood"]


@dataclass(frozen=True, slots=True)
class Understood:
    """A number as it was understood.

    Parameters
    ----------
    response : NumberResponse
        What will be recorded.
    words : str
        The number with its unit, as it is read back.
    """

    response: NumberResponse
    words: str


def understood(item: NumberItem, text: str, unit: str) -> Understood:
    r"""Read a number with its unit the way marking will read it.

    Parameters
    ----------
    item : NumberItem
        What was asked.
    text, unit : str
        What was typed, and the unit that was picked beside it; a unit in the text goes before the picked one.

    Raises
    ------
    QuantityError
        If it cannot be read.
    ResponseError
        If it is too long to be an answer.

    Examples
    --------
    >>> item = NumberItem(prompt="How tight?", units=("N·m", "lbf·ft"), to_nearest="to the nearest 1 N·m")
    >>> understood(item, "12,5", "N·m").words
    '12.5\u2009N·m'
    >>> understood(item, "31 ft-lb", "N·m").words
    '31\u2009lbf·ft'
    """
    text = text.strip()
    if not text:
        raise QuantityError(text, rule="There is no number yet.", remedy="Type one.")
    if len(text) > 60:
        raise ResponseError(text, rule="An answer has at most 60 characters.", remedy="Write the number and its unit.")
    if not _is_torque(item):
        return _plain(item, text, unit)
    try:
        quantities.number(text)
    except QuantityError:
        # A unit was typed as well, or it is no number at all: reading it as a torque tells which.
        torque = quantities.torque(text)
    else:
        torque = quantities.torque(f"{text} {_picked(item, unit)}")
        unit = _picked(item, unit)
    return Understood(NumberResponse(text=text, unit=unit), str(torque))


def _is_torque(item: NumberItem) -> bool:
    return set(item.units) <= set(quantities.UNITS)


def _plain(item: NumberItem, text: str, unit: str) -> Understood:
    typed = next((known for known in item.units if known and text.endswith(known)), None)
    if typed is not None:
        text, unit = text.removesuffix(typed).strip(), typed
    value = quantities.number(text)
    unit = _picked(item, unit)
    close = "" if unit in ("°", "%") else quantities.THIN
    return Understood(NumberResponse(text=text, unit=unit), f"{quantities.plain(value)}{close}{unit}")


def _picked(item: NumberItem, unit: str) -> str:
    if len(item.units) == 1:
        return item.units[0]
    if unit not in item.units:
        raise QuantityError(
            unit, rule="A number needs its unit.", remedy=f"Pick one of {', '.join(item.units)} beside it."
        )
    return unit


def fit(item: Item, data: object) -> Response:
    """Return the response in ``data`` if it can be an answer to ``item``.

    Raises
    ------
    ResponseError
        If it is not well formed, or answers another question.
    QuantityError
        If it is a number that cannot be read.

    Examples
    --------
    >>> from trainkit.items.item import Option
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> fit(item, {"kind": "choice", "option": "b"})
    ChoiceResponse(kind='choice', option='b')
    """
    response = read_response(data)
    if response.kind != item.kind:
        raise ResponseError(
            response.kind, rule=f"This question asks for the kind “{item.kind}”.", remedy="Answer it again."
        )
    if isinstance(item, NumberItem) and isinstance(response, NumberResponse):
        return understood(item, response.text, response.unit).response
    if isinstance(item, ChoiceItem) and isinstance(response, ChoiceResponse):
        _offered([response.option], item.options)
    elif isinstance(item, SeveralItem) and isinstance(response, SeveralResponse):
        _offered(response.options, item.options)
    elif isinstance(item, OrderItem) and isinstance(response, OrderResponse):
        if sorted(response.cards) != sorted(card.id for card in item.cards):
            raise ResponseError(response.cards, rule="Every card stands in the order once.", remedy="Answer it again.")
    elif isinstance(item, InsertItem) and isinstance(response, InsertResponse):
        if response.place > len(item.written):
            raise ResponseError(
                response.place, rule="The step goes between those shown.", remedy="Choose one of the places."
            )
    elif isinstance(item, PointItem) and isinstance(response, PointResponse):
        _offered([response.target], item.targets)
    elif isinstance(item, GridItem) and isinstance(response, GridResponse):
        _offered(list(response.rows), item.rows)
        _offered(list(set(response.rows.values())), item.columns)
    elif isinstance(item, SetItem) and isinstance(response, SetResponse):
        if not item.scale.low <= response.value <= item.scale.high:
            raise ResponseError(response.value, rule="A setting lies on the scale.", remedy="Set it again.")
    elif (
        isinstance(item, TextItem)
        and isinstance(response, TextResponse)
        and not 0 < len(response.text.strip()) <= len(response.text) <= item.limit
    ):
        raise ResponseError(
            response.text, rule=f"A text has 1 to {item.limit} characters.", remedy="Write it within these."
        )
    return response


def _offered(taken: Sequence[str], options: Sequence[Option]) -> None:
    known = {option.id for option in options}
    for option in taken:
        if option not in known or taken.count(option) > 1:
            raise ResponseError(
                option, rule="Only what is shown can be chosen, and each once.", remedy="Choose from those shown."
            )
