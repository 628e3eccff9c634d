"""The right answer in words, for pages that may tell it; the only module of feedback that is handed a key."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.widgets.kinds import look_of

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Key


def right_answer(item: Item, key: Key) -> tuple[str, ...]:
    """Return what is right, a line each; where an order or a play is asked, the working says it.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> from trainkit.items.kinds import ChoiceKey
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> right_answer(item, ChoiceKey(template="t/t", working=("On.",), right="a"))
    ('on',)
    """
    return tuple(look_of(key.kind).right(item, key)) if item.kind == key.kind else ()
