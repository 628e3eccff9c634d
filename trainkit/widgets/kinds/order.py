"""Cards put in order."""

from __future__ import annotations

import graphlib

from trainkit.errors import ResponseError
from trainkit.items.kinds.order import OrderItem, OrderKey, OrderResponse
from trainkit.items.kinds.values import Card
from trainkit.widgets.kinds.look import Exercise, Look, as_data, numbered, text_of, texts


def _fit(item: OrderItem, response: OrderResponse) -> OrderResponse:
    if sorted(response.cards) != sorted(card.id for card in item.cards):
        raise ResponseError(response.cards, rule="Every card stands in the order once.", remedy="Answer it again.")
    return response


def _words(item: OrderItem, response: OrderResponse) -> str:
    return "; ".join(numbered(response.cards, lambda card: text_of(item.cards, card)))


def _worked(_: OrderItem, key: OrderKey) -> tuple[str, ...]:
    """Return one order that breaks nothing; there may be others."""
    sorter: graphlib.TopologicalSorter[str] = graphlib.TopologicalSorter(dict.fromkeys(key.cards, ()))
    for bond in key.bonds:
        sorter.add(bond.after, bond.before)
    steps = numbered(sorter.static_order(), key.cards.__getitem__)
    return ("One order that breaks nothing; every other such order is right too.", *steps)


LOOK: Look[OrderItem, OrderKey, OrderResponse] = Look(
    "order",
    task=lambda item: ("Put these in order, first to last.", texts(item.cards)),
    words=_words,
    said=lambda _, response, named: numbered(response.cards, named),
    worked=_worked,
    control=lambda item: {"cards": as_data(item.cards)},
    fit=_fit,
    exercise=lambda _: Exercise(
        "cards in order",
        OrderItem(
            prompt="Put these in order: first, second, third.",
            cards=(Card(id="c", text="Third"), Card(id="a", text="First"), Card(id="b", text="Second")),
        ),
        mouse="Drag a card, or press ▲ and ▼ beside it.",
        finger="Drag a card by its dots. Or tap it, then tap the place it goes to.",
        keys="Tab goes to the cards. The space bar lifts one, the arrows move it, the space bar puts it down.",
        done=lambda given: given == OrderResponse(cards=("a", "b", "c")),
    ),
)
