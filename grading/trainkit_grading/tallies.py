"""What ledger and gradebook add up to for each apprentice of a module, added up by the database.

A report on ten thousand people cannot look at each of their answers; nobody's answers are read here, only their sums.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import Connection, and_, case, func, select

from trainkit_grading.bridge.gradebook import Cells, GradeRow, cells_of, heads_of, seconds_late
from trainkit_grading.bridge.tables import GRADE
from trainkit_grading.ledger.entries import Note
from trainkit_grading.ledger.harm import said_harmful
from trainkit_grading.ledger.tables import ENTRY, MARK, NOTE, PERSON, SHOWN

if TYPE_CHECKING:
    from trainkit_grading.sessions import Session

__all__ = ["GradeTally", "LedgerTally", "Sums", "in_gradebook", "in_ledger"]


@dataclass(frozen=True, slots=True)
class Sums:
    """What marks a machine gave add up to; two places that hold the same marks have the same sums.

    Parameters
    ----------
    items : int
        How many there are.
    waiting : int
        How many of them are still to be marked.
    points, squares : float
        Sum of the points, and of their squares, which tells apart points that stand at another item.
    """

    items: int = 0
    waiting: int = 0
    points: float = 0.0
    squares: float = 0.0

    def agrees(self, other: Sums) -> bool:
        """Tell whether two sums are the same but for rounding."""
        return (
            (self.items, self.waiting) == (other.items, other.waiting)
            and abs(self.points - other.points) < _SAME
            and abs(self.squares - other.squares) < _SAME
        )


_SAME = 1e-6


@dataclass(frozen=True, slots=True)
class LedgerTally:
    """What the ledger says of one apprentice and module.

    Parameters
    ----------
    entry, attempt, attempts : int
        Number of the entry that the gradebook shows, which attempt that is, and how many were marked.
    form, journal, at : str
        Code of the form, SHA-256 of the journal, ISO time in UTC at which it was marked.
    sums : Sums
        Of the marks that a machine gave.
    harmful : tuple of str
        Critical items whose answer would hurt the engine or a person.
    first, last : str
        When the first and the last answer were given, ISO 8601; empty where none was.
    notes : tuple of Note
        What a person should look at.
    medium : str
        ``"paper"``, or ``"screen"``.
    """

    entry: int
    attempt: int
    attempts: int
    form: str
    journal: str
    at: str
    sums: Sums
    harmful: tuple[str, ...] = ()
    first: str = ""
    last: str = ""
    notes: tuple[Note, ...] = ()
    medium: str = "screen"

    def within(self, session: Session, apprentice: str) -> bool:
        """Tell whether all answers were given in a session by somebody who sat it."""
        return bool(self.first) and session.sat(
            apprentice, datetime.fromisoformat(self.first), datetime.fromisoformat(self.last)
        )


@dataclass(frozen=True, slots=True)
class GradeTally:
    """What the gradebook says of one apprentice and module.

    Parameters
    ----------
    arrived : datetime or None
        Time of arrival, UTC without a zone.
    seconds_late, penalty : float
        How late that was, and the points taken off for it.
    sums : Sums
        Of the points that a machine gave.
    points : float
        What counts before the penalty: points of people before those of the machine, extra credit on top.
    open : int
        Items that neither a machine nor a person has given points for.
    judged : mapping of str to GradeRow
        The items whose points a person has set.
    """

    arrived: datetime | None
    seconds_late: float
    penalty: float
    sums: Sums
    points: float = 0.0
    open: int = 0
    judged: Mapping[str, GradeRow] = field(default_factory=dict)

    @property
    def score(self) -> float:
        """What ``nbgrader export`` calls the score."""
        return max(0.0, self.points - self.penalty)


def in_ledger(connection: Connection, module: str) -> dict[str, LedgerTally]:
    """Return what the ledger says of everybody who was marked in a module, by apprentice."""
    of_module = and_(SHOWN.c.module == module, SHOWN.c.entry == MARK.c.entry)
    still = MARK.c.verdict == "waiting"
    points = case((still, 0.0), else_=MARK.c.points)
    sums = {
        row.entry: row
        for row in connection.execute(
            select(
                MARK.c.entry,
                func.count().label("items"),
                func.sum(case((still, 1), else_=0)).label("waiting"),
                func.sum(points).label("points"),
                func.sum(points * points).label("squares"),
                func.min(case((MARK.c.answered != "", MARK.c.answered))).label("first"),
                func.max(MARK.c.answered).label("last"),
            )
            .where(of_module)
            .group_by(MARK.c.entry)
        )
    }
    harmful: dict[int, list[str]] = {}
    query = select(MARK.c.entry, MARK.c.item).where(of_module, MARK.c.critical).order_by(MARK.c.entry, MARK.c.place)
    for entry, item in connection.execute(query):
        harmful.setdefault(entry, []).append(item)
    for entry, item in said_harmful(connection, [module]):
        harmful.setdefault(entry, []).append(item)
    notes: dict[int, list[Note]] = {}
    noted = select(NOTE).join(SHOWN, SHOWN.c.entry == NOTE.c.entry).where(SHOWN.c.module == module)
    for row in connection.execute(noted.order_by(NOTE.c.entry, NOTE.c.place)):
        notes.setdefault(row.entry, []).append(Note(row.kind, row.text, row.text_hash))
    counted = (
        select(ENTRY.c.person, func.count(ENTRY.c.attempt.distinct()).label("attempts"))
        .where(ENTRY.c.kind == "marked", ENTRY.c.module == module)
        .group_by(ENTRY.c.person)
    )
    attempts = {row.person: row.attempts for row in connection.execute(counted)}
    shown = (
        select(
            PERSON.c.apprentice,
            PERSON.c.person,
            ENTRY.c.number,
            ENTRY.c.attempt,
            ENTRY.c.form,
            ENTRY.c.journal,
            ENTRY.c.at,
            ENTRY.c.detail,
        )
        .join(SHOWN, SHOWN.c.person == PERSON.c.person)
        .join(ENTRY, ENTRY.c.number == SHOWN.c.entry)
        .where(SHOWN.c.module == module)
    )
    found = {}
    for row in connection.execute(shown):
        of = sums.get(row.number)
        met = harmful.get(row.number, ())
        found[row.apprentice] = LedgerTally(
            row.number,
            row.attempt,
            attempts.get(row.person, 1),
            row.form,
            row.journal,
            row.at,
            Sums() if of is None else Sums(of.items, of.waiting, of.points, of.squares),
            _barred(met, row.detail),
            (of.first or "") if of is not None else "",
            of.last if of is not None else "",
            tuple(notes.get(row.number, ())),
            "paper" if _PAPER in row.detail else "screen",
        )
    return found


# As json.dumps writes it into the detail of an entry; reading the whole of each takes longer than all the rest.
_PAPER = '"medium": "paper"'


def _barred(items: Sequence[str], detail: str) -> tuple[str, ...]:
    """Return those items with a harmful answer that the blueprint calls critical."""
    barred = set(json.loads(detail).get("critical", ())) if items else ()
    return tuple(item for item in items if item in barred)


def in_gradebook(connection: Connection, module: str) -> dict[str, GradeTally]:
    """Return what the gradebook says of everybody who has a submission to a module, by apprentice.

    Raises
    ------
    CourseError
        If the gradebook does not have the module.
    """
    cells = cells_of(connection, module)
    sums, points, still = _grades(connection, cells)
    judged = _judged(connection, cells)
    return {
        head.student_id: GradeTally(
            head.timestamp,
            seconds_late(cells.due, head.extension, head.timestamp),
            head.late_submission_penalty or 0.0,
            sums.get(head.id, Sums()),
            points.get(head.id, 0.0),
            still.get(head.id, 0),
            judged.get(head.id, {}),
        )
        for head in heads_of(connection, cells)
    }


def _grades(connection: Connection, cells: Cells) -> tuple[dict[str, Sums], dict[str, float], dict[str, int]]:
    auto, manual, extra = GRADE.c.auto_score, GRADE.c.manual_score, func.coalesce(GRADE.c.extra_credit, 0.0)
    counted = case((manual.is_not(None), manual + extra), (auto.is_not(None), auto + extra), else_=0.0)
    query = (
        select(
            GRADE.c.notebook_id,
            func.count(),
            func.sum(case((auto.is_(None), 1), else_=0)),
            func.sum(func.coalesce(auto, 0.0)),
            func.sum(func.coalesce(auto * auto, 0.0)),
            func.sum(counted),
            func.sum(case((and_(auto.is_(None), manual.is_(None)), 1), else_=0)),
        )
        .where(GRADE.c.cell_id.in_(list(cells.graded.values())))
        .group_by(GRADE.c.notebook_id)
    )
    sums, points, still = {}, {}, {}
    for notebook, items, waiting, given, squares, score, left in connection.execute(query):
        sums[notebook] = Sums(items, waiting, given, squares)
        points[notebook] = score
        still[notebook] = left
    return sums, points, still


def _judged(connection: Connection, cells: Cells) -> dict[str, dict[str, GradeRow]]:
    names = {cell: name for name, cell in cells.graded.items()}
    place = {name: number for number, name in enumerate(cells.graded)}
    query = select(GRADE).where(GRADE.c.cell_id.in_(list(names)), GRADE.c.manual_score.is_not(None))
    found: dict[str, dict[str, GradeRow]] = {}
    for row in sorted(connection.execute(query), key=lambda row: place[names[row.cell_id]]):
        name = names[row.cell_id]
        found.setdefault(row.notebook_id, {})[name] = GradeRow(
            row.auto_score, row.manual_score, row.extra_credit, cells.out_of[name], bool(row.needs_manual_grade)
        )
    return found
