"""What people change in nbgrader's gradebook stands in the ledger, or is not changed."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from nbgrader.api import Comment, Gradebook

from trainkit.items.kinds import ChoiceResponse
from trainkit_grading.course.folder import Course
from trainkit_grading.intake import submissions
from trainkit_grading.ledger.book import actor
from trainkit_grading.ledger.entries import digest
from trainkit_grading.ledger.kinds import Change
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import gradebook, steps

from .makers import FIRST, MODULE, SECOND, Bench, entries, formgrader, journal_in

pytestmark = pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader")  # of nbgrader's own relations


@pytest.fixture
def course(assigned: Bench, tmp_path: Path) -> Course:
    """A course with marks of two people, whose configuration has been read as formgrader reads it."""
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    assert mark(course).ok
    return course


def changed(course: Course) -> list[Change]:
    return entries(course, Change)


@pytest.fixture
def theirs(course: Course) -> Iterator[Gradebook]:
    """nbgrader's own gradebook, as formgrader holds it open."""
    with formgrader(course) as book:
        yield book


def give(theirs: Gradebook, **values: float | None) -> None:
    grade = theirs.find_grade("A2", MODULE, MODULE, FIRST)
    for name, value in values.items():
        setattr(grade, name, value)
    theirs.db.commit()


def test_points_given_in_formgrader_are_recorded_with_answer_and_person(course: Course, theirs: Gradebook) -> None:
    give(theirs, manual_score=1.5, extra_credit=0.5)
    give(theirs, manual_score=None)
    points, extra, taken_back = changed(course)
    assert (points.apprentice, points.module, points.attempt, points.by) == (FIRST, MODULE, 1, actor())
    assert (points.item, points.field) == ("A2", "points")
    assert (points.before, points.after) == (None, 1.5)
    assert len(points.answer) == 64
    assert (extra.field, extra.after) == ("extra credit", 0.5)
    assert (taken_back.before, taken_back.after) == (1.5, None)


def test_marking_again_keeps_what_was_given_and_finds_nothing_to_adopt(course: Course, theirs: Gradebook) -> None:
    give(theirs, manual_score=1.5)
    assert not mark(course).findings
    assert len(changed(course)) == 1
    assert gradebook.read(course, MODULE)[FIRST].grades["A2"].manual_score == 1.5


def test_a_comment_stands_beside_its_digest(course: Course, theirs: Gradebook) -> None:
    cell = theirs.find_graded_cell("A1", MODULE, MODULE)
    notebook = theirs.find_submission_notebook(MODULE, MODULE, FIRST)
    comment = Comment(notebook=notebook, cell=cell)
    theirs.db.add(comment)
    theirs.db.commit()
    comment.manual_comment = "Look at the lash again."
    theirs.db.commit()
    (entry,) = changed(course)
    assert entry.after == digest("Look at the lash again.")
    assert [note.text for note in entry.notes] == ["Look at the lash again."]


def test_an_extension_and_a_removal_are_recorded(course: Course, theirs: Gradebook) -> None:
    theirs.update_or_create_submission(MODULE, SECOND, extension=timedelta(days=2))
    theirs.remove_submission(MODULE, SECOND)
    found = changed(course)
    assert [(entry.apprentice, entry.field, entry.after) for entry in found][:2] == [
        (SECOND, "extension", 172800.0),
        (SECOND, "submission", None),
    ]


def test_without_a_record_there_is_no_change(course: Course, theirs: Gradebook) -> None:
    hidden = course.keys.with_name("elsewhere")
    shutil.move(course.keys, hidden)
    with pytest.raises(Exception, match="keys/seed"):
        give(theirs, manual_score=1.5)
    theirs.db.rollback()
    shutil.move(hidden, course.keys)
    assert gradebook.read(course, MODULE)[FIRST].grades["A2"].manual_score is None
    assert not changed(course)


def test_what_fails_is_neither_changed_nor_recorded(course: Course, theirs: Gradebook) -> None:
    theirs.find_grade("A2", MODULE, MODULE, FIRST).manual_score = 1.5
    theirs.db.flush()
    theirs.db.rollback()
    assert gradebook.read(course, MODULE)[FIRST].grades["A2"].manual_score is None
    assert not changed(course)


def test_points_are_asked_about_again_when_the_answer_changes(course: Course, theirs: Gradebook) -> None:
    give(theirs, manual_score=1.5)
    journal_in(submissions.folder(course, MODULE, FIRST)).append("A2", ChoiceResponse(option="zz"))
    assert mark(course).ok
    grade = gradebook.read(course, MODULE)[FIRST].grades["A2"]
    assert (grade.manual_score, grade.needs_manual_grade) == (1.5, True)


def test_an_address_set_below_is_listened_to(course: Course, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere.db"
    shutil.copy(course.gradebook, elsewhere)
    with course.nbgrader_config.open("a", encoding="utf-8") as stream:
        stream.write(f"\nc.CourseDirectory.db_url = {f'sqlite:///{elsewhere.as_posix()}'!r}\n")
    steps.configuration(course)
    with steps.prepared(), Gradebook(f"sqlite:///{elsewhere.as_posix()}", course.name) as book:
        book.find_grade("A2", MODULE, MODULE, FIRST).manual_score = 0.5
        book.db.commit()
    assert [entry.after for entry in changed(course)] == [0.5]
