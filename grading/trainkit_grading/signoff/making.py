"""Making checklists: a page for the printer, and for each named apprentice a notebook for the tablet.

Everything goes into ``checklists/`` of the course folder, by the name of the sheet: ``.json`` holds what stands on it
and finds it again by its code, ``.html`` is printed, ``.ipynb`` is opened on a tablet and writes ``.observed.jsonl``.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit import figures, packs
from trainkit.journal import now
from trainkit_grading.course import cohorts
from trainkit_grading.course import packs as own_packs
from trainkit_grading.errors import CourseError, SignOffError
from trainkit_grading.signoff.checklists import OUTCOMES, Checklist, of_item, of_pack
from trainkit_grading.signoff.judging import RULES
from trainkit_grading.support.files import held, write_atomically
from trainkit_grading.support.jinja import template
from trainkit_grading.support.outcome import Finding, Outcome

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.roster import Apprentice


# Shape and word of an outcome; nothing on paper hangs on colour.
SHAPES = {"unprompted": "●", "prompted": "◐", "not done": "○", "stopped for safety": "■"}


def folder(course: Course) -> Path:
    """Return where checklists lie."""
    return course.folder / "checklists"


def make_checklists(
    course: Course,
    module: str = "",
    pack: str = "",
    configuration: str = "",
    apprentices: Iterable[str] = (),
    cohort: str = "",
) -> Outcome:
    """Write checklists; written again they are the same.

    Parameters
    ----------
    course : Course
        The course folder.
    module : str, optional
        A module that asks for observed work: each apprentice gets the steps of their own form.
    pack : str, optional
        Without a module, the pack whose whole job is observed: a name or the path of a file. Else that of the
        course's first module.
    configuration : str, optional
        A configuration of the pack.
    apprentices : iterable of str, optional
        For whom.
    cohort : str, optional
        For everybody in this cohort; with neither, one blank sheet of a pack, or everybody's sheet of a module.

    Raises
    ------
    CourseError
        If something named is not of this course, or a sheet cannot be made.
    """
    if module and (pack or configuration):
        raise SignOffError(
            module,
            rule="The work of a module comes from its form; a pack's from the pack.",
            remedy="Name the module, or --pack with --configuration.",
        )
    named = tuple(apprentices)
    people = _people(course, named, cohort, everybody=bool(module))
    findings: list[Finding] = []
    seed = course.seed()
    if module:
        entry = course.module(module)
        sheets = []
        for person in people:
            try:
                sheets.append(of_item(course, entry, person, seed))
            except SignOffError as error:
                if person.id in named:
                    raise
                findings.append(Finding("note", f"{module} {person.id}", str(error)))
        if not sheets:
            raise SignOffError(
                module,
                rule=f"No sheet could be made. {findings[0].text}",
                remedy="Mend that, then make them again.",
            )
    else:
        loaded = _pack(course, pack)
        sheets = [of_pack(loaded, seed, course.name, configuration, person) for person in people or (None,)]
    home = folder(course)
    with held(course.folder):
        home.mkdir(exist_ok=True)
        for sheet in sheets:
            write_atomically(home / f"{sheet.stem}.json", sheet.to_text())
            write_atomically(home / f"{sheet.stem}.html", html_text([sheet], course.title))
            if sheet.apprentice:
                write_atomically(home / f"{sheet.stem}.ipynb", notebook_text(sheet))
        together = home / f"{sheets[0].scope.replace('/', '-')}-together.html"
        if len(sheets) > 1:
            write_atomically(together, html_text(sheets, course.title))
    printed = together if len(sheets) > 1 else home / f"{sheets[0].stem}.html"
    done = [f"{len(sheets)} {'checklist' if len(sheets) == 1 else 'checklists'} of {sheets[0].scope} in {home}"]
    if people:
        done.append("For a tablet, open the notebook of the same name in JupyterLab.")
    return Outcome(
        "checklist",
        tuple(done),
        tuple(findings),
        next_step=f"Print {printed}. Once it is filled in: trainkit-course observe --checklist {sheets[0].code} …",
        data={"html": str(printed), "checklists": [{"code": s.code, "name": s.stem} for s in sheets]},
    )


def _people(course: Course, named: tuple[str, ...], cohort: str, everybody: bool) -> tuple[Apprentice, ...]:
    roster = course.roster()
    today = now().date()
    found = roster.named(named)
    if cohort:
        cohorts.named(course, cohort)
        of = [person for person in roster if person.cohort == cohort and not person.gone(today)]
        if not of:
            raise CourseError(
                cohort, rule="Nobody on the roster is in this cohort.", remedy="Check the name, or roster.csv."
            )
        found += [person for person in of if person not in found]
    if not found and everybody:
        found = [person for person in roster if not person.gone(today)]
        if not found:
            raise CourseError(
                course.roster_file.name, rule="Nobody is on the roster.", remedy="Write a line for each apprentice."
            )
    return tuple(found)


def _pack(course: Course, named: str) -> Pack:
    if not named:
        entry = course.modules[0]
        return course.pack(entry)
    if named.endswith(".toml"):
        return packs.load(course.folder / named)
    return packs.load(own_packs.find_pack(named))


def html_text(sheets: Iterable[Checklist], title: str) -> str:
    """Return checklists as one self-contained page for the printer, each from a new sheet of paper on."""
    return template("signoff/checklist.html.j2").render(
        sheets=list(sheets),
        title=title,
        outcomes=[(name, SHAPES[name], name[0]) for name in OUTCOMES],
        rules=list(RULES.values()),
        sign=figures.warning_sign(24),
    )


def notebook_text(sheet: Checklist) -> str:
    """Return the notebook of a checklist; it opens what lies beside it, and holds nothing else."""

    def cell(name: str, kind: str, source: str) -> dict[str, Any]:
        fixed: dict[str, Any] = {"deletable": False, "editable": False}
        if kind == "markdown":
            return {"cell_type": kind, "id": name, "metadata": fixed, "source": source}
        hidden = {**fixed, "jupyter": {"source_hidden": True}}
        return {
            "cell_type": kind,
            "id": name,
            "metadata": hidden,
            "source": source,
            "outputs": [],
            "execution_count": None,
        }

    opening = (
        f"from trainkit_grading import signoff\n\nsheet = signoff.open({json.dumps(sheet.stem)})\nsheet.cautions()"
    )
    cells = [
        cell(
            "title",
            "markdown",
            "# Practical work\n\nMenu **Run**, “Run All Cells”. The sheet appears below, with what was chosen before.",
        ),
        cell("cautions", "code", opening),
        cell("steps", "code", "sheet.steps()"),
    ]
    kernel = {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}
    whole = {"nbformat": 4, "nbformat_minor": 5, "metadata": {"kernelspec": kernel}, "cells": cells}
    return json.dumps(whole, ensure_ascii=True, indent=1) + "\n"
