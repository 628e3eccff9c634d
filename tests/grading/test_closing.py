"""Feedback closes an attempt: what is handed in later counts only where a person says so, and never once spent."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Literal

import pytest

from trainkit_grading.course.cautions import cautions_of
from trainkit_grading.course.folder import Course
from trainkit_grading.decisions import pending
from trainkit_grading.decisions.appeals import decide
from trainkit_grading.errors import SignOffError
from trainkit_grading.intake.collect import collect
from trainkit_grading.intake.collect import take as collected
from trainkit_grading.intake.readers import HandIn
from trainkit_grading.keeping.verify import prove, still_open
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.ledger.kinds import FeedbackWritten, Held, Marked
from trainkit_grading.marking.mark import mark
from trainkit_grading.reports.feedback import feedback
from trainkit_grading.reports.instructor.overview import instructors_view
from trainkit_grading.reports.instructor.page import html_text
from trainkit_grading.results.results import gather
from trainkit_grading.support.outcome import Outcome

from .makers import FIRST, MODULE, SECOND, THIRD, Bench, edited, entries, set_to, still, text_of
from .tries import BEGUN, answer, scores

pytestmark = pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader")  # of nbgrader's own relations

HOUR = timedelta(hours=1)
TOLD = BEGUN + 4 * HOUR
RIGHT = ("A2", "A3")


@pytest.fixture(scope="module")
def _handed_in(_given_out: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All three have answered A2 alone, rightly; it is collected and marked, and their notebooks lie beside it."""
    home = tmp_path_factory.mktemp("closing")
    bench = Bench(Course.load(shutil.copytree(_given_out, home / "a course")))
    for person in (FIRST, SECOND, THIRD):
        answer(bench.course, bench.unpack(person, home / "homes" / person), 1, ("A2",), BEGUN)
        bench.send(home / "homes" / person / MODULE)
    assert collect(bench.course, clock=still(BEGUN + HOUR)).ok
    assert mark(bench.course).ok
    return home


@pytest.fixture
def home(_handed_in: Path, tmp_path: Path) -> Path:
    return shutil.copytree(_handed_in, tmp_path / "closing")


@pytest.fixture
def course(home: Path) -> Course:
    return Course.load(home / "a course")


def again(course: Course, home: Path, person: str, right: Sequence[str] = RIGHT, *, anew: bool = False) -> None:
    """Answer the same form once more and hand in; in an untouched copy of the workbook, if it is answered anew."""
    folder = home / "homes" / person / MODULE
    if anew:
        folder = Bench(course).unpack(person, home / "anew" / person)
    answer(course, folder, 1, tuple(right), BEGUN + 2 * HOUR)
    Bench(course).send(folder, "2-")


def take(course: Course, at: datetime) -> Outcome:
    """Collect and mark."""
    assert collect(course, clock=still(at)).ok
    return mark(course)


def waiting(course: Course) -> list[pending.PendingDecision]:
    return [each for each in pending.of_course(course) if each.kind == "hand-in"]


def test_wrong_answers_feedback_right_answers_earn_nothing_more(course: Course, home: Path) -> None:
    assert feedback(course, clock=still(TOLD)).ok
    again(course, home, FIRST)
    outcome = take(course, TOLD + HOUR)
    assert outcome.ok
    assert scores(course) == {FIRST: 2.0, SECOND: 2.0, THIRD: 2.0}
    (warned,) = [finding.text for finding in outcome.findings if finding.severity == "warning"]
    assert "arrived 2027-03-01 13:00 UTC, after feedback on attempt 1 was written." in warned
    row = gather(course).of(FIRST, MODULE)
    assert (row.state, row.points, row.attempts) == ("handed in", 2.0, 1)
    assert [flag.kind for flag in row.flags] == ["closed"]
    (matter,) = waiting(course)
    (held,) = entries(course, Held)
    assert (matter.entry, matter.apprentice, held.earns) == (held.number, FIRST, 5.0)
    assert matter.text in html_text(instructors_view(course), cautions_of(course))
    before = len(entries(course, Entry))
    assert mark(course).ok
    assert feedback(course, clock=still(TOLD + 2 * HOUR)).ok
    assert len(entries(course, Entry)) == before
    assert prove(course).ok


def test_a_person_lets_it_count(course: Course, home: Path) -> None:
    assert feedback(course, clock=still(TOLD)).ok
    again(course, home, FIRST)
    take(course, TOLD + HOUR)
    (matter,) = waiting(course)
    decided = decide(course, matter.entry, "counted", why="It lay in the inbox since noon.")
    assert decided.next_step == f"Mark what counts now: trainkit-course mark {MODULE}"
    assert (
        "stands in the ledger already"
        in decide(course, matter.entry, "counted", why="It lay in the inbox since noon.").done[0]
    )
    assert gather(course).of(FIRST, MODULE).state == "to mark"
    assert mark(course).ok
    assert scores(course)[FIRST] == 5.0
    row = gather(course).of(FIRST, MODULE)
    assert (row.state, row.flags) == ("handed in", ())
    assert waiting(course) == []
    with pytest.raises(SignOffError, match="its points are on record"):
        decide(course, matter.entry, "excluded", why="No.")


def test_what_is_excluded_stays_so(course: Course, home: Path) -> None:
    assert feedback(course, clock=still(TOLD)).ok
    again(course, home, FIRST)
    take(course, TOLD + HOUR)
    (matter,) = waiting(course)
    decide(course, matter.entry, "excluded", why="They had read their feedback.")
    assert mark(course).ok
    assert scores(course)[FIRST] == 2.0
    row = gather(course).of(FIRST, MODULE)
    assert (row.state, row.flags, waiting(course)) == ("handed in", (), [])
    # Another copy, with the same answers at the end of it, is another hand-in, and waits again.
    again(course, home, FIRST)
    take(course, TOLD + 2 * HOUR)
    assert scores(course)[FIRST] == 2.0
    assert len(waiting(course)) == 1


def test_a_form_whose_answers_were_told_is_spent(course: Course, home: Path) -> None:
    course = set_to(course, allowed="1")
    course = edited(course, ('reveal = "method"', 'reveal = "answers"'))
    assert feedback(course, clock=still(TOLD)).ok
    assert [entry.answers for entry in entries(course, FeedbackWritten)] == [True, True, True]
    again(course, home, FIRST)
    take(course, TOLD + HOUR)
    assert scores(course)[FIRST] == 2.0
    (matter,) = waiting(course)
    assert "It cannot count." in matter.text
    assert "--outcome excluded" in matter.next
    with pytest.raises(SignOffError, match="spent"):
        decide(course, matter.entry, "counted", why="Let it.")
    decide(course, matter.entry, "excluded", why="The answers were told.")
    assert waiting(course) == []


def test_feedback_that_tells_the_answers_later_spends_the_form_then(course: Course, home: Path) -> None:
    assert feedback(course, clock=still(TOLD)).ok
    again(course, home, FIRST)
    take(course, TOLD + HOUR)
    course = set_to(course, allowed="1")
    course = edited(course, ('reveal = "method"', 'reveal = "answers"'))
    assert feedback(course, clock=still(TOLD + 2 * HOUR)).ok
    again(course, home, SECOND)
    take(course, TOLD + 3 * HOUR)
    texts = {each.apprentice: each.text for each in waiting(course)}
    assert "after feedback on attempt 1 was written" in texts[FIRST]
    assert "had told the right answers" in texts[SECOND]


def test_zips_that_nobody_collected_are_one_decision(course: Course, home: Path) -> None:
    for person in (FIRST, SECOND, THIRD):
        again(course, home, person)  # all before the feedback, and collected after it
    assert feedback(course, clock=still(TOLD)).ok
    take(course, TOLD + HOUR)
    found = waiting(course)
    assert [each.apprentice for each in found] == [FIRST, SECOND, THIRD]
    assert len({(each.entry, each.next) for each in found}) == 1
    assert all("3 hand-ins came at this time" in each.text for each in found)
    (line,) = [line for line in still_open(course).done if "hand-in" in line]
    assert f"{FIRST}, {SECOND}, {THIRD}" in line
    alone = decide(course, found[0].entry, "excluded", why="Came on Friday.", apprentice=THIRD)
    assert len(alone.data["entries"]) == 1
    with pytest.raises(SignOffError, match="nobody"):
        decide(course, found[0].entry, "counted", why="So.", apprentice="nobody")
    rest = decide(course, found[0].entry, "counted", why="They lay there on Thursday.")
    assert len(rest.data["entries"]) == 2
    assert mark(course).ok
    assert scores(course) == {FIRST: 5.0, SECOND: 5.0, THIRD: 2.0}


@pytest.mark.parametrize("how", ["exchange", "paper"])
@pytest.mark.parametrize(("came", "points"), [(TOLD - HOUR, 5.0), (TOLD + HOUR, 2.0)])
def test_what_has_a_time_of_its_own_goes_by_it(
    course: Course, home: Path, how: Literal["exchange", "paper"], came: datetime, points: float
) -> None:
    """The shared disk keeps when something came, and a sheet of paper says when its sitting ended."""
    assert feedback(course, clock=still(TOLD)).ok
    folder = home / "homes" / FIRST / MODULE
    answer(course, folder, 1, RIGHT, BEGUN + 2 * HOUR)
    content = (folder / "answers.jsonl").read_bytes()
    given = HandIn(how, content, None, came, how, user=FIRST, module=MODULE, owners=(FIRST,))
    assert collected(iter([given]), course, still(TOLD + 5 * HOUR)).ok
    mark(course)
    assert scores(course)[FIRST] == points


def test_what_continues_and_earns_more_before_feedback_counts(course: Course, home: Path) -> None:
    again(course, home, FIRST)
    take(course, TOLD)
    assert scores(course)[FIRST] == 5.0
    assert waiting(course) == []


def test_what_does_not_continue_or_earns_less_waits(course: Course, home: Path) -> None:
    again(course, home, FIRST, anew=True)
    again(course, home, SECOND, right=())
    take(course, TOLD)
    assert scores(course) == {FIRST: 2.0, SECOND: 2.0, THIRD: 2.0}
    kinds = {entry.apprentice: [note.kind for note in entry.notes] for entry in entries(course, Held)}
    assert kinds == {FIRST: ["parted"], SECOND: ["less"]}
    assert len({each.entry for each in waiting(course)}) == 2
    # What continues the hand-in that counts may take its place still; then nothing hangs on the other one.
    again(course, home, SECOND)
    take(course, TOLD + HOUR)
    assert scores(course)[SECOND] == 5.0
    assert [each.apprentice for each in waiting(course)] == [FIRST]


def test_marks_that_count_stay_where_feedback_was_not_recorded(course: Course, home: Path) -> None:
    """A course of an earlier release: the feedback is known from its next writing on, and undoes nothing."""
    again(course, home, FIRST)
    take(course, TOLD + HOUR)
    assert scores(course)[FIRST] == 5.0
    assert feedback(course, clock=still(TOLD)).ok  # by a clock that goes wrong, or of a page of long ago
    before = entries(course, Marked)
    assert mark(course).ok
    assert scores(course)[FIRST] == 5.0
    assert entries(course, Marked) == before
    assert waiting(course) == []


def test_corrected_keys_reach_the_hand_in_that_counts(course: Course, home: Path) -> None:
    assert feedback(course, clock=still(TOLD)).ok
    again(course, home, FIRST)
    take(course, TOLD + HOUR)
    (held,) = entries(course, Held)
    page = text_of((course.feedback / FIRST / MODULE / f"{MODULE}.html").read_text("utf-8"))
    assert "2 of 6" in page
    counting = [entry for entry in entries(course, Marked) if entry.apprentice == FIRST][-1]
    assert counting.journal != held.journal
    assert mark(course, why="Look again.").ok
    assert [entry for entry in entries(course, Marked) if entry.apprentice == FIRST][-1].journal == counting.journal
