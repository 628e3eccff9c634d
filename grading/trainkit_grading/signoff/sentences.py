"""Entries about observed work, second marks, appeals and decisions, in words for whoever reads the ledger."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.sentences import counted
from trainkit_grading.ledger.kinds import Appealed, Decided, Observed, SecondDrawn, SecondJudged
from trainkit_grading.signoff.judging import judge

if TYPE_CHECKING:
    from trainkit_grading.ledger.entries import Entry


def entry_sentences(entry: Entry, who: str) -> str:
    """Return what an entry says, as one or more sentences; empty for a kind that is not told here.

    Parameters
    ----------
    entry : Entry
        What is told.
    who : str
        Whom it is about, in words.
    """
    said = _said(entry, who)
    notes = " ".join(f"{_NOTED[note.kind]}{note.text}" for note in entry.notes if note.text and note.kind in _NOTED)
    return f"{said} {notes}".strip() if said else ""


_NOTED = {"assessor": "", "remark": "Remark: ", "why": "Why: ", "appeal": "Why: ", "decision": "Why: "}


def _said(entry: Entry, who: str) -> str:
    match entry:
        case Observed():
            where = f"on {entry.engine} at {entry.when.replace('T', ' ')[:16]} UTC ({entry.medium})"
            head = f"{who}, {entry.checklist}, observed by {entry.observer} {where}"
            again = f"{counted(len(entry.steps), 'step')} shown again."
            return f"{head}: {again if entry.again else judge(entry.steps)}"
        case SecondDrawn():
            drawn = f"{len(entry.lines)} marks drawn for a second marker"
            return f"{drawn}, sheet {entry.sheet}, seed {entry.seed}."
        case SecondJudged():
            second = f"{counted(entry.second, 'point')} by second marker {entry.marker}"
            return f"{who}, {entry.module} {entry.item}: {second}, {counted(entry.first, 'point')} stood."
        case Appealed():
            item = f" {entry.item}" if entry.item else ""
            return f"{who}, {entry.module}{item}: appeal; {counted(entry.stood, 'point')} stood."
        case Decided():
            given = f", {counted(entry.given, 'point')}" if entry.given is not None else ""
            return f"{who}: entry {entry.of} {entry.became}{given}."
        case _:
            return ""
