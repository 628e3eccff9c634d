"""Cards put in order."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Annotated, Literal

from pydantic import Field

from trainkit import procedures
from trainkit.items.kinds import orders
from trainkit.items.kinds.letters import bonds_named, mixed
from trainkit.items.kinds.lines import holds
from trainkit.items.kinds.values import Bond, Card, Kind, Known, Shown, Token, Value
from trainkit.items.marks import Mark, share_of, unusable


class OrderItem(Shown):
    """At most eight cards are to be put in order, first to last."""

    kind: Literal["order"] = "order"
    cards: Annotated[tuple[Card, ...], Field(min_length=3, max_length=8)]


class OrderKey(Known):
    """The precedence among the cards shown; any order that breaks none of it is right."""

    kind: Literal["order"] = "order"
    cards: dict[str, str]  # identifier to text
    bonds: tuple[Bond, ...]


class OrderResponse(Value):
    """All cards, by their identifiers, first to last."""

    kind: Literal["order"] = "order"
    cards: Annotated[tuple[Token, ...], Field(min_length=1, max_length=8)]


def mark_order(item: OrderItem, key: OrderKey, given: OrderResponse, by_chance: float | None = None) -> Mark:
    """Mark an order by the fewest moves that repair it, rescaled so that a random one earns nothing on average.

    ``by_chance`` is the fewest moves that a random one needs, on average; counted where it is not known.
    """
    if sorted(given.cards) != sorted(card.id for card in item.cards):
        return unusable(item, "Every card has to stand in the order once. Put all of them in order.")
    wrong = orders.broken(key.bonds, given.cards)
    if not wrong:
        # An order that keeps every bond keeps what follows from them.
        return share_of(item, 1.0, "Every step stands where it may stand.")
    moves = _procedure(key).judge(given.cards).fewest_moves
    closing = f"{'One move' if moves == 1 else f'{moves} moves'} would put the order right."
    share = max(0.0, 1.0 - moves / (by_chance or expected_moves(key)))
    return orders.mark_broken(item, key, wrong, share, closing)


def expected_moves(key: OrderKey) -> float:
    """Return the fewest moves that repair an arrangement by chance, on average."""
    return _procedure(key).expected_moves()


def _procedure(key: OrderKey) -> procedures.Procedure[str]:
    edges = tuple(procedures.Edge(bond.before, bond.after, bond.reason, bond.dangerous) for bond in key.bonds)
    # By what they say, so that the same cards under other letters are counted once.
    return procedures.Procedure(tuple(sorted(key.cards, key=key.cards.__getitem__)), edges)


@lru_cache(maxsize=4096)
def _accidents(cards: tuple[str, ...], bonds: tuple[Bond, ...]) -> Mapping[str, float]:
    """Count over all wrong orders that one card moved elsewhere makes of a right one."""
    return orders.shown_in([order for order in _one_moved(cards, bonds) if orders.broken(bonds, order)], bonds)


def _one_moved(cards: Iterable[str], bonds: Sequence[Bond]) -> Iterator[list[str]]:
    right = _right_order(cards, bonds)
    for card in right:
        others = [other for other in right if other != card]
        for place in range(len(right)):
            yield [*others[:place], card, *others[place:]]


def _right_order(cards: Iterable[str], bonds: Sequence[Bond]) -> list[str]:
    left, order = list(cards), list[str]()
    while left:
        free = next(card for card in left if not any(bond.after == card and bond.before in left for bond in bonds))
        left.remove(free)
        order.append(free)
    return order


def _relettered(item: OrderItem, key: OrderKey, shuffle: random.Random) -> tuple[OrderItem, OrderKey]:
    cards, to = mixed(item.cards, shuffle)
    changed = {"cards": {card.id: card.text for card in cards}, "bonds": bonds_named(key.bonds, to)}
    return item.model_copy(update={"cards": cards}), key.model_copy(update=changed)


KIND: Kind[OrderItem, OrderKey, OrderResponse] = Kind(
    "order",
    rule="Points by the fewest moves that put the order right; an order by chance earns none. "
    "A dangerous pair the wrong way round leaves at most a quarter.",
    mark=mark_order,
    named=lambda item: item.cards,
    accidents=lambda _, key: _accidents(tuple(sorted(key.cards)), key.bonds),
    relettered=_relettered,
    tells=lambda item, _, line: all(holds(line, card.text) for card in item.cards),
)
