"""Delivering feedback: pages to where nbgrader releases them from, and a zip for each apprentice without the disk.

A page takes the place that ``nbgrader generate_feedback`` writes to, ``feedback/<apprentice>/<module>/<module>.html``,
because ``nbgrader fetch_feedback`` looks for a page of the notebook's name and for no other. nbgrader itself makes the
same page there (:mod:`..nbgrader_feedback`), so it does not matter which of the two was called last.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit import journal
from trainkit.errors import TrainkitError
from trainkit.sentences import counted
from trainkit_grading.errors import DrawingError
from trainkit_grading.intake import submissions
from trainkit_grading.reports.feedback.page import Pages, html_text
from trainkit_grading.reports.feedback.telling import tell
from trainkit_grading.support.files import held, write_atomically
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet, refused
from trainkit_grading.support.refusals import stops_all
from trainkit_grading.support.zipping import zip_of

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.reports.feedback.page import FeedbackPage
    from trainkit_grading.results.results import Result


# So many pages are put together, recorded and written at a time.
_BATCH = 100
# Beside the zips of the modules; no module can have this name.
ZIPS = "_feedback"


def feedback(
    course: Course,
    names: Iterable[str] = (),
    *,
    zipped: bool = False,
    progress: Progress = quiet,
    clock: Callable[[], datetime] = journal.now,
) -> Outcome:
    """Write a page of feedback for each marked submission; doing it again gives the same bytes.

    A page whose marks no longer stand, because a newer hand-in is not marked yet or the hand-in is gone, is removed.
    The ledger says of which attempts there are pages: what arrives of these attempts later does not count by itself.

    Parameters
    ----------
    course : Course
        The course folder.
    names : iterable of str, optional
        The modules; without, all that have been given out.
    zipped : bool
        Whether each apprentice gets a zip of these pages too, under ``zips/_feedback``.
    progress : callable, optional
        Told of each page.
    clock : callable, optional
        Returns the time with its time zone; it decides whether answers may be told already.

    Returns
    -------
    Outcome
        ``data["pages"]`` holds the path of each page by module and apprentice; what could not be written is a
        finding and costs only itself.

    Raises
    ------
    CourseError
        If a module is not of this course, or the roster cannot be read.
    """
    named = [course.module(name).name for name in names]
    wanted = named or [entry.name for entry in course.modules if (course.release / entry.name).is_dir()]
    pages = Pages(course, clock=clock)
    done: list[str] = []
    findings = [finding for finding in pages.results.findings if finding.place in wanted]
    findings += pages.proof.findings
    written: dict[str, dict[str, str]] = {}
    ready = [row for row in pages.results.rows if row.module in wanted]
    with held(course.folder):
        due = [row for row in ready if row.state != "missing"]
        for begin in range(0, len(due), _BATCH):
            sheets = list(_sheets(pages, due[begin : begin + _BATCH], findings))
            tell(course, sheets, pages.now)
            for number, sheet in enumerate(sheets, start=begin + 1):
                row = sheet.result
                progress(number, len(due), f"{row.module} {row.apprentice}")
                path = _write(course, sheet, findings)
                if path is not None:
                    written.setdefault(row.module, {})[row.apprentice] = str(path)
        for module in wanted:
            findings += _remove_stale(course, module, written.get(module, {}))
            count = len(written.get(module, {}))
            done.append(f"{module}: {counted(count, 'page')} of feedback.")
        if zipped:
            done.append(_write_zips(course, written))
    return Outcome(
        "feedback",
        tuple(done),
        tuple(findings),
        _next_step(course, written, zipped=zipped),
        {"pages": written},
    )


def _sheets(pages: Pages, rows: Iterable[Result], findings: list[Finding]) -> Iterator[FeedbackPage]:
    """Yield what the pages say; one that cannot be put together becomes a finding."""
    for row in rows:
        try:
            yield pages.sheet(row.module, row.apprentice)
        except DrawingError as error:
            # What is wrong with a file of the whole module is told once, not of everybody.
            found = refused(error, row.module)
            if found not in findings:
                findings.append(found)
        except TrainkitError as error:
            findings.append(refused(error, f"{row.module} {row.apprentice}"))


def _write(course: Course, sheet: FeedbackPage, findings: list[Finding]) -> Path | None:
    """Write a page and return its path; what keeps it from being written becomes a finding."""
    module, apprentice = sheet.result.module, sheet.result.apprentice
    home = course.feedback / apprentice / module
    path = home / f"{module}.html"
    try:
        home.mkdir(parents=True, exist_ok=True)
        write_atomically(path, html_text(sheet))
        # nbgrader releases a page under a name that it makes from this secret, and logs when it was handed in.
        submitted = submissions.folder(course, module, apprentice)
        for name in (submissions.TIME_FILE, submissions.SECRET_FILE):
            content = submissions.small_file(submitted, name)
            if content is not None:
                write_atomically(home / name, content)
    except (TrainkitError, OSError) as error:
        if stops_all(error):
            raise
        findings.append(refused(error, f"{module} {apprentice}"))
    else:
        return path
    return None


def _remove_stale(course: Course, module: str, written: Mapping[str, str]) -> list[Finding]:
    """Remove pages that do not tell of marks that stand, so that nobody releases one."""
    findings = []
    for path in sorted(course.feedback.glob(f"*/{module}/{module}.html")):
        apprentice = path.parent.parent.name
        if apprentice not in written:
            path.unlink()
            text = "The page there told of marks that no longer stand; it is removed."
            findings.append(Finding("note", f"feedback/{apprentice}/{module}", text))
    return findings


def _write_zips(course: Course, written: Mapping[str, Mapping[str, str]]) -> str:
    """Write a zip for each apprentice with a page, and remove those of everybody else."""
    home = course.zips / ZIPS
    home.mkdir(parents=True, exist_ok=True)
    by_person: dict[str, dict[str, bytes]] = {}
    for module, pages in written.items():
        for apprentice, path in pages.items():
            by_person.setdefault(apprentice, {})[f"{module}.html"] = Path(path).read_bytes()
    for apprentice, members in by_person.items():
        write_atomically(home / f"{apprentice}.zip", zip_of("feedback", members))
    for made in home.glob("*.zip"):
        if made.stem not in by_person:
            made.unlink()
    return f"{counted(len(by_person), 'zip')} in zips/{ZIPS}."


def _next_step(course: Course, written: Mapping[str, Any], *, zipped: bool) -> str:
    if not written:
        return "Collect and mark first: trainkit-course mark"
    if zipped:
        return f"Give each apprentice their own zip from {course.zips / ZIPS}"
    if course.exchange_root is not None:
        return "Give the pages out, a module at a time: " + "; ".join(
            f"nbgrader release_feedback {module}" for module in written
        )
    return "Make a zip for each apprentice: trainkit-course feedback --zip"
