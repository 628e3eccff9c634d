"""Everything that the coordinator's view says, as values: results and sign-offs of everybody against the criteria."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainkit import journal
from trainkit_grading.reports.basis import opened_basis
from trainkit_grading.reports.coordinator.progress import CohortWeek, weeks
from trainkit_grading.results import readiness
from trainkit_grading.results.results import LedgerEnd, ModuleFacts, Result
from trainkit_grading.signoff.observations import SignOff, sign_offs
from trainkit_grading.support.outcome import Finding, Progress, quiet

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.roster import Apprentice
    from trainkit_grading.course.settings import Criterion
    from trainkit_grading.results.readiness import Readiness


@dataclass(frozen=True, slots=True)
class PersonStanding:
    """Where one person stands.

    Parameters
    ----------
    person : Apprentice
        Who.
    results : mapping of str to Result
        By module.
    signed : mapping of str to SignOff
        What practical work shows, by checklist.
    readiness : tuple of Readiness
        One for each criterion.
    forward : bool
        Whether they may be put forward.
    reason : str
        Why, or why not, in words.
    pending : int
        How many of their things wait for a decision.
    gone : bool
        Whether they have left.
    """

    person: Apprentice
    results: Mapping[str, Result]
    signed: Mapping[str, SignOff]
    readiness: tuple[Readiness, ...]
    forward: bool
    reason: str
    pending: int = 0
    gone: bool = False

    @property
    def missing(self) -> tuple[str, ...]:
        """Modules of which nothing was handed in though it is expected."""
        return tuple(name for name, of in self.results.items() if of.expected and of.state == "missing")

    @property
    def late(self) -> tuple[str, ...]:
        """Modules that were handed in late."""
        return tuple(name for name, of in self.results.items() if of.seconds_late > 0)


@dataclass(frozen=True, slots=True)
class CohortModule:
    """How a cohort, or everybody, has fared in a module.

    Parameters
    ----------
    cohort, module : str
        Name of the cohort, empty for those in none, or ``"*"`` for everybody; name of the module.
    expected, handed_in, late, marked, passed, critical : int
        How many are expected to hand in, have handed in, were late, have all marks, have passed, and have a critical
        error.
    percent : float
        Mean of what was reached, in per cent of all points; of those with all marks.
    """

    cohort: str
    module: str
    expected: int
    handed_in: int
    late: int
    marked: int
    passed: int
    critical: int
    percent: float


@dataclass(frozen=True, slots=True)
class Overview:
    """The whole view.

    Parameters
    ----------
    title, qualification : str
        Of the course, and what it leads to.
    written : datetime
        When it was put together, with its zone.
    modules : tuple of ModuleFacts
        Those that were given out.
    criteria : tuple of Criterion
        What is asked for.
    people : tuple of PersonStanding
        Everybody on the roster, in its order.
    cohorts : mapping of str to str
        Title of each cohort by its name, in the course's order; those that anybody is in.
    fared : tuple of CohortModule
        Everybody first, then cohort by cohort.
    weeks : tuple of CohortWeek
        How far each cohort was, week by week.
    findings : tuple of Finding
        What is to be looked at.
    ledger : LedgerEnd
        Where the ledger ends.
    """

    title: str
    qualification: str
    written: datetime
    modules: tuple[ModuleFacts, ...]
    criteria: tuple[Criterion, ...]
    people: tuple[PersonStanding, ...]
    cohorts: Mapping[str, str]
    fared: tuple[CohortModule, ...]
    weeks: tuple[CohortWeek, ...]
    findings: tuple[Finding, ...]
    ledger: LedgerEnd

    def count(self) -> Mapping[str, Counter[str]]:
        """Return how many stand where, by the number of the criterion."""
        return {
            criterion.number: Counter(each.readiness[place].verdict for each in self.people if not each.gone)
            for place, criterion in enumerate(self.criteria)
        }


def overview(course: Course, progress: Progress = quiet, clock: Callable[[], datetime] = journal.now) -> Overview:
    """Put the coordinator's view together.

    Parameters
    ----------
    course : Course
        The course folder.
    progress : callable, optional
        Told of each module.
    clock : callable, optional
        Returns the time with its time zone.

    Raises
    ------
    CourseError
        If the roster or the database cannot be read.
    """
    signed: dict[str, dict[str, SignOff]] = {}
    with opened_basis(course, progress, clock) as basis:
        if basis.source is not None:
            for (apprentice, checklist), of in sign_offs(basis.source[0]).items():
                signed.setdefault(apprentice, {})[checklist] = of
    results, of_person = basis.results, basis.of_person
    waiting = Counter(each.apprentice for each in basis.pending)
    criteria = readiness.criteria_of(course, {module.name: module.title for module in results.modules})
    unsupervised = readiness.unsupervised_of(course)
    people = []
    for person in results.people:
        own = signed.get(person.id, {})
        standing = tuple(
            readiness.judge(criterion, of_person[person.id], own, unsupervised=unsupervised) for criterion in criteria
        )
        pending = waiting[person.id]
        may, reason = readiness.forward(standing, own, pending)
        gone = person.gone(basis.written.date())
        people.append(
            PersonStanding(person, of_person[person.id], own, standing, may and not gone, reason, pending, gone)
        )
    met = {person.cohort for person in results.people}
    cohorts = {each.name: each.title or each.name for each in course.cohorts if each.name in met}
    return Overview(
        results.title,
        course.qualification,
        basis.written,
        results.modules,
        criteria,
        tuple(people),
        cohorts,
        tuple(_fared(results.modules, results.rows, [*cohorts, *([""] if "" in met else [])])),
        weeks(results.rows, len(results.modules)),
        results.findings,
        results.ledger,
    )


def _fared(modules: Iterable[ModuleFacts], rows: Iterable[Result], cohorts: Iterable[str]) -> Iterable[CohortModule]:
    groups: dict[tuple[str, str], list[Result]] = {}
    for row in rows:
        groups.setdefault(("*", row.module), []).append(row)
        groups.setdefault((row.cohort, row.module), []).append(row)
    for cohort in ("*", *cohorts):
        for module in modules:
            of = groups.get((cohort, module.name), [])
            marked = [row for row in of if row.complete]
            yield CohortModule(
                cohort,
                module.name,
                sum(row.expected for row in of),
                sum(row.state != "missing" for row in of),
                sum(row.seconds_late > 0 for row in of),
                len(marked),
                sum(row.verdict == "passed" for row in marked),
                sum(bool(row.critical) for row in of),
                sum(row.percent for row in marked) / len(marked) if marked else 0.0,
            )
