"""Questions as templates draw them, with their pictures: the grid, places on pictures, the hand, and the text."""

from __future__ import annotations

from typing import TypeVar

from tests.trainkit.draws import drawn
from trainkit.items.kinds import GridItem, Item, ObservedItem, Option, PointItem, Scale, SetItem, TextItem

I = TypeVar("I", bound=Item)  # noqa: E741 - an item


def _drawn(name: str, seed: int, kind: type[I]) -> I:
    item, _ = drawn(name, seed=seed)
    assert isinstance(item, kind)
    return item


PARTS = _drawn("sequence/fate-of-parts", 3, GridItem)
GEARS = _drawn("turning-direction/gear-on-picture", 3, PointItem)
BOLTS = _drawn("tightening/next-bolt", 4, PointItem)
CLOCK = _drawn("turning-direction/mark-after-turning", 3, SetItem)
WRENCH = SetItem(prompt="Set the wrench.", scale=Scale(low=20.0, high=100.0, step=0.5, unit="N·m"))
TEXT = TextItem(prompt="Say why the pin comes out before the final torque.", limit=80)
WATCHED = ObservedItem(
    prompt="Pin the engine.",
    steps=(Option(id="a", text="Lock out the starter."), Option(id="b", text="Press the pin in.")),
    critical=("a",),
)
