"""Commands that follow collecting: they are added to the app by :func:`register`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from trainkit_grading.cli.output import command

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.support.outcome import Outcome, Progress


_Modules = Annotated[list[str] | None, typer.Argument(help="The modules; all that have been given out, without.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this module to ``app``."""
    for each in (mark, feedback, report, demo):
        app.command()(each)


@command("Marking")
def mark(
    course: Course,
    progress: Progress,
    modules: _Modules = None,
    why: Annotated[
        str, typer.Option("--why", help="Why the same answers may earn other points now. Without, their marks stay.")
    ] = "",
    jobs: Annotated[int, typer.Option("--jobs", min=1, max=64, help="How many processes score.")] = 1,
) -> Outcome:
    """Mark what was handed in, into ledger and gradebook."""
    from trainkit_grading.marking.mark import mark as mark_all

    return mark_all(course, modules or (), progress, why=why, jobs=jobs)


@command("Writing feedback")
def feedback(
    course: Course,
    progress: Progress,
    modules: _Modules = None,
    zipped: Annotated[bool, typer.Option("--zip", help="A zip of the pages for each apprentice, too.")] = False,
) -> Outcome:
    """Write a page for each apprentice: what an answer shows, and what to do next."""
    from trainkit_grading.reports.feedback import feedback as write

    return write(course, modules or (), zipped=zipped, progress=progress)


@command("Reporting")
def report(
    root: Path,
    progress: Progress,
    whom: Annotated[
        Literal["", "instructor", "coordinator"],
        typer.Option("--for", help="Who reads it: instructor or coordinator. Without, the score sheet."),
    ] = "",
    apprentice: Annotated[
        str, typer.Option("--apprentice", help="For the coordinator: only this person, with each answer.")
    ] = "",
) -> Outcome:
    """Write the score sheet as a page and as CSV; or what an instructor or a coordinator needs."""
    from trainkit_grading.course.folder import Course
    from trainkit_grading.errors import CourseError

    if apprentice and whom != "coordinator":
        raise CourseError(
            apprentice,
            rule="One person's evidence is part of the coordinator's view.",
            remedy=f"Say: trainkit-course report --for coordinator --apprentice {apprentice}",
        )
    of = Course.load(root)
    if whom == "coordinator":
        from trainkit_grading.reports.coordinator.report import write_coordinator_report

        return write_coordinator_report(of, apprentice, progress)
    if whom == "instructor":
        from trainkit_grading.reports.instructor.report import write_instructor_report

        return write_instructor_report(of, progress)
    from trainkit_grading.reports.score_sheet import report as write_sheet

    return write_sheet(of, progress)


@command("Demo")
def demo(
    progress: Progress,
    into: Annotated[Path, typer.Option("--into", help="The folder to make the demo course in.")] = Path(
        "saltmere-demo"
    ),
    apprentices: Annotated[int, typer.Option("--apprentices", min=1, max=500, help="How many apprentices.")] = 12,
    seed: Annotated[int, typer.Option("--seed", help="Which invented answers they give.")] = 1,
) -> Outcome:
    """Run a whole invented course, from pack to score sheet."""
    from trainkit_grading.cli.demo import demo as run

    return run(into, apprentices, seed, progress)
