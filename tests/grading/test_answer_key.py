"""Somebody's form with key and working: the same as the keys say, for the eyes of course staff alone."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest

from trainkit.items.kinds import ChoiceKey, NumberKey, OrderKey, TextKey
from trainkit_grading.course.folder import Course, CourseModule
from trainkit_grading.errors import CourseError, DrawingError
from trainkit_grading.release import init
from trainkit_grading.release.build import build
from trainkit_grading.reports.answer_key import answer_key, html_text

from .makers import Run, key_file, sow


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Course:
    course = init.create(
        sow(tmp_path_factory.mktemp("workings") / "A course"), "saltmere", "Saltmere", [CourseModule(name="capstone")]
    )
    course.roster_file.write_text("apprentice,name\namir,Amir <b>Shah</b>\nzoë,Zoë Skellow\n", "utf-8")
    assert build(course).ok
    return course


def test_every_item_says_what_its_key_says(built: Course) -> None:
    keys = key_file(built, "capstone")
    for person in ("amir", "zoë"):
        found = answer_key(built, "capstone", person)
        known = keys.forms[found.form]
        assert known.apprentice == person
        assert {of.id for of in found.items} == set(known.keys)
        kinds = set()
        for of in found.items:
            key = known.keys[of.id]
            kinds.add(key.kind)
            assert len(of.working) == len(key.working)
            assert bool(of.rubric) == isinstance(key, TextKey)
            if isinstance(key, NumberKey):
                assert of.right == (key.shown,)
                assert len(of.wrong) == len(key.rules)
            elif isinstance(key, ChoiceKey):
                texts = {option.id: option.text for option in of.item.options}  # type: ignore[union-attr]
                assert of.right == (texts[key.right],)
                assert {answer for answer, _ in of.wrong} <= set(texts.values()) - {texts[key.right]}
            elif isinstance(key, OrderKey):
                order = [line.partition(". ")[2] for line in of.right[1:]]
                place = {card: order.index(text) for card, text in key.cards.items()}
                assert sorted(place.values()) == list(range(len(key.cards)))
                assert all(place[bond.before] < place[bond.after] for bond in key.bonds)
        assert {"number", "choice", "order", "text", "observed"} <= kinds


def test_the_rubric_is_there_for_whoever_marks(built: Course) -> None:
    keys = key_file(built, "capstone")
    found = answer_key(built, "capstone", "zoë")
    of, key = next((of, key) for of in found.items if isinstance(key := keys.forms[found.form].keys[of.id], TextKey))
    for line in key.rubric:
        assert line.looks_for in of.rubric
        assert all(name in of.rubric for name in line.names)
    assert all(statement in of.rubric for statement in key.dangerous)


def test_the_page_has_cautions_first_and_runs_nothing(built: Course) -> None:
    page = html_text(answer_key(built, "capstone", "amir"))
    assert "<b>Shah" not in page
    assert "Amir &lt;b&gt;Shah" in page
    assert "<script" not in page
    body = page.partition("<body>")[2]
    assert 0 < body.index("Isolate and lock out") < body.index("For course staff only") < body.index('id="head-A1"')
    assert "current manual" in body


def test_the_command_and_its_page_for_the_owner_alone(built: Course, command: Run, tmp_path: Path) -> None:
    course = Course.load(shutil.copytree(built.folder, tmp_path / "course"))
    shown = command("answers", "capstone", "--apprentice", "zoë", cwd=course.folder)
    lines = shown.stdout.splitlines()
    assert "For course staff only." in lines[0]
    assert lines.index("Before any work") < next(n for n, line in enumerate(lines) if line.startswith("A1 ("))
    assert "Working:" in lines
    assert "--html" in lines[-1]
    words = ("answers", "capstone", "--apprentice", "zoë", "--html", "--json")
    told = json.loads(command(*words, cwd=course.folder).stdout)
    page = Path(told["html"])
    assert page.is_relative_to(course.keys)
    if os.name == "posix":
        assert page.stat().st_mode & 0o777 == 0o600
        assert page.parent.stat().st_mode & 0o777 == 0o700
    assert [item["item"] for item in told["items"]] == [of.id for of in answer_key(course, "capstone", "zoë").items]


def test_who_and_what_is_not_there_is_said(built: Course) -> None:
    with pytest.raises(CourseError, match="Nobody on the roster"):
        answer_key(built, "capstone", "nobody")
    with pytest.raises(DrawingError, match="attempt 2"):
        answer_key(built, "capstone", "amir", 2)
    with pytest.raises(CourseError, match="capstone"):
        answer_key(built, "lock-pin", "amir")
    assert len({answer_key(built, "capstone", name).form for name in ("amir", "zoë") * 2}) == 2
