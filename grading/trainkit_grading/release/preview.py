"""A module as an apprentice would see it, in a folder of its own, for whoever runs the course.

Its form is drawn from a stream that no apprentice's form comes from, so a preview tells nothing about the assessment of
anybody. Its course has another name, its person is nobody on the roster: what is answered there is taken for nobody's.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from trainkit import packs
from trainkit.forms import FORMS_FILE, IDENTITY_FILE, Forms, Identity, person_digest
from trainkit.journal import JOURNAL_FILE
from trainkit_grading.course import cohorts, practice_packs
from trainkit_grading.course.roster import Apprentice
from trainkit_grading.course.seeds import Seed
from trainkit_grading.errors import BuildError
from trainkit_grading.forms import generation
from trainkit_grading.forms.examples import worked_in
from trainkit_grading.release.build import graded_notebook
from trainkit_grading.support.files import held, write_atomically

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


# What stands in the place of a person's name, in the strip above the workbook too.
NAME = "PREVIEW, nothing counts"
_PERSON = "preview"


def course_name(course: Course) -> str:
    """Return the name of the course as a preview has it: no course of that name collects here."""
    return f"{course.name}-preview"


def make_preview(course: Course, module: str, cohort: str = "", *, again: bool = False) -> Path:
    """Lay a preview under ``preview/`` and return its notebook.

    Answers that were given in it stay while the form stays.

    Parameters
    ----------
    course : Course
        The course folder.
    module : str
        The module; it need not be built.
    cohort : str, optional
        With the dates of this cohort.
    again : bool, optional
        With another form, and without the answers to the one before.

    Raises
    ------
    CourseError
        If the module or the cohort is not of this course, or the module cannot be built.
    """
    entry = course.module(module)
    if cohort:
        cohorts.named(course, cohort)
    workbook = course.present_workbook(entry)
    if workbook.blueprint.module != entry.name:
        raise BuildError(
            workbook.blueprint.module,
            place=entry.name,
            rule="A module of the course is named like the module in its folder.",
            remedy="Mend its name in course.toml.",
        )
    practised = practice_packs.practice_pack_of(course, entry)
    notebook = graded_notebook(workbook, practised.pack if practised is not None else None)
    pack = packs.load(course.pack_of(entry, workbook.blueprint))
    due = cohorts.dates(course, entry, Apprentice(_PERSON, NAME, cohort)).due
    home = course.folder / "preview" / f"{module}{f' {cohort}' if cohort else ''}" / module
    with held(course.folder):
        known = Forms.read(home) if home.is_dir() else None
        number = _number(known) + again if known is not None else 1
        stream = Seed(course.seed().digest("preview"))
        shown = worked_in(course, entry, workbook.blueprint)
        ((form, _),) = generation.draw_forms(
            stream, course_name(course), workbook.blueprint, pack, number, [_PERSON], shown
        )
        code = f"PREVIEW-{number}"
        forms = Forms(
            course=course_name(course),
            module=module,
            title=workbook.blueprint.title,
            pack=pack.name,
            pack_digest=pack.digest,
            attempt=entry.attempt,
            due=due.isoformat() if due is not None else "",
            forms=(form.model_copy(update={"code": code}),),
            people={person_digest(course_name(course), _PERSON): code},
        )
        home.mkdir(parents=True, exist_ok=True)
        if known is not None and known.forms != forms.forms:
            (home / JOURNAL_FILE).unlink(missing_ok=True)
        who = Identity(course=forms.course, apprentice=_PERSON, name=NAME, code="PREVIEW")
        write_atomically(home / FORMS_FILE, forms.model_dump_json(indent=1) + "\n")
        write_atomically(home / IDENTITY_FILE, who.model_dump_json(indent=1) + "\n")
        practice_packs.lay(practised, home)
        write_atomically(home / f"{module}.ipynb", notebook)
    return home / f"{module}.ipynb"


def _number(forms: Forms) -> int:
    said = re.fullmatch(r"PREVIEW-(\d+)", forms.forms[0].code) if forms.forms else None
    return int(said[1]) if said is not None else 1
