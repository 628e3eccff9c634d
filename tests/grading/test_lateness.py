"""What arriving late costs: by the course's rule, and the same by nbgrader's own hand."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainkit_grading.course.folder import Course
from trainkit_grading.course.settings import Lateness
from trainkit_grading.intake.collect import collect
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import gradebook, steps
from trainkit_grading.nbgrader_bridge.config import LATENESS

from .makers import FIRST, MODULE, SECOND, THIRD, Bench, give, penalised_by_nbgrader, set_to, still

DUE = datetime(2027, 3, 1, 12, tzinfo=UTC)
# Who arrives how long after that: in time, within the grace, and in the third day.
LATE = {FIRST: timedelta(0), SECOND: timedelta(minutes=4, seconds=59), THIRD: timedelta(days=2, minutes=6)}
pytestmark = pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader")  # of nbgrader's own relations


@pytest.fixture
def course(assigned: Bench, tmp_path: Path) -> Course:
    """Three people have handed in, early or late, in a course that takes off 7.5 per cent a day after 5 minutes."""
    with gradebook.opened(assigned.course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        connection.exec_driver_sql("UPDATE assignment SET duedate = ?", (str(DUE.replace(tzinfo=None)),))
    for person, late in LATE.items():
        assigned.hand_in(person, tmp_path / "homes" / person, at=DUE - timedelta(hours=1))
        assert collect(assigned.course, clock=still(DUE + late)).ok
    return set_to(assigned.course, percent_a_day="7.5", grace_minutes="5")


def penalties(course: Course) -> dict[str, tuple[float, float, float]]:
    return {
        name: (sum(grade.score for grade in row.grades.values()), row.penalty, row.seconds_late)
        for name, row in gradebook.read(course, MODULE).items()
    }


def test_only_a_course_that_takes_something_off_tells_nbgrader(assigned: Bench) -> None:
    assert "plugin_class" not in steps.configuration(assigned.course).AssignLatePenalties
    course = set_to(assigned.course, percent_a_day="10")
    assert steps.configuration(course).AssignLatePenalties.plugin_class == LATENESS


def test_nbgrader_takes_off_the_same(course: Course, tmp_path: Path) -> None:
    assert mark(course).ok
    for person in LATE:
        give(course, "A1", 0.7, person)
    theirs = penalised_by_nbgrader(course, tmp_path / "theirs")
    assert mark(course).ok
    assert penalties(theirs) == penalties(course)
    ours = penalties(course)
    assert [ours[person][1] for person in (FIRST, SECOND)] == [0.0, 0.0]
    score, penalty, seconds = ours[THIRD]
    assert seconds == LATE[THIRD].total_seconds()
    # Three days begun, at 7.5 per cent each, of a score that holds what a person gave.
    assert score >= 0.7
    assert penalty == pytest.approx(0.225 * score, abs=0.005)


def test_a_rule_that_is_taken_back_gives_back_what_it_took(course: Course) -> None:
    assert mark(course).ok
    for person in LATE:
        give(course, "A1", 1.0, person)
    assert mark(course).ok
    assert penalties(course)[THIRD][1] > 0
    assert mark(set_to(course, percent_a_day="0")).ok
    assert {penalty for _, penalty, _ in penalties(course).values()} == {0.0}


def test_a_rule_of_the_instructors_own_goes_before_the_courses(course: Course) -> None:
    with course.nbgrader_config.open("a", encoding="utf-8") as stream:
        stream.write('c.AssignLatePenalties.plugin_class = "nbgrader.plugins.LateSubmissionPlugin"\n')
        stream.write('c.LateSubmissionPlugin.penalty_method = "zero"\n')
    assert mark(course).ok
    score, penalty, _ = penalties(course)[THIRD]
    assert penalty == score


@given(
    points=st.floats(0, 100, allow_subnormal=False),
    seconds=st.floats(0, 40 * 86_400, allow_subnormal=False),
    rule=st.builds(
        Lateness, percent_a_day=st.floats(0, 100), at_most_percent=st.floats(0, 100), grace_minutes=st.floats(0, 10_080)
    ),
)
def test_a_penalty_never_takes_more_than_there_is(points: float, seconds: float, rule: Lateness) -> None:
    penalty = rule.penalty(points, seconds)
    assert 0 <= penalty <= points
    assert penalty <= points * rule.at_most_percent / 100 + 0.005
    # Another way to the same number: days are counted one by one.
    after, days = seconds - rule.grace_minutes * 60, 0
    while days * 86_400 < after:
        days += 1
    assert math.isclose(
        penalty, min(points * min(rule.percent_a_day * days, rule.at_most_percent) / 100, points), abs_tol=0.0051
    )
    # Later is never cheaper.
    assert rule.penalty(points, seconds + 86_400) >= penalty
