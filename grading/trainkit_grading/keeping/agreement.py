"""Whether the gradebook shows what the ledger says.

Both are written in one transaction, so only something else that writes into the database can part them: formgrader
where nobody listens, another program, a hand. Verifying the ledger proves what it says; this proves that the same is
shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit_grading.errors import CourseError
from trainkit_grading.ledger import versions
from trainkit_grading.ledger.book import Judged, Ledger, Standing
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.nbgrader_bridge.gradebook import Cells, GradeRow
from trainkit_grading.record.decide import counting, total
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from trainkit_grading.course.folder import Course


_SOME = 200  # entries that are read at a time, so that memory does not grow with the cohort


def compare(course: Course) -> tuple[Finding, ...]:
    """Compare the gradebook with the ledger: for each apprentice and module points, judged points and arrival.

    Extra credit, comments and extensions are formgrader's own; the ledger does not say what they should be.

    Parameters
    ----------
    course : Course
        The course folder; nothing in it is changed.

    Returns
    -------
    tuple of Finding
        Empty where the two agree. What marking again puts right says so; points that a person has given past the
        ledger are a warning, as marking takes them over.

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
            ledger = Ledger(connection, course.seed()) if versions.version(connection) else None
            return tuple(
                found for entry in course.modules for found in _of_module(connection, course, ledger, entry.name)
            )


@dataclass(frozen=True, slots=True)
class _Shown:
    """What the gradebook shows of one apprentice."""

    arrived: datetime | None
    grades: Mapping[str, GradeRow]

    @property
    def marked(self) -> bool:
        return any(grade.auto_score is not None or grade.manual_score is not None for grade in self.grades.values())


def _of_module(connection: Connection, course: Course, ledger: Ledger | None, module: str) -> Iterator[Finding]:
    standing = ledger.standing(module) if ledger is not None else {}
    known = {name for name, _ in standing}
    try:
        cells = gradebook.cells_of(connection, module)
    except CourseError:
        if known:
            yield _wrong(
                module, "", f"The ledger has marks of {len(known)}, and the gradebook lacks the module.", "assign"
            )
        return
    shown = _shown(connection, cells)
    for name in sorted(shown.keys() - known):
        if shown[name].marked:
            yield _wrong(module, name, "The gradebook has marks, and the ledger has none.")
    if ledger is not None:
        yield from _of_people(course, ledger, module, cells, shown, standing)


def _of_people(
    course: Course,
    ledger: Ledger,
    module: str,
    cells: Cells,
    shown: Mapping[str, _Shown],
    standing: Mapping[tuple[str, int], Standing],
) -> Iterator[Finding]:
    judged = ledger.judged(module)
    numbers = ledger.shown(module)

    def points(of: Standing) -> float:
        given = judged.get((of.apprentice, of.attempt))
        return total(ledger.read(Marked, [of.number])[of.number], given) if given else of.points

    chosen = counting(course.attempts, standing.values(), points)
    names = sorted(chosen)
    for begin in range(0, len(names), _SOME):
        some = names[begin : begin + _SOME]
        entries = ledger.read(Marked, (numbers[name] for name in some if name in numbers))
        for name in some:
            entry = entries.get(numbers.get(name, 0))
            if entry is None or (entry.module, entry.apprentice) != (module, name):
                yield _wrong(module, name, "The ledger has marks, and says of none that they are shown.")
                continue
            if entry.number != chosen[name].number:
                said = f"Entry {entry.number} is shown, and by course.toml entry {chosen[name].number} counts."
                yield _wrong(module, name, said)
            if name not in shown:
                yield _wrong(module, name, "The ledger has marks, and the gradebook has no submission.")
                continue
            yield from _of_one(module, cells, entry, judged.get((name, entry.attempt), {}), shown[name])


def _of_one(module: str, cells: Cells, entry: Marked, judged: Mapping[str, Judged], shown: _Shown) -> Iterator[Finding]:
    name = entry.apprentice
    if entry.arrived and datetime.fromisoformat(entry.arrived) != shown.arrived:
        when = "at no known time" if shown.arrived is None else shown.arrived.isoformat()
        said = f"The gradebook says it arrived {when}; the ledger says {entry.arrived}."
        yield _wrong(module, name, said)
    rows = {row.item: row for row in entry.marks}
    for item in sorted(rows.keys() - cells.graded.keys()):
        yield _wrong(module, name, f"The ledger has marks of {item}, and the gradebook lacks the item.")
    for item in cells.graded:
        row, grade = rows.get(item), shown.grades.get(item)
        if row is None:
            yield _wrong(module, name, f"The gradebook has {item}, and the ledger has no mark of it.")
            continue
        # Of what waits for a person nothing is shown yet.
        expected = None if row.verdict == "waiting" else min(max(row.points, 0.0), cells.out_of[item])
        if grade is None:
            yield _wrong(module, name, f"The ledger has marks of {item}, and the gradebook has no grade of it.")
            continue
        if grade.auto_score != expected:
            said = f"{item} has {_points(grade.auto_score)} in the gradebook; the ledger says {_points(expected)}."
            yield _wrong(module, name, said)
        given = judged[item].points if item in judged else None
        if grade.manual_score != given:
            yield Finding(
                "warning",
                f"{module} {name}",
                f"{item} has {_points(grade.manual_score)} by a person in the gradebook; the ledger says "
                f"{_points(given)}. Look at it in formgrader. The next marking takes it over as it stands there.",
            )


def _shown(connection: Connection, cells: Cells) -> dict[str, _Shown]:
    heads: Sequence[Any] = gradebook.heads_of(connection, cells)
    grades = gradebook.grades_of(connection, cells)
    return {head.student_id: _Shown(head.timestamp, grades.get(head.id, {})) for head in heads}


def _wrong(module: str, name: str, said: str, remedy: str = "mark") -> Finding:
    return Finding("refused", f"{module} {name}".strip(), f"{said} Run: trainkit-course {remedy} {module}")


def _points(points: float | None) -> str:
    return "no points" if points is None else f"{points:g} points"
