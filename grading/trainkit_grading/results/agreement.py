"""Whether the gradebook shows what the ledger says.

Both are written in one transaction, so only something else that writes into the database can part them: formgrader
where nobody listens, another program, a hand. Verifying the ledger proves what it says; this proves that the same is
shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import inspect, select

from trainkit.sentences import counted, span
from trainkit_grading.course import cohorts
from trainkit_grading.errors import CourseError
from trainkit_grading.ledger import details, extending, versions
from trainkit_grading.ledger.book import Ledger, PointsByHand, Standing
from trainkit_grading.ledger.extending import Extension
from trainkit_grading.ledger.kinds import Changed, Marked
from trainkit_grading.ledger.tables import ENTRY, MARK, PERSON, SHOWN
from trainkit_grading.nbgrader_bridge import gradebook, steps
from trainkit_grading.nbgrader_bridge.gradebook import Cells, GradeRow
from trainkit_grading.nbgrader_bridge.tables import ASSIGNMENT
from trainkit_grading.record.decide import counting, total
from trainkit_grading.support.bulk_sql import raw_rows
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from trainkit_grading.course.folder import Course, CourseModule


def compare(course: Course) -> tuple[Finding, ...]:
    """Compare the gradebook with the ledger: everything in it that reaches a score.

    That is, for each apprentice and module, the points that a machine gave, those that a person gave, extra credit,
    arrival, extension and what is taken off for lateness; and of each module the most points and the due date. Of
    comments, which earn nothing, the ledger keeps digests, and they are not compared.

    Parameters
    ----------
    course : Course
        The course folder; nothing in it is changed.

    Returns
    -------
    tuple of Finding
        Empty where the two agree. Each says what puts it right.

    Raises
    ------
    CourseError
        If the gradebook or the seed cannot be used.

    Examples
    --------
    >>> import tempfile
    >>> from trainkit_grading.release import init
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     compare(init.create(Path(folder) / "course", "saltmere", "Saltmere"))
    ()
    """
    with gradebook.opened(course) as engine:
        if engine.dialect.name == "sqlite" and not Path(engine.url.database or "").is_file():
            return ()  # nothing has been given out, and looking must not make an empty gradebook
        with engine.connect() as connection:
            return tuple(differences(connection, course))


def differences(connection: Connection, course: Course) -> Iterator[Finding]:
    """Yield what :func:`compare` finds, on a connection that is open."""
    if inspect(connection).has_table(ASSIGNMENT.name):
        ledger = Ledger(connection, course.seed()) if versions.version(connection) else None
        work = _Work(course, connection, ledger)
        for entry in course.modules:
            yield from work.of_module(entry)


@dataclass(frozen=True, slots=True)
class _Row:
    """What the ledger says of one item."""

    item: str
    points: float
    out_of: float
    verdict: str
    answer: str


@dataclass(frozen=True, slots=True)
class _Entry:
    """The entry that is shown, with what of it reaches a score."""

    number: int
    apprentice: str
    attempt: int
    arrived: str
    marks: list[_Row]


@dataclass(frozen=True, slots=True)
class _Said:
    """What the ledger says of a module: what is shown, and what people gave."""

    standing: Mapping[tuple[str, int], Standing]
    numbers: Mapping[str, int]
    entries: Mapping[int, _Entry]
    judged: Mapping[tuple[str, int], Mapping[str, PointsByHand]]
    extra: Mapping[tuple[str, str], float]
    extensions: Mapping[str, Extension]


class _Work:
    """Comparing one course; what takes long is read once and in bulk."""

    def __init__(self, course: Course, connection: Connection, ledger: Ledger | None) -> None:
        self._course = course
        self._connection = connection
        self._ledger = ledger
        self._late = cache(partial(steps.late_rule, course))

    def of_module(self, entry: CourseModule) -> Iterator[Finding]:
        module = entry.name
        said = self._said(self._ledger, module) if self._ledger is not None else None
        known = {name for name, _ in said.standing} if said is not None else set()
        try:
            cells = gradebook.cells_of(self._connection, module)
        except CourseError:
            if known:
                text = f"The ledger has marks of {len(known)}, and the gradebook lacks the module."
                yield _wrong(module, "", text, "assign")
            return
        heads = {head.student_id: head for head in gradebook.heads_of(self._connection, cells)}
        grades = gradebook.grades_of(self._connection, cells)
        for name in sorted(heads.keys() - known):
            if any(_given(each) for each in grades.get(heads[name].id, {}).values()):
                yield _wrong(module, name, "The gradebook has marks, and the ledger has none.")
        if self._ledger is None or said is None:
            return
        if known:
            yield from self._due(entry, cells)
        chosen = counting(self._course.attempts, said.standing.values(), partial(self._points, said))
        for name in sorted(chosen):
            shown = said.entries.get(said.numbers.get(name, 0))
            if shown is None or shown.apprentice != name:
                yield _wrong(module, name, "The ledger has marks, and says of none that they are shown.")
                continue
            if shown.number != chosen[name].number:
                text = f"Entry {shown.number} is shown, and by course.toml entry {chosen[name].number} counts."
                yield _wrong(module, name, text)
            if name not in heads:
                yield _wrong(module, name, "The ledger has marks, and the gradebook has no submission.")
                continue
            of = grades.get(heads[name].id, {})
            yield from _of_items(module, cells, shown, said, of)
            yield from self._of_head(module, cells, shown, said, heads[name], of)

    def _said(self, ledger: Ledger, module: str) -> _Said:
        return _Said(
            ledger.standing(module),
            ledger.shown(module),
            _entries(self._connection, module),
            ledger.judged(module),
            _extra(self._connection, module),
            extending.last(self._connection, module),
        )

    def _points(self, said: _Said, of: Standing) -> float:
        given = said.judged.get((of.apprentice, of.attempt))
        if not given or self._ledger is None:
            return of.points
        return total(self._ledger.read(Marked, [of.number])[of.number], given)

    def _due(self, entry: CourseModule, cells: Cells) -> Iterator[Finding]:
        common = cohorts.common_due(self._course, entry)
        due = common.astimezone(UTC).replace(tzinfo=None) if common is not None else None
        if due != cells.due:
            there, wanted = (of.isoformat(sep=" ") + " UTC" if of is not None else "none" for of in (cells.due, due))
            text = f"The due date in the gradebook is {there}; by course.toml it is {wanted}."
            yield _wrong(entry.name, "", text, "assign")

    def _of_head(
        self, module: str, cells: Cells, entry: _Entry, said: _Said, head: Any, grades: Mapping[str, GradeRow]
    ) -> Iterator[Finding]:
        name = entry.apprentice
        if entry.arrived and datetime.fromisoformat(entry.arrived) != head.timestamp:
            when = "at no known time" if head.timestamp is None else head.timestamp.isoformat()
            yield _wrong(module, name, f"The gradebook says it arrived {when}; the ledger says {entry.arrived}.")
        recorded = said.extensions.get(name, Extension()).seconds or 0.0
        there = head.extension.total_seconds() if head.extension is not None else 0.0
        if there != recorded:
            text = f"The gradebook has an extension of {_hours(there)}; the ledger says {_hours(recorded)}."
            yield _wrong(module, name, f"{text} Set it back in formgrader.")
        seconds = gradebook.seconds_late(cells.due, head.extension, head.timestamp)
        penalty = head.late_submission_penalty or 0.0
        if seconds <= 0 and not penalty:
            return
        # Formgrader leaves what was taken off as it is when points change; the next marking works it out again.
        scores = (sum(each.score for each in grades.values()), sum(each.auto_score or 0.0 for each in grades.values()))
        by_rule = [(self._late()(name, score, seconds) or 0.0) if seconds > 0 else 0.0 for score in scores]
        if all(abs(penalty - each) > _SAME for each in by_rule):
            text = f"The gradebook takes off {_points(penalty)} for lateness; by the rule it is {_points(by_rule[0])}."
            yield _wrong(module, name, text)


_SAME = 1e-6


def _of_items(
    module: str, cells: Cells, entry: _Entry, said: _Said, grades: Mapping[str, GradeRow]
) -> Iterator[Finding]:
    name = entry.apprentice
    judged = said.judged.get((name, entry.attempt), {})
    rows = {row.item: row for row in entry.marks}
    for item in sorted(rows.keys() - cells.graded.keys()):
        yield _wrong(module, name, f"The ledger has marks of {item}, and the gradebook lacks the item.")
    for item in cells.graded:
        row, grade = rows.get(item), grades.get(item)
        if row is None:
            yield _wrong(module, name, f"The gradebook has {item}, and the ledger has no mark of it.")
            continue
        if row.out_of != cells.out_of[item]:
            text = f"{item} is worth {_points(cells.out_of[item])} in the gradebook; the ledger says {row.out_of:g}."
            yield _wrong(module, name, text, "assign")
        # Of what waits for a person nothing is shown yet.
        expected = None if row.verdict == "waiting" else min(max(row.points, 0.0), row.out_of)
        if grade is None:
            yield _wrong(module, name, f"The ledger has marks of {item}, and the gradebook has no grade of it.")
            continue
        if grade.auto_score != expected:
            text = f"{item} has {_points(grade.auto_score)} in the gradebook; the ledger says {_points(expected)}."
            yield _wrong(module, name, text)
        given = judged[item].points if item in judged else None
        if grade.manual_score != given:
            text = f"{item} has {_points(grade.manual_score)} by a person in the gradebook; the ledger says "
            text += f"{_points(given)}. Look at it in formgrader. The next marking takes it over as it stands there."
            yield Finding("refused", f"{module} {name}", text)
        credit = said.extra.get((name, item), 0.0)
        if (grade.extra_credit or 0.0) != credit:
            text = f"{item} has {_points(grade.extra_credit or 0.0)} of extra credit in the gradebook; the ledger says "
            text += f"{_points(credit)}. Set it to 0 in formgrader, then give again what is right."
            yield Finding("refused", f"{module} {name}", text)


def _entries(connection: Connection, module: str) -> dict[int, _Entry]:
    """Return the entries that are shown of a module; a mark is a row, as the driver gives it."""
    shown = (
        select(ENTRY.c.number, PERSON.c.apprentice, ENTRY.c.attempt, ENTRY.c.arrived)
        .join(SHOWN, SHOWN.c.entry == ENTRY.c.number)
        .join(PERSON, PERSON.c.person == ENTRY.c.person)
        .where(SHOWN.c.module == module, ENTRY.c.module == module, ENTRY.c.kind == Marked.kind)
    )
    found = {
        number: _Entry(number, apprentice, attempt, arrived, [])
        for some in raw_rows(connection, shown)
        for number, apprentice, attempt, arrived in some
    }
    columns = (MARK.c.item, MARK.c.points, MARK.c.out_of, MARK.c.verdict, MARK.c.response_hash)
    marks = select(MARK.c.entry, *columns).join(SHOWN, SHOWN.c.entry == MARK.c.entry).where(SHOWN.c.module == module)
    for some in raw_rows(connection, marks):
        for number, *values in some:
            if number in found:
                found[number].marks.append(_Row(*values))
    return found


def _extra(connection: Connection, module: str) -> dict[tuple[str, str], float]:
    """Return the extra credit that was recorded last, by apprentice and item."""
    query = (
        select(ENTRY.c.detail, PERSON.c.apprentice)
        .join(PERSON, PERSON.c.person == ENTRY.c.person)
        .where(ENTRY.c.kind == Changed.kind, ENTRY.c.module == module, details.says("field", "extra credit"))
        .order_by(ENTRY.c.number)
    )
    found = {}
    for row in connection.execute(query):
        said = details.read(Changed, row.detail)
        found[row.apprentice, said.item] = float(said.after or 0.0)
    return found


def _given(grade: GradeRow) -> bool:
    return grade.auto_score is not None or grade.manual_score is not None or bool(grade.extra_credit)


def _wrong(module: str, name: str, said: str, remedy: str = "mark") -> Finding:
    return Finding("refused", f"{module} {name}".strip(), f"{said} Run: trainkit-course {remedy} {module}")


def _points(points: float | None) -> str:
    return "no points" if points is None else counted(points, "point")


def _hours(seconds: float) -> str:
    return span(round(seconds / 60)) if seconds else "nothing"
