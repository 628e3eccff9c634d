"""Commands about a course as it runs: they are added to the app by :func:`register`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainkit_grading.cli.output import CourseOption, JsonOption, perform

if TYPE_CHECKING:
    from trainkit_grading.outcome import Outcome, Progress

__all__ = ["register"]

_Cohort = Annotated[str, typer.Option("--cohort", help="Only people of this cohort.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this module to ``app``."""
    app.command()(status)
    app.add_typer(_roster, name="roster")


_roster = typer.Typer(no_args_is_help=True, help="The people of a course.", rich_markup_mode=None)


@_roster.callback()
def _people() -> None:
    """Look after the people of a course."""


@_roster.command("import")
def roster_import(
    file: Annotated[Path, typer.Argument(help="A CSV file with a column Name, or First name and Last name.")],
    cohort: Annotated[str, typer.Option("--cohort", help="The cohort of everybody on the list.")] = "",
    leavers: Annotated[
        bool, typer.Option("--leavers", help="Whoever is not on the list has left: write today as their last day.")
    ] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say what would be done.")] = False,
    course: CourseOption = Path(),
    json: JsonOption = False,
) -> None:
    """Take a list of people into the roster: new, changed, no longer listed."""

    def work(_: Progress) -> Outcome:
        from trainkit_grading.course import Course
        from trainkit_grading.enrolment import enrol

        return enrol(Course.load(course), file, cohort, leavers=leavers, dry_run=dry_run)

    perform("roster import", json, work)


def status(
    module: Annotated[str, typer.Option("--module", help="Only this module, and everybody in it by name.")] = "",
    cohort: _Cohort = "",
    course: CourseOption = Path(),
    json: JsonOption = False,
) -> None:
    """Tell what is open, out, late, to mark, and what to do next."""

    def work(progress: Progress) -> Outcome:
        from trainkit_grading.course import Course
        from trainkit_grading.status import status as tell

        return tell(Course.load(course), module, cohort, progress)

    perform("status", json, work, "Looking")
