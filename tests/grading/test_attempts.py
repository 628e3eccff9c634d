"""Several attempts, a corrected key, another hand-in: what the ledger takes, and which marks the gradebook shows."""

from __future__ import annotations

import json
import shutil
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError
from trainkit_grading.ledger.entries import Entry, digest
from trainkit_grading.ledger.kinds import Change, Marked, SessionHeld
from trainkit_grading.marking.mark import mark
from trainkit_grading.record.sessions import Session, watch
from trainkit_grading.release.assign import assign
from trainkit_grading.results.results import gather

from .makers import FIRST, GIVEN_OUT, MODULE, ON_BOTH, SECOND, copy_of, edited, entries, give, move_to, set_to
from .tries import APART, BEGUN, POINTS, answer, correct, scores, texts_of, tried

pytestmark = pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader")  # of nbgrader's own relations


@pytest.fixture(scope="module")
def _tried(_given_out: Path, tmp_path_factory: pytest.TempPathFactory) -> Course:
    return tried(_given_out, tmp_path_factory.mktemp("tried"))


@pytest.fixture(scope="module")
def _tried_there(_tried: Course, tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Course:
    """The same hand-ins, given out once more where the marks stand in PostgreSQL."""
    server = request.getfixturevalue("postgres")
    folder = shutil.copytree(_tried.folder, tmp_path_factory.mktemp("tried there") / "a course")
    course = move_to(Course.load(folder), server.address(server.new_database()))
    course.gradebook.unlink()
    shutil.rmtree(course.release)
    assert assign(course, clock=lambda: GIVEN_OUT).ok
    return course


@pytest.fixture
def course(where: str, tmp_path: Path, request: pytest.FixtureRequest) -> Course:
    if where == "sqlite":
        return copy_of(request.getfixturevalue("_tried"), tmp_path / "a course")
    return copy_of(request.getfixturevalue("_tried_there"), tmp_path / "a course", request.getfixturevalue("postgres"))


ON_SQLITE = pytest.mark.parametrize("where", ["sqlite"])


def shown_attempt(course: Course, apprentice: str = FIRST) -> tuple[int, int, float]:
    row = gather(course).of(apprentice, MODULE)
    return row.attempt, row.attempts, row.points


@ON_BOTH
def test_the_best_attempt_counts_and_all_stand_in_the_ledger(course: Course) -> None:
    assert mark(course).ok
    assert scores(course) == {FIRST: 5.0, SECOND: 3.0}
    assert shown_attempt(course) == (2, 3, 5.0)
    assert shown_attempt(course, SECOND) == (1, 1, 3.0)
    written = {(entry.apprentice, entry.attempt): entry for entry in entries(course, Marked)}
    assert {key: entry.points for key, entry in written.items()} == {
        **{(FIRST, attempt): points for attempt, points in POINTS.items()},
        (SECOND, 1): 3.0,
    }
    # Each with its own form, journal and arrival.
    for of in ("form", "journal", "arrived"):
        assert len({getattr(entry, of) for entry in written.values()}) == 4 - (of == "arrived")


@ON_BOTH
def test_marking_again_writes_nothing_anywhere(course: Course) -> None:
    assert mark(course).ok
    before = list(texts_of(course))
    assert mark(course).ok
    assert list(texts_of(course)) == before


@ON_BOTH
def test_the_last_attempt_counts_where_the_course_says_so_and_back(course: Course) -> None:
    assert mark(set_to(course, counts='"last"')).ok
    assert scores(course)[FIRST] == POINTS[3]
    notebook = course.autograded / FIRST / MODULE / f"{MODULE}.ipynb"
    last = notebook.read_bytes()
    again = set_to(course, counts='"best"')
    assert mark(again).ok
    assert shown_attempt(again) == (2, 3, POINTS[2])
    assert notebook.read_bytes() != last
    # Which attempt counts is no news about any of them.
    assert len(entries(again, Entry)) == 4


@ON_SQLITE
def test_attempts_past_the_most_that_are_allowed_do_not_count(course: Course) -> None:
    course = set_to(course, allowed="1")
    outcome = mark(course)
    assert shown_attempt(course) == (1, 3, POINTS[1])
    assert [note.text for entry in entries(course, Marked) if entry.attempt == 3 for note in entry.notes] == [
        "This is attempt 3, and the course allows 1. It does not count."
    ]
    assert not [finding for finding in outcome.findings if finding.severity == "refused"]
    # Allowed after all: one entry for each attempt whose flags are others now, the same marks.
    course = set_to(course, allowed="3")
    assert mark(course).ok
    assert shown_attempt(course) == (2, 3, POINTS[2])
    assert [(entry.attempt, entry.notes) for entry in entries(course, Marked)[4:]] == [(2, ()), (3, ())]


@ON_SQLITE
@pytest.mark.parametrize(("hours", "counting"), [("23.9", 2), ("24.1", 1)])
def test_an_attempt_that_came_too_soon_does_not_count(course: Course, hours: str, counting: int) -> None:
    course = set_to(course, hours_between=hours)
    mark(course)
    assert shown_attempt(course) == (counting, 3, POINTS[counting])


@ON_SQLITE
def test_an_attempt_that_is_late_loses_by_the_courses_rule(course: Course) -> None:
    """The second attempt is a day and an hour late, the third two days and an hour; the first is in time."""
    due = (BEGUN + timedelta(hours=1)).isoformat()
    course = edited(course, (f'name = "{MODULE}"\n', f'name = "{MODULE}"\ndue = {due}\n'))
    course = set_to(course, percent_a_day="10", at_most_percent="15")
    shutil.rmtree(course.release)
    assert assign(course, clock=lambda: GIVEN_OUT).ok
    assert mark(course).ok
    # 24 hours late are one day begun: a tenth of five points.
    assert (scores(course)[FIRST], gather(course).of(FIRST, MODULE).penalty) == (4.5, 0.5)
    course = set_to(course, counts='"last"')
    assert mark(course).ok
    # Two days would be a fifth, and 15 per cent are the most.
    assert scores(course)[FIRST] == pytest.approx(3.0 - 0.45)
    course = set_to(course, percent_a_day="0")
    assert mark(course).ok
    assert scores(course)[FIRST] == 3.0


@ON_BOTH
def test_a_later_hand_in_adds_an_entry_and_the_one_before_stays(course: Course) -> None:
    assert mark(course).ok
    folder = course.submitted / FIRST / MODULE
    answer(course, folder, 3, ("A2", "A3"), BEGUN + 3 * APART)
    assert gather(course).of(FIRST, MODULE).state == "to mark"
    assert mark(course).ok
    third = [entry for entry in entries(course, Marked) if (entry.apprentice, entry.attempt) == (FIRST, 3)]
    assert [entry.points for entry in third] == [3.0, 5.0]
    assert len({entry.journal for entry in third}) == 2
    # As good as the second attempt, and later: that one counts.
    assert shown_attempt(course) == (3, 3, 5.0)


@ON_SQLITE
def test_a_corrected_key_changes_nothing_until_somebody_says_why(course: Course) -> None:
    assert mark(course).ok
    before = list(texts_of(course))
    given = next(entry for entry in entries(course, Marked) if (entry.apprentice, entry.attempt) == (FIRST, 2))
    correct(course, 2, given.form, "A3")
    refused = mark(course)
    assert not refused.ok
    (finding,) = [finding for finding in refused.findings if finding.severity == "refused"]
    assert "would now earn 2 of 6 points" in finding.text
    assert "5 stand" in finding.text
    assert "--why" in finding.text
    assert list(texts_of(course)) == before
    assert mark(course, why="  The key of A3 was wrong. ").ok
    added = entries(course, Entry)[4:]
    assert [(entry.kind, entry.attempt, entry.why, entry.points) for entry in added] == [
        ("marked", 2, "The key of A3 was wrong.", 2.0)
    ]
    assert added[0].provenance.keys != given.provenance.keys
    assert added[0].provenance.pack == given.provenance.pack
    # The third attempt is the best one now.
    assert shown_attempt(course) == (3, 3, POINTS[3])
    assert mark(course).ok
    assert len(entries(course, Entry)) == 5


@ON_SQLITE
def test_flags_that_are_others_add_one_entry_with_the_same_marks(course: Course) -> None:
    assert mark(course).ok
    (course.submitted / SECOND / MODULE / "notes.txt").write_text("What is this?", "utf-8")
    mark(course)
    mark(course)
    (added,) = entries(course, Entry)[4:]
    before = next(entry for entry in entries(course, Entry) if entry.apprentice == SECOND)
    assert [note.text for note in added.notes] == ["notes.txt does not belong there."]
    assert (added.outcome, added.journal) == (before.outcome, before.journal)
    assert added.notes_hash != before.notes_hash


@ON_BOTH
def test_points_of_a_person_belong_to_the_attempt_they_were_given_for(course: Course) -> None:
    assert mark(course).ok
    give(course, "A1", 1.0)
    assert scores(course)[FIRST] == 6.0
    assert mark(course).ok
    assert scores(course)[FIRST] == 6.0
    # Another attempt is shown: they go with theirs, and come back with it.
    assert mark(set_to(course, counts='"last"')).ok
    assert scores(course)[FIRST] == POINTS[3]
    assert gather(course).of(FIRST, MODULE).overridden == ()
    assert mark(set_to(course, counts='"best"')).ok
    assert scores(course)[FIRST] == 6.0
    assert gather(course).of(FIRST, MODULE).overridden == ("A1",)
    (changed,) = entries(course, Change)
    assert (changed.attempt, changed.item, changed.after) == (2, "A1", 1.0)


@ON_SQLITE
def test_points_of_a_person_can_make_another_attempt_the_best(course: Course) -> None:
    assert mark(set_to(course, counts='"last"')).ok
    give(course, "A1", 1.0)
    give(course, "A2", 2.0)
    assert scores(course)[FIRST] == 6.0
    course = set_to(course, counts='"best"')
    assert mark(course).ok
    assert shown_attempt(course) == (3, 3, 6.0)


# ---- sessions


def session(begin: datetime, hours: float = 1.0, **more: tuple[str, ...]) -> Session:
    return Session(MODULE, "Edda Tarnwick", "Bench room 2", begin, begin + timedelta(hours=hours), "none", **more)


@ON_BOTH
def test_a_session_stands_behind_the_attempts_that_were_watched(course: Course) -> None:
    assert mark(course).ok
    assert not gather(course).of(FIRST, MODULE).watched
    # Only whoever is named, and only the attempt whose answers fall into the time: the first does, the best does not.
    watch(course, session(BEGUN, apprentices=(FIRST,)))
    assert not gather(course).of(FIRST, MODULE).watched
    watch(course, session(BEGUN + APART, apprentices=(FIRST,)))
    assert gather(course).of(FIRST, MODULE).watched
    assert not gather(course).of(SECOND, MODULE).watched
    watch(course, session(BEGUN))
    assert gather(course).of(SECOND, MODULE).watched
    # Said twice, it stands there once.
    watch(course, session(BEGUN, apprentices=(FIRST,)))
    assert len(entries(course, SessionHeld)) == 3
    with pytest.raises(CourseError, match="Nobody on the roster"):
        watch(course, session(BEGUN, apprentices=("nobody",)))


@ON_BOTH
def test_nobody_is_named_outside_the_one_table_for_it(course: Course) -> None:
    """What a person wrote, and flags, can be emptied; everything else speaks of people by random identifiers."""
    mark(course)
    give(course, "A1", 1.0)
    watch(course, session(BEGUN, apprentices=(FIRST, SECOND)))
    mark(set_to(course, counts='"last"'))
    persons = {person.id: person.name for person in course.roster()}
    words = {("trainkit_mark", "response"), ("trainkit_note", "text")}
    named = set()
    for table, column, value in texts_of(course):
        if (table, column) in words or not isinstance(value, str):
            continue
        for identifier, name in persons.items():
            # JSON writes what is no ASCII with escapes, and a digest of a name would name it, too.
            forms = {identifier, name, json.dumps(identifier)[1:-1], json.dumps(name)[1:-1], digest(identifier)}
            if any(form in value for form in forms):
                named.add((table, column))
    assert named == {("trainkit_person", "apprentice")}
