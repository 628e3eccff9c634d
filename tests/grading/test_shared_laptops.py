"""Fourteen apprentices on three laptops: a folder each, and nobody's answers are seen, mixed up or written over."""

from __future__ import annotations

import json
import random
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from trainkit import copies, handin, modules, workbook
from trainkit.cli.workbooks import notebook_to_open
from trainkit.errors import FormError
from trainkit.forms import Forms, Identity
from trainkit.journal import JOURNAL_FILE, Journal, read
from trainkit_grading.course.folder import Course
from trainkit_grading.intake.collect import collect
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.marking.mark import mark

from .makers import GIVEN_OUT, MODULE, Bench, entries, found, give_out, set_to, some_response, still
from .packed import zipped

# Names that a careless computer could take for each other or for something of its own.
PEOPLE = (
    *("amir", "amira", "o'brien", "o-brien", "さくら", "søren", "soren", "kon", "null", "a.b", "a_b", "lena", "lena2"),
    "ruth",
)
LAPTOPS = ("first", "second", "third")


@pytest.fixture
def course(tmp_path: Path) -> Course:
    made = found(tmp_path / "course")
    made.write_roster(tuple((name, f"{name.title()} Saltmere") for name in PEOPLE))
    give_out(made.course)
    return made.course


def test_fourteen_on_three_laptops(course: Course, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    laptops = [tmp_path / name / "Downloads" for name in LAPTOPS]
    for place, name in enumerate(PEOPLE):
        laptop = laptops[place % 3]
        laptop.mkdir(parents=True, exist_ok=True)
        shutil.copy(course.zips / MODULE / f"{name}.zip", laptop)
    rng = random.Random(14)
    # Three sittings each, in an order in which everybody's laptop was somebody else's in between.
    turns = [name for name in PEOPLE for _ in range(3)]
    rng.shuffle(turns)
    now = datetime(2027, 3, 1, 8, tzinfo=UTC)
    given: dict[str, dict[str, Any]] = {name: {} for name in PEOPLE}
    for name in turns:
        laptop = laptops[PEOPLE.index(name) % 3]
        notebook = notebook_to_open(str(laptop / f"{name}.zip"))
        monkeypatch.chdir(notebook.parent)  # as the kernel of the notebook does
        book = workbook.Book(modules.load(course.folder / "modules" / MODULE), Path())
        assert book.person is not None
        assert book.form is not None
        # Whoever opens it finds their own name, and their own answers and nobody else's.
        assert (book.person.apprentice, book.person.name) == (name, f"{name.title()} Saltmere")
        assert book.progress is not None
        assert set(book.progress.answered) == set(given[name])
        left = [entry for entry in book.form.items if entry.id not in given[name]]
        if left:
            now += timedelta(minutes=1)
            said = {"course": course.name, "module": MODULE, "form": book.form.code, "apprentice": name}
            journal = Journal(Path(JOURNAL_FILE), **said, clock=still(now))
            response = some_response(left[0].item)
            journal.append(left[0].id, response)
            given[name][left[0].id] = response.model_dump(mode="json")
    assert all(given.values())
    folders = {path.parent for laptop in laptops for path in laptop.rglob(JOURNAL_FILE)}
    assert len(folders) == len(PEOPLE)
    for folder in folders:
        who = Identity.read(folder)
        assert who is not None
        assert {entry.apprentice for entry in read(folder / JOURNAL_FILE).entries} == {who.apprentice}
        made = handin.pack(folder)
        shutil.copy(made, course.inbox / made.name)
    assert collect(course, clock=lambda: now + timedelta(hours=1)).ok
    done = mark(course)
    assert done.ok, done.findings
    stand = {entry.apprentice: entry for entry in entries(course, Marked)}
    assert set(stand) == set(PEOPLE)
    for name, entry in stand.items():
        assert not entry.notes, (name, entry.notes)
        marked = {row.item: json.loads(row.response) for row in entry.marks if row.response is not None}
        assert marked == given[name]


def test_a_folder_of_somebody_else_is_left_alone(course: Course, tmp_path: Path) -> None:
    mine = copies.own_copy(course.zips / MODULE / "amir.zip", tmp_path / "laptop").parent
    identity = (mine / "identity.json").read_bytes()
    theirs = tmp_path / "theirs.zip"
    shutil.copy(course.zips / MODULE / "amira.zip", theirs)
    (mine / "identity.json").write_text(json.dumps(json.loads(identity) | {"apprentice": "amira"}), "utf-8")
    with pytest.raises(FormError, match=r"does not belong.*--into"):
        copies.own_copy(course.zips / MODULE / "amir.zip", tmp_path / "laptop")
    (mine / "identity.json").unlink()
    with pytest.raises(FormError, match="does not belong"):
        copies.own_copy(course.zips / MODULE / "amir.zip", tmp_path / "laptop")


def test_a_later_attempt_gets_a_folder_beside_the_first(course: Course, tmp_path: Path) -> None:
    bench = Bench(course)
    first = copies.own_copy(course.zips / MODULE / "ruth.zip", tmp_path)
    bench.answer(first.parent)
    answers = (first.parent / JOURNAL_FILE).read_bytes()
    again = give_out(set_to(course, attempt="2"), GIVEN_OUT + timedelta(days=1))
    second = copies.own_copy(again.zips / MODULE / "ruth.zip", tmp_path)
    assert second.parent != first.parent
    assert (first.parent / JOURNAL_FILE).read_bytes() == answers
    forms = [Forms.read(path.parent) for path in (first, second)]
    assert [of.attempt for of in forms if of is not None] == [1, 2]
    # Opened again, each zip leads to its own folder.
    assert copies.own_copy(again.zips / MODULE / "ruth.zip", tmp_path) == second


@pytest.mark.parametrize(
    "members",
    [
        {"lock-pin/lock-pin.ipynb": b"{}"},
        {"../evil.ipynb": b"{}", "../forms.json": b"{}", "../identity.json": b"{}"},
        {"a/a.ipynb": b"{}", "a/forms.json": b"{}", "a/identity.json": b"{}", "a/json.py": b"raise SystemExit"},
        {"a/a.ipynb": b"{}", "b/forms.json": b"{}", "a/identity.json": b"{}"},
        {"A B/A B.ipynb": b"{}", "A B/forms.json": b"{}", "A B/identity.json": b"{}"},
    ],
)
def test_a_zip_of_anything_else_is_refused(tmp_path: Path, members: dict[str, bytes]) -> None:
    archive = zipped(tmp_path / "strange.zip", members)
    before = set(tmp_path.rglob("*"))
    with pytest.raises(FormError, match="no zip of a workbook"):
        copies.own_copy(archive)
    assert set(tmp_path.rglob("*")) == before
    archive.write_bytes(b"no zip at all")
    with pytest.raises(FormError, match="cannot be read"):
        copies.own_copy(archive)
