"""The demo course, from pack to score sheet: nbgrader gives the same marks, and doing it again changes nothing."""

from __future__ import annotations

import csv
import json
import os
import shlex
import shutil
import sqlite3
import sys
import unicodedata
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from trainkit.forms import Identity
from trainkit_grading.cli import demo as demos
from trainkit_grading.cli.demo import demo
from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError
from trainkit_grading.marking.score import score
from trainkit_grading.nbgrader_bridge import gradebook

from .makers import Run, beside_nbgrader, text_of, tree

SIZE = 5
FLUENT = ("amir", "lena")  # who know all of it


# What the command nbgrader does, once for each line of words: it takes seconds to load, so it is loaded once.
NBGRADER = """
import json, sys
from nbgrader.apps.nbgraderapp import main
from traitlets.config import Application

for words in json.loads(sys.argv[1]):
    sys.argv[1:] = words
    main()
    type(Application.instance()).clear_instance()
"""


def nbgrader(course: Course, *commands: list[str]) -> None:
    said = beside_nbgrader(course, sys.executable, "-c", NBGRADER, json.dumps(commands))
    assert said.returncode == 0, said.stderr


def marks(course: Course) -> dict[tuple[str, str], dict[str, float | None]]:
    return {
        (entry.name, person): {item: grade.auto_score for item, grade in row.grades.items()}
        for entry in course.modules
        for person, row in gradebook.read(course, entry.name).items()
    }


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory, command: Run) -> dict[str, Any]:
    """The demo as a person runs it, in a folder with a space and an accent, told as JSON."""
    into = tmp_path_factory.mktemp("demo") / "Mein Démo"
    said = command("demo", "--into", into, "--apprentices", str(SIZE), "--seed", "3", "--json")
    told: dict[str, Any] = json.loads(said.stdout)
    return told


@pytest.fixture(scope="module")
def course(shown: dict[str, Any]) -> Course:
    return Course.load(shown["course"])


def test_item_marks_equal_those_of_nbgrader_autograde(shown: dict[str, Any], course: Course, tmp_path: Path) -> None:
    again = Course.load(shutil.copytree(course.folder, tmp_path / "again"))
    with sqlite3.connect(again.gradebook) as connection:
        for table in ("grade", "comment", "submitted_notebook", "submitted_assignment", "student"):
            connection.execute(f"delete from {table}")  # noqa: S608 - the names stand a line above
    shutil.rmtree(again.autograded)
    assert not any(gradebook.read(again, entry.name) for entry in again.modules)
    target = tmp_path / "grades.csv"
    nbgrader(again, *(["autograde", entry.name] for entry in again.modules), ["export", "--to", str(target)])
    theirs = marks(again)
    assert theirs == marks(course)
    for (module, person), items in theirs.items():
        scored = score(course, module, person).items
        by_hand = {entry.id for entry in scored if entry.mark.verdict == "waiting"}
        assert {item: points for item, points in items.items() if item not in by_hand} == {
            entry.id: entry.mark.points for entry in scored if entry.id not in by_hand
        }
        # What waits for a person has earned nothing yet, in the gradebook as here.
        assert not any(items[item] for item in by_hand)
    lines = list(csv.DictReader(target.read_text("utf-8").splitlines()))
    exported = {(line["assignment"], line["student_id"]): float(line["score"]) for line in lines}
    reported = {(row["module"], row["apprentice"]): row["points"] for row in shown["results"]}
    assert set(exported) <= set(reported)
    # The points that people gave are no work of nbgrader's, and went with the rows that were deleted above.
    given = {
        (entry.name, person): sum(grade.manual_score or 0.0 for grade in row.grades.values())
        for entry in course.modules
        for person, row in gradebook.read(course, entry.name).items()
    }
    assert sum(points > 0 for points in given.values()) == len(FLUENT)
    for place, points in reported.items():
        assert points == pytest.approx(exported.get(place, 0.0) + given.get(place, 0.0), abs=1e-9)
    assert sum(points > 0 for points in exported.values()) > SIZE


def test_demo_tells_where_to_look(shown: dict[str, Any], course: Course) -> None:
    assert Path(shown["html"]).is_file()
    assert Path(shown["csv"]).is_file()
    assert {row["module"] for row in shown["results"]} == {entry.name for entry in course.modules}
    states = {row["state"] for row in shown["results"]}
    assert states == {"handed in", "missing"}
    assert not [finding for finding in shown["findings"] if finding["severity"] != "note"]
    opened = shown["open"] if os.name == "nt" else shlex.split(shown["open"])[-1]
    who = Identity.read(Path(opened))
    assert who is not None
    assert who.apprentice == course.roster().apprentices[-1].id
    assert not (Path(opened) / "answers.jsonl").exists()
    assert shown["open"] in shown["next"]


def test_two_may_be_put_forward_and_everybody_sat_in_working_hours(course: Course) -> None:
    page = text_of((course.report / "readiness.html").read_text("utf-8"))
    assert f"{len(FLUENT)} of {SIZE}: every criterion is ready" in page
    lines = [
        json.loads(line)
        for journal in (course.folder.parent / "apprentices").rglob("answers.jsonl")
        for line in journal.read_text("utf-8").splitlines()
    ]
    moments = [datetime.fromisoformat(line["at"]) for line in lines]
    assert moments
    assert all(8 <= at.hour < 19 and at.weekday() < 5 for at in moments)


def test_doing_it_again_changes_nothing(shown: dict[str, Any], course: Course, command: Run) -> None:
    home = course.folder.parent

    def state() -> dict[str, bytes]:
        # Pages and the spreadsheet say when they were written.
        return {name: content for name, content in tree(home).items() if "/report/" not in f"/{name}"}

    before = state()
    said = command("demo", "--into", home, "--apprentices", str(SIZE), "--seed", "3", "--json")
    assert json.loads(said.stdout)["results"] == shown["results"]
    assert state() == before


def test_another_demo_is_not_mixed_in(course: Course, command: Run) -> None:
    said = command("demo", "--into", course.folder.parent, "--apprentices", str(SIZE), "--seed", "4", status=1)
    assert "--seed 3" in said.stdout
    assert "--into" in said.stdout


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("Dear all", "utf-8")
    with pytest.raises(CourseError, match="new or empty folder"):
        demo(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]
    with pytest.raises(CourseError, match="new or empty folder"):
        demo(tmp_path / "letter.txt")


def test_cut_off_anywhere_it_goes_on(tmp_path: Path) -> None:
    moments: list[int] = []
    whole = demo(tmp_path / "whole", 2, 5, lambda done, *_: moments.append(done))
    assert whole.ok
    for moment in sorted({moments[0], moments[len(moments) // 2], moments[-1]}):

        def stops(done: int, *_: object, moment: int = moment) -> None:
            if done == moment:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            demo(tmp_path / "cut", 2, 5, stops)
    resumed = demo(tmp_path / "cut", 2, 5)
    assert resumed.ok

    def figures(outcome: Any) -> list[Any]:
        return [{key: row[key] for key in row if key not in ("arrived", "due")} for row in outcome.data["results"]]

    # The same seed gives the same forms and answers, in whatever folder.
    assert figures(resumed) == figures(whole)


def test_the_cohort_is_invented_in_several_scripts() -> None:
    people = demos.people(12)
    assert len({person.id for person in people}) == len(people) == 12
    scripts = {unicodedata.name(letter).split()[0] for person in people for letter in person.name if letter.isalpha()}
    assert {"LATIN", "GREEK", "CYRILLIC", "CJK", "ARABIC", "ETHIOPIC"} <= scripts
    assert any("'" in person.name for person in people)
    assert len({person.id for person in demos.people(200)}) == 200
