"""Killed at any step, each command that matters loses nothing that was acknowledged, and given again it is as if whole.

A few kills of each command are made here; ``tests/bench/kills.py`` makes hundreds.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.trainkit.killing import Parent, steps
from trainkit import journal
from trainkit.journal import JOURNAL_FILE
from trainkit_grading.course.folder import Course
from trainkit_grading.marking.mark import mark

from . import papers
from .makers import ANSWERED, COLLECTED, FIRST, MODULE, PEOPLE, SECOND, THIRD, Bench, form_of, some_response, tree

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has neither fork nor SIGKILL")

SEED = 20270302
# Of each command; the bench sets more.
KILLS = int(os.environ.get("TRAINKIT_KILLS", "6"))
NOW = (COLLECTED + timedelta(days=20)).isoformat()


@dataclass(frozen=True)
class World:
    """A course in which everything is under way: marks, a second hand-in, a new one, a sheet of paper."""

    parent: Parent
    before: Path
    tables: dict[str, str]

    def orders(self) -> dict[str, dict[str, Any]]:
        """Return what each command gets, by its name."""
        return {
            "mark": {},
            "take_in": {"now": NOW},
            "enter": {**self.tables, "now": NOW},
            "forget": {"apprentice": FIRST, "name": dict(PEOPLE)[FIRST]},
            "archive": {},
        }


@pytest.fixture(scope="module")
def world(_given_out: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    home = tmp_path_factory.mktemp("killed")
    bench = Bench(Course.load(shutil.copytree(_given_out, home / "before")))
    bench.take_in(home, FIRST, SECOND)
    assert mark(bench.course).ok
    # What was collected but is not marked, and what is not collected yet.
    bench.hand_in(SECOND, home / "again", at=ANSWERED + timedelta(hours=1))
    bench.collect()
    bench.hand_in(FIRST, home / "later", at=ANSWERED + timedelta(hours=2))
    form = form_of(bench.course, THIRD)
    texts = papers.typed(form, {of.id: some_response(of.item) for of in form.items})
    tables = {
        name: str(papers.table(home / f"{name}.csv", form, by, texts))
        for name, by in (("first", "Ann"), ("second", "Bo"))
    }
    tables["form"] = form.code
    with Parent("tests.grading.at_work") as parent:
        yield World(parent, bench.course.folder, tables)


def seen(course: Course) -> dict[str, Any]:
    """Return what a course holds, without what no two runs have the same.

    A journal that is made from a sheet has a random name of its own, and all that follows from it hangs on that.
    """
    found: dict[str, Any] = {}
    for name, content in tree(course.folder).items():
        place, _, rest = name.partition("/")
        # How far it was proven is written down with seals, and no two of these are the same.
        if name in ("gradebook.db", "keys/proven.json") or name.startswith((".trainkit", "gradebook.db-")):
            continue
        if place == "archive":
            with zipfile.ZipFile(course.folder / name) as packed:
                assert packed.testzip() is None
                found[name] = sorted(packed.namelist())
        elif place in ("entered", course.arrivals_log.name, "arrivals-chain.json") or rest.startswith(f"{THIRD}/"):
            # What was typed before a pass was cut off stays on record, too.
            length = content.count(b"\n") if place != "entered" else 0
            found.setdefault(f"how many of {place} and how long", []).append(length)
        else:
            found[name] = hashlib.sha256(content).hexdigest()
    laid = course.submitted / THIRD / MODULE / JOURNAL_FILE
    latest = journal.read(laid).latest() if laid.exists() else {}
    return {
        **{name: sorted(value) if isinstance(value, list) else value for name, value in found.items()},
        "answers on paper": {what: entry.response for what, entry in latest.items()},
    }


def kept(course: Course) -> dict[str, bytes]:
    """Return every hand-in that was acknowledged."""
    return tree(course.arrivals)


def ledger(parent: Parent, folder: str) -> dict[str, Any]:
    (told,) = [line for line in parent.run("look", folder=folder, agreeing=False).told if line.startswith("state ")]
    state: dict[str, Any] = json.loads(told.removeprefix("state "))
    return state


ENDS = {"mark": "marked", "take_in": "collected", "enter": "entered", "forget": "forgotten", "archive": "packed"}


@pytest.mark.parametrize("task", ENDS)
def test_killed_at_any_step_and_given_again(world: World, task: str, tmp_path: Path) -> None:
    parent, order = world.parent, world.orders()[task]
    at = tmp_path / "course"

    def afresh() -> Course:
        shutil.rmtree(at, ignore_errors=True)
        return Course.load(shutil.copytree(world.before, at))

    # The parent does it once itself, so that a child has everything loaded.
    course = afresh()
    parent.prepare(task, folder=str(at), **order)
    course = afresh()
    safe = kept(course)
    entries = ledger(parent, str(at))["rows"]["how many trainkit_entry"]
    clean = parent.run(task, count=True, folder=str(at), **order)
    assert ENDS[task] in clean.told, clean.told
    new, rows = seen(course), ledger(parent, str(at))
    assert rows["faults"] == []
    assert clean.steps > 50
    # Of whoever is forgotten nothing stays; of all others everything does.
    safe = {name: content for name, content in safe.items() if task != "forget" or not name.startswith(f"{FIRST}/")}
    for way in steps(random.Random(f"{SEED} {task}"), KILLS, clean.steps):
        course = afresh()
        ran = parent.run(task, folder=str(at), **order, **way)
        where = f"{task}, seed {SEED}, {way} of {clean.steps}, told {ran.told}"
        assert ran.killed, where
        assert safe.items() <= kept(course).items(), where
        cut_off = ledger(parent, str(at))
        assert cut_off["faults"] == [], where
        assert cut_off["rows"]["how many trainkit_entry"] in (entries, rows["rows"]["how many trainkit_entry"]), where
        again = parent.run(task, folder=str(at), **order)
        assert ENDS[task] in again.told, (where, again.told)
        assert seen(course) == new, where
        assert ledger(parent, str(at)) == rows, where
