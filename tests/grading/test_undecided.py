"""What waits for a person decides nothing where a critical error bars a pass, or where the cut is out of reach."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.marking.mark import mark
from trainkit_grading.reports import score_sheet
from trainkit_grading.reports.coordinator.overview import overview
from trainkit_grading.reports.exports.export import export
from trainkit_grading.reports.feedback.page import Pages
from trainkit_grading.reports.instructor.overview import instructors_view
from trainkit_grading.reports.status import status
from trainkit_grading.results import readiness
from trainkit_grading.results.results import gather

from .makers import FIRST, MODULE, SECOND, THIRD, found, keep, kept, text_of
from .test_feedback import rightly, wrongly

TEMPLATES = ("sequence/put-in-order", "sequence/why-before", "capstone/explain-why")
ANSWERED = {FIRST: rightly, SECOND: wrongly, THIRD: rightly}


@pytest.fixture(scope="module")
def course(tmp_path_factory: pytest.TempPathFactory) -> Course:
    """The first has one critical error, the second nothing right, the third all; everybody's text is still to be read.

    The text is worth 3 of 6 points, and 60 per cent are needed.
    """
    home = tmp_path_factory.mktemp("undecided")
    made = found(home / "a course", TEMPLATES)
    made.give_out()
    for person, how in ANSWERED.items():
        made.hand_in(person, home / person, how=how)
    made.collect()
    head, keys = kept(made.course.key_file(MODULE, 1))
    for form in keys.values():
        key = form["keys"]["A2"]
        key |= {"critical": [key["right"]], "right": "elsewhere"} if form["apprentice"] == FIRST else {"critical": []}
        form.pop("spoken", None)
    for planned in head["plan"]:
        planned["critical"] = planned["id"] == "A2"
    keep(made.course.key_file(MODULE, 1), head, keys)
    assert mark(made.course).ok
    return made.course


EXPECTED = {FIRST: ("not yet", "M4"), SECOND: ("not yet", "M5"), THIRD: ("waiting", "M3")}


def test_the_result_and_the_rule(course: Course) -> None:
    rows = {row.apprentice: row for row in gather(course).rows}
    assert {name: (row.verdict, readiness.of_module(row)) for name, row in rows.items()} == EXPECTED
    assert {row.open for row in rows.values()} == {1}
    assert rows[FIRST].critical == ("A2",)
    assert not any(row.complete for row in rows.values())


def test_every_page_says_the_same(course: Course, tmp_path: Path) -> None:
    verdicts = {FIRST: "not yet", SECOND: "not yet", THIRD: "nearly"}
    view = overview(course)
    assert {each.person.id: each.readiness[0].verdict for each in view.people} == verdicts
    assert export(course, into=tmp_path).ok
    with (tmp_path / "readiness.csv").open(encoding="utf-8-sig", newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if row["criterion"] == "1"]
    assert {row["person"]: row["verdict"] for row in rows} == verdicts
    assert score_sheet.report(course).ok
    with (course.report / "marks.csv").open(encoding="utf-8-sig", newline="") as lines:
        assert {row["apprentice"]: row["passed"] for row in csv.DictReader(lines)} == {
            FIRST: "no",
            SECOND: "no",
            THIRD: "waiting",
        }
    pages = Pages(course)
    shown = {person: text_of(pages.page(MODULE, person)) for person in ANSWERED}
    assert {person: "… waiting" in text for person, text in shown.items()} == {FIRST: False, SECOND: False, THIRD: True}
    assert all("your instructor still marks this" in text for text in shown.values())
    # What is still to be read is work for somebody, and no figure of the class.
    standing = {of["apprentice"]: of["state"] for of in status(course).data["standing"]}
    assert set(standing.values()) == {"for a person"}
    (module,) = instructors_view(course).modules
    assert (module.handed_in, module.marked) == (3, 0)
