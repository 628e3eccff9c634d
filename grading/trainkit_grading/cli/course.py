"""Commands up to collecting: they are added to the app by :func:`register`."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainkit_grading.cli.output import JsonOption, command, perform, quoted

if TYPE_CHECKING:
    from trainkit_grading.cli.questions import Wishes
    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.settings import CourseModule
    from trainkit_grading.support.outcome import Outcome, Progress


_Modules = Annotated[
    list[str] | None, typer.Argument(metavar="[MODULE]...", help="The modules; all of the course without.")
]


def register(app: typer.Typer) -> None:
    """Add the commands of this module to ``app``."""
    for each in (new, check, build, assign, collect):
        app.command()(each)


def new(
    folder: Annotated[Path, typer.Argument(help="The folder to make; it may exist.")],
    name: Annotated[
        str | None, typer.Option("--name", help="Short name: small letters, digits, hyphens. Else from the folder.")
    ] = None,
    title: Annotated[str | None, typer.Option("--title", help="The name as people read it.")] = None,
    modules: Annotated[
        list[str] | None, typer.Option("--module", help="A module, once for each; all without.", metavar="MODULE")
    ] = None,
    cohorts: Annotated[
        list[str] | None, typer.Option("--cohort", help="A cohort, once for each.", metavar="NAME")
    ] = None,
    due: Annotated[
        list[str] | None,
        typer.Option("--due", help="When all are due, or one: lock-pin=2027-04-01T16:00.", metavar="[MODULE=]TIME"),
    ] = None,
    attempts: Annotated[
        int | None, typer.Option("--attempts", min=1, max=20, help="How many attempts count at most.")
    ] = None,
    exchange: Annotated[
        str | None, typer.Option("--exchange", help="Folder on a disk that the apprentices share with you.")
    ] = None,
    database: Annotated[
        str | None, typer.Option("--database", help="Address of a PostgreSQL database; without, a file here.")
    ] = None,
    access: Annotated[
        str, typer.Option("--access", help="Who may open the folder: private (you alone) or group (instructors).")
    ] = "private",
    defaults: Annotated[
        bool, typer.Option("--defaults", help="Ask nothing; take what is usual for what no option says.")
    ] = False,
    json: JsonOption = False,
) -> None:
    """Make a course folder; at a terminal, what no option says is asked."""
    from trainkit_grading.cli import questions

    def work(_: Progress) -> Outcome:
        from trainkit_grading.course.access import follow
        from trainkit_grading.course.settings import COURSE_FILE, Attempts, Cohort
        from trainkit_grading.release.init import create
        from trainkit_grading.support.outcome import Outcome

        wishes = questions.Wishes(
            title,
            name,
            tuple(modules) if modules else None,
            tuple(cohorts) if cohorts else None,
            questions.dues(due) if due else None,
            attempts,
            exchange,
            database,
        )
        # Whether there is a course already is said before anything is asked.
        if not (json or defaults) and questions.at_terminal() and not (folder / COURSE_FILE).exists():
            wishes = questions.answered(folder, wishes)
        follow(access)
        course = create(
            folder,
            wishes.name if wishes.name is not None else questions.short_name(folder),
            wishes.title or "",
            _entries(wishes),
            cohorts=[Cohort(name=questions.short_name(said), title=_as_title(said)) for said in wishes.cohorts or ()],
            attempts=Attempts(allowed=wishes.attempts) if wishes.attempts is not None else None,
            exchange=wishes.exchange or "",
            database=wishes.database or "",
            access=access,
        )
        at = f" --course {quoted(folder)}"
        return Outcome(
            "new",
            (
                f"A course is made in {course.folder}",
                f"Its settings stand in {course.file.name}, each with a note on what it does.",
                *([_OPEN_TO[course.access]] if os.name == "posix" else []),
            ),
            next_step=f"Write your apprentices into {course.roster_file}, or take a list in: "
            f"trainkit-course roster import FILE.csv{at}\nThen: trainkit-course check{at}",
            data={"folder": str(course.folder), "name": course.name},
        )

    perform("new", json, work)


_OPEN_TO = {
    "private": "Only your account can open the folder.",
    "group": "Your account and its group can open the folder, nobody else.",
}


def _entries(wishes: Wishes) -> list[CourseModule]:
    """Return the modules of a new course with their due dates."""
    from trainkit import modules as shipped
    from trainkit_grading.course.settings import CourseModule
    from trainkit_grading.errors import CourseError

    names = wishes.modules or shipped.names()
    dues = wishes.due or {}
    strange = next((name for name in (*names, *dues) if name and name not in shipped.names()), None)
    strange = strange or next((name for name in dues if name and name not in names), None)
    if strange is not None:
        raise CourseError(
            strange,
            rule=f"The modules are {', '.join(names if strange in shipped.names() else shipped.names())}.",
            remedy="Name one of these; a module of your own goes into course.toml.",
        )
    found = []
    for name in names:
        when = dues.get(name, dues.get(""))
        found.append(CourseModule(name=name) if when is None else CourseModule(name=name, due=when))
    return found


def _as_title(said: str) -> str:
    """Return a title for a cohort; none where it would only repeat the name."""
    from trainkit_grading.cli.questions import short_name

    return said if said != short_name(said) else ""


@command("Checking")
def check(root: Path, progress: Progress) -> Outcome:
    """Look at settings, roster, packs and modules."""
    from trainkit_grading.release.check import check as look

    return look(root, progress)


@command("Drawing")
def build(
    course: Course,
    progress: Progress,
    modules: _Modules = None,
) -> Outcome:
    """Draw forms and keys; write nbgrader's source."""
    from trainkit_grading.release.build import build as make

    return make(course, modules or (), progress)


@command("Giving out")
def assign(
    course: Course,
    progress: Progress,
    modules: _Modules = None,
) -> Outcome:
    """Give modules out: release, shared disk, zips."""
    from trainkit_grading.release.assign import assign as give_out

    return give_out(course, modules or (), progress)


@command("Collecting")
def collect(
    course: Course,
    progress: Progress,
    source: Annotated[
        Path | None,
        typer.Option("--from", help="A zip or a folder of zips. Without: the course's inbox and shared disk."),
    ] = None,
    apprentice: Annotated[
        str | None, typer.Option("--apprentice", help="Who it is from: your word for a zip without a personal code.")
    ] = None,
) -> Outcome:
    """Take in what was handed in, answers only."""
    from trainkit_grading.intake.collect import collect as take_in

    return take_in(course, source, apprentice, progress)
