"""Which wrong answers there are to an item, and what part of them shows each misconception; counted off the key."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from trainkit.items.kinds import kind_of
from trainkit.items.kinds.rules import NUMBER_MET

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Key

__all__ = ["NUMBER_MET", "accidents", "places"]


def accidents(item: Item, key: Key) -> Mapping[str, float]:
    """Return what part of the wrong answers shows each misconception that an answer to the item could show.

    Parameters
    ----------
    item : Item
        What is shown.
    key : Key
        What is right, of the same kind.

    Returns
    -------
    mapping of str to float
        By the code of the misconception, 0 to 1; empty where a person judges.
    """
    return kind_of(item.kind).accidents(item, key) if item.kind == key.kind else {}


def places(item: Item, key: Key) -> Mapping[str, frozenset[str]]:
    """Return where a misconception could show in an item of several rows or options; empty for other kinds.

    There each row or option is an answer of its own, and what stands elsewhere says nothing about it.
    """
    apart = kind_of(item.kind).apart
    return {} if apart is None or item.kind != key.kind else apart.places(item, key)
