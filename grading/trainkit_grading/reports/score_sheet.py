"""The score sheet: one page that opens anywhere without a network, and a table for spreadsheets and other systems.

``report/index.html`` asks nothing of any server and runs no script. ``report/marks.csv`` has one line for each
apprentice and module; its columns (:data:`COLUMNS`) keep their names and meanings, new ones are added at the end.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from trainkit import figures, journal
from trainkit.sentences import decimal, span
from trainkit_grading.course.cautions import cautions_of
from trainkit_grading.decisions.pending import counted, of_course
from trainkit_grading.reports.proof_beside import write_proof
from trainkit_grading.results.proof import Proof, prove
from trainkit_grading.results.results import Result, Results, gather
from trainkit_grading.support.files import pages_held, write_atomically
from trainkit_grading.support.jinja import template
from trainkit_grading.support.outcome import Outcome, Progress, quiet
from trainkit_grading.support.xlsx import cell

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


# Column by column: its name and what it holds. docs/formats.md has the same table.
COLUMNS = {
    "course": "short name of the course",
    "module": "name of the module",
    "apprentice": "identifier of the person",
    "name": "name of the person",
    "state": "missing, handed in, or to mark",
    "form": "code of the form that counts",
    "points": "points earned, less a penalty for lateness",
    "out_of": "most points",
    "percent": "points as a percentage, one decimal",
    "passed": "yes, no, or waiting",
    "critical_errors": "how many critical errors there are: unsafe answers that bar a pass",
    "critical_items": "which, separated by spaces",
    "overridden_items": "items whose points a person has set, separated by spaces",
    "flags": "how many things about the hand-in a person should look at",
    "arrived": "when it arrived, ISO 8601, UTC",
    "seconds_late": "how late that was",
    "penalty": "points taken off for lateness",
    "attempt": "which attempt counts, from 1; 0 where none was marked",
    "attempts": "how many attempts were marked",
    "session": "yes where a session record stands behind the result, else no; empty where none was marked",
    "expected": "no where nothing is to be handed in: who has left, does not take the module or has not got it yet",
    "cohort": "name of the person's cohort, empty for none",
    "due": "until when it was due for this person, ISO 8601, empty for never",
    "unsafe_items": "items with an unsafe answer, critical or not, separated by spaces",
    "spoken_check": "waiting, confirmed or slip, where one worded question alone bars a pass; else empty",
    "supervision": "supervised, or not supervised where no session record stands behind the result; "
    "empty where none was marked",
}
_PASSED = {"passed": "yes", "not yet": "no", "waiting": "waiting"}
# Shape and word of a result; colour only repeats them.
_SIGNS = {
    "passed": ("●", "passed"),
    "not yet": ("○", "not yet"),
    "waiting": ("…", "waiting"),
    "critical": ("▲", "critical error"),
    "missing": ("–", "missing"),
    "not asked": ("·", "not asked"),
}


def report(course: Course, progress: Progress = quiet, clock: Callable[[], datetime] = journal.now) -> Outcome:
    """Write the score sheet of a course.

    Parameters
    ----------
    course : Course
        The course folder.
    progress : callable, optional
        Told of each module.
    clock : callable, optional
        Returns the time with its time zone; the page says when it was written.

    Returns
    -------
    Outcome
        ``data["results"]`` holds the same results as the page.

    Raises
    ------
    CourseError
        If the roster cannot be read.
    """
    results = gather(course, progress, clock)
    proof = prove(course, progress, clock)
    page, table = course.report / "index.html", course.report / "marks.csv"
    with pages_held(course.folder):
        course.report.mkdir(parents=True, exist_ok=True)
        # With the mark of UTF-8 in front, as spreadsheets need it for letters outside English.
        write_atomically(table, "\ufeff" + marks_csv(course.name, results))
        write_atomically(page, html_text(course, results, clock(), proof))
        beside = write_proof(course.report, proof, [table])
    return Outcome(
        "report",
        (f"The score sheet is in {page}", f"The same as a table is in {table}", f"How far it is proven is in {beside}"),
        (*results.findings, *proof.findings),
        "",
        {"html": str(page), "csv": str(table), "results": [row.to_dict() for row in results.rows]},
    )


def marks_csv(course: str, results: Results) -> str:
    """Return the results as CSV, one line for each apprentice and module, with a line of column names.

    Text that a spreadsheet would run as a formula gets an apostrophe in front.
    """
    buffer = io.StringIO()
    writer = csv.DictWriter(buffer, list(COLUMNS), lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(_line(course, row) for row in results.rows)
    return buffer.getvalue()


def _line(course: str, row: Result) -> dict[str, str]:
    return {
        "course": course,
        "module": row.module,
        "apprentice": cell(row.apprentice),
        "name": cell(row.name),
        "state": row.state,
        "form": row.form,
        "points": decimal(row.points),
        "out_of": decimal(row.out_of),
        "percent": f"{row.percent:.1f}",
        "passed": _PASSED[row.verdict],
        "critical_errors": str(len(row.critical)),
        "critical_items": " ".join(row.critical),
        "overridden_items": " ".join(row.overridden),
        "flags": str(len(row.flags)),
        "arrived": row.arrived.isoformat(timespec="seconds") + "Z" if row.arrived is not None else "",
        "seconds_late": str(round(row.seconds_late)),
        "penalty": decimal(row.penalty),
        "attempt": str(row.attempt),
        "attempts": str(row.attempts),
        "session": ("yes" if row.watched else "no") if row.attempt else "",
        "expected": "yes" if row.expected else "no",
        "cohort": row.cohort,
        "due": row.due.isoformat() if row.due is not None else "",
        "unsafe_items": " ".join(row.unsafe),
        "spoken_check": row.spoken,
        "supervision": row.supervision,
    }


def html_text(course: Course, results: Results, moment: datetime, proof: Proof | None = None) -> str:
    """Return the score sheet as one self-contained page; with a proof it says how far that goes."""
    return template("reports/score_sheet.html.j2").render(
        title=results.title,
        proof=proof,
        written=moment.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC"),
        cautions=cautions_of(course),
        sign=figures.warning_sign(24),
        modules=[_summary(results, module.name) | {"facts": module} for module in results.modules],
        people=[
            (person, [_shown(results.of(person.id, module.name)) for module in results.modules])
            for person in results.people
        ],
        findings=results.findings,
        waiting=_waiting(course, results),
        ledger=results.ledger,
    )


def _waiting(course: Course, results: Results) -> tuple[str, ...]:
    """Return how many decisions of each kind wait for a person, in words; of those on the roster."""
    if not results.ledger.entries:
        return ()
    here = {person.id for person in results.people}
    return counted(each for each in of_course(course) if each.apprentice in here)


def _summary(results: Results, module: str) -> dict[str, int]:
    rows = [row for row in results.in_module(module) if row.expected or row.state != "missing"]
    return {
        "people": len(rows),
        "handed_in": sum(row.state != "missing" for row in rows),
        "passed": sum(row.verdict == "passed" for row in rows),
        "waiting": sum(row.verdict == "waiting" for row in rows),
        "critical": sum(bool(row.critical) for row in rows),
        "unsafe": sum(bool(row.unsafe) for row in rows),
        "unwatched": sum(row.supervision == "not supervised" for row in rows),
    }


def _shown(row: Result) -> dict[str, Any]:
    nothing = "missing" if row.expected else "not asked"
    asked = row.spoken == "waiting" and row.verdict == "waiting"
    kind = nothing if row.state == "missing" else "critical" if row.critical and not asked else row.verdict
    shape, word = _SIGNS[kind]
    return {"row": row, "kind": kind.replace(" ", "-"), "shape": shape, "word": word, "late": _late(row.seconds_late)}


def _late(seconds: float) -> str:
    return f"{span(max(1, round(seconds / 60)))} late" if seconds > 0 else ""
