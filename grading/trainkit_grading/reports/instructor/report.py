"""Writing the instructor's view."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from trainkit import journal
from trainkit_grading.course.cautions import cautions_of
from trainkit_grading.reports.instructor.overview import instructors_view
from trainkit_grading.reports.instructor.page import html_text
from trainkit_grading.results.proof import prove
from trainkit_grading.support.files import pages_held, write_atomically
from trainkit_grading.support.garbage_collection import paused_garbage_collection
from trainkit_grading.support.outcome import Outcome, Progress, quiet

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


def write_instructor_report(
    course: Course, progress: Progress = quiet, clock: Callable[[], datetime] = journal.now
) -> Outcome:
    """Write the instructor's view of a course.

    Parameters
    ----------
    course : Course
        The course folder.
    progress : callable, optional
        Told of each module.
    clock : callable, optional
        Returns the time with its time zone; the page says when it was written.

    Raises
    ------
    CourseError
        If the roster cannot be read.
    """
    with paused_garbage_collection():
        view = instructors_view(course, progress, clock)
        proof = prove(course, progress, clock)
    page = course.report / "class.html"
    with pages_held(course.folder):
        course.report.mkdir(parents=True, exist_ok=True)
        write_atomically(page, html_text(view, cautions_of(course), proof))
    teach = f"Worth a lesson for all: {len(view.teach)}. " if view.teach else ""
    return Outcome(
        "report",
        (
            f"The view of the class is in {page}",
            f"{teach}Need a talk: {len(view.talks)}. Waiting for a decision: {len(view.pending)}.",
        ),
        (*view.findings, *proof.findings),
        "Open it in a browser; what waits is decided with trainkit-course decide, second or formgrader.",
        {
            "html": str(page),
            "teach": [each.code for each in view.teach],
            "talks": [each.person.id for each in view.talks],
        },
    )
