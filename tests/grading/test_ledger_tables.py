"""The tables of the ledger: made and renewed in one transaction, as `tables.py` says, beside those of nbgrader."""

from __future__ import annotations

from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect, text

from trainkit_grading.errors import LedgerError
from trainkit_grading.ledger import versions
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.tables import ENTRY, LEDGER, VERSION, VERSION_TABLE
from trainkit_grading.ledger.verifying import verify
from trainkit_grading.nbgrader_bridge import gradebook

from .ledgers import SEED, fill, open_database, proof, rows_of
from .makers import ON_BOTH, Bench, begin, go_on, ledger_of, nbgrader

OURS = {VERSION_TABLE, *LEDGER.tables}


def test_the_version_is_that_of_the_newest_revision() -> None:
    script = ScriptDirectory(str(versions.MIGRATIONS))
    assert script.get_heads() == [VERSION]
    assert len({revision.revision for revision in script.walk_revisions()}) == len(
        list((versions.MIGRATIONS / "versions").glob("*.py"))
    )


@ON_BOTH
def test_the_revisions_make_what_the_tables_say(empty: Connection) -> None:
    assert versions.ensure(empty)
    context = MigrationContext.configure(
        empty,
        opts={
            "version_table": VERSION_TABLE,
            "compare_type": True,
            "compare_server_default": True,
            "include_name": lambda name, kind, _: kind != "table" or name in LEDGER.tables,
        },
    )
    assert compare_metadata(context, LEDGER) == []
    assert versions.version(empty) == VERSION
    # Nothing is left to do, and nothing is done.
    assert not versions.ensure(empty)


@ON_BOTH
def test_making_the_tables_is_undone_with_the_transaction(empty: Connection) -> None:
    versions.ensure(empty)
    empty.rollback()
    assert inspect(empty).get_table_names() == []
    Ledger(empty, SEED)
    assert (proof(empty).entries, proof(empty).faults) == (0, ())
    empty.rollback()


@ON_BOTH
def test_a_ledger_of_the_first_revision_is_brought_up_to_date(empty: Connection) -> None:
    fill(empty)
    # What the second revision added is taken away: what is left is what the first one made.
    for index in ("trainkit_entry_about", "trainkit_entry_kind"):
        empty.execute(text(f"DROP INDEX {index}"))
    empty.execute(text(f"UPDATE {VERSION_TABLE} SET version_num = '0001'"))  # noqa: S608 - our own name
    before = rows_of(empty, ENTRY)
    assert versions.ensure(empty)
    assert versions.version(empty) == VERSION
    assert {index["name"] for index in inspect(empty).get_indexes("trainkit_entry")} >= {"trainkit_entry_about"}
    assert rows_of(empty, ENTRY) == before
    assert proof(empty).faults == ()


@ON_BOTH
def test_a_newer_ledger_is_refused_and_left_alone(empty: Connection) -> None:
    versions.ensure(empty)
    empty.execute(text(f"UPDATE {VERSION_TABLE} SET version_num = '9999'"))  # noqa: S608 - our own name
    with pytest.raises(LedgerError, match=r"9999.*up to revision.*Install the version"):
        Ledger(empty, SEED)
    assert versions.version(empty) == "9999"


BEGIN = """
import sys
from trainkit_grading.ledger import versions
from trainkit_grading.support import database
import alembic.command
print("ready", flush=True)
sys.stdin.readline()
with database.opened(sys.argv[1], "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
    print(versions.ensure(connection))
"""


@ON_BOTH
def test_several_may_begin_a_ledger_at_once(address: str) -> None:
    # Processes and not threads: alembic keeps what it is about in one place of its process.
    running = [begin(BEGIN, address) for _ in range(3)]
    for process in running:
        go_on(process)
    said = [process.communicate(timeout=120) for process in running]
    assert sorted(out for out, _ in said) == ["False\n", "False\n", "True\n"], said
    with open_database(address) as connection:
        assert (proof(connection).entries, proof(connection).faults) == (0, ())


def shape(connection: Connection) -> dict[str, Any]:
    """Return the tables that are not ours, with their columns and nbgrader's version."""
    seen = inspect(connection)
    theirs = sorted(set(seen.get_table_names()) - OURS)
    found = {name: [(column["name"], str(column["type"])) for column in seen.get_columns(name)] for name in theirs}
    found["version"] = [tuple(row) for row in connection.execute(text("SELECT version_num FROM alembic_version"))]
    return found


@ON_BOTH
def test_nbgraders_own_tables_and_version_stay_as_they_are(given_out: Bench) -> None:
    with gradebook.opened(given_out.course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        before = shape(connection)
        versions.ensure(connection)
        assert shape(connection) == before
        assert len(before["version"]) == 1
        # nbgrader makes what it misses of its own tables, and takes no notice of ours.
        assert set(LEDGER.tables) <= set(inspect(connection).get_table_names())


def test_nbgrader_db_upgrade_works_beside_a_ledger(assigned: Bench) -> None:
    course = assigned.course
    with ledger_of(course, "BEGIN IMMEDIATE") as ledger:
        before = shape(ledger.connection)
    nbgrader(course, "db", "upgrade")
    with gradebook.opened(course) as engine, engine.connect() as connection:
        assert shape(connection) == before
        assert versions.version(connection) == VERSION
        assert verify(connection, course.seed()).faults == ()
