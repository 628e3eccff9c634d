"""The rules that a pack is held against, by what they are about; each enters itself in :data:`RULES`."""

from __future__ import annotations

from trainkit.packs.rules import (
    energies,
    engine,
    fastening,
    holding,
    naming,
    ordering,
    pinning,
    shafts,
    sources,
    stages,
    working,
)
from trainkit.packs.rules.base import RULES, Breach, Case, Weight

__all__ = [
    "RULES",
    "Breach",
    "Case",
    "Weight",
    "energies",
    "engine",
    "fastening",
    "holding",
    "naming",
    "ordering",
    "pinning",
    "shafts",
    "sources",
    "stages",
    "working",
]
