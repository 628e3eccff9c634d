"""Pools of draws: what the forms of a module are put together from, and whether a pack can fill them.

The course side fills pools from its secret seed and builds forms from them. ``trainkit check`` fills smaller ones
from seeds of its own, so that *ready* means that building works.

================== ============================================================================
:mod:`.reference`   draws from fixed streams: how hard a template is, and what it can show here
:mod:`.filling`     pools, and forms put together from them
:mod:`.readiness`   whether a pack can fill the pools of a module, and what it lacks
:mod:`.words`       sentences about both
================== ============================================================================

Examples
--------
>>> from trainkit import modules, packs
>>> readiness(packs.load("dunlin"), modules.load("turning-direction").blueprint).ready
True
"""

from __future__ import annotations

from trainkit.pools.filling import Missing, Pool, Pooled, Pools
from trainkit.pools.readiness import Instead, ModuleReadiness, readiness
from trainkit.pools.reference import Yardstick, askable, yardstick

__all__ = [
    "Instead",
    "Missing",
    "ModuleReadiness",
    "Pool",
    "Pooled",
    "Pools",
    "Yardstick",
    "askable",
    "readiness",
    "yardstick",
]
