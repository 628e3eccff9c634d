"""How each kind of answer looks: asked, understood and told, one file a kind."""

from __future__ import annotations

from typing import Any, assert_never

from trainkit.items.kinds import KINDS, Name
from trainkit.widgets.kinds import actions, choice, grid, insert, number, observed, order, point, setting, several, text
from trainkit.widgets.kinds.look import Look

__all__ = ["LOOKS", "look_of"]


def look_of(name: Name) -> Look[Any, Any, Any]:
    """Return how a kind looks, by the ``kind`` of an item, a key or a response."""
    match name:
        case "number":
            return number.LOOK
        case "choice":
            return choice.LOOK
        case "several":
            return several.LOOK
        case "order":
            return order.LOOK
        case "insert":
            return insert.LOOK
        case "grid":
            return grid.LOOK
        case "point":
            return point.LOOK
        case "set":
            return setting.LOOK
        case "actions":
            return actions.LOOK
        case "text":
            return text.LOOK
        case "observed":
            return observed.LOOK
        case _:
            assert_never(name)


LOOKS: dict[str, Look[Any, Any, Any]] = {name: look_of(known.name) for name, known in KINDS.items()}
"""All of them by name, for names that come out of a file."""
