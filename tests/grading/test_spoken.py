"""Spoken checks: a bar that rests on one worded question waits until somebody has asked."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.decisions import pending
from trainkit_grading.decisions.appeals import decide
from trainkit_grading.errors import SignOffError
from trainkit_grading.forms import store
from trainkit_grading.ledger import spoken
from trainkit_grading.ledger.kinds import Decided, Marked
from trainkit_grading.ledger.verifying import verify
from trainkit_grading.marking import score
from trainkit_grading.marking.mark import mark
from trainkit_grading.reports import score_sheet
from trainkit_grading.reports.feedback.page import Pages
from trainkit_grading.reports.instructor.overview import instructors_view
from trainkit_grading.results import readiness
from trainkit_grading.results.results import Result, gather

from .makers import FIRST, MODULE, change, entries, found, keep, kept, ledger_of, text_of


@pytest.fixture(scope="module")
def _handed_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("spoken")
    made = found(home / "a course")
    made.give_out()
    made.hand_in(FIRST, home / FIRST, items=("A2", "A3"))
    return made.collect().folder


@pytest.fixture
def course(_handed_in: Path, tmp_path: Path) -> Course:
    return Course.load(shutil.copytree(_handed_in, tmp_path / "a course"))


def unsafe(course: Course, *items: str, critical: tuple[str, ...] | None = None, drawn_before: bool = False) -> Course:
    """Let what the first person chose be unsafe in these items, mark it, and let the points suffice."""
    with_marks = {of.id: of for of in entries_of(course)}
    head, keys = kept(course.key_file(MODULE, 1))
    form = next(form for form in keys.values() if form["apprentice"] == FIRST)
    for item in items:
        form["keys"][item] |= {"right": "elsewhere", "critical": [with_marks[item].response.option]}
    if drawn_before:
        del form["spoken"]
    for planned in head["plan"]:
        planned["critical"] = planned["id"] in (items if critical is None else critical)
    keep(course.key_file(MODULE, 1), head, keys)
    assert mark(course, why="Made for this test.").ok
    change(course, "update grade set extra_credit = 6")
    return course


def entries_of(course: Course) -> tuple[Any, ...]:
    return score.score(course, MODULE, FIRST).items


def choices(course: Course) -> list[str]:
    return [of.id for of in entries_of(course) if of.item.kind == "choice"]


def of(course: Course) -> Result:
    return next(row for row in gather(course).rows if row.apprentice == FIRST)


def waits(course: Course) -> list[tuple[str, int, str]]:
    return [(each.item, each.entry, each.next) for each in pending.of_course(course) if each.kind == "spoken check"]


def number(course: Course) -> int:
    return of(course).entry


def test_the_result_waits_and_every_page_says_so(course: Course) -> None:
    item = choices(course)[0]
    row = of(unsafe(course, item))
    assert (row.unsafe, row.critical, row.spoken, row.verdict) == ((item,), (item,), "waiting", "waiting")
    assert readiness.of_module(row) == "M7"
    assert waits(course) == [
        (item, row.entry, f'trainkit-course decide {row.entry} --outcome confirmed|slip --why "…"')
    ]
    assert score_sheet.report(course).ok
    sheet = text_of((course.report / "index.html").read_text("utf-8"))
    assert f"▲ Unsafe answers: {item}; a spoken check waits" in sheet
    assert "1 spoken check" in sheet
    feedback = text_of(Pages(course).page(MODULE, FIRST))
    assert f"{item} ▲ unsafe answer" in feedback
    assert f"Your instructor will ask you about {item}" in feedback
    assert "… waiting" in feedback
    (talk,) = [talk for talk in instructors_view(course).talks if talk.person.id == FIRST]
    assert talk.urgent
    assert talk.about[0].endswith(f"{item} (a spoken check waits).")


@pytest.mark.parametrize(
    ("outcome", "verdict", "bars", "code"), [("confirmed", "not yet", True, "M4"), ("slip", "passed", False, "M2")]
)
def test_what_was_said_decides_and_the_points_stay(
    course: Course, outcome: str, verdict: str, bars: bool, code: str
) -> None:
    item = choices(course)[0]
    points = of(unsafe(course, item)).points
    first = decide(course, number(course), outcome, why="They said what they meant.")
    assert first.ok
    row = of(course)
    assert (row.verdict, row.spoken, row.points) == (verdict, outcome, points)
    assert row.critical == ((item,) if bars else ())
    assert row.unsafe == (item,)
    assert readiness.of_module(row) == code
    assert waits(course) == []
    (said,) = entries(course, Decided)
    assert (said.item, said.became, said.of, said.of_kind) == (item, outcome, row.entry, "marked")
    assert said.by
    assert said.at
    assert [note.text for note in said.notes] == ["They said what they meant."]
    # Said again it stands there once; another decision counts in its place.
    assert decide(course, row.entry, outcome, why="They said what they meant.").data == first.data
    assert len(entries(course, Decided)) == 1
    assert decide(course, row.entry, "slip", why="Asked once more.").ok
    assert of(course).verdict == "passed"
    with ledger_of(course) as ledger:
        assert not verify(ledger.connection, course.seed()).faults


def test_a_check_stays_with_its_answer_when_it_is_marked_again(course: Course) -> None:
    item = choices(course)[0]
    unsafe(course, item)
    assert decide(course, number(course), "slip", why="A slip.").ok
    before = number(course)
    head, keys = kept(course.key_file(MODULE, 1))
    other = next(of for of in entries_of(course) if of.item.kind == "choice" and of.id != item)
    right = "nowhere" if other.mark.points else other.response.option
    next(form for form in keys.values() if form["apprentice"] == FIRST)["keys"][other.id] |= {"right": right}
    keep(course.key_file(MODULE, 1), head, keys)
    assert mark(course, why="Another key was wrong.").ok
    assert number(course) > before
    assert (of(course).spoken, waits(course)) == ("slip", [])


def test_two_unsafe_answers_are_no_slip(course: Course) -> None:
    row = of(unsafe(course, *choices(course)[:2]))
    assert (len(row.critical), row.spoken, row.verdict) == (2, "", "not yet")
    assert waits(course) == []
    with pytest.raises(SignOffError, match="one worded question alone"):
        decide(course, row.entry, "slip", why="No.")


def test_an_unsafe_answer_that_bars_nothing_is_shown_and_waits_for_nothing(course: Course) -> None:
    item = choices(course)[0]
    row = of(unsafe(course, item, critical=()))
    assert (row.unsafe, row.critical, row.spoken, row.verdict) == ((item,), (), "", "passed")
    assert f"{item} ▲ unsafe answer" in text_of(Pages(course).page(MODULE, FIRST))
    (talk,) = [talk for talk in instructors_view(course).talks if talk.person.id == FIRST]
    assert talk.about[0].endswith(f"{item}.")
    assert score_sheet.report(course).ok
    assert f"Unsafe answers: {item}" in text_of((course.report / "index.html").read_text("utf-8"))


def test_forms_drawn_before_keep_their_results(course: Course) -> None:
    item = choices(course)[0]
    row = of(unsafe(course, item, drawn_before=True))
    assert (row.critical, row.spoken, row.verdict) == ((item,), "", "not yet")
    assert waits(course) == []
    (entry,) = [each for each in entries(course, Marked) if each.number == row.entry]
    assert entry.spoken == ()


def test_keys_say_of_which_forms_checks_are_held(course: Course) -> None:
    path = course.key_file(MODULE, 1)
    known = store.read_keys(path)
    assert known is not None
    assert all(form.spoken for form in known.forms.values())
    assert b'"format":3' in path.read_bytes().splitlines()[0]
    before = known.model_copy(
        update={"forms": {code: of.model_copy(update={"spoken": False}) for code, of in known.forms.items()}}
    )
    content = store.content_of_keys(before)
    assert b'"format":2' in content.splitlines()[0]
    assert b"spoken" not in content


def test_an_order_or_a_scenario_is_no_slip() -> None:
    assert set(spoken.WORDED).isdisjoint({"order", "insert", "actions", "observed", "set", "point"})
    assert spoken.alone(("A3",), ()) == ""


def test_points_are_not_what_a_check_gives(course: Course) -> None:
    row = of(unsafe(course, choices(course)[0]))
    with pytest.raises(SignOffError, match="Points are given for one item"):
        decide(course, row.entry, "slip", 1.0, why="All of them.")
