"""A course with many simulated hand-ins, and the same answers as submissions to a plain nbgrader course.

A blueprint of the product has at most 12 items. The module of this bench has 40: they are the items of the shipped
modules, taken in turn, in a blueprint that is made without that one check (``model_construct``). Forms, keys, journals
and notebooks are then what they are for everybody else.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest import mock

import nbformat

from trainkit import modules, packs
from trainkit.forms import FORMS_FILE, Form, person_digest
from trainkit.items.kinds import Response
from trainkit.items.misconceptions import all_misconceptions
from trainkit.journal import JournalLine
from trainkit.modules import Blueprint, Module
from trainkit_grading.cli import simulate
from trainkit_grading.course.folder import Course, CourseModule
from trainkit_grading.forms import generation
from trainkit_grading.release import init
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import graded_notebook
from trainkit_grading.support.files import write_atomically

MODULE = "bench"
PACK = "dunlin"
BEGUN = datetime(2027, 3, 1, 8, tzinfo=UTC)
ARRIVED = "2027-03-02 08:00:00.000000 UTC"


@dataclass(frozen=True)
class World:
    """A course that has been built, given out and handed in; ``forms`` says how many different forms it has."""

    course: Course
    people: tuple[str, ...]
    forms: int


def person(number: int) -> str:
    """Return the identifier of an apprentice."""
    return f"p{number:05d}"


def blueprint(items: int) -> Blueprint:
    """Return a blueprint of so many items that a machine marks, taken in turn from the shipped modules."""
    books = [modules.load(name).blueprint for name in modules.names() if name != "capstone"]
    found = [item for row in zip(*(book.items for book in books), strict=True) for item in row][:items]
    skills = tuple(skill for book in books for skill in book.skills)
    return Blueprint.model_construct(
        format=1,
        module=MODULE,
        title="Bench",
        pack=PACK,
        assessed_on="",
        minutes=120,
        cut_score=60.0,
        objectives=("Everything.",),
        skills=skills,
        items=tuple(item.model_copy(update={"id": f"A{number}"}) for number, item in enumerate(found, start=1)),
    )


def _notebook(items: int) -> dict[str, Any]:
    def code(source: str) -> Any:
        return nbformat.v4.new_code_cell(source)

    cells = [
        code(f'from trainkit import workbook\n\nbook = workbook.open("{MODULE}")'),
        nbformat.v4.new_markdown_cell("# Bench"),
        code("book.cautions()"),
        *(code(f"book.ask('A{number}')") for number in range(1, items + 1)),
        code("book.finish()"),
    ]
    return dict(nbformat.v4.new_notebook(cells=cells))


def _with_module(folder: Path, book: Blueprint) -> Course:
    """Make the course folder and the module in it: its first twelve items as a file, all of them in memory."""
    course = init.create(folder, "saltmere", "Saltmere", [CourseModule(name=MODULE, folder=f"modules/{MODULE}")])
    home = folder / "modules" / MODULE
    home.mkdir(parents=True)
    few = [item for item in book.items[:12] if not item.shows]
    lines = [f'format = 1\nmodule = "{MODULE}"\ntitle = "Bench"\npack = "{PACK}"\nminutes = 60\ncut_score = 60']
    lines.append('objectives = ["Everything."]\n\n[[skills]]\nid = "all"\nname = "All"')
    lines.append(f"templates = {json.dumps(sorted({item.template for item in few}))}")
    lines += [f'\n[[items]]\nid = "{item.id}"\ntemplate = "{item.template}"\npoints = {item.points}' for item in few]
    (home / "module.toml").write_text("\n".join(lines) + "\n", "utf-8")
    (home / f"{MODULE}.ipynb").write_text(json.dumps(_notebook(len(book.items))), "utf-8")
    return course


def make(folder: Path, count: int, items: int, seed: int) -> World:
    """Make a course of so many apprentices who have all handed in, each with a form and answers of their own."""
    book = blueprint(items)
    course = _with_module(folder, book)
    people = tuple(person(number) for number in range(count))
    course.roster_file.write_text("apprentice,name\n" + "".join(f"{name},{name}\n" for name in people), "utf-8")
    known = hashlib.sha256(f"bench {seed}".encode()).hexdigest()
    write_atomically(course.seed_file, known + "\n", mode=0o600)
    (entry,) = course.modules
    drawn = generation.draw(course, entry, book, packs.load(PACK), course.roster(), course.seed())
    generation.write(course, drawn)
    home = course.source / MODULE
    home.mkdir(parents=True)
    write_atomically(home / FORMS_FILE, drawn.forms.model_dump_json(indent=1) + "\n")
    module = Module(folder=folder / "modules" / MODULE, blueprint=book)
    write_atomically(home / f"{MODULE}.ipynb", graded_notebook(module))
    done = assign(course)
    if not done.ok:
        raise SystemExit(f"The bench could not give its module out: {done.findings}")
    _hand_in(course, drawn, people, seed)
    return World(course, people, count)


def enlarge(world: World, folder: Path, count: int, seed: int) -> World:
    """Copy a course and let so many more people take part: forms are used again, under codes of their own.

    Nobody's answers are: each journal is simulated anew.
    """
    course = Course.load(shutil.copytree(world.course.folder, folder, ignore=shutil.ignore_patterns("zips", "p0*")))
    people = tuple(person(number) for number in range(count))
    course.roster_file.write_text("apprentice,name\n" + "".join(f"{name},{name}\n" for name in people), "utf-8")
    forms = generation.read_forms(course.forms_file(MODULE, 1))
    keys = generation.read_keys(course.key_file(MODULE, 1))
    assert forms is not None
    assert keys is not None
    by_code = {form.code: form for form in forms.forms}
    known = list(keys.forms.items())
    more: dict[str, tuple[Form, generation.FormKeys]] = {}
    for number, name in enumerate(people):
        code, own = known[number % len(known)]
        new = code if number < len(known) else f"{code[:4]}{number:06d}"
        more[new] = (by_code[code].model_copy(update={"code": new}), own.model_copy(update={"apprentice": name}))
    drawn = generation.Drawing(
        forms.model_copy(
            update={
                "forms": tuple(more[code][0] for code in sorted(more)),
                "people": {person_digest(forms.course, own.apprentice): c for c, (_, own) in more.items()},
            }
        ),
        keys.model_copy(update={"forms": {code: more[code][1] for code in sorted(more)}}),
    )
    generation.write(course, drawn)
    # The record of what was given out is not waited for: nothing of this is measured.
    generation.record_release(course, MODULE, 1, [form for form, _ in more.values()])
    _hand_in(course, drawn, people, seed)
    return World(course, people, len(known))


def _hand_in(course: Course, drawn: generation.Drawing, people: tuple[str, ...], seed: int) -> None:
    """Lay under ``submitted/`` what the collector lays there, with a journal of simulated answers."""
    forms = {form.code: form for form in drawn.forms.forms}
    codes = {own.apprentice: code for code, own in drawn.keys.forms.items()}
    cohort = simulate.cohort(len(people), sorted(all_misconceptions()), random.Random(f"cohort {seed}"))
    released = (course.release / MODULE / f"{MODULE}.ipynb").read_bytes()
    for name, habits in zip(people, cohort, strict=True):
        home = course.submitted / name / MODULE
        home.mkdir(parents=True)
        code = codes[name]
        keys = drawn.keys.forms[code].keys
        lines: list[bytes] = []
        before = b""
        for answer in _answers(course.name, forms[code], keys, habits, name, seed):
            line = answer(len(lines) + 1, hashlib.sha256(before).hexdigest()[:16] if before else "")
            lines.append(line)
            before = line
        (home / "answers.jsonl").write_bytes(b"".join(line + b"\n" for line in lines))
        (home / "timestamp.txt").write_text(ARRIVED, "utf-8")
        (home / f"{MODULE}.ipynb").write_bytes(released)


def _answers(course: str, form: Form, keys: Any, habits: simulate.Habits, name: str, seed: int) -> Iterator[Any]:
    journal = hashlib.sha256(f"{seed} {name}".encode()).hexdigest()[:32]
    # Everybody begins at a moment of their own, as people do.
    now = BEGUN + timedelta(milliseconds=random.Random(f"{seed}/{name}").randint(0, 6 * 3_600_000))
    for shown in form.items:
        rng = random.Random(f"{seed}/{name}/{shown.id}")
        for _ in range(2 if rng.random() < habits.second_thoughts else 1):
            now += timedelta(milliseconds=rng.randint(5_000, 140_000))
            given = simulate.answer(shown.item, keys[shown.id], habits, rng)
            if given is not None:
                at = now.isoformat(timespec="milliseconds").replace("+00:00", "Z")
                yield _line(journal, course, form.code, name, shown.id, given, at)


def _line(journal: str, course: str, form: str, name: str, item: str, given: Response, at: str) -> Any:
    def line(number: int, before: str) -> bytes:
        entry = JournalLine(
            n=number,
            at=at,
            journal=journal,
            course=course,
            module=MODULE,
            form=form,
            apprentice=name,
            item=item,
            response=given,
            before=before,
        )
        return entry.model_dump_json().encode()

    return line


# The same answers, handed in to a course of nbgrader's own


def make_stock(world: World, folder: Path, count: int, items: int) -> Path:
    """Make a plain nbgrader course: a cell an answer and a cell that checks it, so many submissions of the world."""
    folder.mkdir()
    (folder / "nbgrader_config.py").write_text('c = get_config()\nc.CourseDirectory.course_id = "stock"\n', "utf-8")
    source = folder / "source" / MODULE
    source.mkdir(parents=True)
    nbformat.write(_stock_notebook(items, None), source / f"{MODULE}.ipynb")
    run(folder, "nbgrader", "generate_assignment", MODULE, "--create")
    released = nbformat.read(folder / "release" / MODULE / f"{MODULE}.ipynb", as_version=4)
    for name in world.people[:count]:
        home = folder / "handed-in" / name / MODULE
        home.mkdir(parents=True)
        given: dict[str, Any] = {}
        for line in (world.course.submitted / name / MODULE / "answers.jsonl").read_text("utf-8").splitlines():
            entry = json.loads(line)
            given[entry["item"]] = entry["response"]
        nbformat.write(_stock_notebook(items, given, released), home / f"{MODULE}.ipynb")
        (home / "timestamp.txt").write_text(ARRIVED, "utf-8")
    return folder


def _stock_notebook(items: int, given: dict[str, Any] | None, released: Any = None) -> Any:
    if released is not None and given is not None:
        notebook = nbformat.from_dict(json.loads(json.dumps(released)))
        for cell in notebook.cells:
            name = cell.metadata.get("nbgrader", {}).get("grade_id", "")
            if name.startswith("answer-"):
                cell.source = f"a = {given.get(name.removeprefix('answer-'))!r}"
        return notebook
    cells = []
    for number in range(1, items + 1):
        for name, graded, text in (
            (f"answer-A{number}", False, "### BEGIN SOLUTION\na = None\n### END SOLUTION"),
            (f"test-A{number}", True, "assert a is not None and a['kind']\nround(0.5 + len(a) / 100, 2)"),
        ):
            cell = nbformat.v4.new_code_cell(text)
            cell.metadata["nbgrader"] = {
                "schema_version": 3,
                "grade_id": name,
                "grade": graded,
                "solution": not graded,
                "locked": graded,
                "task": False,
                **({"points": 1.0} if graded else {}),
            }
            cells.append(cell)
    return nbformat.v4.new_notebook(
        cells=cells, metadata={"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    )


def run(folder: Path, *command: str) -> str:
    """Run a command of this environment in a folder and return what it said; whatever fails ends the bench."""
    where = Path(sys.executable).parent
    environment = {**os.environ, "PATH": f"{where}{os.pathsep}{os.environ.get('PATH', '')}"}
    done = subprocess.run(
        [str(where / command[0]), *command[1:]],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise SystemExit(f"{' '.join(command)} failed:\n{done.stdout[-2000:]}{done.stderr[-4000:]}")
    return done.stdout + done.stderr


def without_waiting_for_the_disk() -> Any:
    """Leave out waiting for the disk while the world is made; nothing of that is measured."""
    return mock.patch("os.fsync", return_value=None)
