"""Between entries as values and the rows of the ledger's tables, and which of their columns a seal covers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields
from typing import Any

from sqlalchemy import Row

from trainkit_grading.ledger import details
from trainkit_grading.ledger.entries import Entry, MarkRow, Note, Provenance, digest, printable
from trainkit_grading.ledger.tables import ENTRY, MARK, NOTE

# The columns that a seal covers; `before` and the seal itself stand beside them.
ENTRY_COLUMNS = tuple(column.name for column in ENTRY.columns if column.name not in ("before", "seal"))
# In the order of the values that are made of them.
MARK_VALUES = tuple(MARK.c[field.name] for field in fields(MarkRow))
NOTE_VALUES = tuple(NOTE.c[field.name] for field in fields(Note))
# Where the one value stands that a seal leaves out, because it can be taken out of the ledger.
_RESPONSE = MARK.columns.keys().index("response")
_TEXT = NOTE.columns.keys().index("text")


def rows_of(
    entry: Entry, number: int, person: str, now: str, by: str
) -> tuple[tuple[Any, ...], list[tuple[Any, ...]], list[tuple[Any, ...]]]:
    """Return the rows of an entry, of its marks and of its notes, in the order of their columns."""
    return (
        _entry_row(entry, number, person, now, by),
        [_mark_row(mark, number, place) for place, mark in enumerate(entry.marks)],
        [_note_row(note, number, place) for place, note in enumerate(entry.notes)],
    )


def covered(
    entry: Sequence[Any], marks: Iterable[tuple[Any, ...]], notes: Iterable[tuple[Any, ...]]
) -> tuple[Sequence[Any], list[tuple[Any, ...]], list[tuple[Any, ...]]]:
    """Return what a seal covers of the rows of one entry: its columns, of its marks and notes all but the words."""
    return (
        entry,
        [row[:_RESPONSE] + row[_RESPONSE + 1 :] for row in marks],
        [row[:_TEXT] + row[_TEXT + 1 :] for row in notes],
    )


def _entry_row(entry: Entry, number: int, person: str, now: str, by: str) -> tuple[Any, ...]:
    """Return the values of an entry that its seal covers, in the order of their columns."""
    of = entry.provenance
    return (
        number,
        entry.kind,
        now,
        printable(entry.by)[:128] or by,
        printable(entry.why),
        person,
        entry.module,
        entry.attempt,
        entry.form,
        entry.arrived,
        entry.journal,
        of.pack,
        of.module,
        of.form,
        of.keys,
        of.software,
        entry.points,
        entry.out_of,
        entry.outcome,
        entry.notes_hash,
        details.text(entry),
    )


def _mark_row(mark: MarkRow, number: int, place: int) -> tuple[Any, ...]:
    """Return the values of a mark in the order of their columns."""
    return (
        number,
        place,
        mark.item,
        mark.template,
        mark.kind,
        mark.response,
        digest(mark.response) if mark.response is not None else "",
        mark.answered[:40],
        float(mark.points),
        float(mark.out_of),
        mark.verdict,
        printable(mark.reason),
        printable(mark.method),
        mark.misconception,
        mark.critical,
    )


def _note_row(note: Note, number: int, place: int) -> tuple[Any, ...]:
    """Return the values of a note in the order of their columns."""
    text = printable(note.text or "")
    return (number, place, note.kind, text, digest(text))


def entry_of(row: Row[Any], marks: tuple[MarkRow, ...], notes: tuple[Note, ...]) -> Entry:
    """Return the entry that a row holds, with its marks and notes.

    Raises
    ------
    LedgerError
        If it is none that any version has written.
    """
    return details.read_any(
        row.kind,
        row.number,
        row.detail,
        row.apprentice or "",
        row.module,
        row.attempt,
        row.form,
        row.journal,
        row.arrived,
        Provenance(row.pack_hash, row.module_hash, row.form_hash, row.keys_hash, row.software_hash),
        marks,
        notes,
        row.by,
        row.why,
        row.at,
        row.number,
    )
