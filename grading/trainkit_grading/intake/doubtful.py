"""Hand-ins in doubt: written into the ledger before they are kept, and asked about at each collecting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit_grading.ledger import doubts
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Note
from trainkit_grading.ledger.kinds import Doubted
from trainkit_grading.nbgrader_bridge import gradebook

if TYPE_CHECKING:
    from collections.abc import Collection

    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.seeds import Seed
    from trainkit_grading.intake.owners import Reason
    from trainkit_grading.intake.receipts import Receipt


def write(course: Course, seed: Seed, receipt: Receipt, reason: Reason) -> None:
    """Write into the ledger that a hand-in waits and why; of the same hand-in it stands there once.

    Raises
    ------
    CourseError
        If the database cannot be used.
    """
    entry = Doubted(
        receipt.apprentice,
        receipt.module,
        receipt.attempt,
        receipt.form,
        receipt.digest,
        receipt.arrived.isoformat(),
        notes=(Note("origin", reason.text),),
        doubt=reason.doubt,
    )
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        ledger = Ledger(connection, seed)
        ledger.hold()
        if doubts.named(entry) not in doubts.decided(ledger):
            ledger.add([entry])


def let_count(course: Course, seed: Seed, waiting: Collection[Receipt]) -> tuple[Receipt, ...]:
    """Return those of the hand-ins in doubt that a person has let count; the database is read only where there are any.

    Raises
    ------
    CourseError
        If the database cannot be used.
    """
    if not waiting:
        return ()
    with gradebook.opened(course) as engine, engine.begin() as connection:
        became = doubts.decided(Ledger(connection, seed))
    return tuple(
        receipt
        for receipt in waiting
        if became.get((receipt.apprentice, receipt.module, receipt.digest)) == doubts.COUNTED
    )
