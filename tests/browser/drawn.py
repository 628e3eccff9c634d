"""Questions as templates draw them, with their pictures: the grid, places on pictures, the hand, and the text."""

from __future__ import annotations

import random

from trainkit import packs
from trainkit.items import template
from trainkit.items.item import GridItem, Item, ObservedItem, Option, PointItem, Scale, SetItem, TextItem


def _drawn(name: str, seed: int) -> Item:
    item, _ = template.find(name).draw(random.Random(seed), packs.load("dunlin"))
    return item


PARTS = _drawn("sequence/fate-of-parts", 3)
GEARS = _drawn("turning-direction/gear-on-picture", 3)
BOLTS = _drawn("tightening/next-bolt", 5)
CLOCK = _drawn("turning-direction/mark-after-turning", 3)
assert isinstance(PARTS, GridItem)
assert isinstance(GEARS, PointItem)
assert isinstance(BOLTS, PointItem)
assert isinstance(CLOCK, SetItem)
WRENCH = SetItem(prompt="Set the wrench.", scale=Scale(low=20.0, high=100.0, step=0.5, unit="N·m"))
TEXT = TextItem(prompt="Say why the pin comes out before the final torque.", limit=80)
WATCHED = ObservedItem(
    prompt="Pin the engine.",
    steps=(Option(id="a", text="Lock out the starter."), Option(id="b", text="Press the pin in.")),
    critical=("a",),
)
