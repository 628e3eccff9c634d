"""Hand-ins of which it is in doubt who handed them in, and what a person decided about them."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select

from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.kinds import Decided, Doubted, Marked
from trainkit_grading.ledger.tables import ENTRY, PERSON

COUNTED = "counted"
OUTCOMES = (COUNTED, "excluded")
"""What can come of it: the hand-in counts for whom it names, or for nobody."""

# A hand-in, however often it was met: whose it says it is, of which module, and the digest of its journal.
Named = tuple[str, str, str]


def named(entry: Doubted) -> Named:
    """Return which hand-in an entry is about."""
    return entry.apprentice, entry.module, entry.journal


def decided(ledger: Ledger) -> dict[Named, str]:
    """Return what became of each hand-in in doubt; empty text where nobody has decided yet."""
    entries = {entry.number: entry for entry in ledger.entries(Doubted, marks=False)}
    found = {named(entry): "" for entry in entries.values()}
    for decision in ledger.entries(Decided, marks=False) if entries else ():
        of = entries.get(decision.of)
        if of is not None:
            found[named(of)] = decision.became
    return found


def waiting(ledger: Ledger) -> Iterator[Doubted]:
    """Yield the entries of hand-ins in doubt about which a person has to decide, the oldest first.

    Nothing is to be decided where the same has come in beyond doubt since, and is marked.
    """
    open_ones = {each for each, outcome in decided(ledger).items() if not outcome}
    if open_ones:
        query = (
            select(PERSON.c.apprentice, ENTRY.c.module, ENTRY.c.journal)
            .join(PERSON, PERSON.c.person == ENTRY.c.person)
            .where(ENTRY.c.kind == Marked.kind, ENTRY.c.module.in_({module for _, module, _ in open_ones}))
        )
        open_ones -= {tuple(row) for row in ledger.connection.execute(query)}
    return (entry for entry in ledger.entries(Doubted, marks=False) if named(entry) in open_ones)
