"""Marking: journals in, marks out, into nbgrader's gradebook and readable notebooks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from trainkit.errors import TrainkitError
from trainkit_grading import submissions
from trainkit_grading.bridge import gradebook, notebooks, projection
from trainkit_grading.course import Course
from trainkit_grading.errors import CourseError
from trainkit_grading.files import held
from trainkit_grading.outcome import Finding, Outcome, Progress, quiet, refused
from trainkit_grading.scoring import Flag, Marked, Scored, Scorer, score

__all__ = ["Flag", "Marked", "Scored", "Scorer", "mark", "score"]


def mark(
    course: Course,
    names: Iterable[str] = (),
    progress: Progress = quiet,
    apprentices: Sequence[str] | None = None,
) -> Outcome:
    """Mark what was handed in, into the gradebook and the marked notebooks; marking again gives the same.

    The gradebook takes all marks of a module in one transaction; the notebooks are made from it afterwards, each in
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

    Returns
    -------
    Outcome
        ``data["submissions"]`` holds the marks; what could not be marked is a finding and costs only itself.

    Raises
    ------
    CourseError
        If a module is not of this course.
    """
    named = [course.module(name).name for name in names]
    wanted = named or [entry.name for entry in course.modules if (course.release / entry.name).is_dir()]
    done: list[str] = []
    findings: list[Finding] = []
    marked: list[Scored] = []
    missing: dict[str, list[str]] = {}
    if not wanted:
        findings.append(Finding("note", "course.toml", "No module has been given out. Run: trainkit-course assign"))
    with held(course.folder):
        for module in wanted:
            try:
                scored, met = _mark_module(course, module, progress, apprentices)
            except TrainkitError as error:
                findings.append(refused(error, error.place or module))
                continue
            marked += scored
            findings += met
            missing[module] = [] if apprentices is not None else _missing(course, scored)
            still = f", {len(missing[module])} missing" if missing[module] else ""
            done.append(f"{module}: {len(scored)} {'submission' if len(scored) == 1 else 'submissions'} marked{still}.")
    return Outcome(
        "mark",
        tuple(done),
        tuple(findings),
        "Write the score sheet: trainkit-course report" if marked else "",
        {"submissions": [entry.to_dict() for entry in marked], "missing": missing},
    )


def _mark_module(
    course: Course, module: str, progress: Progress, apprentices: Sequence[str] | None
) -> tuple[list[Scored], list[Finding]]:
    scored, findings = _score_all(Scorer(course, module), gradebook.items(course, module), apprentices, progress)
    if scored:
        projection.project(
            course,
            module,
            [
                projection.Projected(
                    entry.apprentice,
                    {marked.id: marked.mark.points for marked in entry.items},
                    submissions.arrived(course, module, entry.apprentice),
                )
                for entry in scored
            ],
        )
        findings += _write_notebooks(course, scored)
    findings += [Finding("warning", f"{module} {e.apprentice}", flag.text) for e in scored for flag in e.flags]
    return scored, findings


def _missing(course: Course, scored: Iterable[Scored]) -> list[str]:
    handed_in = {entry.apprentice for entry in scored}
    return [person.id for person in course.roster() if person.id not in handed_in]


def _score_all(
    scorer: Scorer, items: Mapping[str, float], apprentices: Sequence[str] | None, progress: Progress
) -> tuple[list[Scored], list[Finding]]:
    course, module = scorer.course, scorer.module
    roster = course.roster()
    wanted = submissions.names(course, module) if apprentices is None else apprentices
    scored: list[Scored] = []
    findings: list[Finding] = []
    for number, name in enumerate(wanted, start=1):
        place = f"submitted/{name}/{module}"
        try:
            if name not in roster:
                raise CourseError(
                    name,
                    rule="This folder's name is not on the roster; it was not marked.",
                    remedy="Rename the folder to the apprentice's identifier, or add them to roster.csv.",
                )
            entry = scorer.score(name)
            if {marked.id: marked.mark.out_of for marked in entry.items} != items:
                raise CourseError(
                    entry.form,
                    rule=f"Form {entry.form} of attempt {entry.attempt} has other items than the module as given out.",
                    remedy="Put the blueprint back as it was for this attempt, or mark this one by hand.",
                )
            scored.append(entry)
        except TrainkitError as error:
            findings.append(refused(error, place))
        except Exception as error:  # noqa: BLE001 - one bad submission must never stop the others; it is told of
            findings.append(
                Finding("refused", place, f"{type(error).__name__}: {error}. It was not marked; please report this.")
            )
        progress(number, len(wanted), name)
    return scored, findings


def _write_notebooks(course: Course, scored: Iterable[Scored]) -> list[Finding]:
    findings = []
    for entry in scored:
        try:
            notebooks.write(course, entry)
        except (OSError, TrainkitError) as error:
            why = error.strerror if isinstance(error, OSError) else str(error)
            place = f"autograded/{entry.apprentice}/{entry.module}"
            text = f"The marks stand, but the marked notebook could not be written ({why}). Mend that, then mark again."
            findings.append(Finding("refused", place, text))
    return findings
