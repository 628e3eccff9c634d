"""Two who mark at once come to what one would come to, in one folder and in two that share a database."""

from __future__ import annotations

import shutil
import time
from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from trainkit.items.kinds import ChoiceResponse
from trainkit_grading.course.folder import Course
from trainkit_grading.intake import chain
from trainkit_grading.intake.growing import continues
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.ledger.tables import LEDGER
from trainkit_grading.ledger.verifying import verify
from trainkit_grading.marking.mark import mark
from trainkit_grading.marking.score import Scorer
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.nbgrader_bridge.tables import COMMENT, GRADE, STUDENT, SUBMITTED_ASSIGNMENT, SUBMITTED_NOTEBOOK
from trainkit_grading.record.marked_entry import entry_of
from trainkit_grading.record.to_mark import ModuleToMark
from trainkit_grading.record.write import Recorder
from trainkit_grading.results.results import gather

from .makers import (
    COLLECTED,
    FIRST,
    MODULE,
    ON_BOTH,
    SECOND,
    THIRD,
    Bench,
    begin,
    choice_in,
    copy_of,
    entries,
    form_in,
    go_on,
    journal_in,
    ledger_of,
)

PEOPLE = (FIRST, SECOND, THIRD)
# Random identifiers and times, and what hangs on them: no two runs have the same.
CHANCE = {"id", "notebook_id", "assignment_id", "cell_id", "at", "by", "seal", "before", "closing", "person"}
CHANCE |= {"software_hash"}  # read by each process for itself: somebody may save a file while the tests run
MARKING = """
import sys
from trainkit_grading.course.folder import Course
from trainkit_grading.marking import mark as marking
from trainkit_grading.marking.score import Scorer

course = Course.load(sys.argv[1])
Scorer(course, sys.argv[2])
print("ready", flush=True)
sys.stdin.readline()
for _ in range(int(sys.argv[3])):
    outcome = marking.mark(course)
    assert outcome.ok, outcome.findings
"""
# As nbgrader's autograde does it, which knows nothing of the lock of the folder.
RECORDING = """
import sys
from trainkit_grading.course.folder import Course
from trainkit_grading.marking import mark as marking
import trainkit_grading.record.write, alembic.command

course = Course.load(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
for apprentice in sys.argv[3:]:
    marking.record(course, sys.argv[2], apprentice)
"""


def at_once(*courses: Course, times: int = 2) -> None:
    """Let somebody mark in each of these folders, all beginning at one moment and several times over."""
    running = [begin(MARKING, course.folder, MODULE, str(times)) for course in courses]
    for process in running:
        go_on(process)
    for process in running:
        _, error = process.communicate(timeout=240)
        assert process.returncode == 0, error


def state(course: Course) -> dict[str, Any]:
    """Return everything in the database about submissions, and the marked notebooks."""
    found: dict[str, Any] = {}
    tables = (STUDENT, SUBMITTED_ASSIGNMENT, SUBMITTED_NOTEBOOK, GRADE, COMMENT, *LEDGER.sorted_tables)
    with gradebook.opened(course) as engine, engine.connect() as connection:
        proof = verify(connection, course.seed())
        assert proof.faults == ()
        found["entries"] = proof.entries
        for table in tables:
            rows = connection.execute(table.select()).mappings()
            keep = [column.name for column in table.columns if column.name not in CHANCE or table is STUDENT]
            found[table.name] = sorted(tuple(row[name] for name in keep) for row in rows) if keep else None
    found["results"] = [row.to_dict() for row in gather(course).rows]
    found["notebooks"] = {
        person: (course.autograded / person / MODULE / f"{MODULE}.ipynb").read_bytes() for person in PEOPLE
    }
    return found


@pytest.fixture
def alone(where: str, given_out: Bench, tmp_path: Path, request: pytest.FixtureRequest) -> tuple[Course, Course]:
    """A course in which three have handed in, and a copy of it that one instructor has marked."""
    course = given_out.take_in(tmp_path, *PEOPLE)
    server = request.getfixturevalue("postgres") if where == "postgresql" else None
    by_one = copy_of(course, tmp_path / "by one", server)
    assert mark(by_one).ok
    return course, by_one


@ON_BOTH
def test_whoever_comes_second_waits_and_then_adds_nothing(
    alone: tuple[Course, Course], tmp_path: Path, where: str, request: pytest.FixtureRequest
) -> None:
    """Not left to chance: the first holds the ledger open until the second stands before it."""
    course, by_one = alone
    # Without the lock of the folder, which would keep them apart before they come to the database.
    second = course if where == "sqlite" else copy_of(course, tmp_path / "the second instructor's")
    scorer = Scorer(course, MODULE)
    with ledger_of(course, "BEGIN IMMEDIATE"):
        pass  # the tables are there: making them would keep the two apart, too
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        recorder = Recorder(connection, ModuleToMark.of(course, MODULE))
        other = begin(RECORDING, second.folder, MODULE, *PEOPLE)
        go_on(other)
        if where == "sqlite":
            time.sleep(1)  # SQLite does not tell who waits
        else:
            server = request.getfixturevalue("postgres")
            until = time.monotonic() + 60
            while server.sql("SELECT count(*) FROM pg_locks WHERE NOT granted") == [(0,)]:
                assert other.poll() is None, "the second did not wait"
                assert time.monotonic() < until
                time.sleep(0.05)
        assert other.poll() is None, "the second did not wait"
        ends = chain.anchor(course)
        scored = [
            [replace(entry_of(scored), receipts=ends) for scored in scorer.score_attempts(person)] for person in PEOPLE
        ]
        recorder.take(scored, partial(continues, course, MODULE))
    _, error = other.communicate(timeout=240)
    assert other.returncode == 0, error
    assert mark(course).ok  # the notebooks
    assert state(course) == state(by_one)


@ON_BOTH
def test_two_in_the_same_folder(alone: tuple[Course, Course]) -> None:
    course, by_one = alone
    at_once(course, course)
    both = state(course)
    assert both == state(by_one)
    assert both["entries"] == len(PEOPLE)


@pytest.mark.postgresql
@pytest.mark.parametrize("where", ["postgresql"])
def test_two_folders_that_share_a_database(alone: tuple[Course, Course], tmp_path: Path) -> None:
    """Each instructor has a copy of the folder, and nothing but the database keeps them apart."""
    course, by_one = alone
    second = copy_of(course, tmp_path / "the second instructor's")
    assert second.database == course.database
    at_once(course, second)
    expected = state(by_one)
    assert state(course) == expected
    assert state(second) == expected


@pytest.mark.postgresql
@pytest.mark.parametrize("where", ["postgresql"])
def test_two_folders_with_other_hand_ins_come_together(alone: tuple[Course, Course], tmp_path: Path) -> None:
    """Each has what was handed in to them; the database holds the marks of both."""
    course, by_one = alone
    second = copy_of(course, tmp_path / "the second instructor's")
    shutil.rmtree(course.submitted / PEOPLE[0])
    for person in PEOPLE[1:]:
        shutil.rmtree(second.submitted / person)
    at_once(course, second)
    assert len(entries(course, Entry)) == 3
    read, expected = gradebook.read(course, MODULE), gradebook.read(by_one, MODULE)
    assert {name: row.score for name, row in read.items()} == {name: row.score for name, row in expected.items()}


@ON_BOTH
def test_an_older_hand_in_in_another_folder_undoes_nothing(
    alone: tuple[Course, Course], tmp_path: Path, where: str
) -> None:
    """Two hand-ins of one person went to two instructors; the later one counts, whoever marks last."""
    course, _ = alone
    person = PEOPLE[0]
    folder = course.submitted / person / MODULE
    older = shutil.copytree(folder, tmp_path / "older")
    journal = journal_in(folder, clock=lambda: COLLECTED + timedelta(hours=1))
    name, item = choice_in(form_in(folder))
    journal.append(name, ChoiceResponse(option=item.options[-1].id))
    (folder / "timestamp.txt").write_text("2027-03-05 08:00:00.000000 UTC", "utf-8")
    assert mark(course).ok
    before = state(course)
    # On SQLite there is one folder; the older hand-in is put back into it.
    second = course if where == "sqlite" else copy_of(course, tmp_path / "the second instructor's")
    shutil.rmtree(second.submitted / person / MODULE)
    shutil.copytree(older, second.submitted / person / MODULE)
    outcome = mark(second)
    assert outcome.ok
    assert any("marks stand for what arrived 2027-03-05T08:00:00 UTC" in finding.text for finding in outcome.findings)
    assert gather(second).of(person, MODULE).state == "handed in"
    assert state(second) == before
