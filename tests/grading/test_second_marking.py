"""A second marker, appeals, decisions, and what is told to wait for a person."""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select, update

from trainkit_grading.course.folder import Course
from trainkit_grading.decisions import appeals
from trainkit_grading.decisions.double_marking.comparing import DIFFERS, compare
from trainkit_grading.decisions.double_marking.entering import enter, sample
from trainkit_grading.decisions.double_marking.sampling import draw, drawn, sizes
from trainkit_grading.decisions.pending import PendingDecision, pending_decisions
from trainkit_grading.errors import CourseError, SignOffError
from trainkit_grading.keeping import verify as proving
from trainkit_grading.ledger import details
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Entry, Note
from trainkit_grading.ledger.kinds import Appealed, Decided, Flagged, Marked, SecondDrawn, SecondJudged
from trainkit_grading.ledger.tables import ENTRY, PERSON
from trainkit_grading.ledger.verifying import verify
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record.manual_points import ManualPoints
from trainkit_grading.record.to_mark import ModuleToMark
from trainkit_grading.record.write import Recorder
from trainkit_grading.reports.status import status
from trainkit_grading.results import agreement
from trainkit_grading.results.results import gather
from trainkit_grading.signoff.observing import observe
from trainkit_grading.statistics import Estimate

from .ledgers import SEED, open_database, without_triggers
from .makers import FIRST, MODULE, ON_BOTH, SECOND, Bench, Run, entries, give, ledger_of
from .signing import item_sheet, second_marks, watched
from .test_observing import _handed_in, clock  # noqa: F401 - a fixture of the course that both are about

TEXT, WORK = "A2", "A3"
pytestmark = pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader")  # of nbgrader's own relations


@pytest.fixture
def course(_handed_in: Path, tmp_path: Path) -> Course:  # noqa: F811 - pytest takes it by this name
    """Marked: two texts with points of a person, one piece of practical work that was watched."""
    made = Course.load(shutil.copytree(_handed_in, tmp_path / "a course"))
    assert mark(made).ok
    give(made, TEXT, 2.0)
    give(made, TEXT, 0.0, SECOND)
    assert observe(made, watched(item_sheet(made), {2: "prompted"}, remark="Calm."), clock=clock).ok
    return made


def filled(course: Course, sheet: str, points: dict[tuple[str, str], str]) -> Path:
    return second_marks(course, sheet, lambda line: points.get((line.apprentice, line.item), ""))


def samples(course: Course) -> Any:
    with ledger_of(course) as ledger:
        return [each for _, each in drawn(ledger)]


def matters(course: Course) -> tuple[PendingDecision, ...]:
    with ledger_of(course) as ledger:
        return pending_decisions(ledger)


def test_sizes_follow_the_modules() -> None:
    for available in ({"a": 7, "b": 5, "c": 1}, {"a": 100, "b": 0}, {}):
        for count in range(1, 20):
            got = sizes(available, count, 0.0)
            assert sum(got.values()) == min(count, sum(available.values()))
            assert all(0 <= got[module] <= n for module, n in available.items())
            total = sum(available.values())
            assert all(abs(got[m] - min(count, total) * n / total) < 1 for m, n in available.items() if total)
    assert sizes({"a": 3, "b": 40}, 0, 10.0) == {"a": 1, "b": 4}


def test_a_sheet_tells_neither_name_nor_points(course: Course) -> None:
    outcome = sample(course, percent=100, seed=7)
    assert outcome.data["lines"] == 3
    (one,) = samples(course)
    page = (course.folder / "second" / f"{one.sheet}.html").read_text("utf-8")
    table = (course.folder / "second" / f"{one.sheet}.csv").read_text("utf-8-sig")
    for name in (FIRST, "Amir Shah", "Niamh", "P. Tidewell"):
        assert name not in page
        assert name not in table
    assert "Because it bears." in page
    assert "What is looked for" in page
    assert "stopped for safety" not in page  # what was not observed
    assert {row["points"] for row in csv.DictReader(io.StringIO(table))} == {""}
    # What was drawn is on record, and the same again is the same again.
    before = len(entries(course, Entry))
    assert sample(course, percent=100, seed=7).data["sheet"] == one.sheet
    assert len(entries(course, Entry)) == before
    with pytest.raises(SignOffError, match="no second marker has had yet"):
        sample(course, percent=100, seed=8)
    (entry,) = entries(course, SecondDrawn)
    assert FIRST not in details.text(entry)


@pytest.mark.parametrize("seed", range(4))
def test_part_of_them_is_drawn_by_the_seed(course: Course, seed: int) -> None:
    outcome = sample(course, count=2, seed=seed)
    assert outcome.data["lines"] == 2
    with ledger_of(course) as ledger:
        again, new = draw(ledger, course.seed(), [MODULE], seed, count=2)
        assert not new
        assert again == samples(course)[0]
        ledger.connection.rollback()


def test_what_the_second_marker_gave_and_who_decides(course: Course) -> None:
    (sheet,) = [sample(course, percent=100, seed=1).data["sheet"]]
    table = filled(course, sheet, {(FIRST, TEXT): "2", (SECOND, TEXT): "1,5", (FIRST, WORK): ""})
    outcome = enter(course, table, "M. Orrin")
    assert outcome.ok
    assert outcome.data["pairs"] == 2
    assert "too few" in outcome.data["kappa"]  # two pieces of work show nothing
    (waiting,) = outcome.data["waiting"]
    assert (waiting["first"], waiting["second"]) == (0.0, 1.5)
    assert abs(0.0 - 1.5) > DIFFERS * 2
    before = len(entries(course, Entry))
    assert enter(course, table, "M. Orrin").ok
    assert len(entries(course, Entry)) == before
    table = filled(course, sheet, {(FIRST, TEXT): "1"})
    assert not enter(course, table, "M. Orrin").ok
    assert enter(course, table, "M. Orrin", why="Misread.").ok
    (matter,) = [each for each in matters(course) if each.kind == "disagreement" and each.apprentice == SECOND]
    assert gradebook.read(course, MODULE)[SECOND].grades[TEXT].manual_score == 0.0
    assert appeals.decide(course, matter.entry, "settled", 1.0, "Between the two.").ok
    assert gradebook.read(course, MODULE)[SECOND].grades[TEXT].manual_score == 1.0
    assert not [each for each in matters(course) if each.kind == "disagreement" and each.apprentice == SECOND]
    assert not agreement.compare(course)
    assert mark(course).ok
    assert gradebook.read(course, MODULE)[SECOND].grades[TEXT].manual_score == 1.0


@pytest.mark.parametrize(("said", "rule"), [("3", "from 0 to 2"), ("much", "from 0 to 2"), ("-1", "from 0 to 2")])
def test_a_line_that_cannot_be_costs_no_other(course: Course, said: str, rule: str) -> None:
    sheet = sample(course, percent=100, seed=1).data["sheet"]
    outcome = enter(course, filled(course, sheet, {(FIRST, TEXT): "2", (SECOND, TEXT): said}), "M. Orrin")
    assert [rule in finding.text for finding in outcome.findings if finding.severity == "refused"] == [True]
    assert outcome.data["pairs"] == 1


def test_a_table_that_is_none_is_refused(course: Course, tmp_path: Path) -> None:
    other = tmp_path / "other.csv"
    other.write_text("a,b\n1,2\n", "utf-8")
    with pytest.raises(SignOffError, match="names the columns"):
        enter(course, other, "M. Orrin")
    with pytest.raises(SignOffError, match="cannot be read"):
        enter(course, tmp_path / "none.csv", "M. Orrin")
    with pytest.raises(SignOffError, match="1 to 80 characters"):
        enter(course, other, " ")
    for count, percent in ((0, 0.0), (3, 5.0)):
        with pytest.raises(SignOffError, match="a number of marks, or a part"):
            sample(course, count=count, percent=percent)


def test_kappa_is_that_of_the_statistics_over_what_the_ledger_says(where_many: Many) -> None:
    ledger, expected = where_many
    found = compare(ledger)
    levels = [("all" if f == 4 else "none" if f == 0 else "part") for f, _ in expected]
    others = [("all" if s == 4 else "none" if s == 0 else "part") for _, s in expected]
    assert len(found.pairs) == len(expected)
    # Cohen 1968, worked out from the table alone.
    scale = {"none": 0, "part": 1, "all": 2}
    n = len(levels)

    def weight(one: str, other: str) -> float:
        return 1 - abs(scale[one] - scale[other]) / 2

    observed = sum(map(weight, levels, others)) / n
    expected_share = sum(weight(one, other) for one in levels for other in others) / n**2
    assert isinstance(found.kappa, Estimate)
    assert found.kappa.value == pytest.approx((observed - expected_share) / (1 - expected_share))
    assert found.kappa.n == n
    assert found.kappa.interval is not None
    assert {(pair.first, pair.second) for pair in found.waiting} == {(f, s) for f, s in expected if abs(f - s) > 1}


Many = tuple[Ledger, list[tuple[float, float]]]


@pytest.fixture
def where_many(tmp_path: Path) -> Iterator[Many]:
    given = [(float(n % 5), float((n * 7 + n // 5) % 5)) for n in range(40)]
    with open_database(f"sqlite:///{tmp_path / 'many.db'}") as connection:
        ledger = Ledger(connection, SEED)
        told: dict[str, Any] = {"sheet": "X", "item": TEXT, "most": 4.0, "marker": "M"}
        pairs = [
            SecondJudged(f"a{n}", MODULE, 1, line=n, first=first, second=second, **told)
            for n, (first, second) in enumerate(given)
        ]
        ledger.add(pairs)
        yield ledger, given
        connection.rollback()


def test_an_appeal_from_beginning_to_end(course: Course, command: Run) -> None:
    words = ["appeal", SECOND, MODULE, TEXT, "--why", "I named the flank.", "--course", course.folder]
    for told in ("recorded", "stands in the ledger already"):
        said = command(*words)
        assert told in said.stdout
    with pytest.raises(SignOffError, match="open already"):
        appeals.appeal(course, SECOND, MODULE, TEXT, "Something else.")
    (open_,) = [each for each in matters(course) if each.kind == "appeal"]
    assert "Appeal: I named the flank." in command("ledger", "--open", "--course", course.folder).stdout
    stands = status(course)
    assert [each["kind"] for each in stands.data["matters"]] == ["appeal"]
    assert any("ledger --open" in finding.text for finding in stands.findings)
    assert open_.text == "Appeal: I named the flank."
    number = str(open_.entry)
    words = ["decide", number, "--outcome", "upheld", "--why", "It does.", "--course", course.folder]
    refused = command(*words, status=1)
    assert "Say how many with --points" in refused.stdout
    for _ in range(2):
        command(*words, "--points", "1.5")
    assert len(entries(course, Decided)) == 1
    assert gradebook.read(course, MODULE)[SECOND].grades[TEXT].manual_score == 1.5
    assert not agreement.compare(course)
    # Whoever gave the points decided, too: it is flagged, and can be settled by another.
    kinds = {each.kind: each for each in matters(course)}
    assert "appeal" not in kinds
    assert appeals.decide(course, kinds["same person"].entry, "settled", why="One instructor only.").ok
    assert "same person" not in {each.kind for each in matters(course)}
    lines = proving.tell(course, apprentice=SECOND).done
    assert any("appeal; 0 points stood. Why: I named the flank." in line for line in lines)
    assert any(f"entry {number} upheld, 1.5 points." in line for line in lines)


def test_what_cannot_be_decided_is_refused(course: Course) -> None:
    assert appeals.appeal(course, FIRST, MODULE, why="All of it.").ok
    number = entries(course, Appealed)[0].number
    for what, rule in (
        ({"number": 9999}, "are decided"),
        ({"outcome": "settled"}, "upheld or rejected"),
        ({"points": 1.0}, "for one item"),
        ({"why": " "}, "1 to 2000"),
    ):
        with pytest.raises(SignOffError, match=rule):
            appeals.decide(course, **{"number": number, "outcome": "upheld", "why": "So.", **what})  # type: ignore[arg-type] # a case each
    assert not entries(course, Decided)
    for name, module, item in (("nobody", MODULE, ""), (FIRST, "elsewhere", ""), (FIRST, MODULE, "A9")):
        with pytest.raises(CourseError):
            appeals.appeal(course, name, module, item, "Why.")
    (text,) = [each for each in entries(course, Appealed) if each.item == ""]
    with pytest.raises(SignOffError, match="has 0 to"):
        _appeal_and_give(course, 99.0)
    assert text.attempt == 1
    # Nothing of a decision that could not be given is left behind.
    assert not entries(course, Decided)


def _appeal_and_give(course: Course, points: float) -> None:
    appeals.appeal(course, FIRST, MODULE, TEXT, "More.")
    appeals.decide(course, entries(course, Appealed)[-1].number, "upheld", points, "So.")


def test_everything_that_waits_is_told_until_it_is_decided(course: Course) -> None:
    give(course, "A1", 1.0)
    kinds = [each.kind for each in matters(course)]
    assert kinds == ["override", "observation"]
    override = matters(course)[0]
    assert (override.apprentice, override.item) == (FIRST, "A1")
    assert matters(course)[1].apprentice == SECOND
    assert appeals.decide(course, override.entry, "settled", why="The picture was torn.").ok
    give(course, "A1", 0.5)  # something new was said after it
    assert [each.kind for each in matters(course)] == ["override", "observation"]
    with ledger_of(course, "BEGIN IMMEDIATE") as ledger:
        number = ledger.shown(MODULE)[SECOND]
        journal = ledger.read(Marked, [number])[number].journal
        ledger.add([Flagged(SECOND, MODULE, 1, journal=journal, notes=(Note("shared", "One history."),))])
    (flag,) = [each for each in matters(course) if each.kind == "flag"]
    assert flag.text == "One history."
    assert appeals.decide(course, flag.entry, "settled", why="They sat at one desk.").ok
    assert not [each for each in matters(course) if each.kind == "flag"]
    assert gather(course).of(FIRST, MODULE).overridden


def test_whoever_is_forgotten_waits_no_more(course: Course) -> None:
    sheet = sample(course, percent=100, seed=1).data["sheet"]
    assert enter(course, filled(course, sheet, {(SECOND, TEXT): "2"}), "M. Orrin").ok
    assert appeals.appeal(course, SECOND, MODULE, TEXT, "Niamh asks.").ok
    with ledger_of(course, "BEGIN IMMEDIATE") as ledger:
        ledger.connection.execute(PERSON.delete().where(PERSON.c.apprentice == SECOND))
        assert SECOND not in {matter.apprentice for matter in pending_decisions(ledger)}
        assert {line.apprentice for _, each in drawn(ledger) for line in each.lines} == {FIRST, ""}
        assert verify(ledger.connection, course.seed()).faults == ()
    assert sample(course, percent=100, seed=1).data["sheet"] == sheet  # written again without them


@ON_BOTH
def test_on_both_databases_and_against_tampering(given_out: Bench, tmp_path: Path) -> None:
    course = given_out.take_in(tmp_path, FIRST)
    assert mark(course).ok
    other = course
    if course.database:
        other = Course.load(shutil.copytree(course.folder, tmp_path / "of a colleague"))
    assert appeals.appeal(course, FIRST, MODULE, "A2", "Look again.").ok
    assert "stands in the ledger already" in appeals.appeal(other, FIRST, MODULE, "A2", "Look again.").done[0]
    number = entries(course, Appealed)[0].number
    assert appeals.decide(other, number, "upheld", 1.25, "It is right.").ok
    assert gradebook.read(course, MODULE)[FIRST].grades["A2"].manual_score == 1.25
    assert not agreement.compare(course)
    assert [each.kind for each in matters(course) if each.kind == "appeal"] == []
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.connect() as connection:
        without_triggers(connection)
        for kind, old, new in (("decided", "upheld", "rejected"), ("appealed", '"A2"', '"A1"')):
            text = connection.execute(select(ENTRY.c.detail).where(ENTRY.c.kind == kind)).scalar_one()
            point = connection.begin_nested()
            connection.execute(update(ENTRY).where(ENTRY.c.kind == kind).values(detail=text.replace(old, new)))
            assert verify(connection, course.seed()).faults
            point.rollback()
        connection.rollback()


def test_points_cannot_be_given_for_what_was_not_marked(course: Course) -> None:
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        recorder = Recorder(connection, ModuleToMark.of(course, MODULE))
        with pytest.raises(CourseError, match="an item that was marked"):
            recorder.give([ManualPoints(FIRST, 1, "A9", 1.0, "Why.", 1)])
