"""A course of all modules, given out, of which some people answer on screen and the same answers come on paper."""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path

from trainkit import journal
from trainkit.forms import Form
from trainkit.items.kinds import ObservedItem, Response
from trainkit_grading.cli import simulate
from trainkit_grading.course.folder import Course
from trainkit_grading.intake.collect import collect
from trainkit_grading.paper import codes, notation
from trainkit_grading.release import init

from . import makers
from .makers import Bench, form_of

PEOPLE = (("amir", "Amir Dashtvan"), ("o'carragher", "Siobhán O'Carragher"))
BOTH = tuple(identifier for identifier, _ in PEOPLE)
GIVEN_OUT = datetime(2027, 3, 1, 8, tzinfo=UTC)
BEGUN = datetime(2027, 3, 10, 9, tzinfo=UTC)
ENDED = BEGUN + timedelta(minutes=70)
NOW = datetime(2027, 3, 11, 9, tzinfo=UTC)


def clock() -> datetime:
    return NOW


def give_out(folder: Path, names: tuple[str, ...]) -> Course:
    """A course with two apprentices; these modules of it are built and given out."""
    made = init.create(makers.sow(folder), "saltmere", "Saltmere drainage board")
    lines = "".join(f"{identifier},{name}\n" for identifier, name in PEOPLE)
    made.roster_file.write_text(f"apprentice,name\n{lines}", "utf-8")
    return makers.give_out(made, GIVEN_OUT, *names)


def code_of(course: Course, module: str, apprentice: str) -> str:
    return codes.on_paper(form_of(course, apprentice, module).code)


def answer_on_screen(course: Course, home: Path) -> None:
    """Let everybody open their zips, answer as simulated people do, and hand in; collect it."""
    habits = simulate.cohort(len(PEOPLE), (), random.Random(5))
    bench = Bench(course)
    for entry in course.modules:
        if (course.zips / entry.name).is_dir():
            for person, of in zip(BOTH, habits, strict=True):
                bench.send(bench.simulate(person, home / person, of, BEGUN, entry.name, "papers"))
    assert collect(course, clock=clock).ok


def answers(course: Course, module: str, apprentice: str) -> dict[str, Response]:
    """What somebody answered on screen, the latest answer to each question."""
    reading = journal.read(course.submitted / apprentice / module / journal.JOURNAL_FILE)
    return {what: entry.response for what, entry in reading.latest().items()}


def typed(form: Form, given: Mapping[str, Response]) -> dict[str, str]:
    """These answers as they are typed from a sheet."""
    begun, ended = (moment.astimezone() for moment in (BEGUN, ENDED))
    return {
        "date": f"{begun:%Y-%m-%d}",
        "began": f"{begun:%H:%M}",
        "ended": f"{ended:%H:%M}",
        **{
            of.id: notation.write(of.item, given.get(of.id))
            for of in form.items
            if not isinstance(of.item, ObservedItem)
        },
    }


def table(path: Path, form: Form, by: str, texts: Mapping[str, str]) -> Path:
    """Write a table into which a pass was typed."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerows([("what", "how", "answer"), ("form", "", codes.on_paper(form.code)), ("typed by", "", by)])
    writer.writerows((what, "", said) for what, said in texts.items())
    path.write_text(text.getvalue(), "utf-8-sig")
    return path
