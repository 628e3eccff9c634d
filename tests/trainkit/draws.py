"""Draws for tests: every template on both engines, drawn once a process; and packs with something changed."""

from __future__ import annotations

import random
import re
from collections.abc import Hashable
from functools import cache
from pathlib import Path
from typing import TypeVar

from tests.trainkit.plain_engine import plain
from tests.trainkit.second_ways import ways
from tests.trainkit.second_ways.reading import PACKS, pack
from trainkit import packs
from trainkit.items.facts import Draw
from trainkit.items.kinds import Item, Key
from trainkit.items.template import Template, find, names

__all__ = ["PAIRS", "as_kind", "changed", "drawn", "draws", "everywhere", "met", "start"]

I = TypeVar("I", bound=Item)  # noqa: E741 - an item
K = TypeVar("K", bound=Key)

PAIRS = tuple((name, engine) for name in names() for engine in PACKS)
# So many draws of a template on an engine show every sort of case; a bench takes long to draw and to search.
MANY = {
    "torque-units": 150,
    "tightening": 250,
    "turning-direction": 120,
    "lash-and-timing": 120,
    "lock-pin": 60,
    "sequence": 80,
    "capstone": 90,
}
SECOND_WAY_IS_SLOW = {"tightening/which-are-finished": 100}
SLOW = {"torque-units/odd-pair": 100, "lock-pin/pin-the-engine": 16, "lock-pin/what-next": 40}


def drawn(
    template: str | Template, of: str | packs.Pack = "dunlin", seed: int = 1, *, shuffle: int | None = None
) -> Draw:
    """Draw an item and its key; the one place of these tests that calls a template."""
    template = find(template) if isinstance(template, str) else template
    of = pack(of) if isinstance(of, str) else of
    return template.draw(random.Random(seed), of, shuffle=None if shuffle is None else random.Random(shuffle))


@cache
def draws(name: str, engine: str) -> tuple[Draw, ...]:
    """Return the draws that everything which holds for a template is held against."""
    count = SLOW.get(name, MANY[name.partition("/")[0]])
    return tuple(drawn(name, engine, seed) for seed in range(count))


def everywhere(name: str) -> tuple[Draw, ...]:
    """Return the draws of a template on both engines."""
    return tuple(pair for each, engine in PAIRS if each == name for pair in draws(name, engine))


@cache
def met(name: str, engine: str) -> frozenset[Hashable]:
    """Hold every draw against the second way, and return what sorts of cases were met."""
    return frozenset(
        ways()[name](item, key, engine) for item, key in draws(name, engine)[: SECOND_WAY_IS_SLOW.get(name)]
    )


def as_kind(pair: tuple[Item, Key], item_class: type[I], key_class: type[K]) -> tuple[I, K]:
    """Return a draw as the kind that it is."""
    item, key = pair
    assert isinstance(item, item_class)
    assert isinstance(key, key_class)
    return item, key


def changed(*changes: tuple[str, str]) -> packs.Pack:
    """Return Dunlin's pack with every match of the patterns replaced; each has to be there."""
    text = (Path(packs.__file__).parent / "data" / "dunlin.toml").read_text("utf-8")
    for pattern, new in changes:
        text, count = re.subn(pattern, new, text, flags=re.MULTILINE)
        assert count, pattern
    return packs.load_text(text, "changed.toml")


@cache
def start() -> packs.Pack:
    """Return an engine with little: three cylinders, two gears."""
    return packs.load_text(plain(), "new.toml")
