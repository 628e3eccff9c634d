"""Items: what is shown, what is right, what was given and what it earned."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.doors import lazily

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Key, Response
    from trainkit.items.marking import Mark, mark, no_answer
    from trainkit.items.misconceptions import misconception
    from trainkit.items.reading import read_item, read_key, read_response
    from trainkit.items.template import find, names
else:
    __getattr__, __dir__ = lazily(
        __name__,
        kinds=("Item", "Key", "Response"),
        marking=("Mark", "mark", "no_answer"),
        misconceptions=("misconception",),
        reading=("read_item", "read_key", "read_response"),
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
