"""The ledger's tables, beside nbgrader's in the same database.

Rows of ``trainkit_entry``, ``trainkit_mark`` and ``trainkit_note`` are added and never changed; triggers refuse it.
The one exception is taking words out for good: the text of a response or a note can be emptied, because its digest,
not the text, is what the seal of the entry covers. Times are ISO 8601 text in UTC, so that every database gives back
exactly what was sealed.
"""

from __future__ import annotations

from sqlalchemy import Boolean, Column, Float, Index, Integer, MetaData, String, Table, Text

# The newest revision under migrations/versions; a test holds the two together.
VERSION = "0002"
VERSION_TABLE = "trainkit_version"

LEDGER = MetaData()


def _digest(name: str) -> Column[str]:
    return Column(name, String(64), nullable=False, default="")


# Who a random identifier stands for. Nothing else in the ledger names a person who is assessed.
PERSON = Table(
    "trainkit_person",
    LEDGER,
    Column("person", String(32), primary_key=True),
    Column("apprentice", String(128), nullable=False, unique=True),
    _digest("seal"),  # of this row alone: it can be taken out, and not be given another name
)
# One row: number and seal of the last entry, and a seal of these two. Whoever adds to the ledger holds it.
HEAD = Table(
    "trainkit_head",
    LEDGER,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("number", Integer, nullable=False),
    _digest("seal"),
    _digest("closing"),  # unlike the seal it stands nowhere else, so that no shorter ledger can be closed with it
)
ENTRY = Table(
    "trainkit_entry",
    LEDGER,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("kind", String(16), nullable=False),
    Column("at", String(32), nullable=False),
    Column("by", String(128), nullable=False),
    Column("why", Text, nullable=False),
    Column("person", String(32), nullable=False),
    Column("module", String(40), nullable=False),
    Column("attempt", Integer, nullable=False),
    Column("form", String(16), nullable=False),
    Column("arrived", String(32), nullable=False),
    _digest("journal"),
    _digest("pack_hash"),
    _digest("module_hash"),
    _digest("form_hash"),
    _digest("keys_hash"),
    _digest("software_hash"),
    Column("points", Float, nullable=False),
    Column("out_of", Float, nullable=False),
    _digest("outcome"),
    _digest("notes_hash"),
    Column("detail", Text, nullable=False),
    _digest("before"),
    _digest("seal"),
    Index("trainkit_entry_of", "module", "person", "attempt"),
    Index("trainkit_entry_about", "person"),  # everything about one person, whatever the module
    Index("trainkit_entry_kind", "kind", "module"),  # the few sessions and sign-offs among many marks
)
MARK = Table(
    "trainkit_mark",
    LEDGER,
    Column("entry", Integer, primary_key=True, autoincrement=False),
    Column("place", Integer, primary_key=True, autoincrement=False),
    Column("item", String(16), nullable=False),
    Column("template", String(80), nullable=False),
    Column("kind", String(16), nullable=False),
    Column("response", Text),
    _digest("response_hash"),
    Column("answered", String(40), nullable=False),
    Column("points", Float, nullable=False),
    Column("out_of", Float, nullable=False),
    Column("verdict", String(16), nullable=False),
    Column("reason", Text, nullable=False),
    Column("method", Text, nullable=False),
    Column("misconception", String(80), nullable=False),
    Column("critical", Boolean, nullable=False),
)
NOTE = Table(
    "trainkit_note",
    LEDGER,
    Column("entry", Integer, primary_key=True, autoincrement=False),
    Column("place", Integer, primary_key=True, autoincrement=False),
    Column("kind", String(16), nullable=False),
    Column("text", Text),
    _digest("text_hash"),
)
# Which entry nbgrader's gradebook shows of each apprentice and module: it follows from the rest and changes with it.
SHOWN = Table(
    "trainkit_shown",
    LEDGER,
    Column("module", String(40), primary_key=True),
    Column("person", String(32), primary_key=True),
    Column("entry", Integer, nullable=False),
)
