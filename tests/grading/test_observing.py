"""Practical sign-off: what an observation shows, how it stands in the ledger, and the points that follow from it."""

from __future__ import annotations

import itertools
import shutil
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import nbformat
import pytest
from sqlalchemy import select, update

from trainkit import packs
from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError, SignOffError
from trainkit_grading.keeping import verify as proving
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.ledger.kinds import Changed, Observed
from trainkit_grading.ledger.tables import ENTRY, NOTE, PERSON
from trainkit_grading.ledger.verifying import verify
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.reports.feedback.page import Pages
from trainkit_grading.results import agreement
from trainkit_grading.results.results import gather
from trainkit_grading.signoff.checklists import (
    OUTCOMES,
    Checklist,
    CheckStep,
    find_checklist,
    of_pack,
    stated_cautions,
    tick_text,
)
from trainkit_grading.signoff.judging import PROMPTED_AT_MOST, RULES, ObservedStep, judge
from trainkit_grading.signoff.making import html_text, make_checklists
from trainkit_grading.signoff.observations import sign_offs
from trainkit_grading.signoff.observing import observe, observe_all, ticked
from trainkit_grading.signoff.sittings import observations
from trainkit_grading.signoff.tablet import Watching

from .ledgers import without_triggers
from .makers import (
    FIRST,
    MODULE,
    ON_BOTH,
    SECOND,
    Bench,
    Run,
    entries,
    form_of,
    found,
    give,
    grades_of,
    ledger_of,
    module_toml,
    nbgrader,
    writing,
)
from .signing import AT, item_sheet, pack_sheet, watched

ITEM = "A3"
LATER = datetime(2027, 6, 1, tzinfo=UTC)


def clock() -> datetime:
    return LATER


@pytest.fixture(scope="module")
def _handed_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A course whose module asks for an order, a text and practical work, handed in by two and not marked."""
    home = tmp_path_factory.mktemp("watched")
    made = found(home / "a course")
    text = module_toml(("sequence/put-in-order", "capstone/explain-why", "capstone/observed-work"))
    made.write_module(text.replace('observed-work"\n', 'observed-work"\ncritical = true\n'))
    made.give_out()
    for person in (FIRST, SECOND):
        made.hand_in(person, home / person, how=writing("Because it bears."))
    return made.collect().folder


@pytest.fixture
def course(_handed_in: Path, tmp_path: Path) -> Course:
    return Course.load(shutil.copytree(_handed_in, tmp_path / "a course"))


def signed(course: Course, scope: str, person: str = FIRST) -> Any:
    with ledger_of(course) as ledger:
        return sign_offs(ledger)[person, scope]


def points(course: Course, person: str = FIRST) -> float | None:
    return grades_of(course, person)[ITEM].manual_score


# A second way to the verdict: the rules asked of counts, not of lists.
def second_way(steps: list[ObservedStep]) -> str:
    count = {(c, o): sum(s.critical == c and s.outcome == o for s in steps) for c in (True, False) for o in OUTCOMES}
    if count[True, "stopped for safety"] + count[False, "stopped for safety"]:
        return "S"
    if count[True, "not done"]:
        return "C"
    if count[True, "prompted"]:
        return "P"
    if count[False, "not done"]:
        return "N"
    others = sum(not step.critical for step in steps)
    return "Q" if count[False, "prompted"] > PROMPTED_AT_MOST * others else "K"


def test_every_verdict_has_its_written_rule() -> None:
    critical = (True, False, True, False, False)
    seen = set()
    for outcomes in itertools.product(OUTCOMES, repeat=5):
        steps = [ObservedStep(str(n), f"Step {n}", critical[n], outcome) for n, outcome in enumerate(outcomes)]
        got = judge(steps)
        assert got.code == second_way(steps)
        assert got.competent == (got.code == "K")
        assert got.rule == RULES[got.code]
        assert bool(got.steps) != got.competent
        seen.add(got.code)
    assert seen == set(RULES)


def test_a_prompt_is_made_up_for_and_a_stop_is_not() -> None:
    def step(outcome: str, critical: bool = True, name: str = "a") -> ObservedStep:
        return ObservedStep(name, "Lock out", critical, outcome)

    done = step("unprompted", critical=False, name="b")
    assert judge([step("prompted"), done], [step("unprompted")]).code == "K"
    assert judge([step("prompted"), done], [step("prompted")]).code == "P"
    assert judge([step("prompted"), done], [step("unprompted"), step("prompted")]).code == "P"
    assert judge([step("not done"), done], [step("unprompted")]).code == "C"
    assert judge([step("stopped for safety"), done], [step("unprompted")]).code == "S"
    assert judge([step("unprompted"), done], [step("stopped for safety")]).code == "S"


def test_what_is_ticked_is_read_strictly() -> None:
    assert ticked("1-2 u, 3 prompted; 4 n,5 s", 5) == dict(enumerate(("unprompted",) * 2 + OUTCOMES[1:], start=1))
    for wrong in ("1 x", "u", "1 u, 1 p", "one u", "1-2"):
        with pytest.raises(SignOffError):
            ticked(wrong, 3)


def test_the_sheet_of_a_pack_can_be_done_in_its_order_and_says_every_step() -> None:
    pack = packs.load("dunlin")
    from trainkit_grading.course.seeds import Seed

    for configuration in ("", *(each.id for each in pack.configurations)):
        sheet = of_pack(pack, Seed(bytes(32)), "saltmere", configuration)
        ticks = [step.id for step in sheet.steps if step.id.startswith("cautions-")]
        assert [step.id for step in sheet.steps[: len(ticks)]] == ticks, "each caution is ticked before the first step"
        assert [step.text for step in sheet.steps[: len(ticks)]] == [tick_text(c.title) for c in pack.cautions]
        names = [step.id for step in sheet.steps[len(ticks) :]]
        assert sorted(names) == sorted(step.id for step in pack.steps_of(configuration))
        assert not pack.procedure(configuration).judge(names).broken
        assert {s.id for s in sheet.steps if s.critical} == {*ticks, *(n for n in names if pack.step(n).critical)}
        assert Checklist.from_text(sheet.to_text(), "x") == sheet


@pytest.mark.parametrize("first", ["observed first", "marked first"])
@pytest.mark.parametrize("of", ["item", "pack"])
def test_one_observation_serves_the_item_too(course: Course, first: str, of: str) -> None:
    """It does not matter which is there first, nor which of the two sheets was used."""
    sheet = item_sheet(course)
    item = form_item(course)
    ticks = len(sheet.cautions)
    assert [step.text for step in sheet.steps[ticks:]] == [step.text for step in item.steps[1:]]
    assert [step.text for step in sheet.steps[:ticks]] == [tick_text(title) for title, _ in stated_cautions(item)]
    changes = {ticks + 1: "prompted"}
    if of == "pack":
        configuration = next(c for c in ("", *(c.id for c in packs.load("dunlin").configurations)) if covers(course, c))
        sheet = pack_sheet(course, configuration)
        number = next(n for n, step in enumerate(sheet.steps, 1) if step.text == item.steps[1].text)
        changes = {number: "prompted"}
    if first == "marked first":
        assert mark(course).ok
        assert points(course) is None
    assert observe(course, watched(sheet, changes), clock=clock).ok
    assert mark(course).ok
    share = (len(item.steps) - 0.5) / len(item.steps)
    assert points(course) == pytest.approx(3 * share, abs=0.01)
    assert points(course, SECOND) is None
    assert not agreement.compare(course)
    (given,) = entries(course, Changed)
    assert (given.item, given.entry) == (ITEM, entries(course, Observed)[0].number)
    before = len(entries(course, Entry))
    assert mark(course).ok
    assert observe(course, watched(sheet, changes), clock=clock).ok
    assert len(entries(course, Entry)) == before


def test_one_caution_left_out_bars_a_pass(course: Course) -> None:
    """The item has one step for all cautions; the worst of the sheet's ticks stands for it."""
    assert mark(course).ok
    assert observe(course, watched(item_sheet(course), {3: "not done"}), clock=clock).ok
    assert points(course) == 0.0
    assert next(row for row in gather(course).rows if row.apprentice == FIRST).critical == (ITEM,)
    assert observe(course, watched(item_sheet(course), {3: "prompted"}, at=LATER), clock=clock).ok
    assert points(course) == pytest.approx(3 * (1 - 0.5 / len(form_item(course).steps)), abs=0.01)


def test_a_sheet_of_an_earlier_release_still_serves_the_item(course: Course) -> None:
    """There all cautions were one step, in the words of the item's own."""
    sheet = item_sheet(course)
    ticks = len(sheet.cautions)
    item = form_item(course)
    earlier = replace(sheet, steps=(CheckStep("a", item.steps[0].text, True), *sheet.steps[ticks:]))
    assert Checklist.from_text(earlier.to_text(), "x") == earlier
    assert mark(course).ok
    assert observe(course, watched(earlier, {1: "prompted"}), clock=clock).ok
    assert points(course) == pytest.approx(3 * (1 - 0.5 / len(item.steps)), abs=0.01)


def form_item(course: Course) -> Any:
    return form_of(course, FIRST).item(ITEM)


def covers(course: Course, configuration: str) -> bool:
    sheet = pack_sheet(course, configuration)
    return {step.text for step in form_item(course).steps[1:]} <= {step.text for step in sheet.steps}


def test_feedback_tells_what_was_seen(course: Course) -> None:
    assert mark(course).ok
    sheet = item_sheet(course)
    text = sheet.steps[3].text
    assert "Not done: " not in Pages(course).page(MODULE, FIRST)
    assert observe(course, watched(sheet, {4: "not done"}), clock=clock).ok
    (shown,) = [each for each in Pages(course).sheet(MODULE, FIRST).items if each.id == ITEM]
    count = len(sheet.steps)
    assert shown.answer == (f"{count - 1} of {count} steps done without a prompt.", f"Not done: {text}")
    assert any("show the work again" in line for line in shown.told)
    assert shown.state != "waiting"
    assert "show the work again" not in Pages(course).page(MODULE, SECOND)


def test_nbgrader_puts_an_observation_in_as_marking_does(course: Course) -> None:
    assert observe(course, watched(item_sheet(course)), clock=clock).ok
    nbgrader(course, "autograde", MODULE, "--force")
    assert points(course) == 3.0
    assert points(course, SECOND) is None
    assert not agreement.compare(course)


def test_a_critical_step_left_out_bars_passing_until_the_work_is_shown_again(course: Course) -> None:
    sheet = item_sheet(course)
    assert mark(course).ok
    assert observe(course, watched(sheet, {1: "not done"}), clock=clock).ok
    assert points(course) == 0.0
    row = gather(course).of(FIRST, MODULE)
    assert row.critical == (ITEM,)
    assert signed(course, sheet.scope).competence.code == "C"
    assert observe(course, watched(sheet, at=AT + timedelta(days=2)), clock=clock).ok
    assert points(course) == 3.0
    assert gather(course).of(FIRST, MODULE).critical == ()
    stands = signed(course, sheet.scope)
    assert (stands.competence.code, len(stands.earlier)) == ("K", 1)
    assert not agreement.compare(course)


def test_what_a_person_sets_afterwards_stays_until_another_observation(course: Course) -> None:
    sheet = item_sheet(course)
    assert mark(course).ok
    assert observe(course, watched(sheet), clock=clock).ok
    give(course, ITEM, 1.0)
    assert mark(course).ok
    assert points(course) == 1.0
    assert observe(course, watched(sheet, {2: "prompted"}, at=AT + timedelta(days=1)), clock=clock).ok
    assert points(course) not in (1.0, 3.0)
    assert not agreement.compare(course)


def test_a_correction_says_why_and_both_stay(course: Course) -> None:
    sheet = pack_sheet(course)
    assert observe(course, watched(sheet), clock=clock).ok
    with pytest.raises(SignOffError, match="says otherwise of the same work"):
        observe(course, watched(sheet, {5: "prompted"}), clock=clock)
    assert observe(course, watched(sheet, {5: "prompted"}, why="Ticked in the wrong row."), clock=clock).ok
    one, other = entries(course, Observed)
    assert [note.kind for note in other.notes] == ["why"]
    stands = signed(course, sheet.scope)
    assert (stands.entry, stands.earlier) == (other.number, (one.number,))


def test_the_newest_counts_unless_somebody_says_why(course: Course) -> None:
    sheet = pack_sheet(course)
    old = watched(sheet, {2: "not done"}, at=AT - timedelta(days=9))
    assert observe(course, watched(sheet), clock=clock).ok
    outcome = observe(course, old, clock=clock)
    assert any("newer one and counts" in line for line in outcome.done)
    assert signed(course, sheet.scope).competence.competent
    with pytest.raises(SignOffError, match="newest observation counts"):
        replace(old, counts=True)
    assert observe(course, replace(old, counts=True, why="The newer one was a rehearsal."), clock=clock).ok
    assert signed(course, sheet.scope).competence.code == "C"
    assert observe(course, watched(sheet, at=AT + timedelta(days=1)), clock=clock).ok
    assert signed(course, sheet.scope).competence.competent


def test_single_steps_shown_again(course: Course) -> None:
    sheet = pack_sheet(course)
    again = watched(sheet, {2: "unprompted"}, again=True)
    assert any("no observation of the whole" in f.text for f in observe(course, again, clock=clock).findings)
    assert observe(course, watched(sheet, {2: "prompted"}), clock=clock).ok
    stands = signed(course, sheet.scope)
    assert (stands.competence.code, len(stands.again)) == ("K", 1)


def test_assessor_and_trainer_the_same_person_is_flagged(course: Course) -> None:
    outcome = observe(course, watched(pack_sheet(course), trainer="p. tidewell"), clock=clock)
    assert outcome.ok
    assert any("same person" in finding.text for finding in outcome.findings)
    (entry,) = entries(course, Observed)
    assert [note.kind for note in entry.notes] == ["assessor"]
    assert signed(course, "dunlin").same_person


@pytest.mark.parametrize(
    ("changes", "rule"),
    [
        ({"observer": "Amir Shah"}, "Nobody signs for their own work"),
        ({"observer": " "}, "1 to 80 characters"),
        ({"apprentice": "nobody"}, "Nobody on the roster"),
        ({"at": LATER + timedelta(days=1)}, "made before it is recorded"),
        ({"at": datetime(2027, 3, 1)}, "time zone"),
        ({"outcomes": {1: "unprompted"}}, "says of every step"),
        ({"outcomes": {1: "well done"}}, "The sheet has steps 1 to"),
        ({"remark": "x" * 2001}, "at most 2000"),
    ],
)
def test_an_observation_that_cannot_be_is_refused(course: Course, changes: dict[str, Any], rule: str) -> None:
    whole = watched(pack_sheet(course))
    with pytest.raises(CourseError, match=rule):
        observe(course, replace(whole, **changes), clock=clock)
    assert not entries(course, Entry)


def test_a_sheet_of_somebody_else_is_refused(course: Course) -> None:
    with pytest.raises(SignOffError, match=f"was made for {FIRST}"):
        observe(course, watched(item_sheet(course), apprentice=SECOND), clock=clock)


def test_sheets_are_written_and_recorded_by_their_code(course: Course, command: Run) -> None:
    """As an instructor gives the commands, who then reads the ledger."""
    said = command("checklist", MODULE, "--course", course.folder)
    command("checklist", "--pack", "dunlin", "--course", course.folder)
    home = course.folder / "checklists"
    page = (home / f"{MODULE}-{ITEM}-together.html").read_text("utf-8")
    assert page.count('<article class="sheet">') == len(course.roster())
    assert "default-src 'none'" in page
    assert "<script" not in page
    sheet = find_checklist(home, item_sheet(course).code)
    assert sheet == item_sheet(course)
    blank = find_checklist(home, "dunlin-blank.html")
    words = [
        *("--observer", "P. Tidewell", "--trainer", "M. Orrin"),
        *("--engine", "Set 4", "--at", "2026-03-03T09:30+00:00"),
    ]
    steps = ("--checklist", blank.code, "--steps", "rest u", "--course", course.folder)
    refused = command("observe", *words, *steps, status=1)
    assert "Nobody on the roster" in refused.stdout
    words += ["--apprentice", FIRST, "--steps", "3 s, rest u", "--remark", "Stood in the swing of the bar."]
    for told in ("recorded", "stands in the ledger already"):
        said = command("observe", *words, "--checklist", blank.code.lower(), "--course", course.folder)
        assert told in said.stdout
    said = command("ledger", "--apprentice", FIRST, "--course", course.folder)
    assert "A stop for safety means not yet competent" in said.stdout
    assert "Remark: Stood in the swing" in said.stdout


def test_a_cohort_gets_its_sheets(course: Course) -> None:
    course.file.write_text(course.file.read_text("utf-8") + '\n[[cohorts]]\nname = "spring"\n', "utf-8")
    people = [(person.id, "spring" if person.id == FIRST else "") for person in course.roster()]
    lines = "".join(f'{name},"{name}",{cohort}\n' for name, cohort in people)
    course.roster_file.write_text(f"apprentice,name,cohort\n{lines}nobody,No Form,\n", "utf-8")
    here = Course.load(course.folder)
    made = make_checklists(here, pack="dunlin", cohort="spring").data["checklists"]
    assert [each["name"] for each in made] == [f"dunlin-{FIRST}"]
    outcome = make_checklists(here, MODULE)  # who has no form costs nobody else their sheet
    assert len(outcome.data["checklists"]) == len(people)
    assert [finding.place for finding in outcome.findings] == [f"{MODULE} nobody"]
    for wrong in ({"cohort": "autumn"}, {"apprentices": ["nobody else"]}, {"module": MODULE, "pack": "dunlin"}):
        with pytest.raises(CourseError):
            make_checklists(here, **wrong)
    with pytest.raises(SignOffError, match="No form was drawn"):
        make_checklists(here, MODULE, apprentices=["nobody"])
    notebook = nbformat.read(here.folder / "checklists" / f"dunlin-{FIRST}.ipynb", as_version=4)
    nbformat.validate(notebook)
    assert f'signoff.open("dunlin-{FIRST}")' in notebook.cells[1].source


def test_a_page_escapes_what_anybody_wrote(course: Course) -> None:
    sheet = replace(pack_sheet(course), person="<b>Amir</b>", apprentice="amir")
    assert "<b>Amir</b>" not in html_text([sheet], "<i>x</i>")
    assert "<i>x</i>" not in html_text([sheet], "<i>x</i>")


def test_whoever_is_forgotten_leaves_a_proven_ledger(course: Course) -> None:
    assert observe(course, watched(pack_sheet(course), remark="Amir was calm.", trainer="P Tidewell"), clock=clock).ok
    with ledger_of(course, "BEGIN IMMEDIATE") as ledger:
        ledger.connection.execute(NOTE.update().where(NOTE.c.kind == "remark").values(text=None))
        ledger.connection.execute(PERSON.delete().where(PERSON.c.apprentice == FIRST))
        proof = verify(ledger.connection, course.seed())
        assert (proof.faults, proof.forgotten) == ((), 1)
        assert sign_offs(ledger) == {}
    told = proving.tell(course).done[0]
    assert "a person who was forgotten" in told
    assert "Amir" not in told


def test_a_tablet_in_the_hand(course: Course) -> None:
    """Every line is on the disk before it is acknowledged; what cannot be is refused, and nothing is lost."""
    sheet = replace(pack_sheet(course), apprentice=FIRST, person="Amir Shah")
    home = course.folder / "checklists"
    home.mkdir()
    moments = itertools.count()
    tablet = Watching(sheet, home, clock=lambda: AT + timedelta(seconds=next(moments)))
    with pytest.raises(SignOffError, match="No observation in this file is signed"):
        observations(tablet.path, sheet)
    for wrong in ({"what": "s999", "value": "prompted"}, {"what": "s1", "value": "good"}, {"what": "x", "value": "y"}):
        assert tablet.hear({"type": "note", **wrong})["type"] == "refused"
    assert not tablet.path.exists()
    count = len(sheet.steps)
    for number in range(1, count):
        reply = tablet.hear({"type": "note", "what": f"s{number}", "value": "unprompted", "ticket": number})
        assert (reply["type"], reply["ticket"]) == ("saved", number)
        assert str(number) in tablet.path.read_text("utf-8").splitlines()[-1]
    refused = tablet.hear({"type": "sign"})
    assert f"step {count}" in refused["text"]
    assert "trained" in refused["text"]
    for what, value in (("observer", "P. Tidewell"), ("trainer", "M. Orrin"), ("engine", "Set 4"), ("remark", "Calm")):
        assert tablet.hear({"type": "note", "what": what, "value": value})["type"] == "saved"
    assert tablet.hear({"type": "begin"})["type"] == "refused"
    tablet.hear({"type": "note", "what": f"s{count}", "value": "prompted"})
    assert tablet.hear({"type": "sign"})["type"] == "signed"
    tablet.hear({"type": "note", "what": "remark", "value": " "})
    assert not tablet.shown()["signed"]  # whatever changes is signed again
    assert tablet.hear({"type": "sign"})["type"] == "signed"
    assert tablet.hear({"type": "begin", "again": True})["type"] == "begun"
    assert tablet.shown()["values"] == {}
    for what, value in (("observer", "P. Tidewell"), ("trainer", "M. Orrin"), ("engine", "Set 4")):
        tablet.hear({"type": "note", "what": what, "value": value})
    tablet.hear({"type": "note", "what": f"s{count}", "value": "unprompted"})
    found, findings = observations(tablet.path, sheet)
    assert (len(found), len(findings)) == (1, 1)
    assert tablet.hear({"type": "sign"})["type"] == "signed"
    found, findings = observations(tablet.path, sheet)
    assert [each.again for each in found] == [False, True]
    assert (found[0].medium, found[0].remark, found[0].at) == ("tablet", "", AT)
    for _ in range(2):
        assert observe_all(course, found, findings, clock).ok
    assert len(entries(course, Observed)) == 2
    assert signed(course, "dunlin").competence.competent
    # A line that was changed afterwards is told.
    tablet.path.write_text(tablet.path.read_text("utf-8").replace("unprompted", "prompted", 1), "utf-8")
    assert observations(tablet.path, sheet)[1]


@ON_BOTH
def test_two_instructors_and_both_databases(given_out: Bench, tmp_path: Path) -> None:
    """Said in two folders that share a database, it stands there once; the ledger is proven and tampering is found."""
    course = given_out.course
    sheet = pack_sheet(course)
    seen = watched(sheet, {3: "prompted"}, remark="Calm.")
    assert observe(course, seen, clock=clock).ok
    other = course
    if course.database:
        other = Course.load(shutil.copytree(course.folder, tmp_path / "of a colleague"))
    outcome = observe(other, seen, clock=clock)
    assert any("stands in the ledger already" in line for line in outcome.done)
    with pytest.raises(SignOffError, match="says otherwise"):
        observe(other, replace(seen, engine="Set 5"), clock=clock)
    assert len(entries(course, Observed)) == 1
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.connect() as connection:
        without_triggers(connection)
        text = connection.execute(select(ENTRY.c.detail).where(ENTRY.c.kind == "observed")).scalar_one()
        for old, new in (("prompted", "unprompted"), ("Tidewell", "Marsh")):
            changed = connection.begin_nested()
            connection.execute(update(ENTRY).values(detail=text.replace(old, new, 1)))
            assert verify(connection, course.seed()).faults
            changed.rollback()
        connection.execute(update(NOTE).values(text="Wild."))
        assert verify(connection, course.seed()).faults
        connection.rollback()
