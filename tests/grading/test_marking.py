"""Marking: a submission is data, the folder decides who is marked, and every mark can be computed again."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from trainkit.items.kinds import ChoiceResponse, ObservedResponse
from trainkit.items.marking import mark as mark_item
from trainkit.items.reading import read_item, read_key, read_response
from trainkit_grading.cli import simulate
from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError
from trainkit_grading.intake import submissions
from trainkit_grading.intake.collect import collect
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.ledger.kinds import Flagged
from trainkit_grading.marking.mark import mark
from trainkit_grading.marking.score import Scorer, score
from trainkit_grading.results.results import gather

from .makers import (
    ANSWERED,
    FIRST,
    MODULE,
    SECOND,
    THIRD,
    Bench,
    change,
    entries,
    grades_of,
    journal_in,
    keep,
    kept,
    marks_of,
    tree,
)


def items_of(folder: Path) -> dict[str, Any]:
    """Read the items of the one form beside a notebook as plain JSON."""
    form = json.loads((folder / "forms.json").read_text("utf-8"))["forms"][0]
    return {entry["id"]: entry["item"] for entry in form["items"]}


def rows(course: Course) -> list[tuple[Any, ...]]:
    """Return everything in the gradebook, table by table."""
    with sqlite3.connect(course.gradebook) as connection:
        tables = [name for (name,) in connection.execute("select name from sqlite_master where type = 'table'")]
        return [(table, *row) for table in sorted(tables) for row in connection.execute(f"select * from {table}")]  # noqa: S608 - names out of the database itself


def test_every_mark_follows_from_item_key_and_latest_answer(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    folder = submissions.folder(course, MODULE, FIRST)
    items, (_, forms) = items_of(folder), kept(course.key_file(MODULE, 1))
    keys = next(form["keys"] for form in forms.values() if form["apprentice"] == FIRST)
    choice = next(name for name, item in items.items() if item["kind"] == "choice")
    right = keys[choice]["right"]
    wrong = next(option["id"] for option in items[choice]["options"] if option["id"] != right)
    journal = journal_in(folder, clock=lambda: ANSWERED + timedelta(hours=1))
    journal.append(choice, ChoiceResponse(option=right))
    journal.append(choice, ChoiceResponse(option=wrong))
    journal.append(choice, ChoiceResponse(option=right))
    assert mark(course).ok
    lines = map(json.loads, (folder / "answers.jsonl").read_text("utf-8").splitlines())
    given = {line["item"]: line["response"] for line in lines}
    expected = {
        name: mark_item(read_item(item), read_key(keys[name]), given[name]).points for name, item in items.items()
    }
    assert expected[choice] == items[choice]["points"]
    assert marks_of(course)[FIRST] == expected
    assert set(marks_of(course)) == {FIRST, SECOND}


def let_be_watched(course: Course, apprentice: str, name: str) -> None:
    """Make an item of an apprentice's form practical work, on the course side where it is marked."""
    forms_head, forms = kept(course.forms_file(MODULE, 1))
    keys_head, keys = kept(course.key_file(MODULE, 1))
    code = next(code for code, form in keys.items() if form["apprentice"] == apprentice)
    entry = next(entry for entry in forms[code]["items"] if entry["id"] == name)
    steps = [{"id": "a", "text": "Lock out the starter."}, {"id": "b", "text": "Press the pin in."}]
    entry["item"] = {"kind": "observed", "prompt": "Pin it.", "points": entry["item"]["points"], "steps": steps}
    keys[code]["keys"][name] = {"kind": "observed", "template": "t/t", "working": [], "critical": ["a"]}
    keep(course.forms_file(MODULE, 1), forms_head, forms)
    keep(course.key_file(MODULE, 1), keys_head, keys)


def test_practical_work_waits_for_a_person_and_no_journal_signs_for_it(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    folder = submissions.folder(course, MODULE, FIRST)
    for person in (FIRST, SECOND):
        let_be_watched(course, person, "A2")
    (folder / "answers.jsonl").unlink()
    signed: dict[str, Any] = {"a": "unprompted", "b": "unprompted"}
    journal = journal_in(folder, clock=lambda: ANSWERED)
    journal.append("A2", ObservedResponse(steps=signed, observer="R. Tarn"))
    for person in (FIRST, SECOND):
        scored = score(course, MODULE, person)
        watched = next(entry for entry in scored.items if entry.id == "A2")
        assert (watched.mark.verdict, watched.mark.points, watched.response) == ("waiting", 0.0, None)
        assert watched.mark.out_of == 2.0
        # The second one's journal holds another kind of answer to it, from before.
        assert [flag.kind for flag in scored.flags if "practical work, A2" in flag.text] == ["item"]
    (folder / "answers.jsonl").unlink()
    assert score(course, MODULE, FIRST).flags == ()
    waits = next(entry for entry in score(course, MODULE, FIRST).items if entry.id == "A2")
    assert waits.mark.verdict == "waiting"
    assert "signs for it" in waits.mark.reason


def test_outcome_says_who_is_missing(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    outcome = mark(course)
    assert outcome.command == "mark"
    assert outcome.data["submissions"][0]["points"] == sum(points or 0 for points in marks_of(course)[FIRST].values())
    assert outcome.done == (f"{MODULE}: 2 submissions marked, 1 missing.",)
    assert outcome.data["missing"] == {MODULE: [THIRD]}


def test_marking_twice_gives_the_same(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND, THIRD)
    assert mark(course).ok
    before = rows(course), tree(course.autograded), tree(course.submitted)
    assert mark(course).ok
    assert (rows(course), tree(course.autograded), tree(course.submitted)) == before


def test_the_folder_decides_and_the_claim_is_flagged(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    honest = score(course, MODULE, FIRST)
    folder = submissions.folder(course, MODULE, FIRST)
    lines = [json.loads(line) for line in (folder / "answers.jsonl").read_text("utf-8").splitlines()]
    (folder / "answers.jsonl").unlink()
    journal = journal_in(
        folder, clock=lambda: ANSWERED, apprentice=SECOND, form="ELSEWHERE", course="other", module="other"
    )
    for line in lines:
        journal.append(line["item"], read_response(line["response"]))
    claimed = score(course, MODULE, FIRST)
    assert [entry.mark for entry in claimed.items] == [entry.mark for entry in honest.items]
    assert {flag.kind for flag in claimed.flags} >= {"name", "form", "course", "module"}
    assert not honest.flags
    outcome = mark(course)
    assert outcome.ok
    assert any("claim the name" in finding.text for finding in outcome.findings)


def test_one_bad_submission_never_stops_the_others(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND, THIRD)
    expected = score(course, MODULE, SECOND).points
    (submissions.folder(course, MODULE, FIRST) / "answers.jsonl").write_bytes(b"\xff\x00" * 5000 + b"\n[[[[{")
    stranger = course.submitted / "stranger" / MODULE
    shutil.copytree(submissions.folder(course, MODULE, SECOND), stranger)
    outcome = mark(course)
    assert not outcome.ok
    refusals = [finding for finding in outcome.findings if finding.severity == "refused"]
    assert [finding.place for finding in refusals] == [f"submitted/stranger/{MODULE}"]
    assert set(marks_of(course)) == {FIRST, SECOND, THIRD}
    assert sum(points or 0 for points in marks_of(course)[SECOND].values()) == pytest.approx(expected)
    assert set(marks_of(course)[FIRST].values()) == {0.0}


def test_a_fault_of_ours_in_one_costs_only_that_one(
    assigned: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    genuine = Scorer.score

    def fails(scorer: Any, apprentice: str) -> Any:
        if apprentice == FIRST:
            raise RuntimeError("out of order")
        return genuine(scorer, apprentice)

    monkeypatch.setattr(Scorer, "score", fails)
    outcome = mark(course)
    assert [f.text for f in outcome.findings if f.severity == "refused"] == [
        "RuntimeError: out of order. It was not marked; please report this."
    ]
    assert set(marks_of(course)) == {SECOND}


@pytest.mark.parametrize(
    ("damage", "flagged"),
    [
        pytest.param(lambda text: text + '{"format":1,"n":9,"at', [], id="torn last line"),
        pytest.param(lambda text: "not an answer\n" + text, ["unreadable", "chain"], id="a line in front"),
        pytest.param(lambda text: "".join(text.splitlines(keepends=True)[1:]), ["chain"], id="a line taken out"),
    ],
)
def test_a_damaged_line_costs_no_other_line(
    assigned: Bench, tmp_path: Path, damage: Callable[[str], str], flagged: list[str]
) -> None:
    course = assigned.take_in(tmp_path, FIRST)
    path = submissions.folder(course, MODULE, FIRST) / "answers.jsonl"
    whole = {entry.id: entry.mark.points for entry in score(course, MODULE, FIRST).items}
    path.write_text(damage(path.read_text("utf-8")), "utf-8")
    scored = score(course, MODULE, FIRST)
    first = next(iter(whole))
    kept = {entry.id: entry.mark.points for entry in scored.items if entry.id != first}
    assert kept == {name: points for name, points in whole.items() if name != first}
    assert [flag.kind for flag in scored.flags] == flagged


def test_impossible_times_are_flagged(assigned: Bench, tmp_path: Path) -> None:
    bench = assigned
    bench.hand_in(FIRST, tmp_path / "home", at=ANSWERED)
    assert collect(bench.course, clock=lambda: ANSWERED - timedelta(days=30)).ok
    scored = score(bench.course, MODULE, FIRST)
    assert [flag.kind for flag in scored.flags] == ["times"]
    assert "after the hand-in arrived" in scored.flags[0].text


@pytest.mark.skipif(os.name == "nt", reason="making links needs special rights on Windows")
@pytest.mark.parametrize("where", ["journal", "folder", "apprentice"])
def test_links_are_not_followed(assigned: Bench, tmp_path: Path, where: str) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    theirs = submissions.folder(course, MODULE, SECOND)
    mine = submissions.folder(course, MODULE, FIRST)
    target = {"journal": mine / "answers.jsonl", "folder": mine, "apprentice": mine.parent}[where]
    source = {"journal": theirs / "answers.jsonl", "folder": theirs, "apprentice": theirs.parent}[where]
    shutil.rmtree(target) if target.is_dir() else target.unlink()
    target.symlink_to(source)
    scored = score(course, MODULE, FIRST)
    assert all(entry.response is None for entry in scored.items)
    assert "place" in {flag.kind for flag in scored.flags}
    assert mark(course).ok
    assert set(marks_of(course)[FIRST].values()) == {0.0}


KILLED_WHILE_WRITING = """
import os, signal, sys
from trainkit_grading.course.folder import Course
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import gradebook_writer

# The grades are written by then, and not committed yet.
gradebook_writer.GradebookWriter._penalise = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
mark(Course.load(sys.argv[1]))
"""


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such signal")
def test_killed_while_writing_leaves_the_old_state(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    assert mark(course, apprentices=[FIRST]).ok
    before = rows(course)
    start = [sys.executable, "-c", KILLED_WHILE_WRITING, str(course.folder)]
    assert subprocess.run(start, check=False).returncode == -signal.SIGKILL
    assert rows(course) == before
    assert mark(course).ok
    assert set(marks_of(course)) == {FIRST, SECOND}


def test_marks_stand_where_a_notebook_cannot_be_written(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    (course.autograded / FIRST).mkdir(parents=True)
    (course.autograded / FIRST / MODULE).write_text("in the way", "utf-8")
    outcome = mark(course)
    assert [finding.place for finding in outcome.findings] == [f"autograded/{FIRST}/{MODULE}"]
    assert set(marks_of(course)) == {FIRST, SECOND}
    (course.autograded / FIRST / MODULE).unlink()
    assert mark(course).ok
    assert (course.autograded / FIRST / MODULE / f"{MODULE}.ipynb").is_file()


def test_what_a_person_set_is_kept_and_asked_about_when_the_answer_changes(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST)
    assert mark(course).ok
    change(course, "update grade set manual_score = 0.5, extra_credit = 0.25, needs_manual_grade = 0")

    def judged() -> dict[str, tuple[Any, ...]]:
        return {
            item: (grade.manual_score, grade.extra_credit, grade.score, grade.needs_manual_grade)
            for item, grade in grades_of(course).items()
        }

    told = mark(course)
    assert told.ok
    # Nobody listened when these points were set, so they are taken over into the ledger, and that is said.
    assert sum("were taken over" in finding.text for finding in told.findings) == 3
    assert set(judged().values()) == {(0.5, 0.25, 0.75, False)}
    assert not mark(course).findings
    journal = journal_in(submissions.folder(course, MODULE, FIRST))
    journal.append("A2", ChoiceResponse(option="never offered"))
    assert mark(course).ok
    assert {item for item, of in judged().items() if of[-1]} == {"A2"}
    assert {of[:-1] for of in judged().values()} == {(0.5, 0.25, 0.75)}


def test_a_form_that_does_not_fit_what_is_out_costs_only_itself(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    head, forms = kept(course.forms_file(MODULE, 1))
    forms[score(course, MODULE, FIRST).form]["items"][0]["item"]["points"] = 17
    keep(course.forms_file(MODULE, 1), head, forms)
    outcome = mark(course)
    assert [finding.place for finding in outcome.findings] == [f"submitted/{FIRST}/{MODULE}"]
    assert set(marks_of(course)) == {SECOND}


def test_several_processes_say_what_one_says(assigned: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND, THIRD)
    # One whose form does not fit, one whose journal claims what is not so, one who is on no roster.
    head, forms = kept(course.forms_file(MODULE, 1))
    forms[score(course, MODULE, FIRST).form]["items"][0]["item"]["points"] = 17
    keep(course.forms_file(MODULE, 1), head, forms)
    journal_in(submissions.folder(course, MODULE, SECOND), form="another").append("A9", ChoiceResponse(option="ü"))
    (course.submitted / "nobody" / MODULE).mkdir(parents=True)
    other = Course.load(shutil.copytree(course.folder, tmp_path / "the same"))
    monkeypatch.setattr("trainkit_grading.marking.worker_pool._CHUNK", 1)
    one, two = mark(course), mark(other, jobs=2)
    assert one.to_dict() == two.to_dict()
    assert [finding.severity for finding in one.findings].count("refused") == 2
    # All that the ledger says but when.
    here, there = ([replace(entry, at="") for entry in entries(of, Entry)] for of in (course, other))
    assert {entry.apprentice for entry in here} == {SECOND, THIRD}
    assert here == there
    assert marks_of(course) == marks_of(other)


def test_whoever_has_no_form_is_told(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST)
    with pytest.raises(CourseError, match="No form was drawn"):
        score(course, MODULE, "nobody")


def test_a_module_not_given_out(bench: Bench) -> None:
    outcome = mark(bench.course)
    assert outcome.ok
    assert "No module has been given out" in outcome.findings[0].text
    assert not mark(bench.course, [MODULE]).ok


def test_marked_notebook_shows_answer_verdict_reason_and_points(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST)
    assert mark(course).ok
    notebook = json.loads((course.autograded / FIRST / MODULE / f"{MODULE}.ipynb").read_text("utf-8"))
    scored = {entry.id: entry for entry in score(course, MODULE, FIRST).items}
    seen = 0
    for cell in notebook["cells"]:
        about = cell["metadata"].get("nbgrader")
        if about is None:
            continue
        shown, result = cell["outputs"]
        entry = scored[about["grade_id"]]
        plain = shown["data"]["text/plain"]
        assert entry.item.prompt in plain
        assert entry.mark.reason in plain
        assert entry.mark.verdict in plain
        assert float(result["data"]["text/plain"]) == entry.mark.points
        seen += 1
    assert seen == len(scored) == 3
    title, cautions, *_ = notebook["cells"]
    assert title["cell_type"] == "markdown"
    assert "starting system" in cautions["outputs"][0]["data"]["text/plain"]


def test_simulated_answers_are_marked_as_they_were_meant(assigned: Bench, tmp_path: Path) -> None:
    bench = assigned
    bench.send(bench.simulate(FIRST, tmp_path / "home", simulate.Habits(skill=1.0, slip=0.0)))
    bench.collect()
    scored = score(bench.course, MODULE, FIRST)
    assert scored.points == scored.out_of
    assert not scored.flags


def test_two_journals_with_one_history_are_flagged_and_marked(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.take_in(tmp_path, FIRST, SECOND, THIRD)
    lines = (submissions.folder(course, MODULE, FIRST) / "answers.jsonl").read_bytes()
    (submissions.folder(course, MODULE, SECOND) / "answers.jsonl").write_bytes(lines)
    for _ in range(2):
        outcome = mark(course)
        assert outcome.ok
        told = {finding.place for finding in outcome.findings if "the same history" in finding.text}
        assert told == {f"{MODULE} {FIRST}", f"{MODULE} {SECOND}"}
    assert set(marks_of(course)) == {FIRST, SECOND, THIRD}
    flagged = entries(course, Flagged)
    # Marked twice, told once.
    assert [entry.apprentice for entry in flagged] == [FIRST, SECOND]
    kinds = {row.apprentice: {flag.kind for flag in row.flags} for row in gather(course).rows}
    assert "history" in kinds[FIRST] & kinds[SECOND]
    assert "history" not in kinds[THIRD]
