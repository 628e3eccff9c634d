"""The end of the story: its exports add up, and somebody in it is forgotten.

:mod:`.test_story` runs these tests, so that one process tells the story, which takes long, and tells it once.
"""

from __future__ import annotations

import csv
import shutil
from collections import Counter
from collections.abc import Iterator

import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.keeping import verify
from trainkit_grading.keeping.forget.forget import forget
from trainkit_grading.reports.coordinator import report as coordinators
from trainkit_grading.reports.coordinator.overview import overview
from trainkit_grading.reports.exports.export import export
from trainkit_grading.reports.instructor import report as instructors
from trainkit_grading.reports.instructor.overview import InstructorsView, instructors_view
from trainkit_grading.reports.score_sheet import report
from trainkit_grading.results.readiness import READY_RULES

from .recount import Recount
from .story import FORGOTTEN, NOW, Story, clock, close

# Exports.


def exported(story: Story, name: str) -> Iterator[dict[str, str]]:
    with (story.course.folder / "export" / f"{name}.csv").open(encoding="utf-8-sig", newline="") as stream:
        yield from csv.DictReader(stream)


def test_exports_add_up_to_the_same(story: Story, again: Recount) -> None:
    assert export(story.course, clock=clock).ok
    results = list(exported(story, "results"))
    assert len(results) == len(again.results)
    for row in results:
        of = again.results[row["person"], row["module"]]
        assert float(row["points"]) == pytest.approx(of["points"], abs=0.005)
        assert (row["state"], row["verdict"]) == (of["state"], of["verdict"])
        assert (row["entry"] or "0") == str(of["entry"])
    sums: Counter[tuple[str, str, str]] = Counter()
    open_: Counter[tuple[str, str, str]] = Counter()
    for row in exported(story, "marks"):
        sums[row["person"], row["module"], row["attempt"]] += float(row["points"] or 0)  # type: ignore[assignment]
        open_[row["person"], row["module"], row["attempt"]] += not row["points"]
    tries = {
        (entry["who"], entry["module"], str(entry["attempt"])): entry
        for attempts in again.newest.values()
        for entry in attempts.values()
    }
    assert set(sums) == set(tries)
    for place, entry in tries.items():
        assert sums[place] == pytest.approx(again.total(entry))
        waits = [row for row in again.marks[entry["number"]] if again.earned(entry, row) is None]
        assert open_[place] == len(waits)
    readiness = {(row["person"], row["criterion"]): row for row in exported(story, "readiness")}
    for who in again.people:
        for criterion, (code, pieces) in zip(again.criteria, again.evidence(who), strict=True):
            row = readiness[who, criterion["number"]]
            assert (row["rule"], row["verdict"]) == (code, READY_RULES[code][0])
            assert [piece.split()[-1] for piece in row["evidence"].split("; ")] == pieces
            assert row["forward"] == str(again.forward(who)[0]).lower()
    steps = Counter((row["person"], row["checklist"], row["rule"]) for row in exported(story, "observations"))
    expected = {(who, sheet): of for who, own in again.signed.items() for sheet, of in own.items()}
    assert steps == Counter({(*place, of["rule"]): len(of["outcomes"]) for place, of in expected.items()})
    for row in exported(story, "observations"):
        at_last = row["shown_again"] or row["outcome"]
        assert at_last == expected[row["person"], row["checklist"]]["outcomes"][row["step"]]


# Somebody is forgotten.


@pytest.fixture(scope="module")
def without(story: Story, tmp_path_factory: pytest.TempPathFactory) -> Course:
    """The course after somebody who had left a good record was forgotten."""
    course = Course.load(shutil.copytree(story.course.folder, tmp_path_factory.mktemp("forgotten") / "course"))
    assert forget(course, FORGOTTEN, "They asked for it.").ok
    for write in (coordinators.write_coordinator_report, instructors.write_instructor_report, report):
        assert write(course, clock=clock).ok
    return course


def nobodys(rows: set[tuple[str, str]]) -> int:
    """How many people these are, once nobody can say which modules of one of them belong together."""
    return len({who if who != FORGOTTEN else module for who, module in rows})


def test_statistics_are_the_same_without_a_name(without: Course, klass: InstructorsView, again: Recount) -> None:
    now = instructors_view(without, clock=clock)
    before = {each.code: each for each in klass.mistakes}
    assert {each.code for each in now.mistakes} == set(before)
    for each in now.mistakes:
        of = again.shows[each.code]
        assert (each.shown, each.chances) == (of["shown"], of["chances"]), each.code
        assert each.people.n == nobodys(of["rows"])
        if each.people.shown:
            assert each.people.value == close(nobodys(of["did"]) / nobodys(of["rows"]))
        assert set(each.who) == set(before[each.code].who) - {FORGOTTEN}
    work = {each.template: each for each in klass.working}
    assert {each.template for each in now.working} == set(work)
    for one in now.working:
        was = work[one.template]
        assert one.difficulty == was.difficulty
        assert {option.label for option in one.idle} == {option.label for option in was.idle}
        if was.point_biserial.shown:
            assert one.point_biserial.shown
            assert one.point_biserial.value == close(was.point_biserial.value)
            assert one.point_biserial.n == was.point_biserial.n


def test_everything_else_is_that_of_a_course_without_them(without: Course, again: Recount) -> None:
    here = Recount(without.folder, NOW)
    assert set(here.people) == set(again.people) - {FORGOTTEN}
    now = overview(without, clock=clock)
    assert [each.person.id for each in now.people] == list(here.people)
    for each in now.people:
        who = each.person.id
        assert [(of.code, [piece.code for piece in of.evidence]) for of in each.readiness] == again.evidence(who)
        assert (each.forward, each.reason) == again.forward(who)
        for module, row in each.results.items():
            of = again.results[who, module]
            assert (row.entry, row.verdict, row.points) == (of["entry"], of["verdict"], close(of["points"]))
            assert row.watched == (of["session"] is not None)
    for fared in now.fared:
        *counts, mean = here.fared(fared.cohort, fared.module)
        assert (fared.expected, fared.handed_in, fared.late, fared.marked, fared.passed, fared.critical) == tuple(
            counts
        )
        assert fared.percent == close(mean)
    assert Counter((matter.kind, matter.apprentice) for matter in instructors_view(without, clock=clock).pending) == (
        Counter({place: count for place, count in again.waiting.items() if place[1] != FORGOTTEN})
    )
    assert verify.prove(without).ok


def test_reports_name_them_no_more(without: Course, again: Recount) -> None:
    name = again.people[FORGOTTEN]["name"].encode()
    pages = [path for path in without.report.rglob("*") if path.is_file()]
    assert len(pages) >= 4
    for path in pages:
        content = path.read_bytes()
        assert name not in content, path.name
        assert FORGOTTEN.encode() not in content, path.name
