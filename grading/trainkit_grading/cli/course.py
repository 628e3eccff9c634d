"""Commands up to collecting: they are added to the app by :func:`register`."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainkit_grading.cli.output import CourseOption, JsonOption, perform

if TYPE_CHECKING:
    from trainkit_grading.outcome import Outcome, Progress

__all__ = ["register"]

_Modules = Annotated[
    list[str] | None, typer.Argument(metavar="[MODULE]...", help="The modules; all of the course without.")
]


def register(app: typer.Typer) -> None:
    """Add the commands of this module to ``app``."""
    app.command()(new)
    app.command()(check)
    app.command()(build)
    app.command()(assign)
    app.command()(collect)


def new(
    folder: Annotated[Path, typer.Argument(help="The folder to make; it may exist.")],
    name: Annotated[
        str | None, typer.Option("--name", help="Short name: small letters, digits, hyphens. Else from the folder.")
    ] = None,
    title: Annotated[str, typer.Option("--title", help="The name as people read it.")] = "",
    json: JsonOption = False,
) -> None:
    """Make a course folder with settings, roster and seed."""

    def work(_: Progress) -> Outcome:
        from trainkit_grading.founding import create
        from trainkit_grading.outcome import Outcome

        course = create(folder, name if name is not None else _short_name(folder), title)
        return Outcome(
            "new",
            (f"A course is made in {course.folder}",),
            next_step=f"Write your apprentices into {course.roster_file}, "
            f"then: trainkit-course check --course {_quoted(folder)}",
            data={"folder": str(course.folder), "name": course.name},
        )

    perform("new", json, work)


def check(course: CourseOption = Path(), json: JsonOption = False) -> None:
    """Look at settings, roster, packs and modules."""

    def work(progress: Progress) -> Outcome:
        from trainkit_grading.checking import check as look

        return look(course, progress)

    perform("check", json, work, "Checking")


def build(modules: _Modules = None, course: CourseOption = Path(), json: JsonOption = False) -> None:
    """Draw forms and keys; write nbgrader's source."""

    def work(progress: Progress) -> Outcome:
        from trainkit_grading.build import build as make
        from trainkit_grading.course import Course

        return make(Course.load(course), modules or (), progress)

    perform("build", json, work, "Drawing")


def assign(modules: _Modules = None, course: CourseOption = Path(), json: JsonOption = False) -> None:
    """Give modules out: release, shared disk, zips."""

    def work(progress: Progress) -> Outcome:
        from trainkit_grading.assign import assign as give_out
        from trainkit_grading.course import Course

        return give_out(Course.load(course), modules or (), progress)

    perform("assign", json, work, "Giving out")


def collect(
    source: Annotated[
        Path | None,
        typer.Option("--from", help="A zip or a folder of zips. Without: the course's inbox and shared disk."),
    ] = None,
    apprentice: Annotated[
        str | None, typer.Option("--apprentice", help="Who it is from: your word for a zip without a personal code.")
    ] = None,
    course: CourseOption = Path(),
    json: JsonOption = False,
) -> None:
    """Take in what was handed in, answers only."""

    def work(progress: Progress) -> Outcome:
        from trainkit_grading.collect import collect as take_in
        from trainkit_grading.course import Course

        return take_in(Course.load(course), source, apprentice, progress)

    perform("collect", json, work, "Collecting")


def _short_name(folder: Path) -> str:
    """Return a course name made of the folder's: accents dropped, everything else to hyphens.

    Examples
    --------
    >>> _short_name(Path("Saltmère 2027"))
    'saltmere-2027'
    """
    plain = unicodedata.normalize("NFKD", folder.absolute().name).encode("ascii", "ignore").decode().lower()
    return re.sub("[^a-z0-9]+", "-", plain).strip("-")[:40] or "course"


def _quoted(path: Path) -> str:
    text = str(path)
    return f'"{text}"' if re.search(r"[^\w./\\:-]", text) else text
