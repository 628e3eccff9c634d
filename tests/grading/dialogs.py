"""Dialogs of pages: what they say is noted, and they are closed."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Dialog


def dismissed(dialog: Dialog, said: list[str]) -> None:
    """Note what a dialog of a page says, and close it."""
    said.append(dialog.message)
    dialog.dismiss()
