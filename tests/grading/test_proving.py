"""The commands that tell and prove what is on record, as a person gives them."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError
from trainkit_grading.intake import receipts
from trainkit_grading.keeping import verify
from trainkit_grading.marking.mark import mark
from trainkit_grading.record import sessions
from trainkit_grading.record.sessions import Session
from trainkit_grading.results.results import gather

from .ledgers import tamper
from .makers import ANSWERED, FIRST, MODULE, SECOND, Bench, Run


@pytest.fixture
def course(assigned: Bench, tmp_path: Path) -> Course:
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    assert mark(course).ok
    return course


def test_an_untouched_course_is_proven(course: Course, command: Run) -> None:
    said = command("verify", "--course", course.folder)
    assert "2 entries of the ledger checked" in said.stdout
    told = json.loads(command("verify", "--json", "--course", course.folder).stdout)
    assert told["entries"] == 2
    assert len(told["seal"]) == 64
    assert told["seal"][:16] in said.stdout


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (
            "update trainkit_entry set points = 99 where number = 1",
            "Entry 1 (marked, bench-order, attempt 1) was changed",
        ),
        ("delete from trainkit_entry where number = 1", "Entry 1 is missing"),
        ("update grade set auto_score = 0.123", "0.123"),
    ],
)
def test_what_was_touched_is_found(course: Course, damage: str, said: str) -> None:
    tamper(course, damage)
    outcome = verify.prove(course)
    assert not outcome.ok
    assert any(said in finding.text for finding in outcome.findings), outcome.findings


def test_a_journal_that_was_exchanged_is_found(course: Course) -> None:
    (receipt,) = receipts.kept(course, FIRST, MODULE)
    path = course.arrivals / FIRST / MODULE / receipt.folder_name / "answers.jsonl"
    path.write_bytes(path.read_bytes() + b"\n")
    outcome = verify.prove(course)
    assert [finding.place for finding in outcome.findings] == [f"arrivals/{FIRST}/{MODULE}/{receipt.folder_name}"]


def test_the_ledger_is_told_in_words_and_as_data(course: Course, command: Run) -> None:
    said = command("ledger", "--apprentice", FIRST, "--course", course.folder)
    assert f"{FIRST}, {MODULE}, attempt 1" in said.stdout
    assert SECOND not in said.stdout
    told = json.loads(command("ledger", "--json", "--module", MODULE, "--course", course.folder).stdout)
    assert [entry["apprentice"] for entry in told["entries"]] == [FIRST, SECOND]
    assert {item["item"] for item in told["entries"][0]["items"]} == {"A1", "A2", "A3"}


def test_a_session_record_stands_behind_the_results_it_covers(course: Course, command: Run) -> None:
    assert not any(row.watched for row in gather(course).rows)
    words = ["session", MODULE, "--invigilator", "P. Marsh", "--room", "Bay 2", "--apprentice", FIRST]
    times = ["--from", "2027-03-01T07:55+00:00", "--to", "2027-03-01T09:00+00:00"]
    for _ in range(2):  # said twice, it stands there once
        said = command(*words, *times, "--course", course.folder)
    assert "stands in the ledger already" in said.stdout
    assert {row.apprentice: row.watched for row in gather(course).rows}[FIRST]
    assert not {row.apprentice: row.watched for row in gather(course).rows}[SECOND]
    assert verify.prove(course).data["entries"] == 3


def test_a_session_at_another_time_vouches_for_nothing(course: Course) -> None:
    late = Session(MODULE, "P. Marsh", "Bay 2", ANSWERED.replace(hour=9), ANSWERED.replace(hour=10))
    assert sessions.watch(course, late).ok
    assert not any(row.watched for row in gather(course).rows)


@pytest.mark.parametrize(
    ("changes", "rule"),
    [
        ({"end": ANSWERED}, "begins before it ends"),
        ({"end": ANSWERED.replace(day=3)}, "12 hours at most"),
        ({"invigilator": " "}, "1 to 120 characters"),
        ({"room": "x" * 121}, "1 to 120 characters"),
        ({"apprentices": ("nobody",)}, "Nobody on the roster"),
        ({"module": "elsewhere"}, "This course runs"),
    ],
)
def test_a_session_that_cannot_be_is_refused(course: Course, changes: dict[str, Any], rule: str) -> None:
    whole = Session(MODULE, "P. Marsh", "Bay 2", ANSWERED, ANSWERED.replace(hour=10))
    with pytest.raises(CourseError, match=rule):
        sessions.watch(course, replace(whole, **changes))


def test_a_reason_without_a_change_adds_nothing(course: Course, command: Run) -> None:
    command("mark", "--why", "Nothing was wrong.", "--course", course.folder)
    assert verify.prove(course).data["entries"] == 2
