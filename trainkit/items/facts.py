"""What is known of a draw beside the item and its key: what makes it hard, what an answer could show, and chance.

Whoever draws an item states its features. What an answer could show, and what chance achieves, are counted off the
entries of the key. All of it is kept with the key, so that marking and diagnosis read what held when it was drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from types import MappingProxyType
from typing import Annotated, NamedTuple

from pydantic import Field

from trainkit.items.kinds import Item, Key, OrderKey, Value, kind_of
from trainkit.items.kinds.order import expected_moves

Share = Annotated[float, Field(ge=0, le=1)]


class Facts(Value):
    """What is known of a drawn item, as it is kept with its key.

    Parameters
    ----------
    features : mapping of str to float
        What makes it hard, each with its count; its template says what they are.
    could_show : mapping of str to float
        The part of all wrong answers that shows each misconception, by its code. It is empty where a person judges,
        and for a scenario, where finding out takes a search (:func:`met_by_chance`).
    expected_moves : float or None
        Of an order: the fewest moves that repair an arrangement by chance, on average.
    """

    features: dict[str, float] = Field(default_factory=dict)
    could_show: dict[str, Share] = Field(default_factory=dict)
    expected_moves: Annotated[float, Field(ge=0)] | None = None


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
        drawn.features = MappingProxyType(dict(features))
        return drawn

    @cached_property
    def could_show(self) -> Mapping[str, float]:
        """What part of the wrong answers shows each misconception; those of a scenario are searched for."""
        return met_by_chance(self.item, self.key)

    @cached_property
    def facts(self) -> Facts:
        """What is kept with the key; counted when it is asked for first, because chance in an order takes its time."""
        return facts_of(self.item, self.key, self.features)


def facts_of(item: Item, key: Key, features: Mapping[str, float]) -> Facts:
    """Return the facts of a draw.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, ChoiceKey, Option
    >>> item = ChoiceItem(prompt="How far?", options=tuple(Option(id=name, text=name) for name in "abc"))
    >>> key = ChoiceKey(template="t/t", working=("So far.",), right="a", shows={"b": "inverse-ratio"})
    >>> facts_of(item, key, {}).could_show
    {'inverse-ratio': 0.5}
    """
    return Facts(
        features={name: float(count) for name, count in features.items()},
        could_show={} if item.kind == "actions" else dict(met_by_chance(item, key)),
        expected_moves=expected_moves(key) if isinstance(key, OrderKey) else None,
    )


def met_by_chance(item: Item, key: Key, facts: Facts | None = None) -> Mapping[str, float]:
    """Return what part of the wrong answers to an item shows each misconception that one could show.

    Parameters
    ----------
    item, key : Item, Key
        What is shown and what is right; nothing can be shown where they do not belong together.
    facts : Facts, optional
        What is known of the draw; without it, and for a scenario, it is found anew.
    """
    if item.kind != key.kind:
        return {}
    if facts is not None and item.kind != "actions":
        return facts.could_show
    found: Mapping[str, float] = kind_of(key.kind).accidents(item, key)
    return found
