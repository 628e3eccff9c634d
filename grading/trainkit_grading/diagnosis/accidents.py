"""Which wrong answers there are to an item, and what part of them shows each misconception; counted off the key."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any

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
    ActionsKey,
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

__all__ = ["NUMBER_MET", "WRONG_UNIT", "accidents", "places"]

WRONG_UNIT = "right-number-wrong-unit"
# A number that was written down by slip or guess is seldom that of a given rule, but people do take numbers that stand
# there. No source.
NUMBER_MET = 0.05


def accidents(item: Item, key: Key) -> dict[str, float]:
    """Return what part of the wrong answers shows each misconception that an answer to the item could show.

    Parameters
    ----------
    item : Item
        What is shown.
    key : Key
        What is right, of the same kind.

    Returns
    -------
    dict of str to float
        By the code of the misconception, 0 to 1; empty where a person judges.
    """
    match item, key:
        case NumberItem(), NumberKey():
            return _numbers(item, key)
        case SetItem(), SetKey():
            return _settings(item, key)
        case ChoiceItem(), ChoiceKey():
            return _options([option.id for option in item.options], {key.right}, key.shows)
        case PointItem(), PointKey():
            return _options([target.id for target in item.targets], set(key.right), key.shows)
        case SeveralItem(), SeveralKey():
            # A slip takes one option wrongly or leaves it out.
            return _shares(Counter(key.shows[option.id] for option in item.options if option.id in key.shows), item)
        case GridItem(), GridKey():
            return _shares(Counter(code for _, code in _pairs(item, key)), item)
        case InsertItem(), InsertKey():
            return _inserted(key)
        case _, OrderKey():
            return _orders(tuple(sorted(key.cards)), key.bonds)
        case ActionsItem(), ActionsKey():
            codes = _plays(key.model, json.dumps(item.scene, sort_keys=True))
            return dict.fromkeys(codes, 1 / len(codes)) if codes else {}
        case _:
            return {}


def places(item: Item, key: Key) -> dict[str, frozenset[str]]:
    """Return where a misconception could show in an item of several rows or options; empty for other kinds.

    There each row or option is an answer of its own, and what stands elsewhere says nothing about it.
    """
    found: dict[str, set[str]] = {}
    match item, key:
        case SeveralItem(), SeveralKey():
            for option in item.options:
                if option.id in key.shows:
                    found.setdefault(key.shows[option.id], set()).add(option.id)
        case GridItem(), GridKey():
            for row, code in _pairs(item, key):
                found.setdefault(code, set()).add(row)
    return {code: frozenset(where) for code, where in found.items()}


def _numbers(item: NumberItem, key: NumberKey) -> dict[str, float]:
    found = dict.fromkeys((rule.misconception for rule in key.rules), NUMBER_MET)
    if key.quantity == "torque" and set(item.units) - {key.unit}:
        found[WRONG_UNIT] = NUMBER_MET
    return found


def _settings(item: SetItem, key: SetKey) -> dict[str, float]:
    scale = item.scale
    stops = round((scale.high - scale.low) / scale.step) + (key.turn is None)
    within = 2 * int(key.tolerance / scale.step) + 1
    share = within / max(stops - within, within)
    return dict.fromkeys((rule.misconception for rule in key.rules), min(share, NUMBER_MET))


def _options(offered: Sequence[str], right: set[str], shows: Mapping[str, str]) -> dict[str, float]:
    wrong = [option for option in offered if option not in right]
    met = Counter(shows[option] for option in wrong if shows.get(option))
    return {code: count / len(wrong) for code, count in met.items()}


def _shares(met: Counter[str], item: SeveralItem | GridItem) -> dict[str, float]:
    ways = len(item.options) if isinstance(item, SeveralItem) else len(item.rows) * (len(item.columns) - 1)
    return {code: count / ways for code, count in met.items()}


def _pairs(item: GridItem, key: GridKey) -> Iterable[tuple[str, str]]:
    """Yield each row and what it shows in a wrong column."""
    for row in item.rows:
        for column in item.columns:
            code = key.shows.get(f"{row.id} {column.id}")
            if code and column.id != key.right[row.id]:
                yield row.id, code


def _inserted(key: InsertKey) -> dict[str, float]:
    wrong = [place for place in range(len(key.written) + 1) if place not in key.right]
    orders = ([*key.written[:place], key.missing, *key.written[place:]] for place in wrong)
    return _counted([_first_shown(order, key.bonds) for order in orders])


@lru_cache(maxsize=4096)
def _orders(cards: tuple[str, ...], bonds: tuple[Bond, ...]) -> dict[str, float]:
    """Count over all orders that one card moved elsewhere makes of a right one."""
    right = _right_order(cards, bonds)
    shown = []
    for card in right:
        others = [other for other in right if other != card]
        for place in range(len(right)):
            order = [*others[:place], card, *others[place:]]
            if any(_broken(bond, order) for bond in bonds):
                shown.append(_first_shown(order, bonds))
    return _counted(shown)


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


def _counted(shown: Sequence[str]) -> dict[str, float]:
    return {code: count / len(shown) for code, count in Counter(shown).items() if code}


@lru_cache(maxsize=1024)
def _plays(model: str, scene: str) -> frozenset[str]:
    data: dict[str, Any] = json.loads(scene)
    return frozenset(scenarios.ways_to_show(model, data))
