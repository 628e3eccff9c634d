"""Hand-ins of which it is in doubt who handed them in, and what a person decided about them."""

from __future__ import annotations

from collections.abc import Iterator

from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.kinds import Decided, Doubted

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
    """Yield the entries of hand-ins in doubt about which nobody has decided yet, the oldest first."""
    became = decided(ledger)
    return (entry for entry in ledger.entries(Doubted, marks=False) if not became[named(entry)])
