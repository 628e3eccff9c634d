"""Instruments on the screen: the thin skin over :mod:`trainkit.widgets.instruments`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.errors import TrainkitError
from trainkit.notes import NotebookNote
from trainkit.widgets.control import Control, browser_part, style_sheet
from trainkit.widgets.instruments import instrument

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainkit.packs import Pack


class Movable(Control):
    """An instrument on the screen: something to move and look at, which asks and records nothing.

    Parameters
    ----------
    state : Instrument
        What there is to move.
    """

    _esm = browser_part("instrument.js")
    _css = style_sheet("question.css", "instrument.css")


def movable(name: str, pack: Pack, which: Mapping[str, str]) -> Movable | NotebookNote:
    """Return an instrument on the screen, or in words what the pack lacks for it."""
    try:
        return Movable(instrument(name, pack, **which))
    except TrainkitError as error:
        return NotebookNote("Nothing to move here", (error.rule, error.remedy))
