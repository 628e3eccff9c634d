"""What is known of a draw beside the item and its key: what makes it hard, what an answer could show, and chance.

Whoever draws an item states its features. What an answer could show, and what chance achieves, are counted off the
entries of the key. All of it is kept with the key, so that marking and diagnosis read what held when it was drawn.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import Annotated, NamedTuple

from pydantic import Field

from trainkit.items import scenarios
from trainkit.items.item import (
    ActionsItem,
    ChoiceItem,
    GridItem,
    InsertItem,
    Item,
    NumberItem,
    PointItem,
    SetItem,
    SeveralItem,
)
from trainkit.items.key import (
    Bond,
    ChoiceKey,
    GridKey,
    InsertKey,
    Key,
    NumberKey,
    OrderKey,
    PointKey,
    SetKey,
    SeveralKey,
)
from trainkit.items.responses import Value
from trainkit.procedures import Edge, Procedure

__all__ = ["NUMBER_MET", "WRONG_UNIT", "Draw", "Facts", "able_to_show", "counted", "procedure_of", "shown_pairs"]

# The right value written with another unit: the thinking is right, the wrench would still be set wrongly.
WRONG_UNIT = "right-number-wrong-unit"
# A number that was written down by slip or guess is seldom that of a given rule, but people do take numbers that stand
# there. No source.
NUMBER_MET = 0.05

Share = Annotated[float, Field(ge=0, le=1)]


class Facts(Value):
    """What is known of a drawn item, as it is kept with its key.

    Parameters
    ----------
    features : mapping of str to float
        What makes it hard, each with its count; its template says what they are.
    could_show : mapping of str to float
        The part of all wrong answers that shows each misconception, by its code. It is empty where a person judges,
        and for a scenario, where finding out takes a search (:func:`able_to_show`).
    expected_moves : float or None
        Of an order: the fewest moves that repair an arrangement by chance, on average.
    """

    features: dict[str, float] = Field(default_factory=dict)
    could_show: dict[str, Share] = Field(default_factory=dict)
    expected_moves: Annotated[float, Field(gt=0)] | None = None


class _Pair(NamedTuple):
    item: Item
    key: Key


class Draw(_Pair):
    """One draw: the pair of item and key, and what is known of it.

    Parameters
    ----------
    item : Item
        What is shown.
    key : Key
        What is right.
    features : mapping of str to float
        What makes it hard, each with its count.

    Examples
    --------
    >>> import random
    >>> from trainkit import packs
    >>> from trainkit.items.template import find
    >>> drawn = find("torque-units/convert").draw(random.Random(1), packs.load("dunlin"))
    >>> item, key = drawn
    >>> item is drawn.item, "digits" in drawn.features, drawn.facts.could_show["inverse-factor"]
    (True, True, 0.05)
    """

    features: Mapping[str, float]

    def __new__(cls, item: Item, key: Key, features: Mapping[str, float]) -> Draw:
        """Make a draw."""
        drawn = super().__new__(cls, item, key)
        drawn.features = features
        return drawn

    @cached_property
    def facts(self) -> Facts:
        """What is kept with the key; counted when it is asked for first, because chance in an order takes its time."""
        return counted(self.item, self.key, self.features)


def counted(item: Item, key: Key, features: Mapping[str, float]) -> Facts:
    """Return the facts of a draw.

    Examples
    --------
    >>> from trainkit.items.item import Option
    >>> item = ChoiceItem(prompt="How far?", options=tuple(Option(id=name, text=name) for name in "abc"))
    >>> key = ChoiceKey(template="t/t", working=("So far.",), right="a", shows={"b": "inverse-ratio"})
    >>> counted(item, key, {}).could_show
    {'inverse-ratio': 0.5}
    """
    return Facts(
        features={name: float(count) for name, count in features.items()},
        could_show=_could_show(item, key),
        expected_moves=procedure_of(key).expected_moves() if isinstance(key, OrderKey) else None,
    )


def able_to_show(item: Item, facts: Facts) -> frozenset[str]:
    """Return the codes of the misconceptions that an answer can show; those of a scenario are searched for."""
    if isinstance(item, ActionsItem):
        return frozenset(scenarios.ways_to_show(item.model, item.scene))
    return frozenset(facts.could_show)


def procedure_of(key: OrderKey) -> Procedure[str]:
    """Return the order of the cards; the same cards give the same procedure, whatever their letters."""
    edges = tuple(Edge(bond.before, bond.after, bond.reason, bond.dangerous) for bond in key.bonds)
    return Procedure(tuple(sorted(key.cards, key=key.cards.__getitem__)), edges)


def shown_pairs(item: GridItem, key: GridKey) -> Iterable[tuple[str, str]]:
    """Yield each row of a grid and what it shows in a wrong column."""
    for row in item.rows:
        for column in item.columns:
            code = key.shows.get(f"{row.id} {column.id}")
            if code and column.id != key.right[row.id]:
                yield row.id, code


def _could_show(item: Item, key: Key) -> dict[str, float]:
    """Return what part of the wrong answers shows each misconception that an answer could show."""
    match item, key:
        case NumberItem(), NumberKey():
            found = dict.fromkeys((rule.misconception for rule in key.rules), NUMBER_MET)
            if key.quantity == "torque" and set(item.units) - {key.unit}:
                found[WRONG_UNIT] = NUMBER_MET
            return found
        case SetItem(), SetKey():
            return _settings(item, key)
        case ChoiceItem(), ChoiceKey():
            return _options([option.id for option in item.options], {key.right}, key.shows)
        case PointItem(), PointKey():
            return _options([target.id for target in item.targets], set(key.right), key.shows)
        case SeveralItem(), SeveralKey():
            # A slip takes one option wrongly or leaves it out.
            codes = [key.shows[option.id] for option in item.options if option.id in key.shows]
            return _shares(codes, len(item.options))
        case GridItem(), GridKey():
            return _shares([code for _, code in shown_pairs(item, key)], len(item.rows) * (len(item.columns) - 1))
        case InsertItem(), InsertKey():
            return _inserted(key)
        case _, OrderKey():
            return _orders(sorted(key.cards), key.bonds)
        case _:
            return {}


def _settings(item: SetItem, key: SetKey) -> dict[str, float]:
    scale = item.scale
    stops = round((scale.high - scale.low) / scale.step) + (key.turn is None)
    within = 2 * math.floor(key.tolerance / scale.step) + 1
    share = within / max(stops - within, within)
    return dict.fromkeys((rule.misconception for rule in key.rules), min(share, NUMBER_MET))


def _options(offered: Sequence[str], right: set[str], shows: Mapping[str, str]) -> dict[str, float]:
    wrong = [option for option in offered if option not in right]
    return _shares([shows.get(option, "") for option in wrong], len(wrong))


def _inserted(key: InsertKey) -> dict[str, float]:
    wrong = [place for place in range(len(key.written) + 1) if place not in key.right]
    orders = ([*key.written[:place], key.missing, *key.written[place:]] for place in wrong)
    return _shares([_first_shown(order, key.bonds) for order in orders], len(wrong))


def _orders(cards: Sequence[str], bonds: Sequence[Bond]) -> dict[str, float]:
    """Count over all orders that one card moved elsewhere makes of a right one."""
    right = _right_order(cards, bonds)
    shown = []
    for card in right:
        others = [other for other in right if other != card]
        for place in range(len(right)):
            order = [*others[:place], card, *others[place:]]
            if any(_broken(bond, order) for bond in bonds):
                shown.append(_first_shown(order, bonds))
    return _shares(shown, len(shown))


def _right_order(cards: Iterable[str], bonds: Sequence[Bond]) -> list[str]:
    left, order = list(cards), list[str]()
    while left:
        free = next(card for card in left if not any(bond.after == card and bond.before in left for bond in bonds))
        left.remove(free)
        order.append(free)
    return order


def _broken(bond: Bond, order: Sequence[str]) -> bool:
    return order.index(bond.before) > order.index(bond.after)


def _first_shown(order: Sequence[str], bonds: Sequence[Bond]) -> str:
    """Return what marking names: of the broken pairs that show something the first, dangerous ones before others."""
    named = [bond for bond in bonds if bond.misconception and _broken(bond, order)]
    return min(named, key=lambda bond: not bond.dangerous).misconception if named else ""


def _shares(shown: Iterable[str], ways: int) -> dict[str, float]:
    return {code: count / ways for code, count in Counter(shown).items() if code}
