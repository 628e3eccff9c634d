"""The missing card of a written order."""

from __future__ import annotations

import random
from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field

from trainkit.items.kinds import orders
from trainkit.items.kinds.letters import bonds_named, mixed
from trainkit.items.kinds.lines import holds
from trainkit.items.kinds.values import Bond, Card, Kind, Known, Shown, Value
from trainkit.items.marks import Mark, share_of, unusable


class InsertItem(Shown):
    """One card is missing from a written order and is to be put where it belongs."""

    kind: Literal["insert"] = "insert"
    written: Annotated[tuple[Card, ...], Field(min_length=2, max_length=12)]
    missing: Card


class InsertKey(Known):
    """All right places of the missing card; ``bonds`` says what a wrong place breaks."""

    kind: Literal["insert"] = "insert"
    right: Annotated[tuple[int, ...], Field(min_length=1)]
    written: tuple[str, ...]  # identifiers of the written cards, in their order
    missing: str
    cards: dict[str, str]
    bonds: tuple[Bond, ...]


class InsertResponse(Value):
    """Where the missing card goes: before the written card with this number, counted from 0; at the end for all."""

    kind: Literal["insert"] = "insert"
    place: Annotated[int, Field(ge=0, le=12)]


def _mark(item: InsertItem, key: InsertKey, given: InsertResponse) -> Mark:
    if given.place > len(item.written):
        return unusable(item, "The card goes before, between or after the written ones. Place it again.")
    if given.place in key.right:
        return share_of(item, 1.0, "The step stands where it may stand.")
    wrong = orders.broken(key.bonds, _put(key, given.place))
    return orders.mark_broken(item, key, wrong, 0.0, "Think what has to be done first, and what waits for this step.")


def _put(key: InsertKey, place: int) -> list[str]:
    return [*key.written[:place], key.missing, *key.written[place:]]


def _accidents(_: InsertItem, key: InsertKey) -> Mapping[str, float]:
    wrong = (place for place in range(len(key.written) + 1) if place not in key.right)
    return orders.shown_in((_put(key, place) for place in wrong), key.bonds)


def _relettered(item: InsertItem, key: InsertKey, shuffle: random.Random) -> tuple[InsertItem, InsertKey]:
    cards, to = mixed((*item.written, item.missing), shuffle)
    named = {card.id: card for card in cards}
    written = tuple(named[to[card.id]] for card in item.written)
    missing = named[to[item.missing.id]]
    changed = {
        "written": tuple(card.id for card in written),
        "missing": missing.id,
        "cards": {card.id: card.text for card in cards},
        "bonds": bonds_named(key.bonds, to),
    }
    return item.model_copy(update={"written": written, "missing": missing}), key.model_copy(update=changed)


def _tells(item: InsertItem, key: InsertKey, line: str) -> bool:
    beside = (item.written[max(0, place - 1) : place + 1] for place in key.right)
    return any(all(holds(line, card.text) for card in cards) for cards in beside)


KIND: Kind[InsertItem, InsertKey, InsertResponse] = Kind(
    "insert",
    rule="All points for a place where the step may stand, none for another.",
    mark=_mark,
    accidents=_accidents,
    relettered=_relettered,
    tells=_tells,
    offers=True,
)
