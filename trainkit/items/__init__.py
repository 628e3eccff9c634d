"""Items: what is shown, what is right, what was given and what it earned."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.doors import lazily

if TYPE_CHECKING:
    from trainkit.items.item import Item, read_item
    from trainkit.items.key import Key, read_key
    from trainkit.items.marking import Mark, mark, no_answer
    from trainkit.items.misconceptions import misconception
    from trainkit.items.responses import Response, read_response
    from trainkit.items.template import find, names
else:
    __getattr__, __dir__ = lazily(
        __name__,
        item=("Item", "read_item"),
        key=("Key", "read_key"),
        marking=("Mark", "mark", "no_answer"),
        misconceptions=("misconception",),
        responses=("Response", "read_response"),
        template=("find", "names"),
    )

__all__ = [
    "Item",
    "Key",
    "Mark",
    "Response",
    "find",
    "mark",
    "misconception",
    "names",
    "no_answer",
    "read_item",
    "read_key",
    "read_response",
]
