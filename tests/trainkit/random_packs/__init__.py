"""Random packs that are in order: engines unlike those that are shipped, each known by its number.

``text(7)`` is always the same pack. Each section of a pack is filled by one of :data:`SECTIONS`, in this order: a new
key of a pack gets its line there, and what later sections need to know they read off the document so far.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache

from tests.trainkit.random_packs import joints, safety, sundries, train, work
from tests.trainkit.random_packs.writing import Document, written
from trainkit import packs

__all__ = ["SECTIONS", "document", "pack", "text"]

SECTIONS: tuple[Callable[[random.Random, Document], None], ...] = (
    sundries.heading,
    train.engine,
    train.gears,
    train.barring,
    train.lock_pin,
    joints.joints,
    work.work,
    safety.safety,
    sundries.cautions,
)


def document(number: int) -> Document:
    """Return the tables of the pack of that number."""
    found: Document = {}
    for section in SECTIONS:
        # A generator for each section: a key more in one leaves the others as they were.
        section(random.Random(f"{number} {section.__name__}"), found)
    found["name"] = f"random-{number}"
    return found


def text(number: int) -> str:
    """Return the TOML text of the pack of that number."""
    return written(document(number))


@cache
def pack(number: int) -> packs.Pack:
    """Return the pack of that number; what the checker refuses about it is raised."""
    return packs.load_text(text(number), f"random-{number}.toml")
