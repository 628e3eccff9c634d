"""Somebody's form with its answers: what was asked, what is right, how it comes about, and what a person marks by.

It holds keys. In a terminal it is for the eyes of course staff; as a page it lies in ``keys/``, which is open to its
owner alone and never released.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit import figures
from trainkit.items.capstone import rubric_of
from trainkit.items.kinds import TextKey
from trainkit.items.misconceptions import all_misconceptions
from trainkit.sentences import counted
from trainkit.widgets.kinds import look_of
from trainkit.widgets.paper import item_text, paragraphs, task
from trainkit_grading.errors import CourseError, DrawingError
from trainkit_grading.forms import generation
from trainkit_grading.reports.feedback.page import drawn_picture
from trainkit_grading.support.files import pages_held, write_atomically
from trainkit_grading.support.jinja import template
from trainkit_grading.support.outcome import Outcome
from trainkit_grading.support.sharing import private_folder

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Key
    from trainkit.packs import Pack
    from trainkit_grading.course.folder import Course


@dataclass(frozen=True, slots=True)
class AnswerKeyItem:
    """One item with its key, in words.

    Parameters
    ----------
    id : str
        The item.
    item : Item
        What is shown.
    critical : bool
        Whether an unsafe answer bars a pass.
    right : tuple of str
        What is right, a line each.
    working : tuple of str
        How it comes about, a step each.
    wrong : tuple of (str, str)
        Wrong answers that are recognised, and what each of them shows.
    rubric : str
        What a person marks by; empty where a machine marks.
    """

    id: str
    item: Item
    critical: bool
    right: tuple[str, ...]
    working: tuple[str, ...]
    wrong: tuple[tuple[str, str], ...]
    rubric: str


@dataclass(frozen=True, slots=True)
class AnswerKey:
    """A form with its answers: of which course and module, whose, which attempt, and the items."""

    course: str
    module: str
    apprentice: str
    name: str
    form: str
    attempt: int
    pack: Pack
    items: tuple[AnswerKeyItem, ...]


def answer_key(course: Course, module: str, apprentice: str, attempt: int = 0) -> AnswerKey:
    """Put somebody's form and its keys together.

    Parameters
    ----------
    course : Course
        The course folder.
    module, apprentice : str
        Which form.
    attempt : int, optional
        Which attempt; 0 for the current one.

    Raises
    ------
    CourseError
        If the module is not of this course, or nobody has this identifier.
    DrawingError
        If there is no such form.
    """
    entry = course.module(module)
    number = attempt or entry.attempt
    blueprint = course.workbook(entry, number).blueprint
    keys = generation.open_keys(course.key_file(module, number))
    forms = generation.open_forms(course.forms_file(module, number))
    person = course.roster().find(apprentice)
    code = keys.form_of(person.id if person is not None else apprentice) if keys is not None else None
    if person is None and code is None:
        raise CourseError(
            apprentice, rule="Nobody on the roster has this identifier.", remedy="See them with: trainkit-course status"
        )
    if keys is None or forms is None or code is None or code not in forms.codes:
        raise DrawingError(
            apprentice,
            place=module,
            rule=f"There is no form of attempt {number} for this apprentice.",
            remedy=f"Give the command: trainkit-course build {module}, or name another attempt with --attempt.",
        )
    known, planned = keys.read(code).keys, {item.id: item for item in keys.head.plan}
    return AnswerKey(
        course.title,
        blueprint.title,
        apprentice,
        person.name if person is not None else apprentice,
        code,
        number,
        course.pack(entry, number),
        tuple(
            _answer_key_item(e.id, e.item, known[e.id], critical=planned[e.id].critical) for e in forms.read(code).items
        ),
    )


def answers(course: Course, module: str, apprentice: str, attempt: int = 0, *, html: bool = False) -> Outcome:
    """Tell somebody's form with its answers; with ``html`` also as a page in ``keys/``, open to its owner alone.

    Raises
    ------
    CourseError
        See :func:`answer_key`.
    """
    found = answer_key(course, module, apprentice, attempt)
    done: tuple[str, ...] = ()
    data: dict[str, object] = {"form": found.form, "attempt": found.attempt}
    if html:
        home = course.keys / "answers"
        path = home / f"{module} {found.apprentice} attempt {found.attempt}.html"
        with pages_held(course.folder):
            private_folder(home)
            write_atomically(path, html_text(found), mode=0o600)
        done = (f"The page is in {path}; nobody but you can open it. It holds keys: keep it out of everything shared.",)
        data["html"] = str(path)
    data["items"] = [
        {
            "item": of.id,
            "critical": of.critical,
            "right": list(of.right),
            "working": list(of.working),
            "rubric": of.rubric,
        }
        for of in found.items
    ]
    step = "As a page with pictures: the same command with --html" if not html else "Open the page in a browser."
    return Outcome("answers", done, next_step=step, data=data, words=tuple(_lines(found)))


def html_text(found: AnswerKey) -> str:
    """Return a form with its answers as one self-contained page."""
    return template("reports/answer_key.html.j2").render(
        found=found,
        shown=[
            {
                "of": of,
                "prompt": paragraphs(of.item.prompt),
                "task": task(of.item)[0],
                "choices": task(of.item)[1],
                "picture": drawn_picture(of.item, of.id),
            }
            for of in found.items
        ],
        sign=figures.warning_sign(24),
        figure_css=figures.CSS,
    )


def _lines(found: AnswerKey) -> Iterator[str]:
    yield f"{found.module}: form {found.form} of {found.name}, attempt {found.attempt}. For course staff only."
    yield ""
    yield "Before any work"
    for hazard in found.pack.cautions:
        yield f"- {hazard.title.rstrip('.')}. {hazard.text}"
    yield found.pack.notice
    for of in found.items:
        mark = ", critical" if of.critical else ""
        yield ""
        yield from item_text(f"{of.id} ({counted(of.item.points, 'point')}{mark})", of.item).splitlines()
        if of.right:
            yield ""
            yield f"Right: {of.right[0]}" if len(of.right) == 1 else "Right:"
            yield from (f"  {line}" for line in of.right if len(of.right) > 1)
        if of.working:
            yield "Working:"
            yield from (f"{number}. {line}" for number, line in enumerate(of.working, start=1))
        if of.wrong:
            yield "What wrong answers show:"
            yield from (f"- {answer}: {shows}" for answer, shows in of.wrong)
        yield from of.rubric.splitlines()


def _answer_key_item(name: str, item: Item, key: Key, *, critical: bool) -> AnswerKeyItem:
    look, known = look_of(key.kind), all_misconceptions()
    # Some workings number their steps themselves.
    numbered = all(re.match(r"\d+\. ", line) for line in key.working)
    return AnswerKeyItem(
        name,
        item,
        critical,
        right=tuple((look.worked or look.right)(item, key)),
        working=tuple(re.sub(r"^\d+\. ", "", line) for line in key.working) if numbered else key.working,
        wrong=tuple(
            (answer, f"{'Unsafe answer. ' if unsafe else ''}{known[code].shows}")
            for answer, code, unsafe in look.wrong(item, key)
            if code in known
        ),
        rubric=str(rubric_of(key, item.points)) if isinstance(key, TextKey) else "",
    )
