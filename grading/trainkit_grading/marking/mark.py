"""Marking: journals in, marks out, into the ledger, nbgrader's gradebook and readable notebooks."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from typing import TypeVar

from trainkit import journal
from trainkit.errors import TrainkitError
from trainkit.sentences import counted
from trainkit_grading.course.folder import Course
from trainkit_grading.intake import chain, growing, submissions
from trainkit_grading.ledger import closing, watermark
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.marking import notebooks
from trainkit_grading.marking.score import Scorer
from trainkit_grading.marking.worker_pool import same_items, score_all
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record.marked_entry import entry_of, summary_of
from trainkit_grading.record.marked_submission import MarkedSubmission
from trainkit_grading.record.to_mark import ModuleToMark
from trainkit_grading.record.write import Recorder
from trainkit_grading.signoff.filling import fill
from trainkit_grading.support.files import held
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet, refused
from trainkit_grading.support.refusals import refusal, stops_all

T = TypeVar("T")

# So many submissions are scored, written down and let go at a time: memory does not grow with the cohort.
_BATCH = 100


def mark(
    course: Course,
    names: Iterable[str] = (),
    progress: Progress = quiet,
    apprentices: Sequence[str] | None = None,
    why: str = "",
    jobs: int = 1,
    clock: Callable[[], datetime] = journal.now,
) -> Outcome:
    """Mark what was handed in, into ledger, gradebook and the marked notebooks; marking again gives the same.

    Ledger and gradebook take all marks of a module in one transaction; the notebooks are made afterwards, each in
    one step, and are made again by the next marking if this one is cut off.

    Parameters
    ----------
    course : Course
        The course folder.
    names : iterable of str, optional
        The modules; without, all that have been given out.
    progress : callable, optional
        Told of each submission.
    apprentices : sequence of str, optional
        Only these; without, everybody with a folder under ``submitted/``.
    why : str, optional
        Why answers that were marked before may earn something else now; without it their marks stay.
    jobs : int, optional
        How many processes score.
    clock : callable, optional
        Returns the time with its time zone: who has left by then, or has not got the module yet, is not missing.

    Returns
    -------
    Outcome
        ``data["submissions"]`` says what each apprentice has reached; what could not be marked is a finding and
        costs only itself.

    Raises
    ------
    CourseError
        If a module is not of this course.
    """
    named = [course.module(name).name for name in names]
    wanted = named or [entry.name for entry in course.modules if (course.release / entry.name).is_dir()]
    done: list[str] = []
    findings: list[Finding] = []
    marked: list[dict[str, object]] = []
    missing: dict[str, list[str]] = {}
    if not wanted:
        findings.append(Finding("note", "course.toml", "No module has been given out. Run: trainkit-course assign"))
    with held(course.folder):
        for module in wanted:
            try:
                round_ = _mark_module(course, module, progress, apprentices, why.strip(), jobs)
            except (TrainkitError, OSError) as error:
                findings.append(refused(error, getattr(error, "place", "") or module))
                if stops_all(error):
                    break  # the next module would wait as long, and for the same
                continue
            marked += round_.summaries
            findings += round_.findings
            missing[module] = [] if apprentices is not None else _missing(round_, clock())
            count = len(round_.marked)
            still = f", {len(missing[module])} missing" if missing[module] else ""
            done.append(f"{module}: {counted(count, 'submission')} marked{still}.")
    return Outcome(
        "mark",
        tuple(done),
        tuple(findings),
        "Write everybody's feedback: trainkit-course feedback. Then the score sheet: trainkit-course report"
        if marked
        else "",
        {"submissions": marked, "missing": missing},
    )


def record(course: Course, module: str, apprentice: str) -> tuple[MarkedSubmission, tuple[Finding, ...]]:
    """Score and record one apprentice's attempts; return the marks that count and what to look at.

    Raises
    ------
    CourseError
        If they cannot be marked.
    """
    scorer = Scorer(course, module)
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        recorder = Recorder(connection, ModuleToMark.of(course, module))
        attempts = scorer.passing_over(closing.passed_over(recorder.ledger, module)).score_attempts(apprentice)
        entries = [entry_of(scored) for scored in attempts]
        for entry in entries:
            same_items(entry, recorder.items)
        entry = _take(recorder, [entries], course, chain.anchor(course))[apprentice]
    return _counting(scorer, attempts, entry), tuple(recorder.findings)


@dataclass(slots=True)
class _Round:
    """What marking one module came to."""

    module: ModuleToMark
    findings: list[Finding] = field(default_factory=list)
    marked: list[str] = field(default_factory=list)
    summaries: list[dict[str, object]] = field(default_factory=list)


def _mark_module(
    course: Course, module: str, progress: Progress, apprentices: Sequence[str] | None, why: str, jobs: int
) -> _Round:
    scorer = Scorer(course, module)
    names = submissions.names(course, module) if apprentices is None else apprentices
    counted: dict[str, int] = {}
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        done = _Round(ModuleToMark.of(course, module))
        recorder = Recorder(connection, done.module, why)
        scorer = scorer.passing_over(closing.passed_over(recorder.ledger, module))
        all_worked = watermark.all_worked(connection, watermark.read(course.proven_file, done.module.seed))
        # A folder that another instructor has cleared of somebody may not be the only one.
        gone = recorder.ledger.forgotten(names)
        done.findings += [_forgotten(module, name) for name in names if name in gone]
        names = [name for name in names if name not in gone]
        people = {person.id for person in done.module.roster()}
        anchor = chain.anchor(course)
        for batch in _batches(score_all(scorer, recorder.items, names, people, jobs, progress, done.findings)):
            for name, entry in _take(recorder, batch, course, anchor).items():
                counted[name] = entry.number
                done.summaries.append(summary_of(entry))
                done.findings += [Finding("warning", f"{module} {name}", note.text or "") for note in entry.notes]
        recorder.compare()
        done.findings += recorder.findings
        after = recorder.ledger.end()
    if all_worked:  # and what was written just now was worked out just now
        watermark.advance(course.proven_file, done.module.seed, after)
    done.marked += counted
    # The marks stand; the notebooks follow from them.
    done.findings += _write_notebooks(course, done.module, scorer, counted)
    return done


def _take(recorder: Recorder, attempts: Sequence[Sequence[Marked]], course: Course, anchor: str) -> dict[str, Marked]:
    """Record attempts, then the points of the practical work in them that was watched already.

    ``anchor`` says where the chain of receipts ends: from now on nothing before that can be taken out unseen.
    """
    anchored = [[replace(entry, receipts=anchor) for entry in entries] for entries in attempts]
    counted = recorder.take(anchored, partial(growing.continues, course, recorder.module.name))
    watched = [name for name, entry in counted.items() if any(row.kind == "observed" for row in entry.marks)]
    return counted | fill(recorder, watched)


def _forgotten(module: str, name: str) -> Finding:
    text = f"They were forgotten; it was not marked. Clear this folder of them: trainkit-course forget {name}"
    return Finding("refused", f"submitted/{name}/{module}", text)


def _missing(round_: _Round, now: datetime) -> list[str]:
    handed_in = set(round_.marked)
    due = [person for person in round_.module.roster() if round_.module.expected(person, now)]
    return [person.id for person in due if person.id not in handed_in]


def _write_notebooks(course: Course, module: ModuleToMark, scorer: Scorer, counted: Mapping[str, int]) -> list[Finding]:
    """Make the marked notebooks from what the ledger says, so many at a time that memory does not grow."""
    findings = []
    with gradebook.opened(course) as engine:
        for names in _batches(counted):
            with engine.connect() as connection:
                entries = Ledger(connection, module.seed).read(Marked, (counted[name] for name in names))
            for name in names:
                try:
                    notebooks.write(course, scorer.restore(entries[counted[name]]))
                except (OSError, TrainkitError) as error:
                    place = f"autograded/{name}/{module.name}"
                    told = refusal(error) if isinstance(error, OSError) else error
                    text = "The marks stand, but the marked notebook could not be written."
                    findings.append(Finding("refused", place, f"{text} {told.rule} {told.remedy}"))
                    if stops_all(error):
                        return findings
    return findings


def _counting(scorer: Scorer, attempts: Sequence[MarkedSubmission], entry: Marked) -> MarkedSubmission:
    """Return the marks that count: those just given, or what stands in the ledger."""
    for scored in attempts:
        if scored.attempt == entry.attempt and entry_of(scored).outcome == entry.outcome:
            return scored
    return scorer.restore(entry)


def _batches(names: Iterable[T]) -> Iterator[list[T]]:
    rest = iter(names)
    while some := list(itertools.islice(rest, _BATCH)):
        yield some
