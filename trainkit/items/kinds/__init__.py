"""The kinds of answers: what is shown, what is right, what is given and how that is marked, one file a kind.

The unions are closed: :func:`kind_of` has every kind, and so has the registry of each layer above.
"""

from __future__ import annotations

from typing import Any, Literal, assert_never, get_args

from trainkit.items.kinds import (
    actions,
    choice,
    grid,
    insert,
    number,
    observed,
    order,
    point,
    setting,
    several,
    text,
)
from trainkit.items.kinds.actions import ActionsItem, ActionsKey, ActionsResponse
from trainkit.items.kinds.choice import ChoiceItem, ChoiceKey, ChoiceResponse
from trainkit.items.kinds.grid import GridItem, GridKey, GridResponse
from trainkit.items.kinds.insert import InsertItem, InsertKey, InsertResponse
from trainkit.items.kinds.number import NumberItem, NumberKey, NumberPair, NumberResponse
from trainkit.items.kinds.observed import ObservedItem, ObservedKey, ObservedResponse
from trainkit.items.kinds.order import OrderItem, OrderKey, OrderResponse
from trainkit.items.kinds.point import PointItem, PointKey, PointResponse
from trainkit.items.kinds.setting import Scale, SetItem, SetKey, SetResponse
from trainkit.items.kinds.several import SeveralItem, SeveralKey, SeveralResponse
from trainkit.items.kinds.text import RubricLine, TextItem, TextKey, TextResponse
from trainkit.items.kinds.values import Bond, Card, Given, Kind, NumberRule, Option, Shown, Token, Value

__all__ = [
    "KINDS",
    "ActionsItem",
    "ActionsKey",
    "ActionsResponse",
    "Bond",
    "Card",
    "ChoiceItem",
    "ChoiceKey",
    "ChoiceResponse",
    "Given",
    "GridItem",
    "GridKey",
    "GridResponse",
    "InsertItem",
    "InsertKey",
    "InsertResponse",
    "Item",
    "Key",
    "Kind",
    "Name",
    "NumberItem",
    "NumberKey",
    "NumberPair",
    "NumberResponse",
    "NumberRule",
    "ObservedItem",
    "ObservedKey",
    "ObservedResponse",
    "Option",
    "OrderItem",
    "OrderKey",
    "OrderResponse",
    "PointItem",
    "PointKey",
    "PointResponse",
    "Response",
    "RubricLine",
    "Scale",
    "SetItem",
    "SetKey",
    "SetResponse",
    "SeveralItem",
    "SeveralKey",
    "SeveralResponse",
    "Shown",
    "TextItem",
    "TextKey",
    "TextResponse",
    "Token",
    "Value",
    "kind_of",
]

Name = Literal["number", "choice", "several", "order", "insert", "grid", "point", "set", "actions", "text", "observed"]
"""The names of all kinds: the ``kind`` of an item, a key and a response."""
Item = (
    NumberItem
    | ChoiceItem
    | SeveralItem
    | OrderItem
    | InsertItem
    | GridItem
    | PointItem
    | SetItem
    | ActionsItem
    | TextItem
    | ObservedItem
)
Key = (
    NumberKey
    | ChoiceKey
    | SeveralKey
    | OrderKey
    | InsertKey
    | GridKey
    | PointKey
    | SetKey
    | ActionsKey
    | TextKey
    | ObservedKey
)
Response = (
    NumberResponse
    | ChoiceResponse
    | SeveralResponse
    | OrderResponse
    | InsertResponse
    | GridResponse
    | PointResponse
    | SetResponse
    | ActionsResponse
    | TextResponse
    | ObservedResponse
)


def kind_of(name: Name) -> Kind[Any, Any, Any]:
    """Return what is known of a kind, by the ``kind`` of an item, a key or a response."""
    match name:
        case "number":
            return number.KIND
        case "choice":
            return choice.KIND
        case "several":
            return several.KIND
        case "order":
            return order.KIND
        case "insert":
            return insert.KIND
        case "grid":
            return grid.KIND
        case "point":
            return point.KIND
        case "set":
            return setting.KIND
        case "actions":
            return actions.KIND
        case "text":
            return text.KIND
        case "observed":
            return observed.KIND
        case _:
            assert_never(name)


KINDS: dict[str, Kind[Any, Any, Any]] = {name: kind_of(name) for name in get_args(Name)}
"""All of them by name, for names that come out of a file."""
