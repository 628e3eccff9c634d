"""A course in which people have tried a module several times, with marks that are known beforehand."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from trainkit.items.facts import facts_of
from trainkit.items.kinds import ChoiceItem, ChoiceKey, ChoiceResponse
from trainkit_grading.course.folder import Course
from trainkit_grading.forms import store
from trainkit_grading.intake.collect import collect
from trainkit_grading.ledger.tables import LEDGER
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.support.files import write_atomically

from .makers import (
    FIRST,
    MODULE,
    SECOND,
    Bench,
    form_in,
    form_of,
    give_out,
    journal_in,
    key_file,
    keys_of,
    set_to,
)

# What each attempt gets right, and when it arrives: A2 is worth 2 points and A3 is worth 3.
TRIES = {1: ("A2",), 2: ("A2", "A3"), 3: ("A3",)}
POINTS = {1: 2.0, 2: 5.0, 3: 3.0}
BEGUN = datetime(2027, 3, 1, 8, tzinfo=UTC)
APART = timedelta(hours=24)


def answer(course: Course, folder: Path, attempt: int, right: tuple[str, ...], at: datetime) -> None:
    """Answer the two choices of a form, these rightly and the others wrongly."""
    form, journal = form_in(folder), journal_in(folder, clock=lambda: at)
    for entry in form.items:
        key = keys_of(course, form.code, attempt)[entry.id]
        if isinstance(entry.item, ChoiceItem) and isinstance(key, ChoiceKey):
            wrong = next(option.id for option in entry.item.options if option.id != key.right)
            journal.append(entry.id, ChoiceResponse(option=key.right if entry.id in right else wrong))


def hand_in(bench: Bench, home: Path, apprentice: str, attempt: int, right: tuple[str, ...]) -> None:
    """Answer and hand in, a day after the attempt before."""
    at = BEGUN + (attempt - 1) * APART
    folder = bench.unpack(apprentice, home / f"{apprentice} {attempt}")
    answer(bench.course, folder, attempt, right, at)
    bench.send(folder, f"{attempt}-")
    assert collect(bench.course, clock=lambda: at + timedelta(hours=1)).ok


def next_attempt(bench: Bench, attempt: int) -> Bench:
    """Give everybody a new form."""
    course = set_to(bench.course, attempt=str(attempt))
    give_out(course)
    return replace(bench, course=course)


def tried(folder: Path, home: Path) -> Course:
    """One person tries three times, another once; nothing is marked."""
    shutil.copytree(folder, home / "a course")
    bench = Bench(Course.load(home / "a course"))
    for attempt, right in TRIES.items():
        bench = next_attempt(bench, attempt)
        hand_in(bench, home, FIRST, attempt, right)
        if attempt == 1:
            hand_in(bench, home, SECOND, attempt, ("A3",))
    return bench.course


def scores(course: Course) -> dict[str, float]:
    return {name: row.score for name, row in gradebook.read(course, MODULE).items()}


def correct(course: Course, attempt: int, code: str, item: str, module: str = MODULE) -> None:
    """Make another option of an item the right one, as somebody does who corrects a pack and draws its keys again."""
    path = course.key_file(module, attempt)
    keys = key_file(course, module, attempt)
    own = keys.forms[code]
    key, shown = own.keys[item], form_of(course, own.apprentice, module, attempt).item(item)
    assert isinstance(key, ChoiceKey)
    assert isinstance(shown, ChoiceItem)
    other = next(option.id for option in shown.options if option.id != key.right)
    shows = {option: shown_by for option, shown_by in key.shows.items() if option != other}
    right = key.model_copy(update={"right": other, "shows": shows})
    # Whoever draws again gets the facts of the new key too.
    facts = facts_of(shown, right, own.facts[item].features)
    of = own.model_copy(update={"keys": {**own.keys, item: right}, "facts": {**own.facts, item: facts}})
    content = store.content_of_keys(keys.model_copy(update={"forms": {**keys.forms, code: of}}))
    write_atomically(path, content, path.stat().st_mode & 0o777)


def texts_of(course: Course) -> Iterable[tuple[str, str, Any]]:
    """Return every value of the ledger, with its table and column."""
    with gradebook.opened(course) as engine, engine.connect() as connection:
        for table in LEDGER.sorted_tables:
            for row in connection.execute(table.select()):
                for name, value in row._mapping.items():
                    yield table.name, name, value
