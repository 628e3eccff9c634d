"""Whether the gradebook shows what the ledger says: every way in which the two can differ is found and named."""

# ruff: noqa: S608 - the statements are made of words of this file alone

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.intake.collect import collect
from trainkit_grading.marking.mark import mark
from trainkit_grading.results.agreement import compare

from .ledgers import tamper as change
from .makers import FIRST, MODULE, SECOND, THIRD, Bench, asked, tree

NOTEBOOK_OF = """(select m.id from submitted_notebook m join submitted_assignment s on s.id = m.assignment_id
    where s.student_id = 'amir')"""
CELL_OF = "(select id from base_cell where name = 'A2' and type = 'GradeCell')"
A2 = f"notebook_id = {NOTEBOOK_OF} and cell_id = {CELL_OF}"
PERSON = "(select person from trainkit_person where apprentice = 'amir')"
AGAIN = f"Run: trainkit-course mark {MODULE}"


@pytest.fixture
def marked(assigned: Bench, tmp_path: Path) -> Course:
    """A course in which two of three have handed in and are marked."""
    course = assigned.take_in(tmp_path, FIRST, SECOND)
    assert mark(course).ok
    return course


def said(course: Course) -> list[tuple[str, str, str]]:
    return [(finding.severity, finding.place, finding.text) for finding in compare(course)]


def test_what_was_marked_agrees_and_looking_changes_nothing(marked: Course) -> None:
    before = tree(marked.folder)
    assert compare(marked) == ()
    assert tree(marked.folder) == before


def test_nothing_given_out_agrees_and_makes_no_gradebook(bench: Bench) -> None:
    assert compare(bench.course) == ()
    assert not bench.course.gradebook.exists()


def test_nothing_marked_agrees(assigned: Bench) -> None:
    assert compare(assigned.course) == ()


def test_points_that_a_person_gave_and_the_ledger_took_over_agree(marked: Course) -> None:
    change(marked, f"update grade set manual_score = 1.5 where {A2}")
    assert mark(marked).ok
    assert compare(marked) == ()


SHOWN = f"where person = {PERSON}"
ENTRY = f"(select entry from trainkit_shown {SHOWN})"
# What is done to the gradebook or the ledger, and what is said of it before the command that puts it right.
DISAGREE = {
    "points": (f"update grade set auto_score = 1.75 where {A2}", "A2 has 1.75 points in the gradebook; {ledger}"),
    "no points": (f"update grade set auto_score = null where {A2}", "A2 has no points in the gradebook; {ledger}"),
    "arrival": (
        "update submitted_assignment set timestamp = '2027-02-01 08:00:00.000000' where student_id = 'amir'",
        "The gradebook says it arrived 2027-02-01T08:00:00; the ledger says 2027-03-02T08:00:00.",
    ),
    "no arrival": (
        "update submitted_assignment set timestamp = null where student_id = 'amir'",
        "The gradebook says it arrived at no known time; the ledger says 2027-03-02T08:00:00.",
    ),
    "no grade": (
        f"delete from grade where {A2}",
        "The ledger has marks of A2, and the gradebook has no grade of it.",
    ),
    "no submission": (
        "update submitted_assignment set student_id = 'さくら' where student_id = 'amir'",
        "The ledger has marks, and the gradebook has no submission.",
    ),
    "none shown": (
        f"delete from trainkit_shown {SHOWN}",
        "The ledger has marks, and says of none that they are shown.",
    ),
    "somebody else's shown": (
        f"update trainkit_shown set entry = (select number from trainkit_entry where person != {PERSON}) {SHOWN}",
        "The ledger has marks, and says of none that they are shown.",
    ),
    "not in the ledger": (
        f"delete from trainkit_entry {SHOWN}",
        "The gradebook has marks, and the ledger has none.",
    ),
    "no mark": (
        f"delete from trainkit_mark where item = 'A2' and entry = {ENTRY}",
        "The gradebook has A2, and the ledger has no mark of it.",
    ),
    "another item": (
        f"update trainkit_mark set item = 'A9' where item = 'A2' and entry = {ENTRY}",
        "The ledger has marks of A9, and the gradebook lacks the item.",
    ),
}


@pytest.mark.parametrize("kind", DISAGREE)
def test_each_kind_of_disagreement_is_found_named_and_put_right_as_it_says(marked: Course, kind: str) -> None:
    statement, text = DISAGREE[kind]
    ((points,),) = asked(marked.gradebook, f"select auto_score from grade where {A2}")
    change(marked, statement)
    told = text.format(ledger=f"the ledger says {points:g} points.")
    assert ("refused", f"{MODULE} {FIRST}", f"{told} {AGAIN}") in said(marked)
    # The other one's marks are as they were.
    assert not [of for of in said(marked) if SECOND in of[1]]
    if kind in ("points", "no grade", "no arrival", "none shown"):
        assert mark(marked).ok
        assert compare(marked) == ()


def test_points_by_a_person_are_for_a_person_to_look_at(marked: Course) -> None:
    change(marked, f"update grade set manual_score = 0.5 where {A2}")
    ((severity, place, text),) = said(marked)
    assert (severity, place) == ("refused", f"{MODULE} {FIRST}")
    assert text == (
        "A2 has 0.5 points by a person in the gradebook; the ledger says no points. Look at it in formgrader. "
        "The next marking takes it over as it stands there."
    )


def test_of_two_entries_the_one_that_counts_is_shown(marked: Course, tmp_path: Path, assigned: Bench) -> None:
    folder = tmp_path / "homes" / FIRST / MODULE
    assigned.answer(folder, at=datetime(2027, 3, 3, 8, tzinfo=UTC))
    assigned.send(folder)
    assert collect(marked, clock=lambda: datetime(2027, 3, 4, 8, tzinfo=UTC)).ok
    assert mark(marked).ok
    assert compare(marked) == ()
    change(marked, f"update trainkit_shown set entry = 1 where person = {PERSON}")
    texts = [text for _, place, text in said(marked) if place == f"{MODULE} {FIRST}"]
    assert f"Entry 1 is shown, and by course.toml entry 3 counts. {AGAIN}" in texts


def test_a_module_that_the_gradebook_lost_is_named(marked: Course) -> None:
    change(marked, "update notebook set name = 'elsewhere'")
    assert said(marked) == [
        (
            "refused",
            MODULE,
            f"The ledger has marks of 2, and the gradebook lacks the module. Run: trainkit-course assign {MODULE}",
        )
    ]


def test_marks_of_somebody_who_never_handed_in_are_named(marked: Course) -> None:
    statements = (
        "insert into student (id) values ('さくら')",
        """insert into submitted_assignment (id, assignment_id, student_id)
            select 'x', assignment_id, 'さくら' from submitted_assignment where student_id = 'amir'""",
        f"""insert into submitted_notebook (id, assignment_id, notebook_id, flagged)
            select 'y', 'x', notebook_id, 0 from submitted_notebook where id = {NOTEBOOK_OF}""",
    )
    change(marked, *statements)
    assert compare(marked) == ()  # a submission without marks says nothing
    change(
        marked,
        f"""insert into grade (id, notebook_id, cell_id, auto_score, needs_manual_grade)
            values ('z', 'y', {CELL_OF}, 2, 0)""",
    )
    assert said(marked) == [
        ("refused", f"{MODULE} {THIRD}", f"The gradebook has marks, and the ledger has none. {AGAIN}")
    ]


def test_every_change_of_points_is_found(marked: Course) -> None:
    """Whatever grade of whomever is changed, by however little, it is named."""
    grades = asked(marked.gradebook, "select id, auto_score from grade")
    assert len(grades) == 6
    for grade, points in grades:
        change(marked, f"update grade set auto_score = {points + 1e-9!r} where id = '{grade}'")
        (found,) = compare(marked)
        assert found.severity == "refused"
        change(marked, f"update grade set auto_score = {points!r} where id = '{grade}'")
    assert compare(marked) == ()
