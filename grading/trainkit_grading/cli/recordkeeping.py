"""Commands about what is on record: they are added to the app by :func:`register`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from trainkit_grading.cli.output import CourseOption, JsonOption, command, perform

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.support.outcome import Outcome, Progress


TIMES = ["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M%z", "%Y-%m-%dT%H:%M:%S%z"]


def register(app: typer.Typer) -> None:
    """Add the commands of this module to ``app``."""
    for each in (session, ledger, verify, export, forget, archive):
        app.command()(each)


@command()
def session(
    course: Course,
    module: Annotated[str, typer.Argument(help="The module that was sat.")],
    invigilator: Annotated[str, typer.Option("--invigilator", help="Who watched.")],
    room: Annotated[str, typer.Option("--room", help="Where.")],
    begin: Annotated[datetime, typer.Option("--from", formats=TIMES, help="When it began, like 2027-04-01T09:00.")],
    end: Annotated[datetime, typer.Option("--to", formats=TIMES, help="When it ended.")],
    aids: Annotated[str, typer.Option("--aids", help="What was allowed, in words.")] = "",
    apprentices: Annotated[
        list[str] | None,
        typer.Option("--apprentice", help="Who sat it, once for each; without, all whose answers fall into the time."),
    ] = None,
) -> Outcome:
    """Record who watched an assessment, where and when."""
    from trainkit_grading.record.sessions import Session, watch

    # A time without a zone is the time on the clock of this room.
    sat = Session(
        module, invigilator, room, begin.astimezone(), end.astimezone(), aids, tuple(sorted(set(apprentices or ())))
    )
    return watch(course, sat)


@command()
def ledger(
    course: Course,
    module: Annotated[str, typer.Option("--module", help="Only this module.")] = "",
    apprentice: Annotated[str, typer.Option("--apprentice", help="Only this person.")] = "",
    waiting: Annotated[bool, typer.Option("--open", help="Only what waits for a person, and what to do.")] = False,
) -> Outcome:
    """Tell what stands in the ledger: every mark, every change, who and why."""
    from trainkit_grading.keeping.verify import still_open, tell

    return (still_open if waiting else tell)(course, module, apprentice)


@command("Verifying")
def verify(course: Course, progress: Progress) -> Outcome:
    """Prove that ledger, gradebook and journals are untouched."""
    from trainkit_grading.keeping.verify import prove

    return prove(course, progress)


@command("Exporting")
def export(
    course: Course,
    progress: Progress,
    kind: Annotated[Literal["csv", "xlsx"], typer.Option("--as", help="A file a table, or one spreadsheet.")] = "csv",
    pseudonyms: Annotated[
        bool, typer.Option("--pseudonyms", help="No names, no free text, and days in the place of moments.")
    ] = False,
) -> Outcome:
    """Write results, marks, readiness and observations as tables with a documented schema."""
    from trainkit_grading.reports.exports.export import export as write

    return write(course, kind, pseudonyms=pseudonyms, progress=progress)


def forget(
    apprentice: Annotated[str, typer.Argument(help="Identifier of the person.")],
    why: Annotated[str, typer.Option("--why", help="Why; it stays in the ledger, so it names nobody.")],
    name: Annotated[str, typer.Option("--name", help="Their name, where roster.csv does not have them.")] = "",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only tell every place.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask back.")] = False,
    course: CourseOption = Path(),
    json: JsonOption = False,
) -> None:
    """Take somebody's name and words out of a course for good; statistics stay."""

    def look(_: Progress) -> Outcome:
        from trainkit_grading.course.folder import Course
        from trainkit_grading.errors import CourseError
        from trainkit_grading.keeping.forget.forget import survey

        if json and not dry_run:
            raise CourseError(
                apprentice, rule="What cannot be undone is asked for twice.", remedy="Say --yes, or --dry-run."
            )
        return survey(Course.load(course), apprentice, why, name)

    def work(progress: Progress) -> Outcome:
        from trainkit_grading.course.folder import Course
        from trainkit_grading.keeping.forget.forget import forget as take_out

        return take_out(Course.load(course), apprentice, why, name, progress)

    if dry_run or not yes:
        perform("forget", json, look)
        if dry_run:
            return
        typer.confirm(f"Forget {apprentice} for good? It cannot be undone.", abort=True)
    perform("forget", json, work, "Forgetting")


def archive(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE.zip]", help="The zip; without, archive/NAME.zip in the course.")
    ] = None,
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="With --open: a new or empty folder.")
    ] = None,
    unpack: Annotated[bool, typer.Option("--open", help="Check FILE.zip and open it in FOLDER.")] = False,
    without_seed: Annotated[
        bool, typer.Option("--without-seed", help="Leave the secret seed out; then no seal can be proven from it.")
    ] = False,
    course: CourseOption = Path(),
    json: JsonOption = False,
) -> None:
    """Pack a finished course into one file, or open such a file."""

    def work(progress: Progress) -> Outcome:
        from trainkit_grading.errors import ArchiveError

        if unpack:
            if file is None or folder is None:
                raise ArchiveError(
                    "--open",
                    rule="An archive is opened into a folder.",
                    remedy="Say: trainkit-course archive --open FILE.zip FOLDER",
                )
            from trainkit_grading.keeping.archive.opening import open_archive

            return open_archive(file, folder, progress)
        if folder is not None:
            raise ArchiveError(str(folder), rule="A folder is named to open an archive.", remedy="Say --open, too.")
        from trainkit_grading.course.folder import Course
        from trainkit_grading.keeping.archive.packing import archive as pack

        return pack(Course.load(course), file, with_seed=not without_seed, progress=progress)

    perform("archive", json, work, "Opening" if unpack else "Packing")
