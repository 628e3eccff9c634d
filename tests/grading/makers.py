"""Makers of the course side: a small course, people in it, their forms, and what they hand in."""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import sysconfig
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from subprocess import PIPE
from typing import Any, TypeVar

import pytest

from trainkit import handin, journal
from trainkit.forms import Form, Forms, Identity
from trainkit.items.kinds import (
    ActionsResponse,
    ChoiceItem,
    ChoiceResponse,
    Item,
    Key,
    NumberResponse,
    OrderResponse,
    Response,
    TextResponse,
)
from trainkit.journal import Journal
from trainkit_grading.cli import simulate
from trainkit_grading.course.folder import Course, CourseModule
from trainkit_grading.forms import store
from trainkit_grading.intake.collect import collect
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.ledger.verifying import verify
from trainkit_grading.nbgrader_bridge import gradebook, steps
from trainkit_grading.nbgrader_bridge.config import AUTOGRADE
from trainkit_grading.nbgrader_bridge.gradebook import GradeRow
from trainkit_grading.release import init
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build
from trainkit_grading.support.files import LOCKS, write_atomically
from trainkit_grading.support.outcome import Outcome

from .postgres import Postgres

MODULE = "bench-order"
PEOPLE = (("amir", "Amir Shah"), ("o'brien", "Niamh O’Brien"), ("さくら", "山本 さくら"))
FIRST, SECOND, THIRD = (person for person, _ in PEOPLE)
# Before anybody answers, whatever the machine's clock says.
GIVEN_OUT = datetime(2027, 2, 1, tzinfo=UTC)
ON_BOTH = pytest.mark.parametrize("where", ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
ANSWERED = datetime(2027, 3, 1, 8, tzinfo=UTC)
COLLECTED = ANSWERED + timedelta(days=1)
NOON = datetime(2027, 3, 1, 12, tzinfo=UTC)
# How a person starts the command of the course side.
COMMAND = (sys.executable, "-c", "from trainkit_grading.cli import main; main()")
TEMPLATES = ("sequence/put-in-order", "sequence/why-before", "sequence/which-missing")
E = TypeVar("E", bound=Entry)
# What somebody answers to an item with its key; nothing, if they leave it out.
How = Callable[[Item, Key], Response | None]
Run = Callable[..., "subprocess.CompletedProcess[str]"]


def module_toml(templates: tuple[str, ...] = TEMPLATES, module: str = MODULE, pack: str = "dunlin") -> str:
    items = "".join(
        f'[[items]]\nid = "A{number}"\ntemplate = "{template}"\npoints = {number}\n\n'
        for number, template in enumerate(templates, start=1)
    )
    named = json.dumps(sorted(set(templates)))
    return f"""\
format = 1
module = "{module}"
title = "Order on the bench"
pack = "{pack}"
minutes = 20
cut_score = 60
objectives = ["Put steps into a safe order."]

[[skills]]
id = "order"
name = "Safe order"
templates = {named}

{items}"""


def notebook(items: tuple[str, ...], module: str = MODULE) -> dict[str, Any]:
    def code(source: str, **more: Any) -> dict[str, Any]:
        return {"cell_type": "code", "metadata": {}, "source": source, "outputs": [], "execution_count": None, **more}

    example = {"output_type": "stream", "name": "stdout", "text": ["a worked example\n"]}
    return {
        "nbformat": 4,
        "nbformat_minor": 5,
        "metadata": {},
        "cells": [
            code(f'from trainkit import workbook\n\nbook = workbook.open("{module}")', id="open"),
            {"cell_type": "markdown", "metadata": {}, "source": ["# Order\n", "on the bench"], "id": "title"},
            code("book.cautions()", id="cautions", outputs=[example], execution_count=3),
            *(code(f"book.ask('{item}')", id=f"ask-{item}", outputs=[example]) for item in items),
            code("book.finish()"),
        ],
    }


@dataclass(frozen=True)
class Bench:
    """A course and what its apprentices do."""

    course: Course

    @property
    def module(self) -> Path:
        return self.course.folder / "modules" / MODULE

    def write_module(self, text: str, *items: str) -> None:
        """Write what the module asks, and cells for ``items``."""
        self.module.mkdir(parents=True, exist_ok=True)
        self.module.joinpath("module.toml").write_text(text, "utf-8")
        self.module.joinpath(f"{MODULE}.ipynb").write_text(json.dumps(notebook(items or ("A1", "A2", "A3"))), "utf-8")

    def write_roster(self, people: tuple[tuple[str, str], ...]) -> None:
        lines = "".join(f'{identifier},"{name}"\n' for identifier, name in people)
        self.course.roster_file.write_text(f"apprentice,name\n{lines}", "utf-8")

    def unpack(self, apprentice: str, into: Path, module: str = MODULE) -> Path:
        """Unpack an apprentice's zip as they would, and return the folder of the notebook."""
        with zipfile.ZipFile(self.course.zips / module / f"{apprentice}.zip") as archive:
            archive.extractall(into)
        return into / module

    def answer(
        self, folder: Path, *, how: How | None = None, items: tuple[str, ...] = (), at: datetime = ANSWERED
    ) -> Journal:
        """Answer items of the form in ``folder`` as the workbook does, a minute for each."""
        form = form_in(folder)
        keys = {} if how is None else keys_of(self.course, form.code, forms_in(folder).attempt)
        moments = iter(at + timedelta(minutes=n) for n in range(1000))
        written = journal_in(folder, clock=lambda: next(moments))
        for entry in form.items:
            if not items or entry.id in items:
                response = some_response(entry.item) if how is None else how(entry.item, keys[entry.id])
                if response is not None:
                    written.append(entry.id, response)
        return written

    def hand_in(self, apprentice: str, into: Path, **how: Any) -> Path:
        """Answer and hand in by zip: the file lies in the inbox afterwards."""
        folder = self.unpack(apprentice, into)
        self.answer(folder, **how)
        return self.send(folder)

    def send(self, folder: Path, before: str = "") -> Path:
        """Hand in by zip what was answered in a folder."""
        made = handin.pack(folder)
        return made.rename(self.course.inbox / f"{before}{made.name}")

    def simulate(
        self,
        apprentice: str,
        into: Path,
        habits: simulate.Habits,
        at: datetime = ANSWERED,
        module: str = MODULE,
        seed: str = "seed",
    ) -> Path:
        """Answer as somebody with these habits does; return the folder."""
        folder = self.unpack(apprentice, into, module)
        form = form_in(folder)
        named = {"course": self.course.name, "module": module, "apprentice": apprentice}
        keys = keys_of(self.course, form.code, forms_in(folder).attempt, module)
        simulate.answer_form(folder, form, keys, habits, seed, **named, start=at)
        return folder

    def take_in(self, home: Path, *people: str) -> Course:
        """Let these people answer everything and hand in; collect it."""
        for person in people:
            self.hand_in(person, home / "homes" / person)
        return self.collect()

    def collect(self) -> Course:
        """Collect what was handed in, the day after it was answered."""
        assert collect(self.course, clock=lambda: COLLECTED).ok
        return self.course

    def give_out(self, at: datetime = GIVEN_OUT, *modules: str) -> Course:
        """Build the modules and give them out."""
        return give_out(self.course, at, *modules)


def some_response(item: Item) -> Response:
    if item.kind == "number":
        return NumberResponse(text="31", unit=item.units[0])
    if item.kind == "choice":
        return ChoiceResponse(option=item.options[0].id)
    if item.kind == "order":
        return OrderResponse(cards=tuple(card.id for card in item.cards))
    return ActionsResponse(actions=(), gave_up=True)


def sow(folder: Path, seed: str = "5a" * 32) -> Path:
    """Put a known seed into the folder of a course to be: the same forms each time, so that a failure comes again."""
    (folder / "keys").mkdir(mode=0o700, parents=True)
    write_atomically(folder / "keys" / "seed", seed + "\n", mode=0o600)
    return folder


def found(folder: Path, templates: tuple[str, ...] = TEMPLATES) -> Bench:
    """A course with three apprentices and one module of its own, not built yet."""
    sow(folder)
    entry = CourseModule(name=MODULE, folder=f"modules/{MODULE}")
    made = Bench(init.create(folder, "saltmere", "Saltmere", modules=[entry]))
    made.write_module(module_toml(templates), *(f"A{number}" for number in range(1, len(templates) + 1)))
    made.write_roster(PEOPLE)
    return made


def copy_of(course: Course, into: Path, server: Postgres | None = None) -> Course:
    """Copy a course folder, which a course allows; with a server, its database too."""
    copied = Course.load(shutil.copytree(course.folder, into, symlinks=True))
    if server is None:
        return copied
    database = course.database.partition("@/")[2].partition("?")[0]
    return move_to(copied, server.address(server.new_database(like=database)))


def move_to(course: Course, address: str) -> Course:
    """Let a course keep its marks in the database at this address."""
    lines = [
        line for line in course.file.read_text("utf-8").splitlines() if not line.startswith(("database", "# database"))
    ]
    lines.insert(lines.index("format = 1") + 1, f'database = "{address}"')
    course.file.write_text("\n".join(lines) + "\n", "utf-8")
    return Course.load(course.folder)


def kept(path: Path) -> tuple[dict[str, Any], dict[str, Any]]:
    """Read a file of forms or of keys as the plain JSON that it is: its first line, and the others by code."""
    first, *others = path.read_bytes().splitlines()
    head = json.loads(first)
    return head, dict(zip(head["lines"], map(json.loads, others), strict=True))


def keep(path: Path, head: dict[str, Any], forms: dict[str, Any]) -> None:
    """Write such a file again, changed."""
    lines = {code: json.dumps(form).encode() + b"\n" for code, form in forms.items()}
    head |= {"lines": {code: len(line) for code, line in lines.items()}}
    path.write_bytes(b"".join((json.dumps(head).encode() + b"\n", *lines.values())))


def tree(folder: Path) -> dict[str, bytes]:
    """Return every file under ``folder`` with its bytes, but for the locks."""
    files = (path for path in folder.rglob("*") if path.is_file() and path.name not in LOCKS)
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def edited(course: Course, *changes: tuple[str, str], more: str = "") -> Course:
    """Replace text in ``course.toml`` that stands there, and add ``more`` to its end."""
    text = course.file.read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    course.file.write_text(text + more, "utf-8")
    return Course.load(course.folder)


def set_to(course: Course, **values: str) -> Course:
    """Change settings in ``course.toml``, whose lines stand there already."""
    text = course.file.read_text("utf-8")
    for name, value in values.items():
        text, changed = re.subn(rf"(?m)^{name} = .*$", f"{name} = {value}", text)
        assert changed, name
    course.file.write_text(text, "utf-8")
    return Course.load(course.folder)


def forms_in(folder: Path) -> Forms:
    """Read the forms beside a notebook."""
    forms = Forms.read(folder)
    assert forms is not None
    return forms


def form_in(folder: Path) -> Form:
    """Read the form beside a notebook: that of whoever was given the folder, or the only one."""
    forms, who = forms_in(folder), Identity.read(folder)
    if who is not None:
        return forms.of(who.apprentice)
    (form,) = forms.forms
    return form


def choice_in(form: Form) -> tuple[str, ChoiceItem]:
    """Return the first choice of a form, with its name."""
    return next((entry.id, entry.item) for entry in form.items if isinstance(entry.item, ChoiceItem))


def form_of(course: Course, apprentice: str, module: str = MODULE, attempt: int = 1) -> Form:
    """Read the form of somebody."""
    forms = store.open_forms(course.forms_file(module, attempt))
    assert forms is not None
    return forms.only(apprentice).forms[0]


def key_file(course: Course, module: str = MODULE, attempt: int = 1) -> store.KeyFile:
    """Read all keys to an attempt."""
    keys = store.read_keys(course.key_file(module, attempt))
    assert keys is not None
    return keys


def keys_of(course: Course, code: str, attempt: int = 1, module: str = MODULE) -> Mapping[str, Key]:
    """Read the keys to a form."""
    keys = store.open_keys(course.key_file(module, attempt))
    assert keys is not None
    return keys.read(code).keys


def journal_in(folder: Path, **claims: Any) -> Journal:
    """Open the journal beside a form as its owner would, or claiming something else."""
    forms, who = forms_in(folder), Identity.read(folder)
    owner = who.apprentice if who is not None else folder.parent.name
    honest = {"course": forms.course, "module": forms.module, "form": form_in(folder).code, "apprentice": owner}
    return Journal(folder / "answers.jsonl", **{**honest, **claims})


def refused(outcome: Outcome) -> str:
    """Return what was refused, with its places; something was."""
    assert not outcome.ok
    return " | ".join(f"{f.place}: {f.text}" for f in outcome.findings if f.severity == "refused")


@contextmanager
def ledger_of(course: Course, *begin: str) -> Iterator[Ledger]:
    """Open the ledger of a course."""
    with gradebook.opened(course, *begin) as engine, engine.begin() as connection:
        yield Ledger(connection, course.seed())


def entries(course: Course, kind: type[E]) -> list[E]:
    """Read the entries of a kind, all of them for ``Entry``, from the ledger, which is proven on the way."""
    with ledger_of(course) as ledger:
        assert verify(ledger.connection, course.seed()).faults == ()
        return list(ledger.entries(kind))


def grades_of(course: Course, person: str = FIRST) -> dict[str, GradeRow]:
    """Return what the gradebook has of somebody, item by item."""
    return dict(gradebook.read(course, MODULE)[person].grades)


def marks_of(course: Course) -> dict[str, dict[str, float | None]]:
    """Return the points that marking gave, by person and item."""
    return {
        person: {item: grade.auto_score for item, grade in row.grades.items()}
        for person, row in gradebook.read(course, MODULE).items()
    }


def give(course: Course, item: str, points: float, person: str = FIRST) -> None:
    """Give points as formgrader does, through nbgrader's own code."""
    give_each(course, {(MODULE, item, person): points})


def give_each(course: Course, points: Mapping[tuple[str, str, str], float]) -> None:
    """Give points by module, item and person."""
    with formgrader(course) as book:
        for (module, item, person), given in points.items():
            grade = book.find_grade(item, module, module, person)
            grade.manual_score, grade.needs_manual_grade = given, False
        book.db.commit()


@contextmanager
def formgrader(course: Course) -> Iterator[Any]:
    """Hold nbgrader's own gradebook open as formgrader does, which has read the configuration of the course."""
    steps.configuration(course)
    with steps.prepared():
        from nbgrader.api import Gradebook

        with Gradebook(course.gradebook_url, course.name) as book:
            yield book


def nbgrader(course: Course, *words: str, fails: bool = False) -> subprocess.CompletedProcess[str]:
    """Run nbgrader's own command in a course folder."""
    done = beside_nbgrader(course, "nbgrader", *words)
    assert (done.returncode != 0) == fails, done.stderr
    return done


def penalised_by_nbgrader(course: Course, into: Path) -> Course:
    """Let nbgrader mark a copy of a course, and take off by its own hand what arriving late costs."""
    theirs = copy_of(course, into)
    with theirs.nbgrader_config.open("a", encoding="utf-8") as stream:
        # Ours would write what it takes off once more, over what nbgrader has just asked the rule for.
        stream.write(f"c.Autograde.autograde_preprocessors.remove({AUTOGRADE[-1]!r})\n")
    with gradebook.opened(theirs, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        connection.exec_driver_sql("UPDATE submitted_notebook SET late_submission_penalty = NULL")
    nbgrader(theirs, "autograde", MODULE, "--force")
    return theirs


def beside_nbgrader(course: Course, *words: str, **more: str) -> subprocess.CompletedProcess[str]:
    """Run a program that finds nbgrader, in a course folder; what it prints may be no text."""
    path = os.pathsep.join((sysconfig.get_path("scripts"), os.environ.get("PATH", "")))
    environment = {**os.environ, "PATH": path, "PYTHONWARNINGS": "ignore", **more}
    return subprocess.run(
        words,
        cwd=course.folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        errors="surrogateescape",
    )


def begin(*words: str | Path) -> subprocess.Popen[str]:
    """Start a program in Python and wait until it says that it is ready; ``go_on`` lets it go on."""
    process = subprocess.Popen([sys.executable, "-c", *words], stdin=PIPE, stdout=PIPE, stderr=PIPE, text=True)
    assert process.stdout is not None
    if process.stdout.readline() != "ready\n":
        raise AssertionError(process.communicate()[1])
    return process


def go_on(process: subprocess.Popen[str]) -> None:
    """Let a program go on that waits for a line."""
    assert process.stdin is not None
    process.stdin.write("\n")
    process.stdin.flush()


def change(course: Course, statement: str, *values: object) -> None:
    """Change the gradebook behind everybody's back."""
    with sqlite3.connect(course.gradebook) as connection:
        connection.execute(statement, values)


def asked(database: Path, query: str, *values: object) -> list[tuple[Any, ...]]:
    """Ask a database of SQLite."""
    with closing(sqlite3.connect(database)) as connection:
        return connection.execute(query, values).fetchall()


def text_of(page: str) -> str:
    """Return the words of a page, as they are read."""
    body = re.sub(r"<style>.*?</style>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", body)).split())


def writing(words: str) -> How:
    """Answer texts with these words, if there are any; leave practical work to whoever watches it."""

    def how(item: Item, _: Key) -> Response | None:
        if item.kind == "text":
            return TextResponse(text=words) if words else None
        return None if item.kind == "observed" else some_response(item)

    return how


def give_out(course: Course, at: datetime = GIVEN_OUT, *modules: str) -> Course:
    """Build modules, all if none is named, and give them out."""
    assert build(course, modules, clock=lambda: at).ok
    assert assign(course, modules, clock=lambda: at).ok
    return course


def still(moment: datetime) -> Callable[[], datetime]:
    """Return a clock that stands still."""
    return lambda: moment


def laid(course: Course, apprentice: str) -> Path:
    """Return where somebody's hand-in lies once it was collected."""
    return course.submitted / apprentice / MODULE


def answered(course: Course, apprentice: str) -> int:
    """Count the answers in somebody's hand-in as it was laid."""
    return len(journal.read(laid(course, apprentice) / "answers.jsonl").entries)
