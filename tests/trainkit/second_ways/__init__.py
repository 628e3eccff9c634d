"""Second ways to the answers of all items, used by tests and by the figures under ``tests/bench``, nowhere else.

A way reads what an item shows, as an apprentice does, and finds the answer without the code that drew it: from the raw
tables of a pack, by trying, by a library, by a published table. It raises AssertionError where the key says otherwise,
and returns what sort of case it met, so that tests can see that all sorts come up.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from importlib import import_module
from typing import Any

from trainkit.items.kinds import Item, Key

__all__ = ["MODULES", "Sorts", "Way", "sorts", "ways"]

Way = Callable[[Item, Key, str], Hashable]
# Whether the sorts of cases that were met on an engine are all those that have to come up.
Sorts = Callable[[frozenset[Any], str], bool]

MODULES = ("torque_units", "tightening", "turning_direction", "lock_pin", "lash_and_timing", "sequence", "capstone")


def ways() -> Mapping[str, Way]:
    """Return the second way of every template, by the template's name; each takes item, key and engine."""
    return {name: way for module in MODULES for name, way in import_module(f"{__name__}.{module}").WAYS.items()}


def sorts() -> Mapping[str, Sorts]:
    """Return what cases of a template have to come up, by the template's name, where more than one is known."""
    found = (getattr(import_module(f"{__name__}.{module}"), "SORTS", {}) for module in MODULES)
    return {name: check for each in found for name, check in each.items()}
