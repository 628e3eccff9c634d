"""Makers of the course side: a small course, people in it, their forms, and what they hand in."""

from __future__ import annotations

import json
import zipfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from trainkit import handin
from trainkit.forms import Forms, Identity
from trainkit.items.item import Item
from trainkit.items.responses import ActionsResponse, ChoiceResponse, NumberResponse, OrderResponse, Response
from trainkit.journal import Journal
from trainkit_grading.course.folder import Course, CourseModule
from trainkit_grading.release import init

MODULE = "bench-order"
PEOPLE = (("amir", "Amir Shah"), ("o'brien", "Niamh O’Brien"), ("さくら", "山本 さくら"))
# Before anybody answers, whatever the machine's clock says.
GIVEN_OUT = datetime(2027, 2, 1, tzinfo=UTC)
TEMPLATES = ("sequence/put-in-order", "sequence/why-before", "sequence/which-missing")


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

    def write_roster(self, people: tuple[tuple[str, str], ...]) -> None:
        lines = "".join(f'{identifier},"{name}"\n' for identifier, name in people)
        self.course.roster_file.write_text(f"apprentice,name\n{lines}", "utf-8")

    def unpack(self, apprentice: str, into: Path) -> Path:
        """Unpack an apprentice's zip as they would, and return the folder of the notebook."""
        with zipfile.ZipFile(self.course.zips / MODULE / f"{apprentice}.zip") as archive:
            archive.extractall(into)
        return into / MODULE

    def answer(self, folder: Path, *, items: tuple[str, ...] = (), at: datetime | None = None) -> Journal:
        """Answer items of the form in ``folder`` as the workbook does."""
        forms, who = Forms.read(folder), Identity.read(folder)
        assert forms is not None
        assert who is not None
        form = forms.of(who.apprentice)
        start = at or datetime(2027, 3, 1, 8, tzinfo=UTC)
        moments = iter(start + timedelta(minutes=n) for n in range(1000))
        journal = Journal(
            folder / "answers.jsonl",
            course=forms.course,
            module=forms.module,
            form=form.code,
            apprentice=who.apprentice,
            clock=lambda: next(moments),
        )
        for entry in form.items:
            if not items or entry.id in items:
                journal.append(entry.id, some_response(entry.item))
        return journal

    def hand_in(self, apprentice: str, into: Path, **how: Any) -> Path:
        """Answer and hand in by zip: the file lies in the inbox afterwards."""
        folder = self.unpack(apprentice, into)
        self.answer(folder, **how)
        made = handin.pack(folder)
        return made.rename(self.course.inbox / made.name)


def some_response(item: Item) -> Response:
    if item.kind == "number":
        return NumberResponse(text="31", unit=item.units[0])
    if item.kind == "choice":
        return ChoiceResponse(option=item.options[0].id)
    if item.kind == "order":
        return OrderResponse(cards=tuple(card.id for card in item.cards))
    return ActionsResponse(actions=(), gave_up=True)


def found(folder: Path) -> Bench:
    """A course with three apprentices and one module of its own, not built yet."""
    entry = CourseModule(name=MODULE, folder=f"modules/{MODULE}")
    made = Bench(init.create(folder, "saltmere", "Saltmere", modules=[entry]))
    made.module.mkdir(parents=True)
    made.module.joinpath("module.toml").write_text(module_toml(), "utf-8")
    text = json.dumps(notebook(("A1", "A2", "A3")))
    made.module.joinpath(f"{MODULE}.ipynb").write_text(text, "utf-8")
    made.write_roster(PEOPLE)
    return made


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
    """Return every file under ``folder`` with its bytes."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
