"""How each kind of answer stands on paper and is typed from there, one file a kind."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, assert_never

from trainkit_grading.paper.kinds import (
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
from trainkit_grading.paper.kinds.blank import Blank

if TYPE_CHECKING:
    from trainkit.items.kinds import Name

__all__ = ["blank_of"]


def blank_of(name: Name) -> Blank[Any, Any]:
    """Return how a kind stands on paper, by the ``kind`` of an item or a response."""
    match name:
        case "number":
            return number.BLANK
        case "choice":
            return choice.BLANK
        case "several":
            return several.BLANK
        case "order":
            return order.BLANK
        case "insert":
            return insert.BLANK
        case "grid":
            return grid.BLANK
        case "point":
            return point.BLANK
        case "set":
            return setting.BLANK
        case "actions":
            return actions.BLANK
        case "text":
            return text.BLANK
        case "observed":
            return observed.BLANK
        case _:
            assert_never(name)
