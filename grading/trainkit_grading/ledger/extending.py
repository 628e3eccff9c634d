"""What the ledger says of extensions: by how much somebody's due date differs from the module's in the gradebook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, select

from trainkit_grading.ledger import details
from trainkit_grading.ledger.kinds import Changed
from trainkit_grading.ledger.tables import ENTRY, PERSON


@dataclass(frozen=True, slots=True)
class Extension:
    """An extension as it was recorded last: in seconds, None for none, and whether the course's dates made it."""

    seconds: float | None = None
    by_dates: bool = False


def last(connection: Connection, module: str, apprentices: Sequence[str] | None = None) -> dict[str, Extension]:
    """Return what was recorded last of some apprentices, or of all; who never had an extension is left out."""
    # On the table itself, too: by its index the database finds the rows of these people alone.
    some = select(PERSON.c.person).where(PERSON.c.apprentice.in_(apprentices)) if apprentices is not None else None
    query = (
        select(ENTRY.c.detail, PERSON.c.apprentice)
        .join(PERSON, PERSON.c.person == ENTRY.c.person)
        .where(
            ENTRY.c.kind == Changed.kind,
            ENTRY.c.module == module,
            *((ENTRY.c.person.in_(some),) if some is not None else ()),
        )
        .order_by(ENTRY.c.number)
    )
    found: dict[str, Extension] = {}
    for row in connection.execute(query):
        said = details.read(Changed, row.detail)
        if said.field == "extension":
            found[row.apprentice] = Extension(None if said.after is None else float(said.after), said.by_dates)
    return found
