"""Finding everything about one person, and all entries of one kind, without reading the whole ledger."""

from __future__ import annotations

from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add two indexes; no row changes, and nothing that a seal covers."""
    op.create_index("trainkit_entry_about", "trainkit_entry", ["person"])
    op.create_index("trainkit_entry_kind", "trainkit_entry", ["kind", "module"])
