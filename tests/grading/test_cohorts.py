"""Cohorts: who gets a module when, until when it is due for whom, and what of it stands where."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from trainkit import modules, workbook
from trainkit.forms import Forms, person_digest
from trainkit_grading.course import cohorts
from trainkit_grading.course.folder import Course, CourseModule
from trainkit_grading.course.roster import Apprentice
from trainkit_grading.course.settings import Cohort
from trainkit_grading.errors import CourseError
from trainkit_grading.intake.collect import collect
from trainkit_grading.keeping.verify import prove, tell
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record import moves
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build
from trainkit_grading.reports.score_sheet import report
from trainkit_grading.results.results import gather

from .makers import (
    FIRST,
    MODULE,
    ON_BOTH,
    SECOND,
    THIRD,
    Bench,
    edited,
    formgrader,
    forms_in,
    give_out,
    ledger_of,
    penalised_by_nbgrader,
    set_to,
    tree,
)
from .packed import members_of

DAY = datetime(2027, 3, 1, 8, tzinfo=UTC)
AUTUMN_DUE, SPRING_DUE = DAY + timedelta(days=4), DAY + timedelta(days=30)
pytestmark = pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader")  # of nbgrader's own relations
COHORTS = f"""
[[cohorts]]
name = "autumn"
title = "Autumn intake"
due.{MODULE} = {AUTUMN_DUE.isoformat()}

[[cohorts]]
name = "spring"
opens.{MODULE} = {(DAY + timedelta(days=20)).isoformat()}
due.{MODULE} = {SPRING_DUE.isoformat()}
"""


def with_cohorts(course: Course, *, more: str = "", text: str = COHORTS) -> Course:
    """Put cohorts into ``course.toml``, and more lines into its one module."""
    name = f'name = "{MODULE}"\n'
    return edited(course, (name, f"{name}{more}\n"), ("[exchange]", f"{text}\n[exchange]"))


def write(course: Course, *lines: str) -> None:
    course.roster_file.write_text(
        "apprentice,name,cohort,joined,left,extra_percent\n" + "\n".join(lines) + "\n", "utf-8"
    )


def person(course: Course, name: str) -> Apprentice:
    found = course.roster().find(name)
    assert found is not None
    return found


def of_zip(course: Course, name: str) -> Forms:
    inside = members_of(course.zips / MODULE / f"{name}.zip")
    return Forms.model_validate_json(inside[f"{MODULE}/forms.json"], strict=False)


@pytest.fixture
def course(bench: Bench) -> Course:
    """Two cohorts with dates of their own, somebody with extra time in one, nothing built."""
    made = with_cohorts(bench.course, more=f"due = {(DAY + timedelta(days=10)).isoformat()}")
    write(made, f"{FIRST},Amir Shah,autumn,,,", f"{SECOND},Niamh O’Brien,autumn,,,25", f"{THIRD},山本 さくら,spring,,,")
    return made


# The rule, worked out by hand.


@pytest.mark.parametrize(
    ("opens", "due", "extra", "joined", "expected"),
    [
        # Ten days between opening and due, a quarter more.
        (DAY, DAY + timedelta(days=10), 25, None, DAY + timedelta(days=12, hours=12)),
        # Nothing says when it opens: a quarter of the 20 minutes of working time; a third of them, rounded up.
        (None, DAY, 25, None, DAY + timedelta(minutes=5)),
        (None, DAY, 33.3, None, DAY + timedelta(minutes=7)),
        (DAY, DAY + timedelta(minutes=31), 10, None, DAY + timedelta(minutes=35)),
        (None, None, 25, None, None),
        (None, DAY, 0, date(2027, 3, 1), DAY),
        (None, DAY, 0, date(2027, 3, 2), None),
    ],
)
def test_whose_due_date_it_is(
    bench: Bench,
    opens: datetime | None,
    due: datetime | None,
    extra: float,
    joined: date | None,
    expected: datetime | None,
) -> None:
    dates: dict[str, Any] = {name: when for name, when in (("opens", opens), ("due", due)) if when is not None}
    entry = CourseModule(name=MODULE, folder=f"modules/{MODULE}", **dates)
    somebody = Apprentice("a", "A", extra_percent=extra, joined=joined)
    assert cohorts.dates(bench.course, entry, somebody).due == expected


def test_a_cohort_goes_before_the_module_date_by_date(course: Course) -> None:
    entry = course.module(MODULE)
    own = DAY + timedelta(days=10)
    found = {name: cohorts.dates(course, entry, person(course, name)) for name in (FIRST, SECOND, THIRD)}
    assert found[FIRST] == cohorts.Dates(None, AUTUMN_DUE)
    assert found[SECOND] == cohorts.Dates(None, AUTUMN_DUE + timedelta(minutes=5))
    assert found[THIRD] == cohorts.Dates(DAY + timedelta(days=20), SPRING_DUE)
    assert cohorts.dates(course, entry, Apprentice("x", "X")) == cohorts.Dates(None, own)
    assert cohorts.common_due(course, entry) == own
    assert cohorts.last_due(course, entry) == SPRING_DUE


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[[cohorts]]\nname = "a"\n[[cohorts]]\nname = "a"', "twice"),
        ('[[cohorts]]\nname = "a"\nmodules = ["no-such"]', "no such module"),
        ('[[cohorts]]\nname = "a"\nopens.no-such = 2027-03-01T08:00:00Z', "no such module"),
        (f'[[cohorts]]\nname = "a"\ndue.{MODULE} = 2027-03-01T08:00:00', "zone"),
        (f'[[cohorts]]\nname = "a"\ndue.{MODULE} = "soon"', "zone"),
        (
            f'[[cohorts]]\nname = "a"\nopens.{MODULE} = 2027-03-02T08:00:00Z\ndue.{MODULE} = 2027-03-01T08:00:00Z',
            "before it opens",
        ),
        ('[[cohorts]]\nname = "A B"', "small letters"),
        ('[[cohorts]]\nname = "a"\ncolour = "red"', "no such setting"),
    ],
)
def test_cohorts_that_cannot_be_are_refused_with_the_rule(bench: Bench, text: str, says: str) -> None:
    with pytest.raises(CourseError, match=says):
        with_cohorts(bench.course, text=text)


def test_what_the_roster_says_of_a_person_and_what_is_wrong_with_it(course: Course) -> None:
    write(
        course,
        "a,A,autumn,2027-03-01,2027-06-01,25",
        "b,B,Spring,01.03.2027,,12,5",
        "c,C,winter,,,",
        "d,D,,01/03/2027,,",
        "e,E,,2027-03-01,2027-02-01,lots",
        'f,F,,,,"33,3 %"',
        "g,G",
    )
    roster = course.roster()
    known = {p.id: p for p in roster}
    assert known["a"] == Apprentice("a", "A", "autumn", date(2027, 3, 1), date(2027, 6, 1), 25.0)
    assert "b" not in known  # a decimal comma without quotation marks is one cell too many
    assert known["c"].cohort == ""
    assert (known["d"].joined, known["e"].left, known["e"].extra_percent) == (None, None, 0.0)
    assert known["f"].extra_percent == 33.3
    assert known["g"] == Apprentice("g", "G")
    told = " | ".join(f"{f.place}: {f.text}" for f in roster.findings)
    for words in ("line 3", "no such cohort", "line 5: d: '01/03/2027'", "before they come", "from 0 to 300"):
        assert words in told
    assert all(f.severity == "refused" for f in roster.findings)


# Giving out.


def test_a_module_goes_to_whom_it_is_open_for_and_later_to_the_others(course: Course) -> None:
    assert build(course, clock=lambda: DAY).ok
    first = assign(course, clock=lambda: DAY)
    assert first.ok
    assert any("opens for them 2027-03-21" in finding.text for finding in first.findings)
    assert {path.stem for path in (course.zips / MODULE).iterdir()} == {FIRST, SECOND}
    shared = forms_in(course.release / MODULE)
    assert set(shared.people) == {person_digest("saltmere", FIRST), person_digest("saltmere", SECOND)}
    before = tree(course.zips)
    second = assign(course, clock=lambda: DAY + timedelta(days=20))
    assert second.ok
    after = tree(course.zips)
    assert {path: after[path] for path in before} == before
    assert set(after) - set(before) == {f"{MODULE}/{THIRD}.zip"}
    assert of_zip(course, THIRD).due == SPRING_DUE.isoformat()


def test_before_it_opens_for_anybody_it_is_refused_to_whoever_names_it(bench: Bench) -> None:
    course = with_cohorts(bench.course, more=f"opens = {DAY.isoformat()}", text="")
    assert build(course).ok
    early = DAY - timedelta(minutes=1)
    named, whole = assign(course, [MODULE], clock=lambda: early), assign(course, clock=lambda: early)
    assert not named.ok
    assert whole.ok
    for outcome in (named, whole):
        assert "It opens 2027-03-01 08:00 UTC" in outcome.findings[0].text
    assert not course.release.exists()
    assert assign(course, [MODULE], clock=lambda: DAY).ok


def test_extra_time_stands_in_their_own_zip_and_in_nothing_that_others_can_read(course: Course, tmp_path: Path) -> None:
    give_out(course, DAY)
    own, other = of_zip(course, SECOND), of_zip(course, FIRST)
    code = own.forms[0].code
    assert own.due == (AUTUMN_DUE + timedelta(minutes=5)).isoformat()
    assert (own.extra_of(code), other.extra_of(other.forms[0].code)) == (25.0, 0.0)
    assert "extra" not in other.model_dump_json()
    shared = (course.release / MODULE / "forms.json").read_text("utf-8")
    said = Forms.model_validate_json(shared, strict=False)
    assert {said.due_of(form.code) for form in said.forms} == {AUTUMN_DUE.isoformat()}
    assert {dates["extra_percent"] for dates in json.loads(shared)["dates"].values()} == {0.0}
    assert said.extra_of(code) == 0.0
    # What the apprentice reads, from the very zip; one of trainkit's own modules lends itself.
    folder = Bench(course).unpack(SECOND, tmp_path)
    lent = modules.load("lock-pin")
    (folder / "forms.json").write_text(own.model_copy(update={"module": "lock-pin"}).model_dump_json(), "utf-8")
    book = workbook.Book(lent, folder)
    minutes = -(-lent.blueprint.minutes * 5 // 4)
    assert (
        f"You have extra time: 25\u2009%, {minutes} minutes in all. The due time has it in it." in book.summary().lines
    )
    assert book.objectives().lines == (f"It is meant to take about {minutes} minutes.",)


def test_whoever_has_left_gets_nothing_new_and_is_not_missing(assigned: Bench, tmp_path: Path) -> None:
    course = assigned.course
    assigned.hand_in(FIRST, tmp_path / "one", at=DAY)
    assert collect(course, clock=lambda: DAY + timedelta(days=1)).ok
    assert mark(course).ok
    gone = "2027-03-05"
    write(course, f"{FIRST},Amir Shah,,,{gone},", f"{SECOND},Niamh O’Brien,,,{gone},", f"{THIRD},山本 さくら,,,,")
    later = datetime(2027, 3, 6, tzinfo=UTC)
    before = tree(course.folder / "submitted")
    marked = mark(course, clock=lambda: later)
    assert marked.data["missing"] == {MODULE: [THIRD]}
    assert mark(course, clock=lambda: datetime(2027, 3, 4, tzinfo=UTC)).data["missing"] == {MODULE: [SECOND, THIRD]}
    collected = collect(course, clock=lambda: later)
    assert collected.data["missing"] == {MODULE: [THIRD]}
    assert any("1 of 2 have handed in" in line for line in collected.done)
    rows = {row.apprentice: row for row in gather(course, clock=lambda: later).rows}
    assert (rows[FIRST].state, rows[SECOND].state, rows[SECOND].expected) == ("handed in", "missing", False)
    assert report(course, clock=lambda: later).ok
    page = (course.report / "index.html").read_text("utf-8")
    assert "1 of 2" in page
    assert "· not asked" in page.partition("<tbody")[2]
    # A new attempt: no form for who has left, and what they handed in stays.
    again = set_to(course, attempt="2")
    give_out(again, later)
    forms = forms_in(again.release / MODULE)
    assert set(forms.people) == {person_digest("saltmere", THIRD)}
    assert tree(again.folder / "submitted") == before


def test_a_module_that_a_cohort_does_not_take_is_not_theirs(bench: Bench) -> None:
    more = '[[modules]]\nname = "lock-pin"\n\n[[cohorts]]\nname = "short"\nmodules = ["lock-pin"]\n'
    course = with_cohorts(bench.course, text=more)
    write(course, f"{FIRST},Amir Shah,short,,,", f"{SECOND},Niamh O’Brien,,,,")
    assert build(course, [MODULE]).ok
    assert assign(course, [MODULE]).ok
    assert {path.stem for path in (course.zips / MODULE).iterdir()} == {SECOND}
    rows = {row.apprentice: row.expected for row in gather(course).rows}
    assert rows == {FIRST: False, SECOND: True}


# Lateness: both ways, each by their own date.


def lateness(course: Course) -> dict[str, tuple[float, float]]:
    return {name: (row.seconds_late, row.penalty) for name, row in gradebook.read(course, MODULE).items()}


@pytest.fixture
def late(course: Course, tmp_path: Path) -> Course:
    """All three hand in at one moment, ten minutes after the first cohort is due; a day late costs ten per cent."""
    course = set_to(course, percent_a_day="10")
    moment = DAY + timedelta(days=21)
    give_out(course, DAY)
    assert assign(course, clock=lambda: moment).ok
    for name in (FIRST, SECOND, THIRD):
        Bench(course).hand_in(name, tmp_path / "homes" / name, at=DAY + timedelta(hours=1))
    collected = collect(course, clock=lambda: AUTUMN_DUE + timedelta(minutes=10))
    assert collected.ok
    told = {finding.place: finding.text for finding in collected.findings if "after it was due" in finding.text}
    assert told == {
        f"{FIRST} {MODULE}": "It arrived 10\u2009min after it was due.",
        f"{SECOND} {MODULE}": "It arrived 5\u2009min after it was due.",
    }
    return course


def test_nbgrader_and_trainkit_take_the_same_due_date_of_each(late: Course, tmp_path: Path) -> None:
    assert mark(late).ok
    theirs = penalised_by_nbgrader(late, tmp_path / "theirs")
    assert lateness(theirs) == lateness(late)
    found = {name: seconds for name, (seconds, _) in lateness(late).items()}
    assert found == {FIRST: 600.0, SECOND: 300.0, THIRD: 0.0}
    scores = {name: sum(g.score for g in row.grades.values()) for name, row in gradebook.read(late, MODULE).items()}
    for name, (seconds, penalty) in lateness(late).items():
        assert penalty == pytest.approx(scores[name] * (0.1 if seconds else 0.0), abs=0.0051)


def test_a_cohort_that_is_due_before_the_module_is_late_to_nbgrader_too(late: Course) -> None:
    """Their extension is a negative one: nbgrader's own code reads it."""
    assert mark(late).ok
    with formgrader(late) as book:
        found = {name: book.find_submission(MODULE, name).total_seconds_late for name in (FIRST, SECOND, THIRD)}
        granted = book.find_submission(MODULE, FIRST).extension
    assert found == {FIRST: 600.0, SECOND: 300.0, THIRD: 0.0}
    assert granted == AUTUMN_DUE - (DAY + timedelta(days=10))


def test_whoever_moves_keeps_what_they_have_and_the_new_dates_count(late: Course) -> None:
    assert mark(late).ok
    before = shown(late)
    write(late, f"{FIRST},Amir Shah,spring,,,", f"{SECOND},Niamh O’Brien,,,,25", f"{THIRD},山本 さくら,autumn,,,")
    moved = mark(late)
    assert any("cohort spring, before autumn" in finding.text for finding in moved.findings)
    # From spring's date on; the module's own with a quarter of twenty minutes more; and the first cohort's.
    assert {name: seconds for name, (seconds, _) in lateness(late).items()} == {FIRST: 0.0, SECOND: 0.0, THIRD: 600.0}
    assert shown(late) == before
    assert prove(late).ok
    told = tell(late, apprentice=FIRST).done
    assert [line.partition(": ")[2] for line in told if "cohort" in line] == [
        "amir: cohort autumn. Why: So says the roster.",
        "amir: cohort spring. Why: So says the roster.",
    ]
    with ledger_of(late) as ledger:
        history = moves.history(ledger)
    assert [place.cohort for _, place in history[THIRD]] == ["spring", "autumn"]
    # Marking again says nothing new.
    count = len(tell(late).done)
    assert mark(late).ok
    assert len(tell(late).done) == count


def shown(course: Course) -> dict[str, int]:
    with ledger_of(course) as ledger:
        return ledger.shown(MODULE)


def test_an_extension_that_a_person_grants_goes_before_the_dates(late: Course) -> None:
    assert mark(late).ok

    def grant(by: timedelta | None) -> None:
        with formgrader(late) as book:
            book.update_or_create_submission(MODULE, FIRST, extension=by)

    grant(timedelta(days=1))
    assert mark(late).ok
    assert lateness(late)[FIRST] == (0.0, 0.0)
    grant(None)
    assert mark(late).ok
    assert lateness(late)[FIRST][0] == 600.0
    # Past everybody who listens, too: it is taken over, as points are.
    with gradebook.opened(late, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        connection.exec_driver_sql("UPDATE submitted_assignment SET extension = NULL WHERE student_id = 'amir'")
    assert mark(late).ok
    assert any("Found in the gradebook" in line for line in tell(late, apprentice=FIRST).done)
    assert prove(late).ok


@ON_BOTH
def test_both_databases_keep_what_dates_differ_by(given_out: Bench, tmp_path: Path) -> None:
    course = with_cohorts(given_out.course, more=f"due = {(DAY + timedelta(days=10)).isoformat()}")
    write(course, f"{FIRST},Amir Shah,autumn,,,", f"{SECOND},Niamh O’Brien,,2027-03-20,,", f"{THIRD},山本 さくら,,,,")
    assert assign(course, clock=lambda: DAY).ok
    for name in (FIRST, SECOND, THIRD):
        Bench(course).hand_in(name, tmp_path / name, at=DAY)
    assert collect(course, clock=lambda: DAY + timedelta(days=11)).ok
    assert mark(course).ok
    seconds = {name: found for name, (found, _) in lateness(course).items()}
    assert seconds == {FIRST: 7 * 86_400.0, SECOND: 0.0, THIRD: 86_400.0}
    assert prove(course).ok


def test_whoever_joined_after_the_due_date_is_not_late(course: Course, tmp_path: Path) -> None:
    course = set_to(course, percent_a_day="10")
    write(course, f"{FIRST},Amir Shah,autumn,2027-03-08,,", f"{SECOND},Niamh O’Brien,,,,")
    give_out(course, DAY)
    assert of_zip(course, FIRST).due == ""
    for name in (FIRST, SECOND):
        Bench(course).hand_in(name, tmp_path / name, at=DAY)
    assert collect(course, clock=lambda: DAY + timedelta(days=12)).ok
    assert mark(course).ok
    assert {name: seconds for name, (seconds, _) in lateness(course).items()} == {FIRST: 0.0, SECOND: 2 * 86_400.0}


def test_a_course_without_cohorts_writes_what_it_always_wrote(assigned: Bench, tmp_path: Path) -> None:
    forms = (assigned.course.release / MODULE / "forms.json").read_text("utf-8")
    assert set(json.loads(forms)) == {
        *("format", "course", "module", "title", "pack", "pack_digest", "attempt", "due", "forms", "people")
    }
    assigned.hand_in(FIRST, tmp_path, at=DAY)
    assert collect(assigned.course, clock=lambda: DAY + timedelta(days=1)).ok
    assert mark(assigned.course).ok
    assert not any("cohort" in line or "extension" in line for line in tell(assigned.course).done)
    assert hash(Cohort(name="a", due={MODULE: DAY})) == hash(Cohort(name="a"))
