"""Commands about a course as it runs: they are added to the app by :func:`register`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainkit_grading.cli.output import CourseOption, JsonOption, command, perform, quoted

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.support.outcome import Outcome, Progress


_Cohort = Annotated[str, typer.Option("--cohort", help="Only people of this cohort.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this module to ``app``."""
    for each in (status, answers, preview):
        app.command()(each)
    app.add_typer(_roster, name="roster")


_roster = typer.Typer(no_args_is_help=True, help="The people of a course.", rich_markup_mode=None)


@_roster.callback()
def _people() -> None:
    """Look after the people of a course."""


@_roster.command("import")
@command(name="roster import")
def roster_import(
    course: Course,
    file: Annotated[Path, typer.Argument(help="A CSV file with a column Name, or First name and Last name.")],
    cohort: Annotated[str, typer.Option("--cohort", help="The cohort of everybody on the list.")] = "",
    leavers: Annotated[
        bool, typer.Option("--leavers", help="Whoever is not on the list has left: write today as their last day.")
    ] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say what would be done.")] = False,
) -> Outcome:
    """Take a list of people into the roster: new, changed, no longer listed."""
    from trainkit_grading.course.enrolment import enrol

    return enrol(course, file, cohort, leavers=leavers, dry_run=dry_run)


@command("Looking")
def status(
    course: Course,
    progress: Progress,
    module: Annotated[str, typer.Option("--module", help="Only this module, and everybody in it by name.")] = "",
    cohort: _Cohort = "",
) -> Outcome:
    """Tell what is open, out, late, to mark, and what to do next."""
    from trainkit_grading.reports.status import status as tell

    return tell(course, module, cohort, progress)


@command()
def answers(
    course: Course,
    module: Annotated[str, typer.Argument(help="The module.")],
    apprentice: Annotated[str, typer.Option("--apprentice", help="Whose form.")],
    attempt: Annotated[int, typer.Option("--attempt", min=0, max=20, help="Which attempt; 0 for the current one.")] = 0,
    html: Annotated[bool, typer.Option("--html", help="A page with pictures, too: in keys/, for you alone.")] = False,
) -> Outcome:
    """Show somebody's form with key and working; for course staff only."""
    from trainkit_grading.reports.answer_key import answers as tell

    return tell(course, module, apprentice, attempt, html=html)


def preview(
    module: Annotated[str, typer.Argument(help="The module; it need not be built.")],
    cohort: Annotated[str, typer.Option("--cohort", help="With the dates of this cohort.")] = "",
    again: Annotated[bool, typer.Option("--again", help="With another form, from an empty sheet.")] = False,
    folder: Annotated[bool, typer.Option("--folder", help="Only make the folder; open nothing.")] = False,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Start JupyterLab and print its address, without opening a browser.")
    ] = False,
    options: Annotated[
        list[str] | None, typer.Argument(help="Options for JupyterLab, after two hyphens.", metavar="[-- OPTION]")
    ] = None,
    course: CourseOption = Path(),
    json: JsonOption = False,
) -> None:
    """Open a module as an apprentice would see it; nothing counts."""
    from trainkit.cli.workbooks import lab_command, serve

    command: list[str] = []

    def work(_: Progress) -> Outcome:
        from trainkit_grading.course.folder import Course
        from trainkit_grading.release.preview import make_preview
        from trainkit_grading.support.outcome import Outcome

        notebook = make_preview(Course.load(course), module, cohort, again=again)
        opened = not (folder or json)
        if opened:
            command.extend(lab_command(notebook, no_browser=no_browser, options=options or ()))
        return Outcome(
            "preview",
            (f"A preview of {module} lies in {notebook.parent}. Its form is nobody's, and nothing in it counts.",),
            next_step="To end it, press Ctrl+C here."
            if opened
            else f"Open it: trainkit open {quoted(notebook.parent)}",
            data={"folder": str(notebook.parent), "notebook": notebook.name},
        )

    perform("preview", json, work)
    if command:
        raise typer.Exit(serve(command))
