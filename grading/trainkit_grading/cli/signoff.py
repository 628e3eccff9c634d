"""Commands of practical sign-off: they are added to the app by :func:`register`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainkit_grading.cli.output import command
from trainkit_grading.cli.recordkeeping import TIMES

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.signoff.observations import Observation
    from trainkit_grading.support.outcome import Outcome


def register(app: typer.Typer) -> None:
    """Add the commands of this module to ``app``."""
    for each in (checklist, observe, second, appeal, decide):
        app.command()(each)


@command()
def checklist(
    course: Course,
    module: Annotated[
        str, typer.Argument(metavar="[MODULE]", help="A module that asks for observed work. Without: a whole pack.")
    ] = "",
    pack: Annotated[str, typer.Option("--pack", help="Which pack; without, that of the first module.")] = "",
    configuration: Annotated[str, typer.Option("--configuration", help="Which configuration of the pack.")] = "",
    apprentices: Annotated[
        list[str] | None, typer.Option("--apprentice", help="For whom, once for each. Without: a blank sheet.")
    ] = None,
    cohort: Annotated[str, typer.Option("--cohort", help="For everybody in this cohort.")] = "",
) -> Outcome:
    """Write checklists of practical work, to print and for a tablet."""
    from trainkit_grading.signoff.making import make_checklists

    return make_checklists(course, module, pack, configuration, apprentices or (), cohort)


@command()
def observe(
    course: Course,
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="What a tablet wrote. Without: say --steps and the rest.")
    ] = None,
    code: Annotated[str, typer.Option("--checklist", help="Code or name of the sheet.")] = "",
    apprentice: Annotated[str, typer.Option("--apprentice", help="Who did the work; a named sheet says it.")] = "",
    observer: Annotated[str, typer.Option("--observer", help="Who watched and signed.")] = "",
    trainer: Annotated[str, typer.Option("--trainer", help="Who trained the apprentice.")] = "",
    engine: Annotated[str, typer.Option("--engine", help="Number of the engine or set.")] = "",
    at: Annotated[
        datetime | None, typer.Option("--at", formats=TIMES, help="When it was observed, like 2027-04-01T09:00.")
    ] = None,
    steps: Annotated[
        str,
        typer.Option("--steps", help='What was ticked: "1-9 u, 10 p, rest u", u p n s as at the head of the sheet.'),
    ] = "",
    remark: Annotated[str, typer.Option("--remark", help="The remark on the sheet.")] = "",
    again: Annotated[bool, typer.Option("--again", help="Single steps were shown again.")] = False,
    counts: Annotated[
        bool, typer.Option("--counts", help="It counts though a newer one is on record; with --why.")
    ] = False,
    why: Annotated[str, typer.Option("--why", help="Why something on record is said otherwise now.")] = "",
) -> Outcome:
    """Record practical work that somebody watched, from a sheet or a tablet."""
    from trainkit_grading.errors import SignOffError
    from trainkit_grading.signoff.checklists import find_checklist
    from trainkit_grading.signoff.making import folder
    from trainkit_grading.signoff.observations import Observation
    from trainkit_grading.signoff.observing import observe as record
    from trainkit_grading.signoff.observing import ticked

    loaded = course
    if file is not None:
        return _from_file(loaded, file, why)
    if not code or at is None:
        raise SignOffError(
            "--checklist" if not code else "--at",
            rule="A sheet is recorded with its code, and with date and time.",
            remedy="Say --checklist and --at, or name the file that a tablet wrote.",
        )
    sheet = find_checklist(folder(loaded), code)
    seen: Observation = Observation(
        apprentice or sheet.apprentice,
        sheet,
        ticked(steps, len(sheet.steps)),
        observer,
        trainer,
        engine,
        at.astimezone(),  # a time without a zone is the time on the clock of this room
        remark=remark,
        again=again,
        counts=counts,
        why=why,
    )
    return record(loaded, seen)


@command()
def second(
    course: Course,
    modules: Annotated[
        list[str] | None, typer.Argument(metavar="[MODULE]...", help="Of which modules; without, of all.")
    ] = None,
    sample: Annotated[int, typer.Option("--sample", min=0, help="Draw so many marks that people gave.")] = 0,
    percent: Annotated[
        float, typer.Option("--percent", min=0, max=100, help="Or so many per cent of each module's.")
    ] = 0.0,
    seed: Annotated[
        int | None, typer.Option("--seed", help="The same gives the same sample; without, one is drawn and recorded.")
    ] = None,
    file: Annotated[Path | None, typer.Option("--enter", help="The table that the second marker filled in.")] = None,
    marker: Annotated[str, typer.Option("--marker", help="Who the second marker is.")] = "",
    why: Annotated[str, typer.Option("--why", help="Why other points than are on record are right.")] = "",
) -> Outcome:
    """Draw marks for a second marker, or enter what that one gave."""
    from trainkit_grading.decisions.double_marking.entering import enter
    from trainkit_grading.decisions.double_marking.entering import sample as draw

    loaded = course
    return enter(loaded, file, marker, why) if file is not None else draw(loaded, modules or (), sample, percent, seed)


@command()
def appeal(
    course: Course,
    apprentice: Annotated[str, typer.Argument(help="Whose result.")],
    module: Annotated[str, typer.Argument(help="Of which module.")],
    item: Annotated[str, typer.Argument(help="Which item, like A4; without, the whole result.")] = "",
    why: Annotated[str, typer.Option("--why", help="Why it should be looked at again, in their words.")] = "",
) -> Outcome:
    """Record that somebody asks for a mark to be looked at again."""
    from trainkit_grading.decisions.appeals import appeal as record

    return record(course, apprentice, module, item, why)


@command()
def decide(
    course: Course,
    number: Annotated[int, typer.Argument(min=1, help="Number of the entry that is decided.")],
    outcome: Annotated[
        str,
        typer.Option(
            "--outcome",
            help="upheld or rejected an appeal; confirmed or slip a spoken check; counted or excluded a "
            "hand-in that waits; settled anything else.",
        ),
    ],
    points: Annotated[float | None, typer.Option("--points", min=0, help="What the item is worth from now on.")] = None,
    why: Annotated[str, typer.Option("--why", help="The reason; of a spoken check what was said.")] = "",
    apprentice: Annotated[
        str, typer.Option("--apprentice", help="Of hand-ins that wait together only this person's.")
    ] = "",
) -> Outcome:
    """Decide an appeal, a spoken check, a later hand-in, a disagreement of markers, or something flagged."""
    from trainkit_grading.decisions.appeals import decide as record

    return record(course, number, outcome, points, why, apprentice)


def _from_file(course: Course, file: Path, why: str) -> Outcome:
    from trainkit_grading.signoff.checklists import find_checklist
    from trainkit_grading.signoff.making import folder
    from trainkit_grading.signoff.observing import observe_all
    from trainkit_grading.signoff.sittings import observations

    sheet = find_checklist(folder(course), file.name)
    found, findings = observations(file, sheet, why)
    return observe_all(course, found, findings)
