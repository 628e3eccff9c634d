"""What a course has come to: one result for each apprentice and module.

Points are the gradebook's, so that what a person changed in formgrader counts here as it does in ``nbgrader export``.
What the gradebook cannot hold (critical errors, flags, which form and attempt) is read from the ledger.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainkit.errors import TrainkitError
from trainkit_grading import sessions, submissions
from trainkit_grading.bridge import gradebook
from trainkit_grading.bridge.gradebook import GradeRow, SubmissionRow
from trainkit_grading.flags import Flag
from trainkit_grading.ledger.book import Ledger, Standing
from trainkit_grading.ledger.entries import Entry, Note
from trainkit_grading.outcome import Finding, Progress, quiet, refused

if TYPE_CHECKING:
    from trainkit_grading.course import Course, CourseModule
    from trainkit_grading.roster import Apprentice

__all__ = ["LedgerEnd", "ModuleFacts", "Result", "Results", "gather"]


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
        ``"passed"``, ``"not yet"``, or ``"waiting"`` where something is still to be marked.
    critical : tuple of str
        Critical items whose answer would hurt the engine or a person; with one, a module is not passed. A person who
        gives such an item all its points has judged otherwise, and it is not counted.
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

    @property
    def percent(self) -> float:
        """Points as a percentage of all."""
        return 100.0 * self.points / self.out_of if self.out_of else 0.0

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
        }


@dataclass(frozen=True, slots=True)
class LedgerEnd:
    """How many entries the ledger has, and the beginning of the seal of the last one."""

    entries: int = 0
    seal: str = ""


@dataclass(frozen=True, slots=True)
class Results:
    """All results of a course, people in the order of the roster, modules in that of the course."""

    title: str
    modules: tuple[ModuleFacts, ...]
    people: tuple[Apprentice, ...]
    rows: tuple[Result, ...]
    findings: tuple[Finding, ...] = ()
    ledger: LedgerEnd = LedgerEnd()

    def of(self, apprentice: str, module: str) -> Result:
        """Return one result."""
        return next(row for row in self.rows if row.apprentice == apprentice and row.module == module)

    def in_module(self, module: str) -> tuple[Result, ...]:
        """Return the results of one module."""
        return tuple(row for row in self.rows if row.module == module)


def gather(course: Course, progress: Progress = quiet) -> Results:
    """Read the gradebook and score the journals of a course.

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
    for number, entry in enumerate(course.modules, start=1):
        progress(number, len(course.modules), entry.name)
        if not (course.release / entry.name).is_dir():
            findings.append(Finding("note", entry.name, "This module has not been given out yet."))
            continue
        try:
            module = _facts(course, entry)
            found = list(_rows(course, module, tuple(roster), findings))
        except TrainkitError as error:
            findings.append(refused(error, error.place or entry.name))
            continue
        facts.append(module)
        rows.extend(found)
    people = tuple(roster)
    order = {person.id: place for place, person in enumerate(people)}
    rows.sort(key=lambda row: order[row.apprentice])
    end = _end(course) if facts else LedgerEnd()
    return Results(course.title, tuple(facts), people, tuple(rows), tuple(findings), end)


def _end(course: Course) -> LedgerEnd:
    with gradebook.opened(course) as engine, engine.begin() as connection:
        number, seal = Ledger(connection, course.seed()).end()
    return LedgerEnd(number, seal[:16])


def _facts(course: Course, entry: CourseModule) -> ModuleFacts:
    blueprint = course.workbook(entry).blueprint
    out_of = sum(gradebook.items(course, entry.name).values())
    return ModuleFacts(entry.name, blueprint.title, blueprint.cut_score, round(out_of, 2), entry.due)


def _rows(
    course: Course, module: ModuleFacts, people: tuple[Apprentice, ...], findings: list[Finding]
) -> Iterator[Result]:
    in_gradebook = gradebook.read(course, module.name)
    marked = _marked(course, module.name)
    handed_in = set(submissions.names(course, module.name))
    for person in people:
        place = f"{module.name} {person.id}"
        of = marked.get(person.id)
        there = person.id in handed_in
        news = there and (of is None or _newer(course, module.name, person.id, of))
        result = _result(person, module, in_gradebook.get(person.id), of, news)
        if result.state == "to mark":
            text = (
                f"The gradebook does not have the marks of the latest hand-in. Run: trainkit-course mark {module.name}"
            )
            findings.append(Finding("warning", place, text))
        yield result


def _newer(course: Course, module: str, apprentice: str, of: _Marked) -> bool:
    """Tell whether what lies in the folder is a hand-in that has no marks, and not one before those that have."""
    if submissions.journal_digest(course, module, apprentice) in of.journals:
        return False
    arrived = submissions.arrived(course, module, apprentice)
    return arrived is None or arrived.isoformat() >= of.latest


@dataclass(frozen=True, slots=True)
class _Marked:
    """What the ledger says of one apprentice and module."""

    entry: Entry  # the one that the gradebook shows
    journals: frozenset[str]
    latest: str  # when the last of them arrived
    attempts: int
    watched: bool
    beside: tuple[Note, ...]  # what shows only beside other people's answers
    hurt: frozenset[str]  # items of which a person has said that the work would have done harm


def _marked(course: Course, module: str) -> dict[str, _Marked]:
    with gradebook.opened(course) as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        standing = ledger.standing(module)
        shown = ledger.shown(module)
        entries = ledger.read(shown.values())
        judged = ledger.judged(module)
        watched = sessions.watched(ledger, module, [entries[number] for number in shown.values()])
        beside: dict[tuple[str, str], list[Note]] = {}
        for flagged in ledger.entries(["flagged"], module=module, marks=False):
            beside.setdefault((flagged.apprentice, flagged.journal), []).extend(flagged.notes)
    of_person: dict[str, list[Standing]] = {}
    for of in standing.values():
        of_person.setdefault(of.apprentice, []).append(of)
    return {
        name: _Marked(
            entries[number],
            frozenset(of.journal for of in of_person[name]),
            max(of.arrived for of in of_person[name]),
            len(of_person[name]),
            entries[number].number in watched,
            tuple(beside.get((name, entries[number].journal), ())),
            frozenset(i for i, of in judged.get((name, entries[number].attempt), {}).items() if of.critical),
        )
        for name, number in shown.items()
    }


def _result(
    person: Apprentice, module: ModuleFacts, row: SubmissionRow | None, of: _Marked | None, news: bool
) -> Result:
    result = Result(
        person.id, person.name, module.name, "missing", "", 0.0, module.out_of, "waiting" if news else "not yet"
    )
    if of is not None:
        result = replace(
            result,
            state="handed in",
            form=of.entry.form,
            flags=tuple(Flag(note.kind, note.text or "") for note in (*of.entry.notes, *of.beside)),
            attempt=of.entry.attempt,
            attempts=of.attempts,
            watched=of.watched,
        )
    if row is None:
        return replace(result, state="to mark") if news or of is not None else result
    # Marks that a person gave without anything handed in count as they stand in the gradebook.
    automatic = {item: grade.auto_score for item, grade in row.grades.items()}
    agreed = (
        of is not None
        and {mark.item: None if mark.verdict == "waiting" else mark.points for mark in of.entry.marks} == automatic
    )
    settled = agreed and not news
    critical = _critical(of.entry, row, of.hurt) if of is not None and agreed else ()
    waiting = any(grade.manual_score is None and grade.auto_score is None for grade in row.grades.values())
    reached = round(100.0 * row.score / module.out_of, 6) >= module.cut_score
    return replace(
        result,
        state=result.state if settled or not (news or of is not None) else "to mark",
        points=row.score,
        verdict="waiting" if waiting or ((news or of is not None) and not settled) else _verdict(reached, critical),
        critical=critical,
        overridden=tuple(item for item, grade in row.grades.items() if grade.manual_score is not None),
        arrived=row.arrived,
        seconds_late=row.seconds_late,
        penalty=row.penalty,
    )


def _critical(entry: Entry, row: SubmissionRow, hurt: frozenset[str]) -> tuple[str, ...]:
    """Return the critical items whose answer would do harm, and that nobody has judged otherwise."""
    barred = set(entry.detail.get("critical", ()))
    return tuple(
        mark.item
        for mark in entry.marks
        if mark.item in barred and (mark.critical or mark.item in hurt) and not _lifted(row.grades[mark.item])
    )


def _lifted(grade: GradeRow) -> bool:
    return grade.manual_score is not None and grade.score >= grade.max_score


def _verdict(reached: bool, critical: tuple[str, ...]) -> str:
    return "passed" if reached and not critical else "not yet"
