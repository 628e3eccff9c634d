"""What ledger and gradebook add up to for each apprentice of a module, added up by the database.

A report on ten thousand people cannot look at each of their answers; nobody's answers are read here, only their sums.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import Connection, and_, case, func, select

from trainkit_grading.ledger import details
from trainkit_grading.ledger.entries import Note
from trainkit_grading.ledger.harm import said_unsafe
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.ledger.tables import ENTRY, MARK, NOTE, PERSON, SHOWN
from trainkit_grading.nbgrader_bridge.gradebook import Cells, GradeRow, heads_of, seconds_late
from trainkit_grading.nbgrader_bridge.tables import GRADE, GRADE_CELLS
from trainkit_grading.support.bulk_sql import raw_rows

if TYPE_CHECKING:
    from trainkit_grading.record.sessions import Session


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
class LedgerAggregate:
    """What the ledger says of one apprentice and module.

    Parameters
    ----------
    entry, attempt, attempts : int
        Number of the entry that the gradebook shows, which attempt that is, and how many were marked.
    form, journal, at : str
        Code of the form, SHA-256 of the journal, ISO time in UTC at which it was marked.
    sums : Sums
        Of the marks that a machine gave.
    unsafe, bars, spoken : tuple of str
        Items with an unsafe answer; those of them that are critical; and the critical ones that are worded questions,
        of which a spoken check is held where a bar rests on one of them alone.
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
    unsafe: tuple[str, ...] = ()
    bars: tuple[str, ...] = ()
    spoken: tuple[str, ...] = ()
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
class GradeAggregate:
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
    to_gain : float
        The most points that these items can still earn.
    judged : mapping of str to GradeRow
        The items whose points a person has set.
    """

    arrived: datetime | None
    seconds_late: float
    penalty: float
    sums: Sums
    points: float = 0.0
    open: int = 0
    to_gain: float = 0.0
    judged: Mapping[str, GradeRow] = field(default_factory=dict)

    @property
    def score(self) -> float:
        """What ``nbgrader export`` calls the score."""
        return max(0.0, self.points - self.penalty)

    @property
    def best(self) -> float:
        """The score with all points for what is still to be marked; what lateness costs can only grow."""
        return max(0.0, self.points + self.to_gain - self.penalty)


def in_ledger(connection: Connection, modules: Collection[str]) -> dict[str, dict[str, LedgerAggregate]]:
    """Return what the ledger says of everybody who was marked, by module and apprentice."""
    wanted = SHOWN.c.module.in_(list(modules))
    of_module = and_(wanted, SHOWN.c.entry == MARK.c.entry)
    still = MARK.c.verdict == "waiting"
    points = case((still, 0.0), else_=MARK.c.points)
    summed = (
        select(
            MARK.c.entry,
            func.count(),
            func.sum(case((still, 1), else_=0)),
            func.sum(points),
            func.sum(points * points),
            func.min(case((MARK.c.answered != "", MARK.c.answered))),
            func.max(MARK.c.answered),
            func.sum(case((MARK.c.critical, 1), else_=0)),
        )
        .where(of_module)
        .group_by(MARK.c.entry)
    )
    sums: dict[int, tuple[Sums, str, str]] = {}
    some_unsafe: list[int] = []
    for some in raw_rows(connection, summed):
        for entry, items, waiting, given, squares, first, last, count in some:
            sums[entry] = Sums(items, waiting, given, squares), first or "", last
            if count:
                some_unsafe.append(entry)
    unsafe: dict[int, list[str]] = {}
    # The rows of marks are long; to go through all of them a second time takes as long as the first.
    for begin in range(0, len(some_unsafe), _SOME):
        query = select(MARK.c.entry, MARK.c.item).where(
            MARK.c.entry.in_(some_unsafe[begin : begin + _SOME]), MARK.c.critical
        )
        for some in raw_rows(connection, query.order_by(MARK.c.entry, MARK.c.place)):
            for entry, item in some:
                unsafe.setdefault(entry, []).append(item)
    for entry, item in said_unsafe(connection, modules):
        unsafe.setdefault(entry, []).append(item)
    notes: dict[int, list[Note]] = {}
    noted = select(NOTE).join(SHOWN, SHOWN.c.entry == NOTE.c.entry).where(wanted)
    for row in connection.execute(noted.order_by(NOTE.c.entry, NOTE.c.place)):
        notes.setdefault(row.entry, []).append(Note(row.kind, row.text, row.text_hash))
    counted = (
        select(ENTRY.c.module, ENTRY.c.person, func.count(ENTRY.c.attempt.distinct()))
        .where(ENTRY.c.kind == Marked.kind, ENTRY.c.module.in_(list(modules)))
        .group_by(ENTRY.c.module, ENTRY.c.person)
    )
    attempts = {(module, person): count for module, person, count in connection.execute(counted)}
    shown = (
        select(
            SHOWN.c.module,
            PERSON.c.apprentice,
            PERSON.c.person,
            ENTRY.c.number,
            ENTRY.c.attempt,
            ENTRY.c.form,
            ENTRY.c.journal,
            ENTRY.c.at,
            case((details.says("medium", "paper"), 1), else_=0),
        )
        .join(SHOWN, SHOWN.c.person == PERSON.c.person)
        .join(ENTRY, ENTRY.c.number == SHOWN.c.entry)
        .where(wanted)
    )
    found: dict[str, dict[str, LedgerAggregate]] = {module: {} for module in modules}
    none = (Sums(), "", "")
    barred = _barred(connection, unsafe)
    for some in raw_rows(connection, shown):
        for module, apprentice, person, entry, attempt, form, journal, at, paper in some:
            of, first, last = sums.get(entry, none)
            found[module][apprentice] = LedgerAggregate(
                entry,
                attempt,
                attempts.get((module, person), 1),
                form,
                journal,
                at,
                of,
                tuple(unsafe.get(entry, ())),
                *barred.get(entry, ((), ())),
                first,
                last,
                tuple(notes.get(entry, ())),
                "paper" if paper else "screen",
            )
    return found


_SOME = 500  # values in one IN (...)


def _barred(
    connection: Connection, unsafe: Mapping[int, Sequence[str]]
) -> dict[int, tuple[tuple[str, ...], tuple[str, ...]]]:
    """Return those items with an unsafe answer that the blueprint calls critical, by the number of the entry.

    Beside them stand those of which a spoken check is held.
    """
    found: dict[int, tuple[tuple[str, ...], tuple[str, ...]]] = {}
    numbers = list(unsafe)
    for begin in range(0, len(numbers), _SOME):
        query = select(ENTRY.c.number, ENTRY.c.detail).where(ENTRY.c.number.in_(numbers[begin : begin + _SOME]))
        for some in raw_rows(connection, query):
            for number, detail in some:
                critical, worded = details.critical_items(detail), details.spoken_items(detail)
                bars = tuple(item for item in unsafe[number] if item in critical)
                found[number] = bars, tuple(item for item in bars if item in worded)
    return found


def in_gradebook(connection: Connection, modules: Mapping[str, Cells]) -> dict[str, dict[str, GradeAggregate]]:
    """Return what the gradebook says of everybody who has a submission, by module and apprentice.

    ``modules`` holds what it knows of the notebook of each module.
    """
    names = {cell: (module, item) for module, of in modules.items() for item, cell in of.graded.items()}
    sums = _sums(connection)
    judged = _judged(connection, modules, names)
    to_gain = _to_gain(connection) if any(still for _, _, still in sums.values()) else {}
    none = (Sums(), 0.0, 0)
    found: dict[str, dict[str, GradeAggregate]] = {}
    for module, cells in modules.items():
        of_module = found[module] = {}
        for notebook, apprentice, arrived, extension, penalty in heads_of(connection, cells):
            of, points, still = sums.get(notebook, none)
            of_module[apprentice] = GradeAggregate(
                arrived,
                seconds_late(cells.due, extension, arrived),
                penalty or 0.0,
                of,
                points,
                still,
                to_gain.get(notebook, 0.0),
                judged.get(notebook, {}),
            )
    return found


def _sums(connection: Connection) -> dict[str, tuple[Sums, float, int]]:
    """Return, for each submitted notebook, the sums of its grades, what counts, and how many are still open.

    The gradebook has no index that leads from a module to its grades: all are added up once.
    """
    auto, manual, extra = GRADE.c.auto_score, GRADE.c.manual_score, func.coalesce(GRADE.c.extra_credit, 0.0)
    query = select(
        GRADE.c.notebook_id,
        func.count(),
        func.sum(case((auto.is_(None), 1), else_=0)),
        func.sum(func.coalesce(auto, 0.0)),
        func.sum(func.coalesce(auto * auto, 0.0)),
        func.sum(case((manual.is_not(None), manual + extra), (auto.is_not(None), auto + extra), else_=0.0)),
        func.sum(case((and_(auto.is_(None), manual.is_(None)), 1), else_=0)),
    ).group_by(GRADE.c.notebook_id)
    return {
        notebook: (Sums(items, waiting, given, squares), points, still)
        for some in raw_rows(connection, query)
        for notebook, items, waiting, given, squares, points, still in some
    }


def _to_gain(connection: Connection) -> dict[str, float]:
    """Return, for each submitted notebook with something still to be marked, the most points that it can earn."""
    query = (
        select(GRADE.c.notebook_id, func.sum(GRADE_CELLS.c.max_score))
        .join(GRADE_CELLS, GRADE_CELLS.c.id == GRADE.c.cell_id)
        .where(GRADE.c.auto_score.is_(None), GRADE.c.manual_score.is_(None))
        .group_by(GRADE.c.notebook_id)
    )
    return {notebook: most for some in raw_rows(connection, query) for notebook, most in some}


def _judged(
    connection: Connection, modules: Mapping[str, Cells], names: Mapping[str, tuple[str, str]]
) -> dict[str, dict[str, GradeRow]]:
    place = {cell: number for number, cell in enumerate(names)}
    judged = connection.execute(select(GRADE).where(GRADE.c.manual_score.is_not(None))).all()
    found: dict[str, dict[str, GradeRow]] = {}
    for row in sorted((row for row in judged if row.cell_id in names), key=lambda row: place[row.cell_id]):
        module, item = names[row.cell_id]
        found.setdefault(row.notebook_id, {})[item] = GradeRow(
            row.auto_score,
            row.manual_score,
            row.extra_credit,
            modules[module].out_of[item],
            bool(row.needs_manual_grade),
        )
    return found
