"""An engine with little: three cylinders, two gears, two joints. Much cannot be asked of it, and examples take more."""

from __future__ import annotations

from pathlib import Path


def plain(name: str = "my-engine") -> str:
    """Return its TOML text, under a name."""
    text = Path(__file__).with_suffix(".toml").read_text("utf-8")
    return text.replace('name = "my-engine"', f'name = "{name}"', 1)
