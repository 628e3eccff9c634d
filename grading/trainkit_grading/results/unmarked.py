"""Who has a hand-in that has no marks yet; a journal is read only where it was laid after marks were given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from trainkit_grading.intake import submissions
from trainkit_grading.ledger import closing
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.nbgrader_bridge import gradebook

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.results.aggregates import LedgerAggregate


# Clocks of two instructors' computers may differ, in the worst case by a time zone that one has wrong.
_CLOCKS = timedelta(days=1)


def unmarked(course: Course, module: str, marked: Mapping[str, LedgerAggregate]) -> set[str]:
    """Return who has a hand-in in the folder that has no marks, and is not one before those that have."""
    names = submissions.names(course, module)
    unread = [name for name in names if name in marked and not _lay_there(course, module, name, marked[name])]
    return {name for name in names if name not in marked} | _newer(course, module, unread)


def _lay_there(course: Course, module: str, apprentice: str, of: LedgerAggregate) -> bool:
    """Tell whether a hand-in lay in its folder when the marks were given; then it need not be read again."""
    laid = submissions.laid(course, module, apprentice)
    return laid is not None and laid < datetime.fromisoformat(of.at) - _CLOCKS


def _newer(course: Course, module: str, apprentices: Sequence[str]) -> set[str]:
    if not apprentices:
        return set()
    journals: dict[str, set[str]] = {}
    latest: dict[str, str] = {}
    with gradebook.opened(course) as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        for of in ledger.standing(module, apprentices).values():
            journals.setdefault(of.apprentice, set()).add(of.journal)
            latest[of.apprentice] = max(latest.get(of.apprentice, ""), of.arrived)
        for name, passed_over in closing.passed_over(ledger, module).items():
            journals.setdefault(name, set()).update(passed_over)
    other = (
        name for name in apprentices if submissions.journal_digest(course, module, name) not in journals.get(name, ())
    )
    return {
        name
        for name in other
        if (arrived := submissions.arrived(course, module, name)) is None or arrived.isoformat() >= latest.get(name, "")
    }
