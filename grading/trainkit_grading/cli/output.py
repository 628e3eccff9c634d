"""How every command speaks: to a person with rich, to a program as one JSON object, and by its exit status."""

from __future__ import annotations

import functools
import inspect
import json
import os
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Annotated, TextIO, get_type_hints

import typer
from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
from rich.progress import Progress as RichProgress
from rich.table import Table as RichTable
from rich.text import Text

from trainkit.errors import TrainkitError
from trainkit_grading.support.markup import plain
from trainkit_grading.support.outcome import Outcome, Progress, Table, quiet, refused
from trainkit_grading.support.refusals import refusal

CourseOption = Annotated[
    Path,
    typer.Option("--course", help="The course folder; without it, the folder you are in.", show_default=False),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]

_OWN = [
    inspect.Parameter(name, inspect.Parameter.POSITIONAL_OR_KEYWORD, default=default, annotation=of)
    for name, default, of in (("course", Path(), CourseOption), ("json", False, JsonOption))
]
_GIVEN = ("course", "root", "progress")
_SIGNS = {"refused": ("✗ refused", "bold red"), "warning": ("! look at", "yellow"), "note": ("· note", "dim")}


def perform(command: str, as_json: bool, work: Callable[[Progress], Outcome], title: str = "") -> None:
    """Run ``work``, show what it did and end the command with the right exit status.

    The status is 0 where nothing was refused, else 1. ``work`` gets what it reports its progress to; with ``title``
    a person at a terminal sees it as a bar. An error of trainkit, and what the system refuses,
    becomes a finding, never a traceback.
    """
    try:
        with progress_bar(title, shown=bool(title) and not as_json) as progress:
            outcome = work(progress)
    except (TrainkitError, OSError, MemoryError) as error:
        outcome = Outcome(command, findings=(refused(error),))
    except KeyboardInterrupt:
        sys.stderr.write("\nStopped. Nothing is half done; give the same command again to go on.\n")
        raise typer.Exit(130) from None
    try:
        show(outcome, as_json)
        sys.stdout.flush()
    except BrokenPipeError:
        raise  # whoever reads has seen enough; click ends the command
    except OSError as error:
        # Where it was to be printed, nothing can be printed any more.
        sys.stderr.write(f"{refusal(error, 'output')}\n")
        _let_go(sys.stdout)
        raise typer.Exit(1) from None
    if not outcome.ok:
        raise typer.Exit(1)


def _let_go(stream: TextIO) -> None:
    """Turn a stream that cannot be written to into one that swallows, so that Python does not try it once more."""
    with suppress(OSError, ValueError), Path(os.devnull).open("wb") as nothing:
        os.dup2(nothing.fileno(), stream.fileno())


def command(title: str = "", *, name: str = "") -> Callable[[Callable[..., Outcome]], Callable[..., None]]:
    """Make a command of the function that does its work and returns what it did.

    The command has the options of the function and ``--json``. What the function takes under these names is no option:
    ``progress``, to which it reports; ``course``, the loaded course, or ``root``, the course folder as it was named.
    With one of these two the command has ``--course``. With ``title`` a person at a terminal sees a bar.
    """

    def made(work: Callable[..., Outcome]) -> Callable[..., None]:
        asked = inspect.signature(work).parameters
        own = _OWN[1:] if asked.keys().isdisjoint({"course", "root"}) else _OWN

        @functools.wraps(work)
        def run(*, json: bool, course: Path = Path(), **said: object) -> None:
            def done(progress: Progress) -> Outcome:
                given: dict[str, object] = {"progress": progress, "root": course}
                if "course" in asked:
                    from trainkit_grading.course.access import follow
                    from trainkit_grading.course.folder import Course

                    given["course"] = loaded = Course.load(course)
                    follow(loaded.access)
                return work(**said, **{each: given[each] for each in given.keys() & asked.keys()})

            perform(name or work.__name__.replace("_", "-"), json, done, title)

        # A module names these three for type checkers only, so that what is heavy loads when it is needed.
        types = get_type_hints(work, None, {"Course": object, "Outcome": Outcome, "Progress": Progress}, True)
        options = [asked[each].replace(annotation=types[each]) for each in asked if each not in _GIVEN] + own
        run.__annotations__ = {each.name: each.annotation for each in options}
        run.__signature__ = inspect.Signature(options)  # type: ignore[attr-defined]  # typer reads it
        return run

    return made


def show(outcome: Outcome, as_json: bool) -> None:
    """Print an outcome: text and findings for a person, or one JSON object on standard output."""
    if as_json:
        sys.stdout.write(json.dumps(outcome.to_dict(), ensure_ascii=False, indent=1) + "\n")
        return
    console = Console(highlight=False, soft_wrap=True)
    # Text, never markup, and no sign that steers a terminal: names and file names come from other people.
    for table in outcome.tables:
        console.print(_drawn(table))
    if outcome.remark:
        console.print(Text(plain(outcome.remark), style="dim"), soft_wrap=False)
    for line in outcome.words:
        console.print(Text(plain(line)), soft_wrap=False)
    for line in outcome.done:
        console.print(Text.assemble(("✓ ", "green"), plain(line)))
    for finding in outcome.findings:
        sign, style = _SIGNS[finding.severity]
        where = f"{finding.place}: " if finding.place else ""
        console.print(Text.assemble((f"{sign}  ", style), (plain(where), "bold"), plain(finding.text)))
    if outcome.next_step:
        console.print(Text.assemble(("Next: ", "bold"), plain(outcome.next_step)))


def _drawn(table: Table) -> RichTable:
    drawn = RichTable(title=Text(plain(table.title)) if table.title else None, title_justify="left", box=SIMPLE_HEAD)
    for column in table.columns:
        drawn.add_column(Text(column), overflow="fold")
    for row in table.rows:
        drawn.add_row(*(Text(plain(cell)) for cell in row))
    return drawn


def quoted(path: Path) -> str:
    """Return a path as it is typed: between quotation marks where a shell would take it apart.

    Examples
    --------
    >>> quoted(Path("My course"))
    '"My course"'
    """
    text = str(path)
    return f'"{text}"' if re.search(r"[^\w./\\:-]", text) else text


@contextmanager
def progress_bar(title: str, shown: bool = True) -> Iterator[Progress]:
    """Give something to report progress to; a bar on standard error where that is a terminal."""
    console = Console(stderr=True)
    if not (shown and console.is_terminal):
        yield quiet
        return
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with RichProgress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(title, total=None)

        def report(done: int, total: int, what: str) -> None:
            bar.update(task, completed=done, total=total, description=Text(f"{title} {what}".strip()).plain)

        yield report
