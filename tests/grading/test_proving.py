"""The commands that tell and prove what is on record, as a person gives them."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError
from trainkit_grading.intake import receipts
from trainkit_grading.keeping import verify
from trainkit_grading.marking.mark import mark
from trainkit_grading.record import sessions
from trainkit_grading.record.sessions import Session
from trainkit_grading.reports.coordinator.report import write_coordinator_report
from trainkit_grading.reports.exports.export import export
from trainkit_grading.reports.score_sheet import report
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


def test_a_table_has_beside_it_how_far_it_is_proven(course: Course) -> None:
    for written in (report(course), export(course), export(course, pseudonyms=True)):
        assert written.ok
    sums = {}
    for folder in ("report", "export", "export-pseudonymised"):
        told, rest = (course.folder / folder / "proof.txt").read_text("utf-8").split("\n\n")
        assert re.fullmatch(r"Proven to entry 2 at \d{4}-\d\d-\d\d \d\d:\d\d UTC\.", told)
        for line in rest.splitlines():
            name, said = line.split(": SHA-256 ")
            assert hashlib.sha256((course.folder / folder / name).read_bytes()).hexdigest() == said
            sums[folder, name] = said
    assert {name for folder, name in sums if folder == "report"} == {"marks.csv"}
    assert len(sums) == 9
    tamper(course, "update trainkit_entry set points = 99 where number = 1")
    report(course)
    export(course, "xlsx")
    export(course, pseudonyms=True)
    told = (course.report / "proof.txt").read_text("utf-8")
    assert told.startswith("Not proven: ")
    assert "Entry 1 (marked, bench-order, attempt 1) was changed" in told
    assert "trainkit-course verify" in told
    book = load_workbook(course.folder / "export" / f"{course.name}.xlsx", read_only=True)
    assert [row[0] for row in book["proof"].iter_rows(values_only=True)][1].startswith("Not proven: ")
    write_coordinator_report(course)
    book = load_workbook(course.report / "readiness.xlsx", read_only=True)
    assert str(book["Proof"]["A2"].value).startswith("Not proven: ")
    veiled = (course.folder / "export-pseudonymised" / "proof.txt").read_text("utf-8")
    assert veiled.startswith("Not proven: ")
    assert "Entry" not in veiled
