"""What people change in formgrader goes into the ledger, in the same transaction as the change.

``nbgrader_config.py`` of a course calls :func:`listen`. From then on every session of nbgrader's database code, in
whatever program that file was read, is looked at just before it writes. Where the ledger cannot take the record, the
change is not written either.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, event, make_url, select
from sqlalchemy.orm import Session

from trainkit_grading.course.seeds import Seed
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Note, digest
from trainkit_grading.ledger.kinds import Changed, Marked
from trainkit_grading.nbgrader_bridge.tables import (
    ASSIGNMENT,
    BASE_CELL,
    COMMENT,
    GRADE,
    SUBMITTED_ASSIGNMENT,
    SUBMITTED_NOTEBOOK,
)

# By the file of a course's seed, what tells the address of its database: one server may show several courses.
_ADDRESSES: dict[Path, Callable[[], str]] = {}
_WHY = "Changed in nbgrader's gradebook."
# What a person can change: nbgrader's class, its column, and what the ledger calls it.
_FIELDS = {
    "Grade": (("manual_score", "points"), ("extra_credit", "extra credit")),
    "Comment": (("manual_comment", "comment"),),
    "SubmittedAssignment": (("extension", "extension"),),
}
_TABLES = {"Grade": GRADE, "Comment": COMMENT, "SubmittedAssignment": SUBMITTED_ASSIGNMENT}


@dataclass(frozen=True, slots=True)
class _Change:
    """One value that is about to be written: of whose submission, of which item (empty for all), from what to what."""

    apprentice: str
    module: str
    item: str
    field: str
    before: Any
    after: Any


def listen(db_url: Callable[[], str], seed_file: Path) -> None:
    """Record from now on what people change in the gradebook of a course.

    Parameters
    ----------
    db_url : callable
        Returns the address as nbgrader is given it; asked late, because settings below may name another.
    seed_file : Path
        The course's secret seed, read when there is something to record.
    """
    _ADDRESSES[seed_file] = db_url
    if not event.contains(Session, "before_flush", _before_flush):
        event.listen(Session, "before_flush", _before_flush)


def _seed_file(url: URL) -> Path | None:
    """Return the seed of the course whose gradebook stands at this address."""
    return next((path for path, address in _ADDRESSES.items() if make_url(address()) == url), None)


def _before_flush(session: Session, *_: Any) -> None:
    concerned = [row for row in (*session.dirty, *session.deleted) if type(row).__module__ == "nbgrader.api"]
    seed_file = _seed_file(session.get_bind().engine.url) if concerned else None
    if seed_file is None:
        return
    connection = session.connection()
    changes = [
        found
        for row in concerned
        for found in (_removed(connection, row) if row in session.deleted else _changed(connection, row))
    ]
    if changes:
        _record(connection, Seed.read(seed_file), changes)


def _changed(connection: Connection, row: Any) -> Iterator[_Change]:
    kind = type(row).__name__
    table = _TABLES.get(kind)
    if table is None:
        return
    for column, field in _FIELDS[kind]:
        # What stands there is asked of the database: the session may never have loaded it.
        before = connection.execute(select(table.c[column]).where(table.c.id == row.id)).scalar()
        after = getattr(row, column)
        if before != after and (before or after or field == "points"):
            apprentice, module, item = _place(connection, row)
            yield _Change(apprentice, module, item, field, before, after)


def _removed(connection: Connection, row: Any) -> Iterator[_Change]:
    if type(row).__name__ == "SubmittedAssignment":
        apprentice, module, _ = _place(connection, row)
        yield _Change(apprentice, module, "", "submission", "in the gradebook", None)


def _place(connection: Connection, row: Any) -> tuple[str, str, str]:
    """Return apprentice, module and item of a row; the item is empty for what concerns all of them."""
    query = select(SUBMITTED_ASSIGNMENT.c.student_id, ASSIGNMENT.c.name).join(
        ASSIGNMENT, ASSIGNMENT.c.id == SUBMITTED_ASSIGNMENT.c.assignment_id
    )
    item = ""
    if type(row).__name__ == "SubmittedAssignment":
        query = query.where(SUBMITTED_ASSIGNMENT.c.id == row.id)
    else:
        item = connection.execute(select(BASE_CELL.c.name).where(BASE_CELL.c.id == row.cell_id)).scalar_one()
        query = query.join(SUBMITTED_NOTEBOOK, SUBMITTED_NOTEBOOK.c.assignment_id == SUBMITTED_ASSIGNMENT.c.id).where(
            SUBMITTED_NOTEBOOK.c.id == row.notebook_id
        )
    apprentice, module = connection.execute(query).one()
    return apprentice, module, item


def _record(connection: Connection, seed: Seed, changes: list[_Change]) -> None:
    ledger = Ledger(connection, seed)
    ledger.hold()
    entries = []
    for made in changes:
        number = ledger.shown(made.module, [made.apprentice]).get(made.apprentice)
        nothing = Marked(made.apprentice, made.module)
        marked = ledger.read(Marked, [number])[number] if number is not None else nothing
        before, after = _plain(made.field, made.before), _plain(made.field, made.after)
        # The words themselves can be taken out one day; the digest stays.
        notes = (Note("comment", str(made.after or "")),) if made.field == "comment" else ()
        entries.append(Changed.of(marked, made.item, made.field, before, after, why=_WHY, notes=notes))
    ledger.add(entries)


def _plain(field: str, value: Any) -> float | str | None:
    if value is None:
        return None
    if field == "comment":
        return digest(str(value))
    if field == "extension":
        return float(value.total_seconds())
    return float(value) if isinstance(value, int | float) else str(value)
