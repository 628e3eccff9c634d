"""Commands up to collecting: they are added to the app by :func:`register`."""

from __future__ import annotations

import typer

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the commands of this module to ``app``."""
