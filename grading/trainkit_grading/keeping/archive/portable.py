"""The marks as one file of SQLite, from whatever database they stand in, with the same rows."""

from __future__ import annotations

import contextlib
import hashlib
import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Table, create_engine, delete, insert, inspect, select, text

from trainkit_grading.errors import ArchiveError
from trainkit_grading.ledger import versions
from trainkit_grading.ledger.tables import HEAD, LEDGER
from trainkit_grading.nbgrader_bridge import gradebook, steps

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


_SOME = 2000


def dump(course: Course, target: Path) -> bool:
    """Write a course's marks into a new file of SQLite, and tell whether there were any.

    A file is copied as it is at one moment, also while others write, and packed anew, so that nothing of what was
    deleted comes along. From PostgreSQL the rows of nbgrader's and the ledger's tables are copied and compared.

    Raises
    ------
    ArchiveError
        If the copy does not hold the same rows.
    CourseError
        If the database cannot be used.
    """
    with gradebook.opened(course) as engine:
        if engine.dialect.name == "sqlite":
            source = Path(engine.url.database or "")
            if not source.is_file():
                return False
            with (
                contextlib.closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as before,
                contextlib.closing(sqlite3.connect(target, isolation_level=None)) as after,
            ):
                before.backup(after)
                after.execute("PRAGMA journal_mode = DELETE").fetchall()
                after.execute("VACUUM")
            return True
        with engine.connect() as connection, connection.begin():
            return inspect(connection).has_table("alembic_version") and _copied(connection, target)


def _copied(source: Connection, target: Path) -> bool:
    with steps.prepared():
        from nbgrader.api import Base

        engine = create_engine(f"sqlite:///{target.as_posix()}")
        try:
            with engine.begin() as copy:
                steps.make_tables(copy)
                revision = source.execute(text("SELECT version_num FROM alembic_version")).scalar_one()
                copy.execute(text("UPDATE alembic_version SET version_num = :is"), {"is": revision})
                tables = list(Base.metadata.sorted_tables)
                if versions.version(source):
                    versions.ensure(copy)
                    _same_revision(versions.version(source), versions.version(copy))
                    copy.execute(delete(HEAD))
                    tables += LEDGER.sorted_tables
                for table in tables:
                    _copy(source, copy, table)
                for table in tables:
                    if _digest(source, table) != _digest(copy, table):  # pragma: no cover - a driver that loses values
                        raise ArchiveError(
                            table.name, rule="The copy holds the same rows.", remedy="Nothing was packed. Try again."
                        )
        finally:
            engine.dispose()
    return True


def _same_revision(there: str, here: str) -> None:
    if there != here:
        raise ArchiveError(
            there,
            rule=f"The ledger is copied by software that knows its revision; this one writes {here}.",
            remedy="Verify the course once with this version, then archive it.",
        )


def _copy(source: Connection, copy: Connection, table: Table) -> None:
    query = select(table).order_by(*table.primary_key.columns)
    rows = source.execute(query, execution_options={"yield_per": _SOME})
    for some in rows.partitions(_SOME):
        copy.execute(insert(table), [dict(row._mapping) for row in some])


def _digest(connection: Connection, table: Table) -> tuple[int, int]:
    """Return how many rows there are, and what they come to in whatever order."""
    count = total = 0
    for row in connection.execute(select(table), execution_options={"yield_per": _SOME}):
        count += 1
        total += int.from_bytes(hashlib.sha256(repr(tuple(row)).encode()).digest())
    return count, total
