"""Unsafe work that a person has seen: it was stopped, or a critical step was left out, and it was marked so."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from sqlalchemy import Connection, and_, select

from trainkit_grading.ledger import details
from trainkit_grading.ledger.kinds import Changed, Voided
from trainkit_grading.ledger.tables import ENTRY, SHOWN


def said_unsafe(connection: Connection, modules: Collection[str]) -> Iterator[tuple[int, str]]:
    """Yield the number of an entry that the gradebook shows, and an item of which the last observation says so.

    Points that somebody gives afterwards do not take it back; all points do, as with any other critical error.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the course's database.
    modules : collection of str
        Which modules.
    """
    given = (
        select(ENTRY.c.person, ENTRY.c.module, ENTRY.c.attempt, ENTRY.c.detail)
        .where(ENTRY.c.kind.in_((Changed.kind, Voided.kind)), ENTRY.c.module.in_(list(modules)))
        .order_by(ENTRY.c.number)
    )
    # Very few entries say so, and only those people's are looked at more closely.
    people = {row.person for row in connection.execute(given.where(details.says("critical", True)))}
    if not people:
        return
    last: dict[tuple[str, str, int], dict[str, bool]] = {}
    for person, module, attempt, detail in connection.execute(given.where(ENTRY.c.person.in_(people))):
        said = details.read(Changed, detail)
        if said.critical is not None:
            last.setdefault((person, module, attempt), {})[said.item] = said.critical
    shown = select(SHOWN.c.person, SHOWN.c.module, ENTRY.c.attempt, SHOWN.c.entry).join(
        ENTRY, and_(ENTRY.c.number == SHOWN.c.entry, SHOWN.c.person.in_(people))
    )
    for person, module, attempt, entry in connection.execute(shown):
        yield from ((entry, item) for item, unsafe in last.get((person, module, attempt), {}).items() if unsafe)
