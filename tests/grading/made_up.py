"""Questions made up for the tests: options and cards of single letters, an order with its bonds, a lock pin."""

from __future__ import annotations

from typing import Any

from trainkit import lockpin, packs
from trainkit.items import kinds as items
from trainkit.items import lock_pin_scene

KNOWN: dict[str, Any] = {"template": "made/up", "working": ("Because.",)}
CARDS = {letter: f"card {letter}" for letter in "abcd"}
NEAREST = "to the nearest 1 N·m"


def options(letters: str) -> tuple[items.Option, ...]:
    return tuple(items.Option(id=letter, text=f"option {letter}") for letter in letters)


def cards(letters: str) -> tuple[items.Card, ...]:
    return tuple(items.Card(id=letter, text=f"card {letter}") for letter in letters)


def bonds(one: str, other: str = "") -> tuple[items.Bond, ...]:
    """Return what of a, b and d comes before what; breaking the first two shows something."""
    return (
        items.Bond(before="a", after="b", reason="First a.", misconception=one),
        items.Bond(before="b", after="c", reason="Then b.", dangerous=True, misconception=other),
        items.Bond(before="d", after="c", reason="And d."),
    )


def pin() -> tuple[items.ActionsItem, items.ActionsKey]:
    setup = packs.load("dunlin").lock_pin
    scene = lock_pin_scene.scene(setup, "idler", lockpin.State.start(setup, before=30))
    shown = tuple(items.Option(id=action.value, text=words) for action, words in lockpin.ACTIONS.items())
    item = items.ActionsItem(prompt="Pin it.", model="lock-pin", scene=scene, actions=shown, points=4)
    # What can show in a scenario is looked for in the area that its template belongs to.
    return item, items.ActionsKey(model="lock-pin", **{**KNOWN, "template": "lock-pin/made-up"})
