"""The rules that a pack is held against, by what they are about; each enters itself in :data:`RULES`."""

from __future__ import annotations

from trainkit.packs.rules import engine, fastening, naming, ordering, pinning, shafts, sources, working
from trainkit.packs.rules.base import RULES, Case, Fault, Weight

__all__ = [
    "RULES",
    "Case",
    "Fault",
    "Weight",
    "engine",
    "fastening",
    "naming",
    "ordering",
    "pinning",
    "shafts",
    "sources",
    "working",
]
