"""nbgrader's gradebook as it stands: how it is opened, and what it holds of a module."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, func, select

from trainkit_grading.errors import CourseError, SystemRefusalError
from trainkit_grading.nbgrader_bridge import steps
from trainkit_grading.nbgrader_bridge.tables import (
    ASSIGNMENT,
    BASE_CELL,
    COMMENT,
    GRADE,
    GRADE_CELLS,
    NOTEBOOK,
    SUBMITTED_ASSIGNMENT,
    SUBMITTED_NOTEBOOK,
)
from trainkit_grading.support import database

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


@dataclass(frozen=True, slots=True)
class GradeRow:
    """One grade as the gradebook holds it."""

    auto_score: float | None
    manual_score: float | None
    extra_credit: float | None
    max_score: float
    needs_manual_grade: bool

    @property
    def score(self) -> float:
        """Return what counts: the manual score before the automatic one, and extra credit on top.

        Examples
        --------
        >>> GradeRow(1.0, None, 0.5, 2.0, False).score, GradeRow(1.0, 2.0, None, 2.0, True).score
        (1.5, 2.0)
        """
        counted = self.manual_score if self.manual_score is not None else self.auto_score
        return 0.0 if counted is None else counted + (self.extra_credit or 0.0)


@dataclass(frozen=True, slots=True)
class SubmissionRow:
    """One submission as the gradebook holds it."""

    apprentice: str
    arrived: datetime | None
    seconds_late: float
    penalty: float
    grades: Mapping[str, GradeRow] = field(default_factory=dict)

    @property
    def score(self) -> float:
        """Return what ``nbgrader export`` calls the score: the sum of the grades less the penalty, at least 0."""
        return max(0.0, sum(grade.score for grade in self.grades.values()) - self.penalty)


@dataclass(frozen=True, slots=True)
class Cells:
    """What the gradebook knows of a module's notebook."""

    assignment: str
    notebook: str
    graded: Mapping[str, str]  # cell id by item
    out_of: Mapping[str, float]  # most points by item
    commented: tuple[str, ...]  # ids of the cells that may carry a comment
    written: Mapping[str, str]  # of those, by item, the ones that a person gives points for
    due: datetime | None


def items(course: Course, module: str) -> dict[str, float]:
    """Return the items of a module with the most points that each can earn, as they were given out.

    Raises
    ------
    CourseError
        If the gradebook does not have the module.
    """
    with opened(course) as engine, engine.connect() as connection:
        return dict(cells_of(connection, module).out_of)


def read(course: Course, module: str) -> dict[str, SubmissionRow]:
    """Return the submissions of one module by apprentice.

    Raises
    ------
    CourseError
        If the gradebook does not have the module.
    """
    with opened(course) as engine, engine.connect() as connection:
        cells = cells_of(connection, module)
        heads = heads_of(connection, cells)
        grades = grades_of(connection, cells)
    return {
        head.student_id: SubmissionRow(
            head.student_id,
            head.timestamp,
            seconds_late(cells.due, head.extension, head.timestamp),
            head.late_submission_penalty or 0.0,
            grades.get(head.id, {}),
        )
        for head in heads
    }


def comments(course: Course, module: str) -> dict[str, dict[str, str]]:
    """Return what people have written beside answers in formgrader, by apprentice and item.

    Raises
    ------
    CourseError
        If the gradebook does not have the module.
    """
    found: dict[str, dict[str, str]] = {}
    with opened(course) as engine, engine.connect() as connection:
        cells = cells_of(connection, module)
        items = {cell: item for item, cell in cells.written.items()}
        people = {head.id: head.student_id for head in heads_of(connection, cells)}
        query = select(COMMENT).where(COMMENT.c.cell_id.in_(list(items)), COMMENT.c.manual_comment.is_not(None))
        for row in connection.execute(query):
            if row.notebook_id in people and row.manual_comment.strip():
                found.setdefault(people[row.notebook_id], {})[items[row.cell_id]] = row.manual_comment.strip()
    return found


@contextmanager
def opened(course: Course, begin: str = "BEGIN") -> Iterator[Engine]:
    """Open the gradebook of a course; what its database refuses is an error with a remedy.

    Parameters
    ----------
    course : Course
        The course folder.
    begin : str, optional
        ``"BEGIN IMMEDIATE"`` for a transaction that reads what it is about to change.

    Raises
    ------
    CourseError
        If the database cannot be used, before or while it is open.
    """
    where = steps.address(course)
    if not course.database and where == course.gradebook_url and course.release.is_dir() and _lacks(course):
        # Opened all the same, it would be made anew, and marks would be looked for in an empty one.
        raise SystemRefusalError(
            str(course.gradebook),
            rule="Modules were given out, and the gradebook is not there.",
            remedy="Put gradebook.db of your latest backup here. Without one: trainkit-course assign, then mark.",
        )
    with database.opened(where, begin) as engine:
        yield engine


def _lacks(course: Course) -> bool:
    """Tell whether the file of the gradebook is missing or empty."""
    try:
        return course.gradebook.stat().st_size == 0
    except FileNotFoundError:
        return True


def cells_of(connection: Connection, module: str) -> Cells:
    """Return what the gradebook knows of a module's notebook.

    Raises
    ------
    CourseError
        If the gradebook does not have the module.
    """
    head = connection.execute(
        select(ASSIGNMENT.c.id, ASSIGNMENT.c.duedate, NOTEBOOK.c.id.label("notebook"))
        .join(NOTEBOOK, NOTEBOOK.c.assignment_id == ASSIGNMENT.c.id)
        .where(ASSIGNMENT.c.name == module, NOTEBOOK.c.name == module)
    ).one_or_none()
    if head is None:
        raise CourseError(
            module, rule="The gradebook does not have this module.", remedy=f"Run: trainkit-course assign {module}"
        )
    rows = connection.execute(
        select(BASE_CELL.c.id, BASE_CELL.c.name, BASE_CELL.c.type, GRADE_CELLS.c.max_score)
        .join(GRADE_CELLS, GRADE_CELLS.c.id == BASE_CELL.c.id, isouter=True)
        .where(BASE_CELL.c.notebook_id == head.notebook)
        # A2 before A10; without an order each database has its own.
        .order_by(func.length(BASE_CELL.c.name), BASE_CELL.c.name)
    ).all()
    graded = [row for row in rows if row.type == "GradeCell"]
    names = {row.name for row in graded}
    return Cells(
        head.id,
        head.notebook,
        {row.name: row.id for row in graded},
        {row.name: row.max_score for row in graded},
        tuple(row.id for row in rows if row.type in ("SolutionCell", "TaskCell")),
        {row.name: row.id for row in rows if row.type == "SolutionCell" and row.name in names},
        head.duedate,
    )


def heads_of(connection: Connection, cells: Cells, apprentices: Sequence[str] | None = None) -> Sequence[Any]:
    """Return, for each submission (of these apprentices), the row of its notebook and what stands above it."""
    query = (
        select(
            SUBMITTED_NOTEBOOK.c.id,
            SUBMITTED_ASSIGNMENT.c.student_id,
            SUBMITTED_ASSIGNMENT.c.timestamp,
            SUBMITTED_ASSIGNMENT.c.extension,
            SUBMITTED_NOTEBOOK.c.late_submission_penalty,
        )
        .join(SUBMITTED_ASSIGNMENT, SUBMITTED_NOTEBOOK.c.assignment_id == SUBMITTED_ASSIGNMENT.c.id)
        .where(
            SUBMITTED_ASSIGNMENT.c.assignment_id == cells.assignment, SUBMITTED_NOTEBOOK.c.notebook_id == cells.notebook
        )
    )
    if apprentices is not None:
        query = query.where(SUBMITTED_ASSIGNMENT.c.student_id.in_(apprentices))
    return connection.execute(query).all()


def grades_of(
    connection: Connection, cells: Cells, notebooks: Sequence[str] | None = None
) -> dict[str, dict[str, GradeRow]]:
    """Return the grades of the module (in these submitted notebooks), by submitted notebook and item."""
    names = {cell: name for name, cell in cells.graded.items()}
    grades: dict[str, dict[str, GradeRow]] = {}
    columns = ("notebook_id", "cell_id", "auto_score", "manual_score", "extra_credit", "needs_manual_grade")
    query = select(*(GRADE.c[name] for name in columns)).where(GRADE.c.cell_id.in_(list(names)))
    if notebooks is not None:
        query = query.where(GRADE.c.notebook_id.in_(notebooks))
    # All at once: one row after another takes three times as long, and these are most of a gradebook.
    for notebook, cell, auto, manual, extra, queued in connection.execute(query).all():
        name = names[cell]
        row = GradeRow(auto, manual, extra, cells.out_of[name], bool(queued))
        grades.setdefault(notebook, {})[name] = row
    return grades


def seconds_late(due: datetime | None, extension: timedelta | None, arrived: datetime | None) -> float:
    """Return by how many seconds something arrived after it was due, at least 0.

    Examples
    --------
    >>> due = datetime(2027, 4, 1, 16)
    >>> seconds_late(due, timedelta(minutes=1), due + timedelta(minutes=3))
    120.0
    """
    if due is None or arrived is None:
        return 0.0
    return max(0.0, (arrived - (due + extension if extension else due)).total_seconds())
