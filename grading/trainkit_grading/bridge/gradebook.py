"""Marks into nbgrader's gradebook, without a kernel and in one transaction.

The rows are those that ``nbgrader autograde`` writes: a submission with its time of arrival, its notebook, one grade
for each graded cell, one comment for each cell that may carry one. What a person changed in formgrader (a manual
score, extra credit, a comment, an extension) is never touched.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, Table, bindparam, create_engine, event, insert, select, update
from sqlalchemy.exc import DBAPIError

from trainkit_grading import nbgrader_steps
from trainkit_grading.bridge.tables import (
    ASSIGNMENT,
    BASE_CELL,
    COMMENT,
    GRADE,
    GRADE_CELLS,
    NOTEBOOK,
    STUDENT,
    SUBMITTED_ASSIGNMENT,
    SUBMITTED_NOTEBOOK,
)
from trainkit_grading.errors import CourseError

if TYPE_CHECKING:
    from trainkit_grading.course import Course

__all__ = ["GradeRow", "Projected", "SubmissionRow", "project", "read"]

# Long enough for another instructor's marking to end first.
_WAIT_SECONDS = 60.0


@dataclass(frozen=True, slots=True)
class Projected:
    """One submission as it goes into the gradebook.

    Parameters
    ----------
    apprentice : str
        nbgrader's student id, the name of the folder.
    points : mapping of str to float
        Points by item.
    arrived : datetime or None
        Time of arrival, UTC without a zone, as nbgrader keeps it; None leaves the recorded time alone.
    """

    apprentice: str
    points: Mapping[str, float]
    arrived: datetime | None = None


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
class _Cells:
    """What the gradebook knows of a module's notebook."""

    assignment: str
    notebook: str
    graded: Mapping[str, str]  # cell id by item
    out_of: Mapping[str, float]  # most points by item
    commented: tuple[str, ...]  # ids of the cells that may carry a comment
    due: datetime | None


def project(course: Course, module: str, submissions: Sequence[Projected]) -> None:
    """Write the marks of one module into the gradebook: all of them, or none.

    Parameters
    ----------
    course : Course
        The course folder.
    module : str
        nbgrader's assignment, which is also its notebook.
    submissions : sequence of Projected
        One for each apprentice, who is on the roster.

    Raises
    ------
    CourseError
        If the gradebook does not have the module, or other items than the form.
    """
    with _opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        cells = _cells(connection, module)
        for submission in submissions:
            _check(module, cells, submission)
        notebooks = _submitted(connection, cells, submissions)
        _grade(connection, cells, notebooks, submissions)
        _penalise(connection, cells, set(notebooks.values()), course)


def read(course: Course, module: str) -> dict[str, SubmissionRow]:
    """Return the submissions of one module by apprentice.

    Raises
    ------
    CourseError
        If the gradebook does not have the module.
    """
    with _opened(course) as engine, engine.connect() as connection:
        cells = _cells(connection, module)
        heads = _heads(connection, cells)
        grades = _grades(connection, cells)
    return {
        head.student_id: SubmissionRow(
            head.student_id,
            head.timestamp,
            _seconds_late(cells.due, head.extension, head.timestamp),
            head.late_submission_penalty or 0.0,
            grades.get(head.id, {}),
        )
        for head in heads
    }


@contextmanager
def _opened(course: Course, begin: str = "BEGIN") -> Iterator[Engine]:
    # The address is nbgrader's, so that an instructor who sets another one there is followed.
    settings = nbgrader_steps.configuration(course)
    db_url = str(settings.CourseDirectory.get("db_url", course.gradebook_url))
    engine = create_engine(db_url, connect_args={"timeout": _WAIT_SECONDS} if db_url.startswith("sqlite") else {})
    if engine.dialect.name == "sqlite":
        # Left to itself the driver begins at the first write; two who mark at once must not both read before that.
        @event.listens_for(engine, "connect")
        def _no_implicit_begin(connection: Any, _: Any) -> None:
            connection.isolation_level = None

        @event.listens_for(engine, "begin")
        def _begin(connection: Connection) -> None:
            connection.exec_driver_sql(begin)

    try:
        yield engine
    except DBAPIError as error:
        raise CourseError(
            engine.url.render_as_string(hide_password=True),
            rule=f"The gradebook cannot be used ({str(error.orig)[:200]}).",
            remedy="Assign the module first; if it was assigned, restore the gradebook from a copy.",
        ) from None
    finally:
        engine.dispose()


def _cells(connection: Connection, module: str) -> _Cells:
    head = connection.execute(
        select(ASSIGNMENT.c.id, ASSIGNMENT.c.duedate, NOTEBOOK.c.id.label("notebook"))
        .join(NOTEBOOK, NOTEBOOK.c.assignment_id == ASSIGNMENT.c.id)
        .where(ASSIGNMENT.c.name == module, NOTEBOOK.c.name == module)
        .with_for_update(of=ASSIGNMENT)
    ).one_or_none()
    if head is None:
        raise CourseError(
            module, rule="The gradebook does not have this module.", remedy=f"Run: trainkit-course assign {module}"
        )
    rows = connection.execute(
        select(BASE_CELL.c.id, BASE_CELL.c.name, BASE_CELL.c.type, GRADE_CELLS.c.max_score)
        .join(GRADE_CELLS, GRADE_CELLS.c.id == BASE_CELL.c.id, isouter=True)
        .where(BASE_CELL.c.notebook_id == head.notebook)
    ).all()
    graded = [row for row in rows if row.type == "GradeCell"]
    return _Cells(
        head.id,
        head.notebook,
        {row.name: row.id for row in graded},
        {row.name: row.max_score for row in graded},
        tuple(row.id for row in rows if row.type in ("SolutionCell", "TaskCell")),
        head.duedate,
    )


def _check(module: str, cells: _Cells, submission: Projected) -> None:
    differing = sorted(set(submission.points) ^ set(cells.graded))
    if differing:
        raise CourseError(
            ", ".join(differing),
            place=module,
            rule="The form and the gradebook have the same items.",
            remedy=f"Run again: trainkit-course assign {module}",
        )


def _submitted(connection: Connection, cells: _Cells, submissions: Sequence[Projected]) -> dict[str, str]:
    """Make what is missing of the submissions' rows; return the submitted notebook's id by apprentice."""
    _add_people(connection, [entry.apprentice for entry in submissions])
    table = SUBMITTED_ASSIGNMENT
    known = {
        row.student_id: row.id
        for row in connection.execute(
            select(table.c.id, table.c.student_id).where(table.c.assignment_id == cells.assignment)
        )
    }
    new = [
        {"id": _new_id(), "assignment_id": cells.assignment, "student_id": entry.apprentice, "timestamp": entry.arrived}
        for entry in submissions
        if entry.apprentice not in known
    ]
    again = [
        {"row": known[entry.apprentice], "arrived": entry.arrived}
        for entry in submissions
        if entry.apprentice in known and entry.arrived is not None
    ]
    _many(connection, insert(table), new)
    _many(
        connection,
        update(table).where(table.c.id == bindparam("row")).values(timestamp=bindparam("arrived")),
        again,
    )
    known |= {row["student_id"]: row["id"] for row in new}
    mine = _notebooks(connection, cells, {entry.apprentice: known[entry.apprentice] for entry in submissions})
    _fill(connection, GRADE, mine.values(), cells.graded.values(), needs_manual_grade=True)
    _fill(connection, COMMENT, mine.values(), cells.commented)
    return mine


def _notebooks(connection: Connection, cells: _Cells, submitted: Mapping[str, str]) -> dict[str, str]:
    table = SUBMITTED_NOTEBOOK
    known = {
        row.assignment_id: row.id
        for row in connection.execute(
            select(table.c.id, table.c.assignment_id).where(table.c.notebook_id == cells.notebook)
        )
    }
    new = [
        {"id": _new_id(), "assignment_id": row, "notebook_id": cells.notebook, "flagged": False}
        for row in submitted.values()
        if row not in known
    ]
    _many(connection, insert(table), new)
    known |= {row["assignment_id"]: row["id"] for row in new}
    return {apprentice: known[row] for apprentice, row in submitted.items()}


def _fill(
    connection: Connection, table: Table, notebooks: Iterable[str], cells: Iterable[str], **values: object
) -> None:
    """Give every notebook a row for each cell, where it has none yet."""
    cells = list(cells)
    there = {
        (row.notebook_id, row.cell_id)
        for row in connection.execute(select(table.c.notebook_id, table.c.cell_id).where(table.c.cell_id.in_(cells)))
    }
    _many(
        connection,
        insert(table),
        [
            {"id": _new_id(), "notebook_id": notebook, "cell_id": cell, **values}
            for notebook in notebooks
            for cell in cells
            if (notebook, cell) not in there
        ],
    )


def _grade(
    connection: Connection, cells: _Cells, notebooks: Mapping[str, str], submissions: Sequence[Projected]
) -> None:
    _many(
        connection,
        update(GRADE)
        .where(GRADE.c.notebook_id == bindparam("notebook"), GRADE.c.cell_id == bindparam("cell"))
        # A manual score that stands is for a person to confirm after every new marking, as nbgrader has it.
        .values(auto_score=bindparam("points"), needs_manual_grade=GRADE.c.manual_score.is_not(None)),
        [
            {
                "notebook": notebooks[entry.apprentice],
                "cell": cells.graded[item],
                "points": min(max(float(points), 0.0), cells.out_of[item]),
            }
            for entry in submissions
            for item, points in entry.points.items()
        ],
    )


def _penalise(connection: Connection, cells: _Cells, mine: set[str], course: Course) -> None:
    """Set or take back what nbgrader's rule for late submissions takes off."""
    changed = []
    grades: dict[str, dict[str, GradeRow]] | None = None
    for head in _heads(connection, cells):
        if head.id not in mine:
            continue
        penalty = None
        if (late := _seconds_late(cells.due, head.extension, head.timestamp)) > 0:
            if grades is None:
                grades = _grades(connection, cells)
            penalty = _penalty(course, head.student_id, sum(grade.score for grade in grades[head.id].values()), late)
        if penalty != head.late_submission_penalty:
            changed.append({"row": head.id, "penalty": penalty})
    _many(
        connection,
        update(SUBMITTED_NOTEBOOK)
        .where(SUBMITTED_NOTEBOOK.c.id == bindparam("row"))
        .values(late_submission_penalty=bindparam("penalty")),
        changed,
    )


def _penalty(course: Course, apprentice: str, score: float, seconds: float) -> float | None:
    """Return what nbgrader's own rule for late submissions, as it is set up, takes off; never more than the score."""
    settings = nbgrader_steps.configuration(course)
    with nbgrader_steps.prepared():
        from nbgrader.preprocessors import AssignLatePenalties

        rule = AssignLatePenalties(config=settings)
        rule.init_plugin()
        penalty = rule.plugin_inst.late_submission_penalty(apprentice, score, seconds)
    return None if penalty is None else min(max(0.0, float(penalty)), score)


def _heads(connection: Connection, cells: _Cells) -> Sequence[Any]:
    """Return, for each submission, the row of its notebook and what stands above it."""
    return connection.execute(
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
    ).all()


def _grades(connection: Connection, cells: _Cells) -> dict[str, dict[str, GradeRow]]:
    """Return all grades of the module, by submitted notebook and item."""
    names = {cell: name for name, cell in cells.graded.items()}
    grades: dict[str, dict[str, GradeRow]] = {}
    for row in connection.execute(select(GRADE).where(GRADE.c.cell_id.in_(list(names)))):
        name = names[row.cell_id]
        grades.setdefault(row.notebook_id, {})[name] = GradeRow(
            row.auto_score, row.manual_score, row.extra_credit, cells.out_of[name], bool(row.needs_manual_grade)
        )
    return grades


def _seconds_late(due: datetime | None, extension: timedelta | None, arrived: datetime | None) -> float:
    if due is None or arrived is None:
        return 0.0
    return max(0.0, (arrived - (due + extension if extension else due)).total_seconds())


def _add_people(connection: Connection, apprentices: Sequence[str]) -> None:
    """Give everybody a row, with the identifier alone: names stay in the roster."""
    known = set(connection.execute(select(STUDENT.c.id)).scalars())
    _many(connection, insert(STUDENT), [{"id": name} for name in apprentices if name not in known])


def _many(connection: Connection, statement: Any, rows: Sequence[Mapping[str, Any]]) -> None:
    if rows:
        connection.execute(statement, list(rows))


def _new_id() -> str:
    return uuid.uuid4().hex
