"""Making and renewing the ledger's tables: one revision after another, in one transaction, whatever the database."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, inspect, text

from trainkit_grading.errors import LedgerError
from trainkit_grading.ledger.tables import VERSION, VERSION_TABLE
from trainkit_grading.support.database import alone

MIGRATIONS = Path(__file__).parent / "migrations"


def version(connection: Connection) -> str:
    """Return the revision that the ledger's tables have, or an empty string where there are none."""
    if not inspect(connection).has_table(VERSION_TABLE):
        return ""
    found = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar()  # noqa: S608 - our own name
    return str(found or "")


def ensure(connection: Connection) -> bool:
    """Bring the ledger's tables to this software's revision, and tell whether anything had to be done.

    Nothing is committed: that is for whoever began the transaction.

    Raises
    ------
    LedgerError
        If the tables are of a newer revision than this software knows.
    """
    if version(connection) == VERSION:
        return False
    # Two who mark a course for the first time come here at once: the second finds what the first has made.
    alone(connection)
    found = version(connection)
    if found == VERSION:
        return False
    # alembic takes a third of a second to load, and is needed once in the life of a course.
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.set_main_option("path_separator", "newline")
    known = {revision.revision for revision in ScriptDirectory.from_config(config).walk_revisions()}
    if found and found not in known:
        raise LedgerError(
            found,
            rule=f"This software knows the ledger up to revision {VERSION}.",
            remedy="Install the version of trainkit-grading that has marked this course.",
        )
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
    return True
