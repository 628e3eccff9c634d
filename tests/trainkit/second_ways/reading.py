"""Reading what an item shows, and whether its answers are told apart."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

from trainkit import packs
from trainkit.items.kinds import (
    ChoiceItem,
    ChoiceKey,
    GridItem,
    Item,
    Key,
    NumberItem,
    NumberKey,
    ObservedItem,
    OrderItem,
    PointItem,
    PointKey,
    SetItem,
    SetKey,
    SeveralItem,
    TextKey,
)
from trainkit.items.marking import mark

# The engine that everyone practises on, and the one that is kept for assessment.
PACKS = ("dunlin", "curlew")
CURLEW = Path(__file__).parents[3] / "grading" / "trainkit_grading" / "course" / "packs" / "curlew.toml"


@cache
def pack(engine: str) -> packs.Pack:
    """Return a pack by the name of its engine."""
    return packs.load(CURLEW if engine == "curlew" else engine)


def told(item: Item) -> dict[str, str]:
    """Return the lines of the data table."""
    return {line.label: line.value for line in item.given}


def given(item: Item, label: str) -> str:
    """Return one line of the data table; a question says each thing once."""
    (value,) = [line.value for line in item.given if line.label == label]
    return value


def texts(item: Item) -> dict[str, str]:
    """Return what can be chosen, by its letter."""
    assert isinstance(item, ChoiceItem | SeveralItem | PointItem)
    return {option.id: option.text for option in (item.targets if isinstance(item, PointItem) else item.options)}


def said(pattern: str, text: str) -> tuple[str, ...]:
    """Return what a sentence says in its places."""
    found = re.search(pattern, text)
    assert found is not None, text
    return found.groups()


def read(text: str) -> tuple[Decimal, str]:
    """Part "31 N·m" at the thin space."""
    value, _, unit = text.partition("\u2009")
    return Decimal(value), unit


def by_code(key: ChoiceKey, item: ChoiceItem) -> dict[str, str]:
    """Return the option that each misconception leads to; each leads to one."""
    found = {code: texts(item)[letter] for letter, code in key.shows.items()}
    assert len(found) == len(key.shows)
    return found


def answered(item: Item, value: float) -> dict[str, Any]:
    """Return the response that gives a number or sets a hand."""
    if isinstance(item, SetItem):
        return {"kind": "set", "value": value % 12}
    assert isinstance(item, NumberItem)
    return {"kind": "number", "text": f"{value:.6f}", "unit": item.units[0]}


def values(key: Key) -> dict[str, float]:
    """Return what each wrong rule gives; each gives one number."""
    assert isinstance(key, NumberKey | SetKey)
    found = {rule.misconception: rule.value for rule in key.rules}
    assert len(found) == len(key.rules)
    return found


def holds(item: Item, key: Key, exact: float, step: float) -> None:
    """Assert that the key is the exact value on its step, clear of the edge, and that marking takes both."""
    assert isinstance(key, NumberKey | SetKey)
    off = exact - key.answer if isinstance(key, NumberKey) else (exact - key.answer + 6) % 12 - 6
    assert abs(off) <= 0.4 * step + 1e-9
    assert abs(key.answer / step - round(key.answer / step)) < 1e-6
    for value in (key.answer, key.answer + off):
        assert mark(item, key, answered(item, value)).verdict == "right"


def collisions(item: Item, key: Key) -> list[str]:
    """Return the answers of an item that cannot be told apart, a line each: rules, pairs of rules, options, the key."""
    if isinstance(key, NumberKey | SetKey):
        marks = [("the answer", key.answer), *((rule.misconception, rule.value) for rule in key.rules)]
        turn = key.turn if isinstance(key, SetKey) else None

        def apart(one: float, other: float) -> float:
            off = abs(one - other)
            return off if turn is None else min(off % turn, -off % turn)

        found = [
            f"{one} and {other}: {first:g}, {second:g}"
            for (one, first), (other, second) in combinations(marks, 2)
            if apart(first, second) <= 2 * key.tolerance + 1e-9
        ]
        pairs = key.pairs if isinstance(key, NumberKey) else ()
        for pair in pairs:
            both = f"{pair.first} with {pair.second}"
            found += [f"{both} and {one}" for one, value in marks if abs(pair.value - value) <= 2 * key.tolerance]
            found += [
                f"{both} and {other.first} with {other.second}"
                for other in pairs
                if {other.first, other.second} != {pair.first, pair.second}
                and abs(other.value - pair.value) <= 2 * key.tolerance
            ]
        return found
    if isinstance(key, TextKey):
        # What is looked for and what is flagged must never be the same thing.
        offered = [*(line.looks_for for line in key.rubric), *(n for line in key.rubric for n in line.names)]
        offered += key.dangerous
    elif isinstance(item, ObservedItem):
        offered = [step.text for step in item.steps]
    elif isinstance(item, OrderItem):
        offered = [card.text for card in item.cards]
    elif isinstance(item, GridItem):
        offered = [row.text for row in item.rows]
    elif isinstance(item, ChoiceItem | SeveralItem | PointItem):
        offered = list(texts(item).values())
    else:
        return []
    found = [f"the same twice: {text}" for text in set(offered) if offered.count(text) > 1]
    if isinstance(key, ChoiceKey | PointKey):
        right = {key.right} if isinstance(key, ChoiceKey) else set(key.right)
        found += [f"right, and shows {key.shows[letter]}" for letter in right & set(key.shows)]
    return found
