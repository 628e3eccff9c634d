"""How a revision of the ledger's tables is applied: on the connection and in the transaction of whoever asks for it."""

from __future__ import annotations

from alembic import context

from trainkit_grading.ledger.tables import LEDGER, VERSION_TABLE

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=LEDGER,
    version_table=VERSION_TABLE,  # nbgrader keeps the version of its own tables in another
)
with context.begin_transaction():
    context.run_migrations()
