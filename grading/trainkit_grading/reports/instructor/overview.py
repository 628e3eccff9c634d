"""Everything that the instructor's view says, as values."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainkit import journal
from trainkit_grading.decisions.pending import PendingDecision
from trainkit_grading.reports.alike import AlikePlays, alike_plays
from trainkit_grading.reports.basis import DETAILED, opened_basis
from trainkit_grading.reports.instructor import talking
from trainkit_grading.reports.instructor.mistakes import Mistake, NotAskable, mistakes, not_askable, to_teach
from trainkit_grading.reports.instructor.talking import Talk, talks
from trainkit_grading.reports.instructor.working import Working, working
from trainkit_grading.results import marksheet
from trainkit_grading.results.results import LedgerEnd, ModuleFacts, Result
from trainkit_grading.statistics import (
    CutRow,
    Decisions,
    Figure,
    alpha,
    cut_table,
    decision_consistency,
    standard_error_of_measurement,
)
from trainkit_grading.support.outcome import Finding, Progress, quiet

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.results.marksheet import Marksheet


@dataclass(frozen=True, slots=True)
class ModuleView:
    """One module: how it fared and what each possible cut score would decide.

    Parameters
    ----------
    facts : ModuleFacts
        Title, cut score, most points.
    handed_in, marked, passed, unsupervised : int
        How many have handed in, have all marks, have passed; of how many no session record says who watched.
    bands : tuple of int
        How many reached 0 to 9 %, 10 to 19 %, … 90 to 99 %, 100 %.
    cuts : tuple of CutRow
        What each possible cut score would decide.
    alpha, error : Figure
        Reliability over draws and standard error of measurement in points.
    decisions : Decisions or None
        How sure decisions at the cut score are; None where nothing was marked.
    """

    facts: ModuleFacts
    handed_in: int
    marked: int
    passed: int
    unsupervised: int
    bands: tuple[int, ...]
    cuts: tuple[CutRow, ...]
    alpha: Figure
    error: Figure
    decisions: Decisions | None


@dataclass(frozen=True, slots=True)
class InstructorsView:
    """The whole view; see the package for what stands where."""

    title: str
    written: datetime
    people: int
    names: Mapping[str, str]
    modules: tuple[ModuleView, ...]
    mistakes: tuple[Mistake, ...]
    teach: tuple[Mistake, ...]
    not_askable: tuple[NotAskable, ...]
    working: tuple[Working, ...]
    talks: tuple[Talk, ...]
    pending: tuple[PendingDecision, ...]
    alike: tuple[AlikePlays, ...]
    findings: tuple[Finding, ...]
    ledger: LedgerEnd


def instructors_view(
    course: Course, progress: Progress = quiet, clock: Callable[[], datetime] = journal.now
) -> InstructorsView:
    """Put the instructor's view together.

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
    sheets: list[Marksheet] = []
    labels: Mapping[str, Sequence[str]] = {}
    found: tuple[Mistake, ...] = ()
    plays: tuple[AlikePlays, ...] = ()
    with opened_basis(course, progress, clock) as basis:
        results, of_person = basis.results, basis.of_person
        here = [person for person in results.people if not person.gone(basis.written.date())]
        if basis.source is not None:
            ledger, connection = basis.source
            sheets = [marksheet.read_marksheet(ledger, connection, module.name) for module in results.modules]
            found = mistakes(sheets)
            plays = tuple(each for of in results.modules for each in alike_plays(course, ledger, of.name))
            # Of more people it is counted who shows a misconception again and again; of a class each answer is weighed.
            if len(here) <= DETAILED:
                entries = {person.id: [of.entry for of in of_person[person.id].values() if of.entry] for person in here}
                labels = talking.held(course, ledger, entries)
            else:
                labels = talking.often(found)
    by_module = {sheet.module: sheet for sheet in sheets}
    titles = {module.name: module.title for module in results.modules}
    return InstructorsView(
        results.title,
        basis.written,
        len(here),
        {person.id: person.name for person in results.people},
        tuple(_module(module, results.in_module(module.name), by_module[module.name]) for module in results.modules),
        found,
        to_teach(found),
        not_askable(course, titles),
        working(sheets),
        talks(here, of_person, titles, labels),
        basis.pending,
        plays,
        results.findings,
        results.ledger,
    )


def _module(facts: ModuleFacts, rows: Sequence[Result], sheet: Marksheet) -> ModuleView:
    settled = [row for row in rows if row.complete]
    percents = [row.percent for row in settled]
    bands = [0] * 11
    for percent in percents:
        bands[min(max(int(percent // 10), 0), 10)] += 1
    cuts = sorted({*range(40, 101, 5), facts.cut_score})
    most = [column.out_of for column in sheet.columns]
    scores = sheet.points
    return ModuleView(
        facts,
        sum(row.state != "missing" for row in rows),
        len(settled),
        sum(row.verdict == "passed" for row in settled),
        sum(row.supervision == "not supervised" for row in rows),
        tuple(bands),
        cut_table(percents, cuts=cuts, barred=[bool(row.critical) for row in settled]),
        alpha(scores, forms=sheet.forms, over_draws=True),
        standard_error_of_measurement(scores, forms=sheet.forms, over_draws=True),
        decision_consistency(scores, facts.cut_score, most=most, forms=sheet.forms, over_draws=True)
        if len(scores) and most
        else None,
    )
