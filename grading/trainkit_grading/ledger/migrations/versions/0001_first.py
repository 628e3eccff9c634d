"""The first tables of the ledger, and the triggers that keep its rows as they were written."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def _digest(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String(64), nullable=False)


def upgrade() -> None:
    """Make the tables; what they hold is said in ``trainkit_grading.ledger.tables``."""
    _make_tables()
    # One row, there from the beginning, so that there is something to hold.
    op.execute("INSERT INTO trainkit_head (id, number, seal, closing) VALUES (1, 0, '', '')")
    # A row says no more and no less than it did; only the words of a person can be taken out.
    _keep("trainkit_entry", "")
    _keep("trainkit_mark", "response")
    _keep("trainkit_note", "text")


def _make_tables() -> None:
    op.create_table(
        "trainkit_person",
        sa.Column("person", sa.String(32), primary_key=True),
        sa.Column("apprentice", sa.String(128), nullable=False, unique=True),
        _digest("seal"),
    )
    op.create_table(
        "trainkit_head",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("number", sa.Integer, nullable=False),
        _digest("seal"),
        _digest("closing"),
    )
    op.create_table(
        "trainkit_entry",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("by", sa.String(128), nullable=False),
        sa.Column("why", sa.Text, nullable=False),
        sa.Column("person", sa.String(32), nullable=False),
        sa.Column("module", sa.String(40), nullable=False),
        sa.Column("attempt", sa.Integer, nullable=False),
        sa.Column("form", sa.String(16), nullable=False),
        sa.Column("arrived", sa.String(32), nullable=False),
        *(_digest(name) for name in ("journal", "pack_hash", "module_hash", "form_hash", "keys_hash", "software_hash")),
        sa.Column("points", sa.Float, nullable=False),
        sa.Column("out_of", sa.Float, nullable=False),
        _digest("outcome"),
        _digest("notes_hash"),
        sa.Column("detail", sa.Text, nullable=False),
        _digest("before"),
        _digest("seal"),
    )
    op.create_index("trainkit_entry_of", "trainkit_entry", ["module", "person", "attempt"])
    op.create_table(
        "trainkit_mark",
        sa.Column("entry", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("place", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("item", sa.String(16), nullable=False),
        sa.Column("template", sa.String(80), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("response", sa.Text),
        _digest("response_hash"),
        sa.Column("answered", sa.String(40), nullable=False),
        sa.Column("points", sa.Float, nullable=False),
        sa.Column("out_of", sa.Float, nullable=False),
        sa.Column("verdict", sa.String(16), nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.Column("method", sa.Text, nullable=False),
        sa.Column("misconception", sa.String(80), nullable=False),
        sa.Column("critical", sa.Boolean, nullable=False),
    )
    op.create_table(
        "trainkit_note",
        sa.Column("entry", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("place", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("text", sa.Text),
        _digest("text_hash"),
    )
    op.create_table(
        "trainkit_shown",
        sa.Column("module", sa.String(40), primary_key=True),
        sa.Column("person", sa.String(32), primary_key=True),
        sa.Column("entry", sa.Integer, nullable=False),
    )


def _keep(table: str, erasable: str) -> None:
    """Refuse to delete a row, and to change anything of it but to empty the column ``erasable``."""
    dialect = op.get_bind().dialect.name
    if dialect == "sqlite":
        names = [column["name"] for column in sa.inspect(op.get_bind()).get_columns(table)]
        same = " AND ".join(f'NEW."{name}" IS OLD."{name}"' for name in names if name != erasable)
        emptied = f' AND NEW."{erasable}" IS NULL' if erasable else ""
        # Neither name nor column comes from outside.
        op.execute(
            f"CREATE TRIGGER {table}_changed BEFORE UPDATE ON {table} WHEN NOT ({same}{emptied}) "
            "BEGIN SELECT RAISE(ABORT, 'rows of the ledger are never changed'); END"
        )
        op.execute(
            f"CREATE TRIGGER {table}_deleted BEFORE DELETE ON {table} "
            "BEGIN SELECT RAISE(ABORT, 'rows of the ledger are never deleted'); END"
        )
    elif dialect == "postgresql":
        # Row values compare column by column; the erasable one is made equal first.
        equal = f"OLD.{erasable} := NULL; IF NEW IS NOT DISTINCT FROM OLD THEN RETURN NEW; END IF;" if erasable else ""
        op.execute(
            f"CREATE FUNCTION {table}_kept() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            f"IF TG_OP = 'UPDATE' THEN {equal} END IF; "
            "RAISE EXCEPTION 'rows of the ledger are never changed or deleted'; END $$"
        )
        op.execute(
            f"CREATE TRIGGER {table}_kept BEFORE UPDATE OR DELETE ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION {table}_kept()"
        )
