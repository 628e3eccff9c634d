"""Letters and places given anew: the same question with its options, cards or rows in another order.

Where things stand, and by which letter they go, must tell nothing about what is right. So one draw can serve many
forms, each with an order of its own.
"""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

from trainkit.items.kinds import kind_of

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Key


def relettered(item: Item, key: Key, shuffle: random.Random) -> tuple[Item, Key]:
    """Return the same question and key with options, cards or rows in an order that depends on ``shuffle`` alone.

    Parameters
    ----------
    item, key : Item, Key
        What was drawn; in which order it stands does not matter.
    shuffle : random.Random
        Stream for the order.

    Returns
    -------
    item, key : Item, Key
        Options and cards are lettered a, b, c … by where they stand; the lines of a written order stay where they
        are. Kinds without options, and places on a picture, come back as they are.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> from trainkit.items.kinds import ChoiceKey
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> key = ChoiceKey(template="t/t", working=("On.",), right="a", shows={"b": "c"})
    >>> other, its_key = relettered(item, key, random.Random(5))
    >>> [(option.id, option.text) for option in other.options], its_key.right, its_key.shows
    ([('a', 'back'), ('b', 'on')], 'b', {'a': 'c'})
    """
    anew: tuple[Item, Key] = kind_of(item.kind).relettered(item, key, shuffle)
    return anew
