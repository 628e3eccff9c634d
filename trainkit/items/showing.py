"""Which misconceptions an answer to an item can show, read off its key."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.items.kinds import kind_of

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Key

__all__ = ["could_show"]


def could_show(item: Item, key: Key) -> frozenset[str]:
    """Return the codes of the misconceptions that an answer to an item can show.

    Examples
    --------
    >>> import random
    >>> from trainkit import packs
    >>> from trainkit.items.template import find
    >>> drawn = find("torque-units/convert").draw(random.Random(1), packs.load("dunlin"))
    >>> "inverse-factor" in could_show(*drawn)
    True
    """
    return frozenset(kind_of(key.kind).shows(item, key))
