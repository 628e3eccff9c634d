"""The words of a feedback page: what a mark is called, which rule gave the points, and what may be told.

What may be told while another attempt is open is :attr:`trainkit.items.marking.Mark.method`, which marking makes
without anything that was drawn; this module has no key and so cannot give one away.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from trainkit.items.kinds import KINDS
from trainkit.items.marking import UNRECOGNISED
from trainkit.items.misconceptions import MANUAL
from trainkit.sentences import decimal, noun
from trainkit_grading.course import cohorts
from trainkit_grading.support.markup import SHAPES

if TYPE_CHECKING:
    from trainkit.items.marking import Mark
    from trainkit_grading.course.folder import Course, CourseModule
    from trainkit_grading.nbgrader_bridge.gradebook import GradeRow


# The rules of docs/marking.md, "What an answer earns", said to the person who was marked.
RULES = {name: kind.rule for name, kind in KINDS.items()}
_BY_PERSON = "Your instructor has set these points."
_WORDS = {
    "right": "right",
    "in part": "right in part",
    "not yet": "not yet",
    "no answer": "no answer",
    "waiting": "your instructor still marks this",
}


def verdict(mark: Mark, grade: GradeRow) -> str:
    """Return the verdict that counts: a person's points go before what was marked.

    Examples
    --------
    >>> from trainkit.items.marking import Mark
    >>> from trainkit_grading.nbgrader_bridge.gradebook import GradeRow
    >>> verdict(Mark(0.0, 2.0, "not yet", "Look again."), GradeRow(0.0, 2.0, None, 2.0, True))
    'right'
    >>> verdict(Mark(0.0, 2.0, "waiting", "A person marks this."), GradeRow(0.0, None, None, 2.0, True))
    'waiting'
    """
    if grade.manual_score is None:
        return mark.verdict
    if grade.manual_score >= grade.max_score:
        return "right"
    return "in part" if grade.manual_score > 0 else "not yet"


def word(state: str) -> str:
    """Return a verdict as a shape and words.

    Examples
    --------
    >>> word("in part")
    '◐ right in part'
    """
    return f"{SHAPES.get(state, '○')} {_WORDS.get(state, state)}"


def points(grade: GradeRow, state: str) -> str:
    """Return the points as people say them.

    Examples
    --------
    >>> from trainkit_grading.nbgrader_bridge.gradebook import GradeRow
    >>> points(GradeRow(1.0, None, 0.5, 2.0, False), "in part")
    '1.5 of 2 points, 0.5 of them extra'
    """
    most = decimal(grade.max_score)
    if state == "waiting":
        return f"up to {most} {noun(grade.max_score, 'point')}"
    extra = f", {decimal(grade.extra_credit)} of them extra" if grade.extra_credit else ""
    return f"{decimal(grade.score)} of {most} {noun(grade.max_score, 'point')}{extra}"


def rule(kind: str, grade: GradeRow) -> str:
    """Return the rule that gave the points, in plain words."""
    return _BY_PERSON if grade.manual_score is not None else RULES[kind]


def told(mark: Mark, *, answers: bool) -> tuple[str, ...]:
    """Return what is told of an answer, in paragraphs; the reminder that the manual decides stands by itself.

    Parameters
    ----------
    mark : Mark
        What it earned, and why.
    answers : bool
        Whether the right answer may be told; if not, only the method is.
    """
    text = mark.reason if answers else mark.method or UNRECOGNISED
    body = text.removesuffix(MANUAL).strip()
    return tuple(part for part in (body, MANUAL if body != text else "") if part)


def reveals_answers(course: Course, entry: CourseModule, attempt: int, now: datetime) -> bool:
    """Tell whether the right answers of an attempt may be told now.

    Only where ``reveal`` says so, and once no further attempt is open: a form of a later attempt is not out, and the
    module is past due; where it has no due date, only after the last attempt that the course allows.

    Parameters
    ----------
    course : Course
        The course.
    entry : CourseModule
        The module.
    attempt : int
        The attempt that the page is about.
    now : datetime
        The time, with its time zone.
    """
    if (entry.reveal or course.reveal) != "answers" or attempt < entry.attempt:
        return False
    # Others may still be at work on questions of the same pool.
    due = cohorts.last_due(course, entry)
    return now >= due if due is not None else attempt >= course.attempts.allowed
