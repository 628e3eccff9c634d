"""Letters given anew: options, cards or rows in another order, and what names them."""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from typing import TypeVar

from trainkit.items.kinds.values import Bond, Card, Option

LETTERS = "abcdefghijkl"

E = TypeVar("E", Option, Card)
V = TypeVar("V")


def mixed(entries: Iterable[E], shuffle: random.Random) -> tuple[tuple[E, ...], dict[str, str]]:
    """Return entries in a new order with new letters, and the new letter of each old one."""
    # What is said decides where the shuffle begins, so that the old order leaves no trace.
    order = sorted(entries, key=lambda entry: entry.text)
    shuffle.shuffle(order)
    to = {entry.id: LETTERS[at] for at, entry in enumerate(order)}
    return tuple(type(entry)(id=to[entry.id], text=entry.text) for entry in order), to


def named(entries: Mapping[str, V], to: Mapping[str, str]) -> dict[str, V]:
    """Return what belongs to each old letter under the new one."""
    return {to[one]: value for one, value in entries.items()}


def bonds_named(bonds: Iterable[Bond], to: Mapping[str, str]) -> tuple[Bond, ...]:
    """Return bonds between the same cards under their new letters."""
    return tuple(bond.model_copy(update={"before": to[bond.before], "after": to[bond.after]}) for bond in bonds)
