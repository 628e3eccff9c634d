"""Writing the coordinator's view: the page, the spreadsheet, and a notebook for questions of one's own."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from trainkit import journal
from trainkit_grading.course.cautions import cautions_of
from trainkit_grading.errors import CourseError
from trainkit_grading.reports.basis import DETAILED, opened_ledger
from trainkit_grading.reports.coordinator import page, questions, workbook
from trainkit_grading.reports.coordinator.evidence import Evidences, ModuleEvidence
from trainkit_grading.reports.coordinator.overview import Overview, overview
from trainkit_grading.results.proof import Proof, prove
from trainkit_grading.support.files import pages_held, write_atomically
from trainkit_grading.support.garbage_collection import paused_garbage_collection
from trainkit_grading.support.outcome import Outcome, Progress, quiet

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


def write_coordinator_report(
    course: Course, apprentice: str = "", progress: Progress = quiet, clock: Callable[[], datetime] = journal.now
) -> Outcome:
    """Write the coordinator's view.

    Parameters
    ----------
    course : Course
        The course folder.
    apprentice : str, optional
        Only this person, with each answer; without, everybody.
    progress : callable, optional
        Told of each module.
    clock : callable, optional
        Returns the time with its time zone; the page says when it was written.

    Raises
    ------
    CourseError
        If the roster cannot be read, or nobody on it has this identifier.
    """
    with paused_garbage_collection():
        view = overview(course, progress, clock)
        proof = prove(course, progress, clock)
        return _one(course, view, proof, apprentice) if apprentice else _all(course, view, proof)


def _all(course: Course, view: Overview, proof: Proof) -> Outcome:
    details = _details(course, view) if len(view.people) <= DETAILED else {}
    html = page.html_text(view, cautions_of(course), details, proof)
    files = {name: course.report / name for name in ("readiness.html", "readiness.xlsx", "questions.ipynb")}
    with pages_held(course.folder):
        course.report.mkdir(parents=True, exist_ok=True)
        write_atomically(files["readiness.html"], html)
        workbook.write_workbook(view, files["readiness.xlsx"], proof)
        # What somebody has asked in it is theirs.
        if not files["questions.ipynb"].exists():
            write_atomically(files["questions.ipynb"], questions.notebook_text())
    forward = sum(each.forward for each in view.people)
    return Outcome(
        "report",
        (
            f"Who is ready for what is in {files['readiness.html']}",
            f"The same as a spreadsheet is in {files['readiness.xlsx']}",
            f"{forward} of {len(view.people)} may be put forward.",
        ),
        (*view.findings, *proof.findings),
        f"For questions of your own: jupyter lab {files['questions.ipynb']}",
        {"html": str(files["readiness.html"]), "xlsx": str(files["readiness.xlsx"]), "forward": forward},
    )


def _one(course: Course, view: Overview, proof: Proof, apprentice: str) -> Outcome:
    from dataclasses import replace

    people = tuple(each for each in view.people if each.person.id == apprentice)
    if not people:
        raise CourseError(
            apprentice, rule="Nobody on the roster has this identifier.", remedy="Check the name, or roster.csv."
        )
    only = replace(view, people=people, fared=(), weeks=(), findings=())
    html = page.html_text(only, cautions_of(course), _details(course, only), proof)
    path = course.report / "evidence" / f"{apprentice}.html"
    with pages_held(course.folder):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(path, html)
    return Outcome(
        "report", (f"What is on record about {apprentice} is in {path}",), proof.findings, data={"html": str(path)}
    )


def _details(course: Course, view: Overview) -> Mapping[str, Mapping[str, ModuleEvidence]]:
    if not view.modules:
        return {}
    with opened_ledger(course) as (ledger, _):
        evidences = Evidences(course, ledger)
        return {
            each.person.id: evidences.of(
                each.person.id, {name: row.entry for name, row in each.results.items() if row.entry}
            )
            for each in view.people
        }
