"""Commands of the paper edition: they are added to the app by :func:`register`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainkit_grading.cli.output import command

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.support.outcome import Outcome, Progress


def register(app: typer.Typer) -> None:
    """Add the commands of this module to ``app``."""
    for each in (sheet, enter):
        app.command()(each)


@command("Writing sheets")
def sheet(
    course: Course,
    progress: Progress,
    module: Annotated[str, typer.Argument(help="The module; it has been assigned.")],
    apprentices: Annotated[
        list[str] | None, typer.Option("--apprentice", help="For whom, once for each. Without: everybody.")
    ] = None,
    cohort: Annotated[str, typer.Option("--cohort", help="For everybody in this cohort.")] = "",
    pdf: Annotated[bool, typer.Option("--pdf", help="As PDF, too; Chromium, Chrome or Edge prints it.")] = False,
) -> Outcome:
    """Write the workbook and everybody's answer sheet, to be printed."""
    from trainkit_grading.paper.sheets import make_sheets

    return make_sheets(course, module, apprentices or (), cohort, pdf=pdf, progress=progress)


@command()
def enter(
    course: Course,
    form: Annotated[str, typer.Argument(help="The code at the head of the sheet, with its check sign.")],
    by: Annotated[str, typer.Option("--by", help="Who types; without, it is asked.")] = "",
    first: Annotated[Path | None, typer.Option("--first", help="Table with the first pass, as CSV.")] = None,
    second: Annotated[Path | None, typer.Option("--second", help="Table with the second pass, as CSV.")] = None,
    third: Annotated[
        Path | None, typer.Option("--third", help="Table with what the two passes differ in, typed again.")
    ] = None,
    why: Annotated[str, typer.Option("--why", help="Why a sheet that was taken is typed again.")] = "",
) -> Outcome:
    """Take in what was written on a sheet; it is typed twice."""
    from trainkit_grading.paper.entering import enter as take

    named = {1: first, 2: second, 3: third}
    files = {number: path for number, path in named.items() if path is not None}
    return take(course, form, _asked, by=by, files=files, why=why)


def _asked(text: str) -> str:
    """Say a text on standard error, where it does not mix with ``--json``, and return the line that was typed."""
    print(text, end="", file=sys.stderr, flush=True)  # noqa: T201 - a question at a terminal
    try:
        return input()
    except EOFError:
        print(file=sys.stderr)  # noqa: T201 - what comes next begins a line of its own
        raise
