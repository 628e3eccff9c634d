"""Barring an engine to the right dead centre and stopping it there with a lock pin."""

from __future__ import annotations

from trainkit.lockpin.setup import CYCLE, Dial, Setup
from trainkit.lockpin.trains import from_train

__all__ = ["CYCLE", "Dial", "Setup", "from_train"]
