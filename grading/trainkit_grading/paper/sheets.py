"""Writing the sheets of a module: what is read, everybody's answer sheet, tables to type into, bench books.

Everything goes into ``sheets/<module>/``. Sheets are made of forms that were given out: such a form never changes, so
what is printed and what is marked are the same. Bench books lie in a folder of their own, for whoever invigilates.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.items.kinds import ActionsItem, ObservedItem
from trainkit.journal import now
from trainkit.sentences import counted
from trainkit_grading.course import cohorts
from trainkit_grading.errors import PaperError
from trainkit_grading.forms import generation
from trainkit_grading.paper import blanks, codes, notation, reading_part
from trainkit_grading.paper.bench import book
from trainkit_grading.paper.kinds import blank_of
from trainkit_grading.paper.printing import print_pdf
from trainkit_grading.signoff import checklists
from trainkit_grading.signoff.making import folder as checklist_folder
from trainkit_grading.support.files import held, write_atomically
from trainkit_grading.support.jinja import template
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet, refused

if TYPE_CHECKING:
    from trainkit.forms import Form
    from trainkit_grading.course.folder import Course, CourseModule
    from trainkit_grading.course.roster import Apprentice


HEADINGS = ("what", "how", "answer")
"""Columns of a table to type into."""
SITTING = {
    "form": "the code with its check sign",
    "typed by": "your name",
    "date": "the day on the sheet, like 2027-04-01",
    "began": "when it began, like 09:00",
    "ended": "when it ended, like 10:05",
}
"""What is typed besides the answers, and how."""
# What may not fit on the page of its question, and what stands above it then.
INVIGILATOR = "for the invigilator"


@dataclass(frozen=True, slots=True)
class FormOnPaper:
    """A form that was given out: of which module and attempt, whose."""

    entry: CourseModule
    form: Form
    person: Apprentice
    attempt: int


def folder(course: Course, module: str = "") -> Path:
    """Return where sheets lie."""
    home = course.folder / "sheets"
    return home / module if module else home


def given_out(course: Course, entry: CourseModule, people: Iterable[Apprentice]) -> Iterator[FormOnPaper | Finding]:
    """Yield the current forms of people as they were given out, or what is said of whoever has none."""
    keys = generation.open_keys(course.key_file(entry.name, entry.attempt))
    forms = generation.open_forms(course.forms_file(entry.name, entry.attempt))
    released = generation.read_released(course.released_file(entry.name, entry.attempt))
    for person in people:
        code = keys.form_of(person.id) if keys is not None else None
        if forms is None or code is None or code not in forms.codes:
            text = f"No form of attempt {entry.attempt} was drawn. Give the command: trainkit-course build {entry.name}"
        elif code not in released:
            text = f"The form was not given out yet. Give the command: trainkit-course assign {entry.name}"
        else:
            form = forms.read(code)
            if generation.form_digest(form) == released[code]:
                yield FormOnPaper(entry, form, person, entry.attempt)
                continue
            text = "The form is another one than was given out. Fetch the folder forms/ from your backup."
        yield Finding("note", f"{entry.name} {person.id}", text)


def make_sheets(
    course: Course,
    module: str,
    apprentices: Iterable[str] = (),
    cohort: str = "",
    *,
    pdf: bool = False,
    progress: Progress = quiet,
) -> Outcome:
    """Write the sheets of a module; written again they are the same.

    Parameters
    ----------
    course : Course
        The course folder.
    module : str
        The module.
    apprentices : iterable of str, optional
        For whom.
    cohort : str, optional
        For everybody in this cohort; with neither, for everybody who has been given a form.
    pdf : bool, optional
        Whether a browser prints them into PDF, too.
    progress : callable, optional
        Told of each sheet.

    Returns
    -------
    Outcome
        ``data["sheets"]`` names each form with its code as it is printed, and its files.

    Raises
    ------
    CourseError
        If something named is not of this course, or nobody has been given a form.
    """
    entry = course.module(module)
    named = tuple(apprentices)
    people = _people(course, entry, named, cohort)
    found = list(given_out(course, entry, people))
    sheets = [each for each in found if isinstance(each, FormOnPaper)]
    lacking = [each for each in found if isinstance(each, Finding)]
    if not sheets or (named and lacking):
        raise PaperError(
            module,
            rule=lacking[0].text if lacking else "Nobody takes this module.",
            remedy="Then make the sheets again." if lacking else "Check roster.csv and course.toml.",
        )
    home = folder(course, module)
    findings = list(lacking) if len(lacking) < len(people) else []
    with held(course.folder):
        home.mkdir(parents=True, exist_ok=True)
        watched = _checklists(course, sheets)
        write_atomically(home / "reading.html", reading_part.html_text(course, entry))
        for number, each in enumerate(sheets, start=1):
            stem = each.person.id
            write_atomically(home / f"{stem}.html", answer_html(course, [each], watched))
            write_atomically(home / f"{stem}.csv", table_text(each), 0o600)
            progress(number, len(sheets), each.person.name)
        pages = [home / "reading.html", home / f"{sheets[0].person.id}.html"]
        if len(sheets) > 1:
            pages[1] = home / "all answer sheets.html"
            write_atomically(pages[1], answer_html(course, sheets, watched))
        if any(isinstance(of.item, ActionsItem) for of in sheets[0].form.items):
            (home / INVIGILATOR).mkdir(exist_ok=True)
            for each in sheets:
                write_atomically(home / INVIGILATOR / f"{each.person.id}.html", bench_html(course, [each]), 0o600)
            pages.append(home / INVIGILATOR / f"{sheets[0].person.id}.html")
            if len(sheets) > 1:
                pages[2] = home / INVIGILATOR / "all bench books.html"
                write_atomically(pages[2], bench_html(course, sheets), 0o600)
    done = [f"{counted(len(sheets), 'answer sheet')} of {module} in {home}"]
    if len(pages) > 2:
        done.append(f"Bench books, for whoever invigilates, in {home / INVIGILATOR}")
    printed = []
    if pdf:
        for page in pages:
            try:
                print_pdf(page, page.with_suffix(".pdf"))
                printed.append(page.with_suffix(".pdf"))
            except PaperError as error:
                findings.append(refused(error))
                break
        done += [f"Printed into {path}" for path in printed]
    first = codes.to_type(sheets[0].form.code)
    return Outcome(
        "sheet",
        tuple(done),
        tuple(findings),
        f"Print {(printed or pages)[1]} on A4. What was written on it: trainkit-course enter {first}",
        {
            "reading": str(pages[0]),
            "pdf": [str(path) for path in printed],
            "sheets": [
                {
                    "apprentice": each.person.id,
                    "form": each.form.code,
                    "printed": codes.on_paper(each.form.code),
                    "html": str(home / f"{each.person.id}.html"),
                    "table": str(home / f"{each.person.id}.csv"),
                }
                for each in sheets
            ],
        },
    )


def answer_html(course: Course, sheets: Iterable[FormOnPaper], watched: dict[str, str] | None = None) -> str:
    """Return answer sheets as one page; ``watched`` has the codes of checklists by form."""
    sheets = list(sheets)
    entry = sheets[0].entry
    blueprint = course.workbook(entry).blueprint
    pack = course.pack(entry)
    return template("paper/sheet.html.j2").render(
        course=course.title,
        title=blueprint.title,
        cautions=pack.cautions,
        notice=pack.notice,
        sheets=[_shown(each, blueprint.minutes, (watched or {}).get(each.form.code, "")) for each in sheets],
        sign=figures.warning_sign(24),
        figure_css=figures.CSS,
    )


def bench_html(course: Course, sheets: Iterable[FormOnPaper]) -> str:
    """Return the bench books of forms as one page."""
    sheets = list(sheets)
    blueprint = course.workbook(sheets[0].entry).blueprint
    pack = course.pack(sheets[0].entry)
    books = [
        {
            "item": of.id,
            "name": each.person.name,
            "apprentice": each.person.id,
            "form": each.form.code,
            "printed": codes.on_paper(each.form.code),
            "book": book(of.item),
        }
        for each in sheets
        for of in each.form.items
        if isinstance(of.item, ActionsItem)
    ]
    return template("paper/bench_book.html.j2").render(
        title=blueprint.title, cautions=pack.cautions, notice=pack.notice, books=books, sign=figures.warning_sign(24)
    )


def table_text(given: FormOnPaper) -> str:
    """Return the table into which one pass is typed, as CSV: the sitting first, then each answer."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(HEADINGS)
    code = codes.to_type(given.form.code)
    for what, how in SITTING.items():
        writer.writerow((what, how, code if what == "form" else ""))
    for of in given.form.items:
        if not isinstance(of.item, ObservedItem):
            writer.writerow((of.id, notation.hint(of.item), ""))
    return "\ufeff" + text.getvalue()


def _shown(given: FormOnPaper, minutes: int, checklist: str) -> dict[str, Any]:
    extra = 1 + given.person.extra_percent / 100
    return {
        "name": given.person.name,
        "apprentice": given.person.id,
        "attempt": given.attempt,
        "printed": codes.on_paper(given.form.code),
        "to_type": codes.to_type(given.form.code),
        "minutes": -int(-minutes * extra // 1),
        "questions": [
            {
                "id": of.id,
                "points": counted(of.item.points, "point"),
                "shown": blanks.shown(of.item),
                "blank": blanks.blank(of.item, checklist),
                "long": blank_of(of.item.kind).long,
            }
            for of in given.form.items
        ],
    }


def _checklists(course: Course, sheets: Iterable[FormOnPaper]) -> dict[str, str]:
    """Keep the checklist of each form that asks for observed work, and return its code by that of the form."""
    seed = course.seed()
    home = checklist_folder(course)
    found = {}
    for each in sheets:
        if any(isinstance(of.item, ObservedItem) for of in each.form.items):
            made = checklists.of_item(course, each.entry, each.person, seed)
            home.mkdir(exist_ok=True)
            write_atomically(home / f"{made.stem}.json", made.to_text())
            found[each.form.code] = made.code
    return found


def _people(course: Course, entry: CourseModule, named: tuple[str, ...], cohort: str) -> tuple[Apprentice, ...]:
    roster = course.roster()
    found = roster.named(named)
    if cohort:
        cohorts.named(course, cohort)
    if cohort or not named:
        today = now().date()
        of = [
            person
            for person in roster
            if (not cohort or person.cohort == cohort)
            and cohorts.takes(course, entry, person)
            and not person.gone(today)
        ]
        found += [person for person in of if person not in found]
    return tuple(found)
