"""Marks into nbgrader's gradebook, without a kernel, on the connection and in the transaction of the caller.

The rows are those that ``nbgrader autograde`` writes: a submission with its time of arrival, its notebook, one grade
for each graded cell, one comment for each cell that may carry one. Of what a person changed in formgrader only the
points are touched, and those only as the ledger has them; extra credit and comments stay, and so do extensions, which
are otherwise what somebody's own due date differs by.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, bindparam, insert, select, update

from trainkit_grading.errors import CourseError
from trainkit_grading.nbgrader_bridge.gradebook import Cells, cells_of, grades_of, heads_of, seconds_late
from trainkit_grading.nbgrader_bridge.tables import COMMENT, GRADE, STUDENT, SUBMITTED_ASSIGNMENT, SUBMITTED_NOTEBOOK
from trainkit_grading.support.bulk_sql import insert_rows

if TYPE_CHECKING:
    from trainkit_grading.nbgrader_bridge.steps import LateRule


# What nbgrader writes beside a cell for written answers that was left as it was.
_NO_RESPONSE = "No response."


@dataclass(frozen=True, slots=True)
class Projected:
    """One submission as it goes into the gradebook.

    Parameters
    ----------
    apprentice : str
        nbgrader's student id, the name of the folder.
    points : mapping of str to float or None
        Points by item; None for what a person marks.
    arrived : datetime or None
        Time of arrival, UTC without a zone, as nbgrader keeps it; None leaves the recorded time alone.
    judged : mapping of str to float
        Points that people have given, by item; every other item has none.
    queued : frozenset of str
        Items that a person has to look at.
    silent : frozenset of str
        Items for a person to mark that were left without an answer.
    """

    apprentice: str
    points: Mapping[str, float | None]
    arrived: datetime | None = None
    judged: Mapping[str, float] = field(default_factory=dict)
    queued: frozenset[str] = frozenset()
    silent: frozenset[str] = frozenset()


class GradebookWriter:
    """What the gradebook shows of one module, on an open connection.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that the caller commits.
    module : str
        nbgrader's assignment, which is also its notebook.
    late_rule : callable
        Reads the rule for late submissions; called where somebody is late.

    Raises
    ------
    CourseError
        If the gradebook does not have the module.
    """

    def __init__(self, connection: Connection, module: str, late_rule: Callable[[], LateRule]) -> None:
        self._connection = connection
        self._module = module
        self.cells: Cells = cells_of(connection, module)
        self._late_rule = late_rule

    def judged(self, apprentices: Sequence[str]) -> dict[str, dict[str, float]]:
        """Return the points that people have given, as the gradebook has them, by apprentice and item."""
        heads = {head.id: head.student_id for head in heads_of(self._connection, self.cells, apprentices)}
        grades = grades_of(self._connection, self.cells, list(heads))
        return {
            heads[notebook]: {item: grade.manual_score for item, grade in of.items() if grade.manual_score is not None}
            for notebook, of in grades.items()
        }

    def extensions(self, apprentices: Sequence[str]) -> dict[str, timedelta | None]:
        """Return by how much each one's due date differs from the module's, as the gradebook has it."""
        return {head.student_id: head.extension for head in heads_of(self._connection, self.cells, apprentices)}

    def write(self, submissions: Sequence[Projected], extensions: Mapping[str, timedelta | None] | None = None) -> None:
        """Write submissions of people who are on the roster, and by how much due dates differ from now on.

        Raises
        ------
        CourseError
            If the gradebook has other items than the form.
        """
        for submission in submissions:
            self._check(submission)
        notebooks, old = self._submitted(submissions)
        self._grade(notebooks, old, submissions)
        self._comment(notebooks, old, submissions)
        self._extend(extensions or {})
        self._penalise([entry.apprentice for entry in submissions])

    def _check(self, submission: Projected) -> None:
        differing = sorted(set(submission.points) ^ set(self.cells.graded))
        if differing:
            raise CourseError(
                ", ".join(differing),
                place=self._module,
                rule="The form and the gradebook have the same items.",
                remedy=f"Run again: trainkit-course assign {self._module}",
            )

    def _submitted(self, submissions: Sequence[Projected]) -> tuple[dict[str, str], set[str]]:
        """Make what is missing of the submissions' rows.

        Return the submitted notebook's id by apprentice, and which of them were there before.
        """
        names = [entry.apprentice for entry in submissions]
        self._add_people(names)
        table = SUBMITTED_ASSIGNMENT
        known = {
            row.student_id: row.id
            for row in self._connection.execute(
                select(table.c.id, table.c.student_id).where(
                    table.c.assignment_id == self.cells.assignment, table.c.student_id.in_(names)
                )
            )
        }
        new = [
            {
                "id": _new_id(),
                "assignment_id": self.cells.assignment,
                "student_id": entry.apprentice,
                "timestamp": entry.arrived,
            }
            for entry in submissions
            if entry.apprentice not in known
        ]
        again = [
            {"row": known[entry.apprentice], "arrived": entry.arrived}
            for entry in submissions
            if entry.apprentice in known and entry.arrived is not None
        ]
        self._many(insert(table), new)
        self._many(
            update(table).where(table.c.id == bindparam("row")).values(timestamp=bindparam("arrived")),
            again,
        )
        fresh = {str(row["student_id"]): str(row["id"]) for row in new}
        submitted = known | fresh
        notebooks = self._notebooks(submitted, fresh)
        return notebooks, {notebooks[name] for name in known if name in notebooks}

    def _notebooks(self, submitted: Mapping[str, str], fresh: Mapping[str, str]) -> dict[str, str]:
        table = SUBMITTED_NOTEBOOK
        known = {
            row.assignment_id: row.id
            for row in self._connection.execute(
                select(table.c.id, table.c.assignment_id).where(
                    table.c.notebook_id == self.cells.notebook,
                    table.c.assignment_id.in_([row for name, row in submitted.items() if name not in fresh]),
                )
            )
        }
        new = [
            {
                "id": _new_id(),
                "assignment_id": row,
                "notebook_id": self.cells.notebook,
                "flagged": False,
                "late_submission_penalty": None,
            }
            for row in submitted.values()
            if row not in known
        ]
        self._many(insert(table), new)
        known |= {str(row["assignment_id"]): str(row["id"]) for row in new}
        return {apprentice: known[row] for apprentice, row in submitted.items()}

    def _grade(self, notebooks: Mapping[str, str], old: set[str], submissions: Sequence[Projected]) -> None:
        most = self.cells.out_of
        self._put(
            GRADE,
            ("auto_score", "manual_score", "needs_manual_grade"),
            old,
            [
                (
                    notebooks[entry.apprentice],
                    self.cells.graded[item],
                    None if points is None else min(max(float(points), 0.0), most[item]),
                    entry.judged.get(item),
                    item in entry.queued,
                )
                for entry in submissions
                for item, points in entry.points.items()
            ],
        )

    def _comment(self, notebooks: Mapping[str, str], old: set[str], submissions: Sequence[Projected]) -> None:
        items = {cell: item for item, cell in self.cells.written.items()}
        self._put(
            COMMENT,
            ("auto_comment",),
            old,
            [
                (notebooks[entry.apprentice], cell, _NO_RESPONSE if items.get(cell) in entry.silent else None)
                for entry in submissions
                for cell in self.cells.commented
            ],
        )

    def _put(self, table: Table, columns: Sequence[str], old: set[str], rows: Sequence[tuple[Any, ...]]) -> None:
        """Give each notebook (first of a row) and cell (second) these values, in a new row where there is none."""
        there = {}
        if old:
            query = select(table.c.notebook_id, table.c.cell_id, *(table.c[name] for name in columns))
            # With the cells named, too, the database finds the rows by its index; nobody else's are looked at.
            query = query.where(table.c.cell_id.in_(sorted({row[1] for row in rows})))
            query = query.where(table.c.notebook_id.in_(sorted(old)))
            there = {(row[0], row[1]): tuple(row[2:]) for row in self._connection.execute(query)}
        new = [row for row in rows if row[:2] not in there] if there else rows
        insert_rows(
            self._connection,
            table,
            ("id", "notebook_id", "cell_id", *columns),
            [(name, *row) for name, row in zip(_new_ids(len(new)), new, strict=True)],
        )
        if not there:
            return
        self._many(
            update(table)
            .where(table.c.notebook_id == bindparam("of"), table.c.cell_id == bindparam("at"))
            .values({name: bindparam(f"to_{name}") for name in columns}),
            [
                {
                    "of": row[0],
                    "at": row[1],
                    **{f"to_{name}": value for name, value in zip(columns, row[2:], strict=True)},
                }
                for row in rows
                if there.get((row[0], row[1]), row[2:]) != row[2:]
            ],
        )

    def _extend(self, extensions: Mapping[str, timedelta | None]) -> None:
        table = SUBMITTED_ASSIGNMENT
        self._many(
            update(table)
            .where(table.c.assignment_id == self.cells.assignment, table.c.student_id == bindparam("of"))
            .values(extension=bindparam("by")),
            [{"of": name, "by": extension} for name, extension in extensions.items()],
        )

    def _penalise(self, apprentices: Sequence[str]) -> None:
        """Set or take back what the course's rule for late submissions takes off."""
        late = {}
        changed = []
        for head in heads_of(self._connection, self.cells, apprentices):
            seconds = seconds_late(self.cells.due, head.extension, head.timestamp)
            if seconds > 0:
                late[head.id] = (head, seconds)
            elif head.late_submission_penalty is not None:
                changed.append({"row": head.id, "penalty": None})
        if late:
            rule = self._late_rule()
            grades = grades_of(self._connection, self.cells, list(late))
            for head, seconds in late.values():
                score = sum(grade.score for grade in grades[head.id].values())
                penalty = rule(head.student_id, score, seconds)
                if penalty != head.late_submission_penalty:
                    changed.append({"row": head.id, "penalty": penalty})
        self._many(
            update(SUBMITTED_NOTEBOOK)
            .where(SUBMITTED_NOTEBOOK.c.id == bindparam("row"))
            .values(late_submission_penalty=bindparam("penalty")),
            changed,
        )

    def _add_people(self, apprentices: Sequence[str]) -> None:
        """Give everybody a row, with the identifier alone: names stay in the roster."""
        known = set(self._connection.execute(select(STUDENT.c.id).where(STUDENT.c.id.in_(apprentices))).scalars())
        self._many(insert(STUDENT), [{"id": name} for name in apprentices if name not in known])

    def _many(self, statement: Any, rows: Sequence[Mapping[str, Any]]) -> None:
        if rows:
            self._connection.execute(statement, list(rows))


def _new_id() -> str:
    return uuid.uuid4().hex


def _new_ids(count: int) -> Iterator[str]:
    """Yield random identifiers like nbgrader's, all drawn at once."""
    drawn = os.urandom(16 * count).hex()
    return (drawn[place : place + 32] for place in range(0, len(drawn), 32))
