"""Barring an engine to the right dead centre and stopping it there with a lock pin."""

from __future__ import annotations

from trainkit.lockpin.setup import CYCLE, Dial, Setup

__all__ = ["CYCLE", "Dial", "Setup"]
