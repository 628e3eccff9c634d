"""A ledger with a bit of everything in it, and hands that reach past its triggers."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, Table, select, text

from trainkit_grading.course.folder import Course
from trainkit_grading.course.seeds import Seed
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import MarkRow, Note, Provenance
from trainkit_grading.ledger.kinds import Changed, Marked, SessionHeld
from trainkit_grading.ledger.tables import ENTRY, HEAD, MARK, NOTE, PERSON, SHOWN
from trainkit_grading.ledger.verifying import Proof, verify
from trainkit_grading.support import database

SEED = Seed(bytes(range(32)))
MODULE = "bench-order"
TABLES = (PERSON, HEAD, ENTRY, MARK, NOTE, SHOWN)
WELL = Note("comment", "Well put.")
FROM = Provenance("a" * 64, "b" * 64, "c" * 64, "d" * 64, "e" * 64)


def marked(apprentice: str, attempt: int = 1, points: float = 1.5, **more: Any) -> Marked:
    """An entry as marking makes it; what differs between two calls is said."""
    answer = f'{{"kind":"choice","option":"{apprentice[:1]}"}}'
    marks = (
        MarkRow(
            "A1", "sequence/put-in-order", "choice", answer, "2027-03-01T08:00:00Z", points, 2.0, "part", "Nearly."
        ),
        MarkRow("A2", "sequence/why-before", "text", None, "", 0.0, 3.0, "no answer", "Nothing was given."),
    )
    notes = (Note("name", f"1 answer claims the name “{apprentice}x”."),)
    said = {"module": MODULE, "form": f"F{attempt}", "journal": "f" * 64, "arrived": "2027-03-02T08:00:00"}
    return Marked(apprentice, attempt=attempt, provenance=FROM, marks=marks, notes=notes, **{**said, **more})


def fill(connection: Connection) -> None:
    """Write marks of three people, points that a person gave, and a session."""
    ledger = Ledger(connection, SEED)
    first = ledger.add([marked("amir"), marked("o'brien", points=0.25), marked("さくら")])
    given = Changed("amir", MODULE, 1, item="A2", field="points", after=2.5, why="Read it.", notes=(WELL,))
    again = ledger.add(
        [
            given,
            SessionHeld(module=MODULE, room="Bench 2"),
            marked("amir", attempt=2, points=2.0, why="The key was wrong."),
        ]
    )
    ledger.show(MODULE, {"amir": again[2].number, "o'brien": first[1].number, "さくら": first[2].number})


@contextmanager
def open_database(address: str) -> Iterator[Connection]:
    """Open a database as marking does; what is done stays only where the test commits."""
    with database.opened(address, "BEGIN IMMEDIATE") as engine, engine.connect() as connection:
        yield connection


def without_triggers(connection: Connection) -> None:
    """Take away what keeps rows as they were written, as somebody who owns the database can."""
    for table in ("trainkit_entry", "trainkit_mark", "trainkit_note"):
        if connection.dialect.name == "sqlite":
            connection.execute(text(f"DROP TRIGGER {table}_changed"))
            connection.execute(text(f"DROP TRIGGER {table}_deleted"))
        else:
            connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER USER"))


def tamper(course: Course, *statements: str) -> None:
    """Change a gradebook as whoever can write into its file does, past every trigger."""
    with sqlite3.connect(course.gradebook) as connection:
        for (name,) in connection.execute("select name from sqlite_master where type = 'trigger'").fetchall():
            connection.execute(f"drop trigger {name}")
        for statement in statements:
            assert connection.execute(statement).rowcount >= 1, statement


def rows_of(connection: Connection, table: Table) -> list[dict[str, Any]]:
    """Return all rows of a table, in the order of their primary keys."""
    query = select(table).order_by(*table.primary_key.columns)
    return [dict(row._mapping) for row in connection.execute(query)]


def row_where(table: Table, row: dict[str, Any]) -> Any:
    """Return the condition that only this row meets."""
    found = True
    for column in table.primary_key.columns:
        found = (column == row[column.name]) if found is True else found & (column == row[column.name])
    return found


def proof(connection: Connection) -> Proof:
    return verify(connection, SEED)


def found_out(connection: Connection) -> bool:
    """Whether verifying notices that anything is not as it was written; people who were forgotten are told of, too."""
    seen = proof(connection)
    return bool(seen.faults) or seen.forgotten > 0
