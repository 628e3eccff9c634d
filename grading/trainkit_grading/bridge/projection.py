"""Marks into nbgrader's gradebook, without a kernel and in one transaction.

The rows are those that ``nbgrader autograde`` writes: a submission with its time of arrival, its notebook, one grade
for each graded cell, one comment for each cell that may carry one. What a person changed in formgrader (a manual
score, extra credit, a comment, an extension) is never touched.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, bindparam, insert, select, update

from trainkit_grading import nbgrader_steps
from trainkit_grading.bridge.gradebook import Cells, cells_of, grades_of, heads_of, opened, seconds_late
from trainkit_grading.bridge.tables import COMMENT, GRADE, STUDENT, SUBMITTED_ASSIGNMENT, SUBMITTED_NOTEBOOK
from trainkit_grading.errors import CourseError

if TYPE_CHECKING:
    from trainkit_grading.course import Course

__all__ = ["Projected", "project"]


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
    with opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        cells = cells_of(connection, module)
        for submission in submissions:
            _check(module, cells, submission)
        notebooks = _submitted(connection, cells, submissions)
        _grade(connection, cells, notebooks, submissions)
        _penalise(connection, cells, set(notebooks.values()), course)


def _check(module: str, cells: Cells, submission: Projected) -> None:
    differing = sorted(set(submission.points) ^ set(cells.graded))
    if differing:
        raise CourseError(
            ", ".join(differing),
            place=module,
            rule="The form and the gradebook have the same items.",
            remedy=f"Run again: trainkit-course assign {module}",
        )


def _submitted(connection: Connection, cells: Cells, submissions: Sequence[Projected]) -> dict[str, str]:
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


def _notebooks(connection: Connection, cells: Cells, submitted: Mapping[str, str]) -> dict[str, str]:
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
    connection: Connection, cells: Cells, notebooks: Mapping[str, str], submissions: Sequence[Projected]
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


def _penalise(connection: Connection, cells: Cells, mine: set[str], course: Course) -> None:
    """Set or take back what nbgrader's rule for late submissions, as it is set up, takes off."""
    late = {}
    changed = []
    for head in heads_of(connection, cells):
        seconds = seconds_late(cells.due, head.extension, head.timestamp)
        if head.id in mine and seconds > 0:
            late[head.id] = (head, seconds)
        elif head.id in mine and head.late_submission_penalty is not None:
            changed.append({"row": head.id, "penalty": None})
    if late:
        rule = _rule(course)
        grades = grades_of(connection, cells)
        for head, seconds in late.values():
            score = sum(grade.score for grade in grades[head.id].values())
            penalty = rule(head.student_id, score, seconds)
            if penalty != head.late_submission_penalty:
                changed.append({"row": head.id, "penalty": penalty})
    _many(
        connection,
        update(SUBMITTED_NOTEBOOK)
        .where(SUBMITTED_NOTEBOOK.c.id == bindparam("row"))
        .values(late_submission_penalty=bindparam("penalty")),
        changed,
    )


def _rule(course: Course) -> Callable[[str, float, float], float | None]:
    """Return nbgrader's rule: from apprentice, score and seconds to what is taken off, never more than the score."""
    settings = nbgrader_steps.configuration(course)
    if "LateSubmissionPlugin" not in settings and "AssignLatePenalties" not in settings:
        # nbgrader's own rule, left as it is, takes nothing off; it need not be loaded to know that.
        return lambda *_: None
    with nbgrader_steps.prepared():
        from nbgrader.preprocessors import AssignLatePenalties

        keeper = AssignLatePenalties(config=settings)
        keeper.init_plugin()

    def rule(apprentice: str, score: float, seconds: float) -> float | None:
        penalty = keeper.plugin_inst.late_submission_penalty(apprentice, score, seconds)
        return None if penalty is None else min(max(0.0, float(penalty)), score)

    return rule


def _add_people(connection: Connection, apprentices: Sequence[str]) -> None:
    """Give everybody a row, with the identifier alone: names stay in the roster."""
    known = set(connection.execute(select(STUDENT.c.id)).scalars())
    _many(connection, insert(STUDENT), [{"id": name} for name in apprentices if name not in known])


def _many(connection: Connection, statement: Any, rows: Sequence[Mapping[str, Any]]) -> None:
    if rows:
        connection.execute(statement, list(rows))


def _new_id() -> str:
    return uuid.uuid4().hex
