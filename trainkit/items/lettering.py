"""Letters and places given anew: the same question with its options, cards or rows in another order.

Where things stand, and by which letter they go, must tell nothing about what is right. So one draw can serve many
forms, each with an order of its own.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

from trainkit.items.item import Card, ChoiceItem, GridItem, InsertItem, Item, Option, OrderItem, SeveralItem
from trainkit.items.key import Bond, ChoiceKey, GridKey, InsertKey, Key, OrderKey, SeveralKey
from trainkit.items.template import shuffled

__all__ = ["LETTERS", "relettered"]

LETTERS = "abcdefghijkl"

E = TypeVar("E", Option, Card)
V = TypeVar("V")


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
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> key = ChoiceKey(template="t/t", working=("On.",), right="a", shows={"b": "c"})
    >>> other, its_key = relettered(item, key, random.Random(5))
    >>> [(option.id, option.text) for option in other.options], its_key.right, its_key.shows
    ([('a', 'back'), ('b', 'on')], 'b', {'a': 'c'})
    """
    match item, key:
        case ChoiceItem(), ChoiceKey():
            options, to = _mixed(item.options, shuffle)
            changed = {**_judged(key, to), "right": to[key.right]}
            return item.model_copy(update={"options": options}), key.model_copy(update=changed)
        case SeveralItem(), SeveralKey():
            options, to = _mixed(item.options, shuffle)
            changed = {**_judged(key, to), "right": tuple(sorted(to[one] for one in key.right))}
            return item.model_copy(update={"options": options}), key.model_copy(update=changed)
        case OrderItem(), OrderKey():
            cards, to = _mixed(item.cards, shuffle)
            changed = {"cards": {card.id: card.text for card in cards}, "bonds": _bonds(key.bonds, to)}
            return item.model_copy(update={"cards": cards}), key.model_copy(update=changed)
        case InsertItem(), InsertKey():
            cards, to = _mixed((*item.written, item.missing), shuffle)
            named = {card.id: card for card in cards}
            written = tuple(named[to[card.id]] for card in item.written)
            missing = named[to[item.missing.id]]
            changed = {
                "written": tuple(card.id for card in written),
                "missing": missing.id,
                "cards": {card.id: card.text for card in cards},
                "bonds": _bonds(key.bonds, to),
            }
            return item.model_copy(update={"written": written, "missing": missing}), key.model_copy(update=changed)
        case GridItem(), GridKey():
            rows, to = _mixed(item.rows, shuffle)
            changed = {
                "right": _named(key.right, to),
                "shows": {_pair(pair, to): code for pair, code in key.shows.items()},
                "critical": tuple(_pair(pair, to) for pair in key.critical),
                "reasons": _named(key.reasons, to),
            }
            return item.model_copy(update={"rows": rows}), key.model_copy(update=changed)
    return item, key


def _mixed(entries: Iterable[E], shuffle: random.Random) -> tuple[tuple[E, ...], dict[str, str]]:
    """Return entries in a new order with new letters, and the new letter of each old one."""
    # What is said decides where the shuffle begins, so that the old order leaves no trace.
    mixed = shuffled(sorted(entries, key=lambda entry: entry.text), shuffle)
    to = {entry.id: LETTERS[at] for at, entry in enumerate(mixed)}
    return tuple(type(entry)(id=to[entry.id], text=entry.text) for entry in mixed), to


def _judged(key: ChoiceKey | SeveralKey, to: Mapping[str, str]) -> dict[str, Any]:
    return {
        "shows": _named(key.shows, to),
        "critical": tuple(sorted(to[one] for one in key.critical)),
        "reasons": _named(key.reasons, to),
    }


def _named(entries: Mapping[str, V], to: Mapping[str, str]) -> dict[str, V]:
    return {to[one]: value for one, value in entries.items()}


def _pair(pair: str, to: Mapping[str, str]) -> str:
    row, _, column = pair.partition(" ")
    return f"{to[row]} {column}"


def _bonds(bonds: Iterable[Bond], to: Mapping[str, str]) -> tuple[Bond, ...]:
    return tuple(bond.model_copy(update={"before": to[bond.before], "after": to[bond.after]}) for bond in bonds)
