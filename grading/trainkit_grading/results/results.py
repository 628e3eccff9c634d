"""What a course has come to: one result for each apprentice and module.

Points are the gradebook's, so that what a person changed in formgrader counts here as it does in ``nbgrader export``.
What the gradebook cannot hold (critical errors, flags, which form and attempt) is read from the ledger.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

from trainkit import journal
from trainkit.errors import TrainkitError
from trainkit_grading.course import cohorts
from trainkit_grading.ledger import closing, spoken
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Note
from trainkit_grading.ledger.flags import Flag
from trainkit_grading.ledger.kinds import Flagged
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record import sessions
from trainkit_grading.results import aggregates
from trainkit_grading.results.aggregates import GradeAggregate, LedgerAggregate
from trainkit_grading.results.unmarked import unmarked
from trainkit_grading.support.outcome import Finding, Progress, quiet, refused

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course, CourseModule
    from trainkit_grading.course.roster import Apprentice


@dataclass(frozen=True, slots=True)
class ModuleFacts:
    """A module as the report names it: its cut score in per cent and the most points."""

    name: str
    title: str
    cut_score: float
    out_of: float
    due: datetime | None


@dataclass(frozen=True, slots=True)
class Result:
    """What one apprentice has reached in one module.

    Parameters
    ----------
    apprentice, name, module : str
        Identifier and name of the person, name of the module.
    state : str
        ``"missing"`` (nothing was handed in), ``"handed in"`` (and marked), or ``"to mark"`` (handed in, but the
        gradebook does not have the marks of it yet).
    form : str
        Code of the form that counts; empty where nothing was marked.
    points, out_of : float
        As ``nbgrader export`` has them: overrides, extra credit and penalty counted in.
    verdict : str
        ``"passed"``, ``"not yet"``, or ``"waiting"`` where something is still to be marked. Where a critical error bars
        a pass, or all points of what waits would not reach the cut score, it is ``"not yet"``.
    critical : tuple of str
        Critical items with an unsafe answer; with one, a module is not passed. A person who gives such an item all its
        points has judged otherwise, and it is not counted.
    overridden : tuple of str
        Items whose points a person has set.
    flags : tuple of Flag
        What a person should look at.
    arrived : datetime or None
        Time of arrival, UTC without a zone.
    seconds_late, penalty : float
        How late it was, and the points taken off for it.
    attempt, attempts : int
        Which attempt counts, and how many were marked; 0 where none was.
    watched : bool
        Whether the record of a session stands behind the result.
    expected : bool
        Whether something is to be handed in: not by whoever has left, does not take the module, or for whom it has
        not opened yet. What they handed in counts all the same.
    cohort : str
        Name of the person's cohort; empty for none.
    due : datetime or None
        Until when it is due for this person, with its zone.
    entry : int
        Number of the ledger entry that counts; 0 where none was marked.
    medium : str
        ``"paper"`` or ``"screen"``: what the answers were written on.
    session : Session or None
        The session that was watched, where a record of one stands behind the result.
    unsafe : tuple of str
        Items with an unsafe answer, critical or not. All pages call unsafe what stands here, and nothing else.
    spoken : str
        Where the bar rests on one worded question: ``"waiting"`` for a spoken check, or what came of it,
        ``"confirmed"`` or ``"slip"``. A slip lifts the bar. Else empty.
    open : int
        How many items are still to be marked.
    """

    apprentice: str
    name: str
    module: str
    state: str
    form: str
    points: float
    out_of: float
    verdict: str
    critical: tuple[str, ...] = ()
    overridden: tuple[str, ...] = ()
    flags: tuple[Flag, ...] = ()
    arrived: datetime | None = None
    seconds_late: float = 0.0
    penalty: float = 0.0
    attempt: int = 0
    attempts: int = 0
    watched: bool = False
    expected: bool = True
    cohort: str = ""
    due: datetime | None = None
    entry: int = 0
    medium: str = "screen"
    session: sessions.Session | None = None
    unsafe: tuple[str, ...] = ()
    spoken: str = ""
    open: int = 0

    @property
    def complete(self) -> bool:
        """Whether all of it is marked, so that its points are all that it earns."""
        return self.state == "handed in" and self.verdict != "waiting" and not self.open

    @property
    def supervision(self) -> str:
        """``"supervised"`` or ``"not supervised"``: whether a session record says who watched; empty where unmarked."""
        return "" if not self.attempt else "supervised" if self.watched else "not supervised"

    @property
    def percent(self) -> float:
        """Points as a percentage of all."""
        return 100.0 * self.points / self.out_of if self.out_of else 0.0

    @property
    def beyond(self) -> float:
        """Points beyond the maximum: extra credit, or what a person gave. They count, and pages name them."""
        return max(0.0, round(self.points - self.out_of, 6))

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain JSON data."""
        return {
            "apprentice": self.apprentice,
            "name": self.name,
            "module": self.module,
            "state": self.state,
            "form": self.form,
            "points": round(self.points, 2),
            "out_of": self.out_of,
            "percent": round(self.percent, 1),
            "verdict": self.verdict,
            "critical": list(self.critical),
            "overridden": list(self.overridden),
            "flags": [{"kind": flag.kind, "text": flag.text} for flag in self.flags],
            "arrived": self.arrived.isoformat() + "Z" if self.arrived is not None else None,
            "seconds_late": round(self.seconds_late),
            "penalty": round(self.penalty, 2),
            "attempt": self.attempt,
            "attempts": self.attempts,
            "watched": self.watched,
            "supervision": self.supervision,
            "expected": self.expected,
            "cohort": self.cohort,
            "due": self.due.isoformat() if self.due is not None else None,
            "entry": self.entry,
            "medium": self.medium,
            "unsafe": list(self.unsafe),
            "spoken": self.spoken,
            "open": self.open,
        }


@dataclass(frozen=True, slots=True)
class LedgerEnd:
    """How many entries the ledger has, and the beginning of the seal of the last one."""

    entries: int = 0
    seal: str = ""


@dataclass(frozen=True)
class Results:
    """All results of a course, people in the order of the roster, modules in that of the course."""

    title: str
    modules: tuple[ModuleFacts, ...]
    people: tuple[Apprentice, ...]
    rows: tuple[Result, ...]
    findings: tuple[Finding, ...] = ()
    ledger: LedgerEnd = LedgerEnd()

    @cached_property
    def _placed(self) -> Mapping[tuple[str, str], Result]:
        return {(row.apprentice, row.module): row for row in self.rows}

    def of(self, apprentice: str, module: str) -> Result:
        """Return one result."""
        return self._placed[apprentice, module]

    def in_module(self, module: str) -> tuple[Result, ...]:
        """Return the results of one module."""
        return tuple(row for row in self.rows if row.module == module)


def gather(course: Course, progress: Progress = quiet, clock: Callable[[], datetime] = journal.now) -> Results:
    """Read the gradebook and the ledger of a course: a result for everybody on the roster and each module.

    A module that has not been given out yet is left out; one whose files cannot be used costs only itself.

    Raises
    ------
    CourseError
        If the roster cannot be read.
    """
    roster = course.roster()
    facts: list[ModuleFacts] = []
    rows: list[Result] = []
    findings = list(roster.findings)
    now = clock()
    out = [entry for entry in course.modules if (course.release / entry.name).is_dir()]
    not_out = (entry.name for entry in course.modules if entry not in out)
    findings += [Finding("note", name, "This module has not been given out yet.") for name in not_out]
    known = _Known.read(course, out, findings) if out else _Known()
    for number, entry in enumerate(out, start=1):
        progress(number, len(out), entry.name)
        if entry.name not in known.grades:
            continue
        try:
            module = _facts(course, entry, known.out_of[entry.name])
            found = list(_rows(course, entry, module, tuple(roster), known, now))
        except TrainkitError as error:
            findings.append(refused(error, error.place or entry.name))
            continue
        facts.append(module)
        rows.extend(found)
    findings += [
        Finding(
            "warning",
            f"{row.module} {row.apprentice}",
            f"The gradebook does not have the marks of the latest hand-in. Run: trainkit-course mark {row.module}",
        )
        for row in rows
        if row.state == "to mark"
    ]
    people = tuple(roster)
    order = {person.id: place for place, person in enumerate(people)}
    rows.sort(key=lambda row: order[row.apprentice])
    return Results(course.title, tuple(facts), people, tuple(rows), tuple(findings), known.end)


def _facts(course: Course, entry: CourseModule, out_of: float) -> ModuleFacts:
    blueprint = course.workbook(entry).blueprint
    return ModuleFacts(entry.name, blueprint.title, blueprint.cut_score, round(out_of, 2), entry.due)


@dataclass(frozen=True, slots=True)
class _Known:
    """What ledger and gradebook say of modules, each by the name of the module, then by apprentice."""

    marked: Mapping[str, Mapping[str, LedgerAggregate]] = field(default_factory=dict)
    grades: Mapping[str, Mapping[str, GradeAggregate]] = field(default_factory=dict)
    out_of: Mapping[str, float] = field(default_factory=dict)
    sessions: Mapping[str, tuple[sessions.Session, ...]] = field(default_factory=dict)
    # What came of spoken checks, by the number of the entry that counts and the item.
    checked: Mapping[tuple[int, str], str] = field(default_factory=dict)
    # What shows only beside other people's answers, and later hand-ins that wait.
    beside: Mapping[tuple[str, str], Sequence[Note]] = field(default_factory=dict)
    end: LedgerEnd = LedgerEnd()

    @classmethod
    def read(cls, course: Course, entries: Sequence[CourseModule], findings: list[Finding]) -> _Known:
        """Read it at one moment; a module that the gradebook does not have becomes a finding."""
        with gradebook.opened(course) as engine, engine.begin() as connection:
            ledger = Ledger(connection, course.seed())
            cells = {}
            for entry in entries:
                try:
                    cells[entry.name] = gradebook.cells_of(connection, entry.name)
                except TrainkitError as error:
                    findings.append(refused(error, error.place or entry.name))
            marked = aggregates.in_ledger(connection, list(cells))
            beside: dict[tuple[str, str], list[Note]] = {}
            for flagged in ledger.entries(Flagged, marks=False):
                of = marked.get(flagged.module, {}).get(flagged.apprentice)
                if of is not None and of.journal == flagged.journal:
                    beside.setdefault((flagged.module, flagged.apprentice), []).extend(flagged.notes)
            for held in closing.waiting(ledger):
                beside.setdefault((held.entry.module, held.entry.apprentice), []).extend(held.entry.notes)
            number, seal = ledger.end()
            return cls(
                marked,
                aggregates.in_gradebook(connection, cells),
                {name: sum(of.out_of.values()) for name, of in cells.items()},
                {name: sessions.recorded(ledger, name) for name in cells},
                _checked(ledger, marked),
                beside,
                LedgerEnd(number, seal[:16]),
            )


def _rows(
    course: Course,
    entry: CourseModule,
    module: ModuleFacts,
    people: tuple[Apprentice, ...],
    known: _Known,
    now: datetime,
) -> Iterator[Result]:
    marked, grades = known.marked.get(module.name, {}), known.grades[module.name]
    sat = known.sessions[module.name]
    news = unmarked(course, module.name, marked)
    # Whoever shares these has the same dates; there are few of them, and many people.
    dated: dict[tuple[Any, ...], tuple[bool, datetime | None]] = {}
    for person in people:
        alike = (person.cohort, person.joined, person.left, person.extra_percent)
        if alike not in dated:
            asked = cohorts.expected(course, entry, person, now)
            dated[alike] = (asked, cohorts.dates(course, entry, person).due)
        of = marked.get(person.id)
        notes = (*of.notes, *known.beside.get((module.name, person.id), ())) if of is not None else ()
        session = next((each for each in sat if of.within(each, person.id)), None) if of is not None else None
        yield Result(
            apprentice=person.id,
            name=person.name,
            module=module.name,
            form=of.form if of is not None else "",
            flags=tuple(Flag(note.kind, note.text or "") for note in notes),
            attempt=of.attempt if of is not None else 0,
            attempts=of.attempts if of is not None else 0,
            watched=session is not None,
            expected=dated[alike][0],
            cohort=person.cohort,
            due=dated[alike][1],
            entry=of.entry if of is not None else 0,
            medium=of.medium if of is not None else "screen",
            session=session,
            **_reached(module, of, grades.get(person.id), person.id in news, known.checked),
        )


def _checked(ledger: Ledger, marked: Mapping[str, Mapping[str, LedgerAggregate]]) -> dict[tuple[int, str], str]:
    """Return what came of spoken checks, by the number of the entry that counts and the item."""
    worded = [(of.entry, item) for people in marked.values() for of in people.values() for item in of.spoken]
    return {answer: check.became for answer, check in spoken.checks(ledger, worded).items()}


def _reached(
    module: ModuleFacts,
    of: LedgerAggregate | None,
    row: GradeAggregate | None,
    news: bool,
    checked: Mapping[tuple[int, str], str],
) -> dict[str, Any]:
    """Return what of a result hangs on ledger and gradebook together."""
    there = news or of is not None
    if row is None:
        state = "to mark" if there else "missing"
        return {
            "state": state,
            "points": 0.0,
            "out_of": module.out_of,
            "verdict": "waiting" if news else "not yet",
        }
    # Marks that a person gave without anything handed in count as they stand in the gradebook.
    agreed = of is not None and of.sums.agrees(row.sums)
    settled = agreed and not news
    reached, within_reach = (
        round(100.0 * points / module.out_of, 6) >= module.cut_score for points in (row.score, row.best)
    )
    stands = of if of is not None and agreed else None
    unsafe = tuple(item for item in stands.unsafe if not _lifted(row, item)) if stands is not None else ()
    critical = tuple(item for item in stands.bars if item in unsafe) if stands is not None else ()
    check = ""
    if stands is not None and (item := spoken.alone(critical, stands.spoken)):
        check = checked.get((stands.entry, item), "waiting")
        critical = () if check == "slip" else critical
    # What waits decides nothing any more where a bar stands, or where all of it would not reach the cut.
    undecided = within_reach and (check == "waiting" or (bool(row.open) and not critical))
    waits = undecided or (there and not settled)
    return {
        "state": ("handed in" if settled else "to mark") if there else "missing",
        "points": row.score,
        "out_of": module.out_of,
        "verdict": "waiting" if waits else _verdict(reached, critical),
        "open": row.open,
        "critical": critical,
        "unsafe": unsafe,
        "spoken": check,
        "overridden": tuple(row.judged),
        "arrived": row.arrived,
        "seconds_late": row.seconds_late,
        "penalty": row.penalty,
    }


def _lifted(row: GradeAggregate, item: str) -> bool:
    """Tell whether a person has judged an unsafe answer otherwise, by giving it all its points."""
    grade = row.judged.get(item)
    return grade is not None and grade.score >= grade.max_score


def _verdict(reached: bool, critical: tuple[str, ...]) -> str:
    return "passed" if reached and not critical else "not yet"
