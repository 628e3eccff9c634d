"""The right answer in words, for pages that may tell it; the only module of feedback that is handed a key."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from trainkit.items.item import GridItem, InsertItem, PointItem, SeveralItem
from trainkit.items.key import (
    ChoiceKey,
    GridKey,
    InsertKey,
    NumberKey,
    PointKey,
    SetKey,
    SeveralKey,
    TextKey,
)
from trainkit.items.responses import ChoiceResponse, InsertResponse
from trainkit_grading.support.markup import said

if TYPE_CHECKING:
    from trainkit.items.item import Item, Option
    from trainkit.items.key import Key

__all__ = ["right_answer"]


def right_answer(item: Item, key: Key) -> tuple[str, ...]:
    """Return what is right, a line each; where an order or a play is asked, the working says it.

    Examples
    --------
    >>> from trainkit.items.item import ChoiceItem, Option
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> right_answer(item, ChoiceKey(template="t/t", working=("On.",), right="a"))
    ('on',)
    """
    match key:
        case NumberKey() | SetKey():
            return (key.shown.rstrip(" ,"),)
        case ChoiceKey():
            return said(item, ChoiceResponse(option=key.right))
        case SeveralKey() if isinstance(item, SeveralItem):
            return _texts(item.options, key.right) or ("none of them",)
        case PointKey() if isinstance(item, PointItem):
            return (" or ".join(_texts(item.targets, key.right)),)
        case GridKey() if isinstance(item, GridItem):
            columns = {column.id: column.text for column in item.columns}
            return tuple(f"{row.text}: {columns[key.right[row.id]]}" for row in item.rows)
        case InsertKey() if isinstance(item, InsertItem):
            return (" or ".join(line for place in key.right for line in said(item, InsertResponse(place=place))),)
        case TextKey():
            return tuple(line.looks_for for line in key.rubric)
    return ()


def _texts(things: Iterable[Option], wanted: Iterable[str]) -> tuple[str, ...]:
    chosen = set(wanted)
    return tuple(thing.text for thing in things if thing.id in chosen)
