"""Recording which feedback was written: from then on an attempt is closed (:mod:`trainkit_grading.ledger.closing`)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from trainkit_grading.ledger import closing
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.kinds import FeedbackWritten
from trainkit_grading.nbgrader_bridge import gradebook

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.reports.feedback.page import FeedbackPage


def tell(course: Course, sheets: Iterable[FeedbackPage], now: datetime) -> None:
    """Record that these pages are written; what the ledger says already is not said again.

    It is called before the pages are written: whatever is cut off in between, nobody has read a page of an attempt
    that is still open.

    Parameters
    ----------
    course : Course
        The course folder.
    sheets : iterable of FeedbackPage
        What the pages say.
    now : datetime
        The time, with its time zone.
    """
    when = now.astimezone(UTC).replace(tzinfo=None).isoformat()
    pages = [
        FeedbackWritten(
            sheet.result.apprentice,
            sheet.result.module,
            sheet.result.attempt,
            sheet.result.form,
            when=when,
            marked=sheet.result.entry,
            answers=sheet.answers,
        )
        for sheet in sheets
        if sheet.result.attempt
    ]
    if not pages:
        return
    with gradebook.opened(course) as engine, engine.begin() as connection:
        if not closing.unsaid(Ledger(connection, course.seed()), pages):
            return
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        ledger.hold()
        # Somebody else may have written the same pages meanwhile.
        ledger.add(closing.unsaid(ledger, pages))
