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
    module: str,
    apprentices: Sequence[str] | None = None,
    progress: Progress = quiet,
) -> Outcome:
    """Mark what was handed in for a module, into the gradebook and the marked notebooks.

    Marking again gives the same. The gradebook takes all marks in one transaction; the notebooks are made from it
    afterwards, each in one step, and are made again by the next marking if this one is cut off.

    Parameters
    ----------
    course : Course
        The course folder.
    module : str
        Name of the module.
    apprentices : sequence of str, optional
        Only these; without it, everybody with a folder under ``submitted/``.
    progress : callable, optional
        Told of each submission.

    Returns
    -------
    Outcome
        ``data["submissions"]`` holds the marks; what could not be marked is a finding.

    Raises
    ------
    CourseError
        If the module or its gradebook cannot be used; then nothing was changed.
    """
    with held(course.folder):
        scorer = Scorer(course, module)
        scored, findings = _score_all(scorer, gradebook.items(course, module), apprentices, progress)
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
    for entry in scored:
        findings += [Finding("warning", f"{module} {entry.apprentice}", flag.text) for flag in entry.flags]
    handed_in = {entry.apprentice for entry in scored}
    missing = () if apprentices is not None else [p.id for p in course.roster() if p.id not in handed_in]
    done = f"{module}: {_counted(len(scored), 'submission')} marked" + (
        f", {len(missing)} missing." if missing else "."
    )
    return Outcome(
        "mark",
        done=(done,),
        findings=tuple(findings),
        next_step="trainkit-course report",
        data={"module": module, "submissions": [entry.to_dict() for entry in scored], "missing": list(missing)},
    )


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


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
