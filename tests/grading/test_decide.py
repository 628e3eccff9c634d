"""What is to be written is decided from values alone: no course, no database."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainkit_grading.course.settings import Attempts
from trainkit_grading.errors import LedgerError
from trainkit_grading.ledger.book import PointsByHand, Standing
from trainkit_grading.ledger.closing import Closing
from trainkit_grading.ledger.entries import MarkRow
from trainkit_grading.ledger.extending import Extension
from trainkit_grading.ledger.kinds import Changed, Held, Marked, Moved, OnPaper, Voided
from trainkit_grading.record import decide
from trainkit_grading.record.decide import Due, Stands
from trainkit_grading.record.manual_points import ManualPoints

TEXT = MarkRow("A2", "t/t", "text", '{"text":"So."}', "", 0.0, 3.0, "waiting", "A person marks this.")
FIRST = Marked(
    "amir",
    "m",
    1,
    "F",
    "j" * 64,
    "2027-03-02T08:00:00",
    marks=(MarkRow("A1", "t/c", "choice", '{"option":"a"}', "", 1.0, 2.0, "part", "Nearly."), TEXT),
)
NOTHING = Due(None, Extension(), None, True)


def stands(*entries: Marked, **more: Any) -> Stands:
    """Return what stands where these marks do, the last of them shown."""
    numbered = {number: replace(entry, number=number) for number, entry in enumerate(entries, start=1)}
    names = [field.name for field in fields(Standing)]
    standing = {
        (of.apprentice, of.attempt): Standing(**{name: getattr(of, name) for name in names}) for of in numbered.values()
    }
    shown = {of.apprentice: of.number for of in numbered.values()}
    empty = Stands("m", Attempts(allowed=3), standing, numbered, shown, {}, {}, {"amir": NOTHING})
    return replace(empty, **more)


def test_what_is_new_is_written_and_what_stands_is_not() -> None:
    made = decide.marks(stands(), [FIRST])
    assert (made.entries, made.counted, made.findings) == ((FIRST,), {"amir": FIRST}, ())
    (shown,) = made.submissions
    assert (shown.points, shown.queued) == ({"A1": 1.0, "A2": None}, frozenset({"A2"}))
    again = decide.marks(stands(FIRST), [FIRST])
    assert (again.entries, again.counted["amir"].number) == ((), 1)


def test_other_marks_of_the_same_answers_need_a_reason() -> None:
    other = replace(FIRST, marks=(replace(FIRST.marks[0], points=2.0), TEXT))
    refused = decide.marks(stands(FIRST), [other])
    assert (refused.entries, [finding.severity for finding in refused.findings]) == ((), ["refused"])
    (made,) = decide.marks(stands(FIRST), [other], "The key was wrong.").entries
    assert (made.why, made.points) == ("The key was wrong.", 2.0)


def test_what_arrived_before_does_not_undo_what_stands() -> None:
    older = replace(FIRST, journal="k" * 64, arrived="2027-03-01T08:00:00")
    made = decide.marks(stands(FIRST), [older])
    assert (made.entries, [finding.severity for finding in made.findings]) == ((), ["warning"])


def test_points_for_a_text_that_is_another_now_are_taken_back() -> None:
    judged = {("amir", 1): {"A2": PointsByHand(2.5, TEXT.answer, 7)}}
    standing = stands(FIRST, judged=judged, by_hand={"amir": {"A2": 2.5}})
    assert decide.marks(standing, [FIRST]).submissions[0].judged == {"A2": 2.5}
    newer = replace(FIRST, journal="k" * 64, marks=(FIRST.marks[0], replace(TEXT, response='{"text":"No."}')))
    made = decide.marks(replace(standing, continued={("amir", 1)}), [newer])
    assert [type(entry) for entry in made.entries] == [Marked, Voided]
    assert made.submissions[0].judged == {}
    assert judged["amir", 1]["A2"].points == 2.5  # what stands is left as it was


def test_points_found_in_the_gradebook_are_taken_over_first() -> None:
    given = ManualPoints("amir", 1, "A1", 2.0, "Observed.", 9, False)
    made = decide.given(stands(FIRST, by_hand={"amir": {"A2": 1.0}}), [given])
    assert [(type(of), of.item, of.after, of.entry) for of in made.entries if isinstance(of, Changed)] == [
        (Changed, "A2", 1.0, None),
        (Changed, "A1", 2.0, 9),
    ]
    assert made.submissions[0].judged == {"A1": 2.0, "A2": 1.0}
    with pytest.raises(LedgerError, match="A9"):
        decide.given(stands(FIRST), [replace(given, item="A9")])


def test_due_dates_follow_the_course_until_a_person_sets_one() -> None:
    hour = timedelta(hours=1)
    moved = (Moved("amir", cohort="late"),)
    made = decide.marks(stands(due={"amir": Due(None, Extension(), hour, True)}, moved=moved), [FIRST])
    assert made.extensions == {"amir": hour}
    assert [type(entry) for entry in made.entries] == [Marked, Moved, Changed]
    by_hand = decide.marks(stands(FIRST, due={"amir": Due(2 * hour, Extension(), hour, True)}), [FIRST])
    assert by_hand.extensions == {}
    assert [entry.by for entry in by_hand.entries] == ["unknown"]


# ---- later hand-ins

HOURS = [f"2027-03-{day:02}T{hour:02}:00:00" for day in (2, 3) for hour in range(24)]
LATER = st.builds(
    lambda journal, arrived, points: replace(
        FIRST, journal=journal * 64, arrived=arrived, marks=(replace(FIRST.marks[0], points=points), TEXT)
    ),
    st.sampled_from("jkl"),
    st.sampled_from(["", *HOURS]),
    st.sampled_from([0.0, 0.5, 1.0, 2.0]),
)
MOMENT = st.sampled_from(["", *HOURS])


def after(standing: Stands, made: decide.ToWrite) -> Stands:
    """Return what stands once this is written, and what waits."""
    marked = [entry for entry in made.entries if isinstance(entry, Marked)]
    held = {(of.apprentice, of.attempt, of.journal): False for of in made.entries if isinstance(of, Held)}
    known = [*standing.entries.values(), *marked]
    return replace(standing, **vars_of(stands(*known)), held={**standing.held, **held})


def vars_of(standing: Stands) -> dict[str, Any]:
    return {name: getattr(standing, name) for name in ("standing", "entries", "shown")}


@given(later=LATER, closed=MOMENT, spent=MOMENT, grown=st.booleans())
def test_what_takes_the_place_of_marks_is_in_time_grown_and_no_worse(
    later: Marked, closed: str, spent: str, grown: bool
) -> None:
    standing = stands(
        FIRST,
        closings={("amir", 1): Closing(closed, spent)} if closed or spent else {},
        continued={("amir", 1)} if grown else (),
    )
    made = decide.marks(standing, [later], "Because.")
    counted = made.counted["amir"]
    if later.journal == FIRST.journal:
        assert counted.points == later.points  # the same answers were marked before; nothing closes on them
        return
    if counted.journal == later.journal:
        assert grown
        assert later.points >= FIRST.points
        assert all(not moment or (later.arrived and later.arrived <= moment) for moment in (closed, spent))
        assert not [entry for entry in made.entries if isinstance(entry, Held)]
    else:
        assert (counted.number, counted.points) == (1, FIRST.points)
        assert not [entry for entry in made.entries if isinstance(entry, Marked)]
        # What arrived before the marks that stand is told of, and is no later hand-in.
        held = [entry for entry in made.entries if isinstance(entry, Held)]
        earlier = bool(later.arrived) and later.arrived < FIRST.arrived
        assert len(held) == (not earlier)
        assert len(made.findings) == 1


@given(hand_ins=st.lists(LATER, max_size=6), closed=MOMENT, grown=st.booleans())
def test_marks_never_fall_and_nothing_is_said_twice_without_a_person(
    hand_ins: list[Marked], closed: str, grown: bool
) -> None:
    standing = stands(
        FIRST,
        closings={("amir", 1): Closing(closed)} if closed else {},
        continued={("amir", 1)} if grown else (),
    )
    best = FIRST.points
    for later in hand_ins:
        made = decide.marks(standing, [later])
        assert made.counted["amir"].points >= best
        best = made.counted["amir"].points
        standing = after(standing, made)
        assert decide.marks(standing, [later]).entries == ()


@given(later=LATER, closed=MOMENT, grown=st.booleans(), counts=st.booleans())
def test_a_decision_goes_before_every_reason(later: Marked, closed: str, grown: bool, counts: bool) -> None:
    later = replace(later, journal="k" * 64, arrived=later.arrived or HOURS[-1])
    standing = stands(
        FIRST,
        closings={("amir", 1): Closing(closed)} if closed else {},
        continued={("amir", 1)} if grown else (),
        held={("amir", 1, later.journal): counts},
    )
    made = decide.marks(standing, [later])
    newer = later.arrived >= FIRST.arrived
    assert (made.counted["amir"].journal == later.journal) == (counts and newer)
    assert not [entry for entry in made.entries if isinstance(entry, Held)]


def test_a_sheet_that_is_typed_again_is_no_later_hand_in() -> None:
    paper = replace(FIRST, paper=OnPaper(("P", "M"), ("a", "b")))
    typed_again = replace(paper, journal="k" * 64, marks=(replace(FIRST.marks[0], points=0.0), TEXT))
    assert decide.marks(stands(paper), [typed_again]).counted["amir"].points == 0.0
    assert decide.marks(stands(FIRST), [typed_again]).counted["amir"].points == 1.0
