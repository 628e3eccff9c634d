"""The last control of a workbook: what is answered, what is not, and the hand-in file."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

from trainkit import handin
from trainkit.items.kinds import ActionsResponse, ObservedItem
from trainkit.notes import due_line
from trainkit.widgets.assessed import Assessed
from trainkit.widgets.hearing import Listener, Message, Reply, unknown

if TYPE_CHECKING:
    from pathlib import Path

    from trainkit.forms import Form
    from trainkit.journal import Journal


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a form is answered, by identifiers of its items.

    Parameters
    ----------
    answered : tuple of str
        Recorded, and complete as far as that can be told without a key.
    begun : tuple of str
        Scenarios that were left before they were decided or stopped.
    missing : tuple of str
        Not answered.
    watched : tuple of str
        Practical work, which nobody answers in the workbook.
    """

    answered: tuple[str, ...]
    begun: tuple[str, ...]
    missing: tuple[str, ...]
    watched: tuple[str, ...] = ()

    @property
    def complete(self) -> bool:
        """Whether every item is answered that an apprentice answers."""
        return not self.begun and not self.missing

    @property
    def lines(self) -> tuple[str, ...]:
        """How far it is, in words."""
        total = len(self.answered) + len(self.begun) + len(self.missing)
        lines = [f"Answered and saved: {len(self.answered)} of {total}."]
        if self.missing:
            lines.append(f"Not answered: {', '.join(self.missing)}.")
        if self.begun:
            lines.append(f"Begun, neither complete nor stopped: {', '.join(self.begun)}.")
        return (*lines, *self._watched_lines)

    @property
    def opening_lines(self) -> tuple[str, ...]:
        """How far it was when it was opened, in words that stay true while questions are answered."""
        total = len(self.answered) + len(self.begun) + len(self.missing)
        return (
            f"When you opened it, {len(self.answered)} of {total} questions were answered and saved.",
            "What is still open stands under “Hand in”.",
            *self._watched_lines,
        )

    @property
    def _watched_lines(self) -> tuple[str, ...]:
        names = ", ".join(self.watched)
        return (f"Practical work, watched and signed by your instructor: {names}.",) if names else ()


def progress(form: Form, journal: Journal) -> Progress:
    """Return how far a form is answered, from what is on the disk."""
    latest = journal.latest()
    answered, begun, missing, watched = [], [], [], []
    for entry in form.items:
        recorded = latest.get(entry.id)
        if isinstance(entry.item, ObservedItem):
            watched.append(entry.id)
        elif recorded is None:
            missing.append(entry.id)
        elif isinstance(recorded.response, ActionsResponse) and Assessed(entry.id, entry.item, journal).begun_only:
            begun.append(entry.id)
        else:
            answered.append(entry.id)
    return Progress(tuple(answered), tuple(begun), tuple(missing), tuple(watched))


class Finishing(Listener):
    """The hand-in of one form.

    Parameters
    ----------
    form : Form
        What was asked.
    journal : Journal
        What was answered.
    folder : Path
        Where the hand-in file goes.
    due : str
        Until when it is due, as the copy says it, or nothing.

    Notes
    -----
    ======== =====================================================================================
    message  what it asks for
    ======== =====================================================================================
    ``look``  say again how far the form is answered
    ``hand``  make the hand-in file; with ``sure`` even though something is not answered
    ======== =====================================================================================
    """

    heading = "Hand in"
    failed = "This failed. Press “Start again” at the top."

    def __init__(self, form: Form, journal: Journal, folder: Path, due: str = "") -> None:
        super().__init__()
        self.form = form
        self.journal = journal
        self.folder = folder
        self.due = due

    def _lines(self, found: Progress) -> tuple[str, ...]:
        """Return what stands before the button: until when, and how far."""
        return (*((due_line(self.due),) if self.due else ()), *found.lines)

    def shown(self) -> dict[str, Any]:
        """Return everything that the screen shows, as plain JSON data."""
        found = progress(self.form, self.journal)
        return {
            "format": 1,
            "mode": "finish",
            "kind": "finish",
            "name": "finish",
            "heading": self.heading,
            "lines": list(self._lines(found)),
            "complete": found.complete,
        }

    def _answer(self, message: Message) -> Reply:
        if message.get("type") == "look":
            return {"type": "looked", "shown": self.shown()}
        if message.get("type") != "hand":
            raise unknown(message.get("type"))
        shown = self.shown()
        if not shown["complete"] and message.get("sure") is not True:
            return {"type": "unsure", "shown": shown}
        path = handin.pack(self.folder)
        return {
            "type": "packed",
            "shown": shown,
            "file": path.name,
            # The browser may be on another machine than the folder: it can keep a copy.
            "data": base64.b64encode(path.read_bytes()).decode("ascii"),
        }

    def text(self) -> str:
        """Return how far it is as plain text."""
        return "\n".join((self.heading, *self._lines(progress(self.form, self.journal))))

    def html(self) -> str:
        """Return how far it is as static HTML."""
        lines = "".join(f"<p>{escape(line)}</p>" for line in self._lines(progress(self.form, self.journal)))
        return f"<section><p><strong>{self.heading}</strong></p>{lines}</section>"
