"""The words for what is taken where a pack has nothing that an example could show."""

from __future__ import annotations

TAKEN = "This engine's pack has none, so an example is taken that belongs to no engine."
