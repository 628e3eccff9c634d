"""Which misconceptions an answer to an item can show, read off its key."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.items import scenarios
from trainkit.items.item import ActionsItem
from trainkit.items.key import (
    ChoiceKey,
    GridKey,
    InsertKey,
    NumberKey,
    OrderKey,
    PointKey,
    SetKey,
    SeveralKey,
)
from trainkit.items.marking.numbers import WRONG_UNIT

if TYPE_CHECKING:
    from trainkit.items.item import Item
    from trainkit.items.key import Key

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
    match key:
        case NumberKey() | SetKey():
            other_unit = {WRONG_UNIT} if len(getattr(item, "units", ())) > 1 else set()
            return frozenset(rule.misconception for rule in key.rules) | other_unit
        case ChoiceKey() | SeveralKey() | PointKey() | GridKey():
            return frozenset(code for code in key.shows.values() if code)
        case OrderKey() | InsertKey():
            return frozenset(bond.misconception for bond in key.bonds if bond.misconception)
        case _:
            if isinstance(item, ActionsItem):
                return frozenset(scenarios.ways_to_show(item.model, item.scene))
            return frozenset()
