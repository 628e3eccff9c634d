"""How a course stands, told from its own files, step by step as the course runs."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError
from trainkit_grading.intake.collect import collect
from trainkit_grading.marking.mark import mark
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build
from trainkit_grading.reports.status import STATES, status
from trainkit_grading.support.outcome import Outcome

from .makers import FIRST, MODULE, SECOND, THIRD, Bench, Run, found, give_out, set_to, tree
from .test_cohorts import DAY, with_cohorts, write
from .tries import next_attempt


def states(outcome: Outcome) -> dict[str, str]:
    return {entry["apprentice"]: entry["state"] for entry in outcome.data["standing"]}


def look(course: Course, days: float = 0.0) -> Outcome:
    before = tree(course.folder)
    outcome = status(course, clock=lambda: DAY + timedelta(days=days))
    after = tree(course.folder)
    # Whoever reads the ledger first makes its tables, which are empty.
    assert {path for path in after if after[path] != before.get(path)} <= {"gradebook.db"}
    assert outcome.ok
    assert set(states(outcome).values()) <= set(STATES)
    return outcome


def test_from_an_empty_roster_to_everything_marked(bench: Bench, tmp_path: Path) -> None:
    course = with_cohorts(bench.course)
    course.roster_file.write_text("apprentice,name\n", "utf-8")
    assert "roster import" in look(course).next_step
    write(course, f"{FIRST},Amir Shah,autumn,,,", f"{SECOND},Niamh O’Brien,autumn,,,", f"{THIRD},山本 さくら,spring,,,")
    at = look(course)
    assert states(at) == {FIRST: "to give out", SECOND: "to give out", THIRD: "not open"}
    assert at.next_step.endswith(f"trainkit-course build {MODULE}")
    assert build(course, clock=lambda: DAY).ok
    assert look(course).next_step.endswith(f"trainkit-course assign {MODULE}")
    assert assign(course, clock=lambda: DAY).ok
    at = look(course, 1)
    assert states(at) == {FIRST: "out", SECOND: "out", THIRD: "not open"}
    assert at.next_step == "Nothing waits for you before 2027-03-05 08:00 UTC."
    assert "nobody can know" in at.remark
    assert states(look(course, 4.5)) == {FIRST: "late", SECOND: "late", THIRD: "not open"}
    Bench(course).hand_in(FIRST, tmp_path / FIRST, at=DAY + timedelta(hours=1))
    at = look(course, 2)
    assert (at.data["uncollected"], at.next_step.rpartition(" ")[2]) == (1, "collect")
    assert collect(course, clock=lambda: DAY + timedelta(days=4, hours=1)).ok
    at = look(course, 4.5)
    assert (at.data["uncollected"], states(at)[FIRST]) == (0, "to mark")
    assert at.next_step.endswith("trainkit-course mark")
    assert mark(course).ok
    at = look(course, 4.5)
    assert states(at) == {FIRST: "marked", SECOND: "late", THIRD: "not open"}
    assert [entry["late"] for entry in at.data["standing"]] == [True, True, False]
    assert any(f.place == f"{MODULE}, late" and "Niamh" in f.text and "Amir" not in f.text for f in at.findings)
    # Who has left is asked for nothing; what they handed in is still told.
    write(course, f"{FIRST},Amir Shah,autumn,,2027-03-05,", f"{SECOND},Niamh O’Brien,autumn,,2027-03-05,")
    assert states(look(course, 5)) == {FIRST: "marked"}
    assert "feedback" in look(course, 5).next_step
    # The third opens; only they are left to give it to.
    write(course, f"{FIRST},Amir Shah,autumn,,,", f"{THIRD},山本 さくら,spring,,,")
    at = look(course, 21)
    assert states(at) == {FIRST: "marked", THIRD: "to give out"}


def test_a_next_attempt_begins_anew(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in(FIRST, tmp_path, at=DAY)
    assert collect(assigned.course, clock=lambda: DAY + timedelta(days=1)).ok
    assert mark(assigned.course).ok
    assert states(look(assigned.course, 2))[FIRST] == "marked"
    again = set_to(assigned.course, attempt="2")
    at = look(again, 2)
    assert set(states(at).values()) == {"to give out"}
    assert "trainkit-course build" in at.next_step
    assert set(states(look(next_attempt(assigned, 2).course, 2)).values()) == {"out"}


def test_practical_work_waits_for_a_person(tmp_path: Path) -> None:
    bench = found(tmp_path / "course", ("sequence/why-before", "capstone/observed-work"))
    give_out(bench.course, DAY)
    bench.hand_in(FIRST, tmp_path / FIRST, at=DAY, items=("A1",))
    assert collect(bench.course, clock=lambda: DAY + timedelta(days=1)).ok
    assert mark(bench.course).ok
    at = look(bench.course, 2)
    assert states(at) == {FIRST: "for a person", SECOND: "out", THIRD: "out"}
    assert "formgrader" in at.next_step


def test_one_module_or_cohort_and_what_is_not_of_the_course(bench: Bench, command: Run) -> None:
    course = with_cohorts(bench.course)
    write(course, f"{FIRST},Amir Shah,autumn,,,", f"{SECOND},Niamh O’Brien,,,,")
    assert states(status(course, cohort="autumn", clock=lambda: DAY)) == {FIRST: "to give out"}
    with pytest.raises(CourseError, match="autumn, spring"):
        status(course, cohort="winter")
    shown = command("status", "--module", MODULE, cwd=course.folder)
    assert "Niamh O’Brien" in shown.stdout
    assert "Next: Draw forms and keys" in shown.stdout
    told = json.loads(command("status", "--json", cwd=course.folder).stdout)
    assert {entry["module"] for entry in told["standing"]} == {MODULE}
    command("status", "--module", "nope", cwd=course.folder, status=1)


def test_an_arrivals_log_that_was_cut_off_is_read_as_far_as_it_goes(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in(FIRST, tmp_path, at=DAY)
    assert collect(assigned.course, clock=lambda: datetime(2027, 3, 2, tzinfo=UTC)).ok
    log = assigned.course.arrivals_log
    log.write_bytes(log.read_bytes() + b'{"apprentice": "o\'brien", "mod')
    assert states(look(assigned.course, 3)) == {FIRST: "to mark", SECOND: "out", THIRD: "out"}
