"""Killed at any moment, marking and collecting leave the old state or the new one, and the next time makes it good."""

from __future__ import annotations

import json
import os
import random
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.trainkit.killing import Parent, Ran, steps, times
from trainkit_grading.course.folder import Course
from trainkit_grading.intake.collect import collect
from trainkit_grading.support.files import WORK_FOLDER

from .makers import ANSWERED, COLLECTED, FIRST, SECOND, THIRD, Bench, tree

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has neither fork nor SIGKILL")

SEED = 20270301
# How many kills: at a step that was counted, at a time, and while the database commits.
FIRST_TIME, LATER = (100, 60, 40), (60, 40, 20)


@pytest.fixture(scope="module")
def parent() -> Iterator[Parent]:
    with Parent("tests.grading.at_work") as made:
        yield made


@dataclass(frozen=True)
class State:
    """What marking has made so far: rows of the database and marked notebooks."""

    rows: dict[str, list[str]]
    notebooks: dict[str, bytes]


def notebooks(course: Course) -> tuple[dict[str, bytes], set[str]]:
    """Return the marked notebooks with what lies beside them, and what was being written beside those."""
    found = tree(course.autograded)
    left = {name for name in found if name.endswith(".tmp")}
    return {name: content for name, content in found.items() if name not in left}, left


def states(ran: Ran) -> list[dict[str, Any]]:
    return [json.loads(line.removeprefix("state ")) for line in ran.told if line.startswith("state ")]


class Saved:
    """A course as it was before a marking, put back cheaply."""

    def __init__(self, course: Course, parent: Parent) -> None:
        self.course = course
        self.database = course.gradebook.read_bytes()
        self._notebooks = course.folder.with_name("notebooks before")
        if course.autograded.is_dir():
            shutil.copytree(course.autograded, self._notebooks)
        (told,) = states(parent.run("look", folder=str(course.folder)))
        assert told["faults"] == []
        self.state = State(told["rows"], notebooks(course)[0])

    def put_back(self) -> None:
        self.journal.unlink(missing_ok=True)
        self.course.gradebook.write_bytes(self.database)
        shutil.rmtree(self.course.autograded, ignore_errors=True)
        if self._notebooks.is_dir():
            shutil.copytree(self._notebooks, self.course.autograded)

    @property
    def journal(self) -> Path:
        """What SQLite leaves of a commit that was cut off; who opens the database next takes it back."""
        return self.course.gradebook.with_name(f"{self.course.gradebook.name}-journal")


def when(ran: Ran) -> str:
    """Say in which part a marking was killed."""
    if not ran.killed:
        return "not at all"
    if "begins" not in ran.told:
        return "before"
    return "after" if "committed" in ran.told else "inside"


def kill_at_every_kind_of_moment(course: Course, parent: Parent, seed: int, many: tuple[int, int, int]) -> None:
    """Kill markings of a course from the state that it is in, and say how many kills fell where."""
    folder = str(course.folder)
    saved = Saved(course, parent)
    # The parent marks a copy, so that a child has everything loaded, compiled and looked up.
    parent.prepare("look_and_mark", folder=str(shutil.copytree(course.folder, course.folder.with_name("copy"))))
    assert parent.run("mark", folder=folder).told[-1] == "marked"
    (told,) = states(parent.run("look", folder=folder))
    assert told["faults"] == []
    new = State(told["rows"], notebooks(course)[0])
    assert new.rows != saved.state.rows
    assert new.notebooks != saved.state.notebooks

    saved.put_back()
    seconds = parent.run("mark", folder=folder).seconds
    saved.put_back()
    last = parent.run("mark", count=True, folder=folder).steps
    assert last > 200
    rng = random.Random(seed)
    # A commit takes some milliseconds here; elsewhere it may take some more. Who ends before the time was not killed
    # and counts for nothing, so there are some to spare; on a busy machine they may run out, and steps go on for them.
    at_step, at_time, in_commit = many
    ways = [
        (at_step, steps(rng, at_step, last - 5)),
        (at_time, times(rng, 2 * at_time, seconds)),
        (in_commit, times(rng, 2 * in_commit, 0.008, since="commits")),
    ]
    fell: Counter[str] = Counter()
    for number, way in enumerate(_enough(ways, fell, lambda missing: steps(rng, missing, last - 5))):
        saved.put_back()
        ran = parent.run("mark", folder=folder, **way)
        where = f"seed {seed}, kill {number} ({way}), after {ran.told}"
        fell[when(ran)] += 1
        half = saved.journal.exists() and course.gradebook.read_bytes() != saved.database
        made, left = notebooks(course)
        again = parent.run("look_and_mark", folder=folder)
        cut_off, good = states(again)
        assert cut_off["faults"] == [], where
        assert cut_off["rows"] in (saved.state.rows, new.rows), where
        if when(ran) == "before":
            assert cut_off["rows"] == saved.state.rows, where
        if when(ran) in ("after", "not at all"):
            assert cut_off["rows"] == new.rows, where
        fell["a half written database taken back"] += half and cut_off["rows"] == saved.state.rows
        if cut_off["rows"] == saved.state.rows:
            assert made == saved.state.notebooks, where
        for name, content in made.items():
            assert content in (saved.state.notebooks.get(name), new.notebooks[name]), f"{name}: {where}"
        assert made.keys() >= saved.state.notebooks.keys(), where
        fell["in the middle of a notebook"] += len(left)
        assert "marked" in again.told, where
        assert good == {"faults": [], "rows": new.rows}, where
        assert notebooks(course) == (new.notebooks, set()), where
    print(f"Kills while marking: {dict(fell)}")
    assert fell["before"] + fell["inside"] + fell["after"] == sum(many), fell
    assert min(fell["before"], fell["inside"], fell["after"], fell["in the middle of a notebook"]) >= 1, fell


def _enough(
    ways: list[tuple[int, Iterator[dict[str, Any]]]],
    fell: Counter[str],
    surely: Callable[[int], Iterator[dict[str, Any]]],
) -> Iterator[dict[str, Any]]:
    """Give kills of each way until enough of them have killed, and kills that surely do for those that are missing."""
    for many, kills in ways:
        spared = fell["not at all"]
        for number, kill in enumerate(kills):
            if number - (fell["not at all"] - spared) == many:
                break
            yield kill
    yield from surely(sum(many for many, _ in ways) - fell["before"] - fell["inside"] - fell["after"])


def first_answers(assigned: Bench, home: Path) -> None:
    for person in (FIRST, SECOND):
        assigned.hand_in(person, home / person, items=("A1",))
    assigned.collect()


def later_answers(assigned: Bench, home: Path) -> None:
    for person in (FIRST, THIRD):
        assigned.hand_in(person, home / "later" / person, at=ANSWERED + timedelta(hours=1))


def test_a_first_marking_killed_at_any_moment(assigned: Bench, tmp_path: Path, parent: Parent) -> None:
    assigned.take_in(tmp_path, FIRST, SECOND)
    kill_at_every_kind_of_moment(assigned.course, parent, SEED, FIRST_TIME)


def test_a_later_marking_killed_at_any_moment(assigned: Bench, tmp_path: Path, parent: Parent) -> None:
    """Marks stand already; one apprentice hands in again, another for the first time."""
    first_answers(assigned, tmp_path)
    assert parent.run("mark", folder=str(assigned.course.folder)).told[-1] == "marked"
    later_answers(assigned, tmp_path)
    assert collect(assigned.course, clock=lambda: COLLECTED + timedelta(hours=1)).ok
    kill_at_every_kind_of_moment(assigned.course, parent, SEED + 1, LATER)


KILLED_COLLECTING = 100


def test_collecting_killed_at_any_step_loses_no_hand_in_and_doubles_none(
    assigned: Bench, tmp_path: Path, parent: Parent
) -> None:
    course = assigned.course
    folder, later = str(course.folder), (COLLECTED + timedelta(hours=1)).isoformat()
    first_answers(assigned, tmp_path)
    later_answers(assigned, tmp_path)
    before = tmp_path / "before"
    shutil.copytree(course.folder, before)

    def put_back() -> None:
        for name in ("arrivals", "submitted", WORK_FOLDER):
            shutil.rmtree(course.folder / name, ignore_errors=True)
            if (before / name).is_dir():
                shutil.copytree(before / name, course.folder / name)
        shutil.copyfile(before / course.arrivals_log.name, course.arrivals_log)
        shutil.copyfile(before / course.arrivals_chain.name, course.arrivals_chain)

    def state() -> tuple[dict[str, bytes], dict[str, bytes], list[str]]:
        lines = sorted(course.arrivals_log.read_text("utf-8").splitlines())
        return tree(course.arrivals), tree(course.submitted), lines

    old = state()
    clean = parent.run("take_in", count=True, folder=folder, now=later)
    assert "collected" in clean.told
    new = state()
    assert len(new[0]) == len(old[0]) + 4  # two hand-ins, each with its record
    assert len(new[2]) == len(old[2]) + 2
    assert clean.steps > 100
    fell: Counter[str] = Counter()
    for way in steps(random.Random(SEED), KILLED_COLLECTING, clean.steps):
        put_back()
        ran = parent.run("take_in", folder=folder, now=later, **way)
        where = f"seed {SEED}, {way} of {clean.steps}"
        assert ran.killed, where
        kept, *_ = state()
        fell["nothing kept yet" if kept == old[0] else "all kept" if kept == new[0] else "some kept"] += 1
        # What was kept before is there, and what is there is whole.
        assert old[0].items() <= kept.items() <= new[0].items(), where
        # An hour passes before somebody collects again; the hand-ins of before keep their time.
        again = parent.run("take_in", folder=folder, now=later)
        assert "collected" in again.told, where
        assert state() == new, where
        assert not (course.folder / WORK_FOLDER).exists(), where
    print(f"Kills while collecting: {dict(fell)}")
    assert set(fell) == {"nothing kept yet", "some kept", "all kept"}
