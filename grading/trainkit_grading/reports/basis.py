"""What both overviews are put together from: results by person, and the ledger they came from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainkit import journal
from trainkit_grading.decisions.pending import PendingDecision, pending_decisions
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.results.results import Result, Results, gather
from trainkit_grading.support.outcome import Progress, quiet

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from trainkit_grading.course.folder import Course


DETAILED = 120
"""Each answer of so many people is looked at; with more, a page would grow past what a laptop opens at once."""
LISTED = 200
"""So many rows of a list are shown; a longer list is for the spreadsheet."""


@dataclass(frozen=True, slots=True)
class Basis:
    """What an overview is put together from.

    Parameters
    ----------
    written : datetime
        When it was read, with its zone.
    results : Results
        Everybody's results.
    of_person : mapping of str to mapping of str to Result
        The same by person and module.
    pending : tuple of PendingDecision
        What waits for a person.
    source : tuple of Ledger and Connection, or None
        Where they come from; None where no module was given out.
    """

    written: datetime
    results: Results
    of_person: Mapping[str, Mapping[str, Result]]
    pending: tuple[PendingDecision, ...] = ()
    source: tuple[Ledger, Connection] | None = None


@contextmanager
def opened_ledger(course: Course) -> Iterator[tuple[Ledger, Connection]]:
    """Open the ledger of a course, and the connection on which the gradebook is read at the same moment.

    Raises
    ------
    CourseError
        If the database or the seed cannot be used.
    """
    with gradebook.opened(course) as engine, engine.begin() as connection:
        yield Ledger(connection, course.seed()), connection


@contextmanager
def opened_basis(
    course: Course, progress: Progress = quiet, clock: Callable[[], datetime] = journal.now
) -> Iterator[Basis]:
    """Read what an overview is put together from; the ledger is open until the context ends.

    Raises
    ------
    CourseError
        If the roster or the database cannot be read.
    """
    now = clock()
    results = gather(course, progress, clock)
    of_person: dict[str, dict[str, Result]] = {person.id: {} for person in results.people}
    for row in results.rows:
        of_person[row.apprentice][row.module] = row
    if not results.modules:
        yield Basis(now, results, of_person)
        return
    with opened_ledger(course) as (ledger, connection):
        yield Basis(now, results, of_person, pending_decisions(ledger), (ledger, connection))
