"""Sixty ways of tampering with a marked course: each is found, or the documents name it as outside what is proven."""

# ruff: noqa: S608 - the statements are made of words of this file alone

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.intake import receipts
from trainkit_grading.intake.collect import collect
from trainkit_grading.keeping import verify
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record import sessions
from trainkit_grading.record.sessions import Session
from trainkit_grading.reports.coordinator.report import write_coordinator_report
from trainkit_grading.reports.exports.export import export
from trainkit_grading.reports.feedback.delivery import feedback
from trainkit_grading.reports.instructor.report import write_instructor_report
from trainkit_grading.reports.score_sheet import report
from trainkit_grading.results.proof import prove

from .ledgers import tamper
from .makers import ANSWERED, COLLECTED, FIRST, MODULE, PEOPLE, SECOND, THIRD, found, give_out, kept

Tampering = Callable[[Course], object]

DOCS = Path(__file__).parents[2] / "grading/docs/marking.md"
PERSON = f"(select person from trainkit_person where apprentice = '{FIRST}')"
ENTRY = f"(select entry from trainkit_shown where person = {PERSON})"
NOTEBOOK = f"""(select m.id from submitted_notebook m join submitted_assignment s on s.id = m.assignment_id
    where s.student_id = '{FIRST}')"""
CELL = "(select id from base_cell where name = 'A2' and type = 'GradeCell')"
GRADE = f"notebook_id = {NOTEBOOK} and cell_id = {CELL}"


@pytest.fixture(scope="module")
def proven(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A course with everything that can be touched, marked and proven once."""
    home = tmp_path_factory.mktemp("tampering")
    bench = found(home / "course")
    course = give_out(bench.course)
    bench.hand_in(FIRST, home / "first")
    bench.hand_in(SECOND, home / "second")
    assert collect(course, clock=lambda: COLLECTED).ok
    bench.hand_in(FIRST, home / "again", at=ANSWERED + timedelta(hours=2))
    assert collect(course, clock=lambda: COLLECTED + timedelta(hours=1)).ok
    assert mark(course).ok
    tamper_with_points(course)
    assert mark(course).ok
    assert sessions.watch(course, Session(MODULE, "P. Marsh", "Bay 2", ANSWERED, ANSWERED.replace(hour=10))).ok
    bench.hand_in(THIRD, home / "third")
    assert collect(course, clock=lambda: COLLECTED + timedelta(days=1)).ok
    outcome = verify.prove(course)
    assert outcome.ok, outcome.findings
    assert outcome.findings == ()
    assert course.proven_file.is_file()
    return course.folder


@pytest.fixture
def course(proven: Path, tmp_path: Path) -> Course:
    return Course.load(shutil.copytree(proven, tmp_path / "course"))


def tamper_with_points(course: Course) -> None:
    """A person's points, given where nobody listens and taken over by the next marking."""
    statement = f"update grade set manual_score = 1.5 where notebook_id != {NOTEBOOK} and cell_id = {CELL}"
    with_triggers(course, statement)


def with_triggers(course: Course, statement: str) -> None:
    with gradebook.opened(course) as engine, engine.begin() as connection:
        assert connection.exec_driver_sql(statement).rowcount == 1


def rows(*statements: str) -> Tampering:
    """Change rows past every trigger."""
    return lambda course: tamper(course, *statements)


def journal_of(course: Course, person: str, number: int = -1) -> Path:
    receipt = receipts.kept(course, person, MODULE)[number]
    return course.arrivals / person / MODULE / receipt.folder_name / "answers.jsonl"


def longer(course: Course) -> None:
    path = journal_of(course, FIRST)
    path.write_bytes(path.read_bytes() + b"\n")


def rewritten(person: str) -> Tampering:
    """Write another journal and a receipt to match, as whoever has no seed can."""

    def work(course: Course) -> None:
        path = journal_of(course, person)
        content = path.read_bytes().rsplit(b"\n", 2)[0] + b"\n"
        path.write_bytes(content)
        said = json.loads((path.parent / "arrival.json").read_bytes())
        said["digest"] = receipts.content_digest(content)
        (path.parent / "arrival.json").write_text(json.dumps(said), "utf-8")
        path.parent.rename(path.parent.with_name(f"{said['number']:04d}-{said['digest'][:12]}"))

    return work


def receipt_with(**changes: Any) -> Tampering:
    def work(course: Course) -> None:
        path = journal_of(course, FIRST).parent / "arrival.json"
        path.write_text(json.dumps(json.loads(path.read_bytes()) | changes), "utf-8")

    return work


def without_receipts(person: str, number: int | None = None) -> Tampering:
    def work(course: Course) -> None:
        home = course.arrivals / person
        shutil.rmtree(home if number is None else journal_of(course, person, number).parent)

    return work


def without_chain_too(course: Course) -> None:
    shutil.rmtree(course.arrivals)
    course.arrivals_chain.unlink()


def chain_with(**changes: Any) -> Tampering:
    def work(course: Course) -> None:
        said = json.loads(course.arrivals_chain.read_bytes())
        course.arrivals_chain.write_text(json.dumps(said | changes), "utf-8")

    return work


def forged_leave(course: Course) -> None:
    """Take a receipt out and say that its owner was forgotten."""
    said = json.loads(course.arrivals_chain.read_bytes())
    path = journal_of(course, THIRD).parent
    said["gone"] = [json.loads((path / "arrival.json").read_bytes())["link"]]
    course.arrivals_chain.write_text(json.dumps(said), "utf-8")
    shutil.rmtree(path.parents[1])


def by_hand(course: Course) -> None:
    """Add a hand-in with a receipt that nobody linked."""
    path = journal_of(course, SECOND)
    said = json.loads((path.parent / "arrival.json").read_bytes())
    said |= {"number": 2, "link": None, "collected": "2027-03-09T08:00:00Z", "arrived": "2027-03-09T08:00:00Z"}
    content = path.read_bytes() + b"\n"
    said["digest"] = receipts.content_digest(content)
    home = path.parents[1] / f"0002-{said['digest'][:12]}"
    home.mkdir()
    (home / "answers.jsonl").write_bytes(content)
    (home / "arrival.json").write_text(json.dumps(said), "utf-8")


def code_of(course: Course, person: str) -> str:
    head, _ = kept(course.key_file(MODULE, 1))
    people: dict[str, str] = head["people"]
    return next(code for code, name in people.items() if name == person)


def line_with(path: Path, code: str, old: str, new: str) -> None:
    """Change one line of a file of forms or keys, and nothing else but its length in the first line."""
    first, *lines = path.read_bytes().splitlines(keepends=True)
    head = json.loads(first)
    place = list(head["lines"]).index(code)
    text = lines[place].decode()
    assert old in text
    lines[place] = text.replace(old, new, 1).encode()
    head["lines"][code] = len(lines[place])
    path.write_bytes(b"".join((json.dumps(head).encode() + b"\n", *lines)))


def key_with(person: str) -> Tampering:
    """Let another answer be right."""
    return lambda course: line_with(course.key_file(MODULE, 1), code_of(course, person), '"A2":', '"A9":')


def head_with(change: Callable[[dict[str, Any]], object]) -> Tampering:
    def work(course: Course) -> None:
        path = course.key_file(MODULE, 1)
        first, rest = path.read_bytes().split(b"\n", 1)
        head = json.loads(first)
        change(head)
        path.write_bytes(json.dumps(head).encode() + b"\n" + rest)

    return work


def form_with(person: str) -> Tampering:
    return lambda course: line_with(
        course.forms_file(MODULE, 1), code_of(course, person), '"prompt":"', '"prompt":"No. '
    )


def released_otherwise(course: Course) -> None:
    path = course.released_file(MODULE, 1)
    said = json.loads(path.read_bytes())
    said["forms"] |= {code_of(course, FIRST): "0" * 64}
    path.write_text(json.dumps(said), "utf-8")


def sealed_lie(course: Course) -> None:
    """Add marks with the course's own seed and code that the answers do not earn."""
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        number = ledger.shown(MODULE)[FIRST]
        entry = ledger.read(Marked, [number])[number]
        marks = tuple(replaced(row, points=row.out_of, verdict="right") for row in entry.marks)
        (added,) = ledger.add([replaced(entry, marks=marks)])
        ledger.show(MODULE, {FIRST: added.number})
        for row in marks:
            connection.exec_driver_sql(
                f"""update grade set auto_score = {row.out_of} where notebook_id = {NOTEBOOK} and cell_id =
                    (select id from base_cell where name = '{row.item}' and type = 'GradeCell')"""
            )


def replaced(value: Any, **changes: Any) -> Any:
    from dataclasses import replace

    return replace(value, **changes)


def older_copy(course: Course) -> None:
    """Cut the last entry off and close the ledger before it, as an older copy of the database would be."""
    from trainkit_grading.ledger.entries import Sealer

    with gradebook.opened(course) as engine, engine.connect() as connection:
        number, seal = connection.exec_driver_sql(
            "select number, seal from trainkit_entry order by number desc limit 1 offset 1"
        ).one()
    closing = Sealer(course.seed()).closing(number, seal)
    tamper(
        course,
        f"delete from trainkit_entry where number > {number}",
        f"update trainkit_head set number = {number}, seal = '{seal}', closing = '{closing}'",
    )


def forged_watermark(course: Course) -> None:
    tamper(course, f"update trainkit_mark set points = points + 1 where entry = {ENTRY} and item = 'A2'")
    said = json.loads(course.proven_file.read_bytes())
    said["entry"] = said["worked"] = 99
    course.proven_file.write_text(json.dumps(said), "utf-8")


def rewritten_page(name: str) -> Tampering:
    def work(course: Course) -> None:
        assert report(course).ok
        path = course.report / name
        path.write_text(path.read_text("utf-8").replace("not yet", "passed"), "utf-8")

    return work


def another_name(course: Course) -> None:
    course.roster_file.write_text(course.roster_file.read_text("utf-8").replace(PEOPLE[0][1], "Someone Else"), "utf-8")


def another_cut(course: Course) -> None:
    path = course.folder / "modules" / MODULE / "module.toml"
    path.write_text(path.read_text("utf-8").replace("cut_score = 60", "cut_score = 1"), "utf-8")


CHANGED = "was changed after it was written"
SHORT = "entries were cut off"
# What is done, and what is said of it.
FOUND: dict[str, tuple[Tampering, str]] = {
    # The ledger.
    "points of an entry": (rows(f"update trainkit_entry set points = 6 where number = {ENTRY}"), CHANGED),
    "outcome of an entry": (rows(f"update trainkit_entry set outcome = '' where number = {ENTRY}"), CHANGED),
    "arrival of an entry": (rows(f"update trainkit_entry set arrived = '2027-01-01' where number = {ENTRY}"), CHANGED),
    "reason of an entry": (rows("update trainkit_entry set why = 'So.' where number = 1"), CHANGED),
    "who made an entry": (rows("update trainkit_entry set by = 'nobody' where number = 1"), CHANGED),
    "time of an entry": (rows("update trainkit_entry set at = '2027-01-01' where number = 1"), CHANGED),
    "kind of an entry": (rows("update trainkit_entry set kind = 'flagged' where number = 1"), CHANGED),
    "detail of an entry": (rows("update trainkit_entry set detail = '{}' where number = 1"), CHANGED),
    "journal of an entry": (rows("update trainkit_entry set journal = '' where number = 1"), CHANGED),
    "keys of an entry": (rows("update trainkit_entry set keys_hash = '' where number = 1"), CHANGED),
    "owner of an entry": (
        rows(f"update trainkit_entry set person = {PERSON} where person != {PERSON} and kind = 'marked'"),
        CHANGED,
    ),
    "an entry out of the middle": (rows("delete from trainkit_entry where number = 2"), "Entry 2 is missing"),
    "the last entry": (
        rows("delete from trainkit_entry where number = (select max(number) from trainkit_entry)"),
        "it once ended with",
    ),
    "the end of the ledger": (rows("update trainkit_head set closing = 'x'"), SHORT),
    "points of a mark": (rows(f"update trainkit_mark set points = 2 where entry = {ENTRY} and item = 'A2'"), CHANGED),
    "verdict of a mark": (rows(f"update trainkit_mark set verdict = 'x' where entry = {ENTRY}"), CHANGED),
    "unsafe answer of a mark": (
        rows(f"update trainkit_mark set critical = 1 - critical where entry = {ENTRY}"),
        CHANGED,
    ),
    "misconception of a mark": (rows(f"update trainkit_mark set misconception = 'x' where entry = {ENTRY}"), CHANGED),
    "answer of a mark": (rows(f"update trainkit_mark set response = '{{}}' where entry = {ENTRY}"), CHANGED),
    "an answer taken out": (rows(f"update trainkit_mark set response = null where entry = {ENTRY}"), "was taken out"),
    "a mark taken out": (rows(f"delete from trainkit_mark where entry = {ENTRY} and item = 'A2'"), CHANGED),
    "a note added": (
        rows("insert into trainkit_note (entry, place, kind, text, text_hash) values (1, 9, 'name', 'x', 'y')"),
        CHANGED,
    ),
    "name of a person": (
        rows(f"update trainkit_person set apprentice = 'x' where apprentice = '{FIRST}'"),
        "does not stand for the person",
    ),
    "a person taken out": (rows(f"delete from trainkit_person where apprentice = '{FIRST}'"), "the ledger has none"),
    "what is shown": (
        rows(f"update trainkit_shown set entry = (select max(number) from trainkit_entry) where person = {PERSON}"),
        "holds no marks of that person",
    ),
    "that nothing is shown": (rows(f"delete from trainkit_shown where person = {PERSON}"), "says of none"),
    "an older copy of the ledger": (older_copy, "it is an older copy"),
    "marks that the answers do not earn": (sealed_lie, "is not what the answers earn"),
    "a forged watermark": (forged_watermark, CHANGED),
    # The gradebook.
    "a mark in the gradebook": (rows(f"update grade set auto_score = 1.99 where {GRADE}"), "A2 has 1.99 points"),
    "points by a person": (rows(f"update grade set manual_score = 2 where {GRADE}"), "A2 has 2 points by a person"),
    "points by a person taken away": (
        rows("update grade set manual_score = null where manual_score is not null"),
        "A2 has no points by a person",
    ),
    "extra credit": (rows(f"update grade set extra_credit = 1 where {GRADE}"), "A2 has 1 point of extra credit"),
    "late penalty": (
        rows(f"update submitted_notebook set late_submission_penalty = 1 where id = {NOTEBOOK}"),
        "takes off 1 point for lateness",
    ),
    "a grade taken out": (rows(f"delete from grade where {GRADE}"), "the gradebook has no grade of it"),
    "time of arrival": (
        rows(f"update submitted_assignment set timestamp = null where student_id = '{FIRST}'"),
        "at no known time",
    ),
    "an extension": (
        rows(f"update submitted_assignment set extension = '1970-01-02 00:00:00' where student_id = '{FIRST}'"),
        "has an extension of",
    ),
    "the due date": (rows("update assignment set duedate = '2027-01-01 00:00:00'"), "The due date in the gradebook"),
    "the most points": (
        rows(f"update grade_cells set max_score = 9 where id = {CELL}"),
        "A2 is worth 9 points in the gradebook",
    ),
    "whose submission it is": (
        rows(f"update submitted_assignment set student_id = 'さくら' where student_id = '{FIRST}'"),
        "the gradebook has no submission",
    ),
    "name of a module": (rows("update notebook set name = 'x'"), "the gradebook lacks the module"),
    # What was handed in.
    "a journal": (longer, "not the one that was collected"),
    "journal and receipt together": (rewritten(FIRST), "receipt was changed after it was written"),
    "the same, not marked yet": (rewritten(THIRD), "receipt was changed after it was written"),
    "time in a receipt": (receipt_with(arrived="2027-01-01T00:00:00Z"), "receipt was changed"),
    "a receipt without its link": (receipt_with(link=None), "is gone"),
    "receipts of somebody": (without_receipts(FIRST), "is gone"),
    "a receipt that was superseded": (without_receipts(FIRST, 0), "is gone"),
    "a receipt not marked yet": (without_receipts(THIRD), "is gone"),
    "all receipts and the chain": (without_chain_too, "begun anew, or is gone"),
    "a shorter chain": (chain_with(place=1), "The file was changed after it was written"),
    "somebody said to be forgotten": (forged_leave, "The file was changed after it was written"),
    "a receipt added by hand": (by_hand, "has no place in the chain"),
    # Forms and keys.
    "a key": (key_with(FIRST), "The keys of the form"),
    "whose a form is": (
        head_with(lambda head: head["people"].update(dict.fromkeys(head["people"], FIRST))),
        "The owner of the form",
    ),
    "what is critical": (
        head_with(lambda head: head["plan"][0].update(critical=not head["plan"][0]["critical"])),
        "The plan of the module",
    ),
    "which pack": (head_with(lambda head: head.update(pack_digest="0" * 64)), "The digest of the pack"),
    "no keys": (lambda course: course.key_file(MODULE, 1).unlink(), "There are no forms or no keys"),
    "a form": (form_with(FIRST), "is not as it was given out"),
    "a form not marked yet": (form_with(THIRD), "is not as it was given out"),
    "no forms": (lambda course: course.forms_file(MODULE, 1).unlink(), "There are no forms or no keys"),
    "what was given out": (released_otherwise, "is not as it was given out"),
}
# What is done, and the words by which grading/docs/marking.md says that it is outside.
OUTSIDE: dict[str, tuple[Tampering, str]] = {
    "a key not marked yet": (key_with(THIRD), "A key that changes before its form is marked"),
    "a comment": (
        rows(f"insert into comment (id, notebook_id, cell_id, manual_comment) values ('x', {NOTEBOOK}, {CELL}, 'So.')"),
        "Comments in formgrader",
    ),
    "a page": (rewritten_page("index.html"), "A page or table after it was written"),
    "a table": (rewritten_page("marks.csv"), "A page or table after it was written"),
    "a name in the roster": (another_name, "The settings: `course.toml`, `roster.csv`, `module.toml`"),
    "the cut score": (another_cut, "The settings: `course.toml`, `roster.csv`, `module.toml`"),
}


def test_there_are_enough_of_them() -> None:
    assert len(FOUND) + len(OUTSIDE) >= 60


@pytest.mark.parametrize("kind", FOUND)
def test_tampering_is_found_and_the_page_shows_a_red_bar(course: Course, kind: str) -> None:
    work, text = FOUND[kind]
    work(course)
    outcome = verify.prove(course)
    assert not outcome.ok
    assert any(text in finding.text for finding in outcome.findings if finding.severity == "refused"), outcome.findings


@pytest.mark.parametrize("kind", OUTSIDE)
def test_what_is_not_found_is_named_in_the_documents(course: Course, kind: str) -> None:
    work, words = OUTSIDE[kind]
    work(course)
    assert verify.prove(course).ok
    outside = DOCS.read_text("utf-8").partition("## What `verify` proves")[2].partition("\n## ")[0]
    assert words in outside


def test_each_page_vouches_for_what_it_prints_or_shows_a_red_bar(course: Course) -> None:
    """A mark that was changed in the database reaches no page without the bar."""
    moment = datetime(2027, 3, 20, 9, 30, tzinfo=UTC)
    pages = [course.report / name for name in ("index.html", "class.html", "readiness.html")]

    def written() -> list[str]:
        for write in (report, write_instructor_report, write_coordinator_report):
            write(course, clock=lambda: moment)
        return [page.read_text("utf-8") for page in pages]

    last = prove(course).entries
    assert all(f"Proven to entry {last} at 2027-03-20 09:30 UTC." in text for text in written())
    feedback(course)
    own = [course.feedback / person / MODULE / f"{MODULE}.html" for person in (FIRST, SECOND)]
    assert all("Proven to entry" in page.read_text("utf-8") for page in own)
    tamper(course, f"update grade set auto_score = auto_score + 0.5 where {GRADE}")
    for text in written():
        assert "Not proven: 1 fault. Do not rely on this page yet." in text
        assert "Proven to entry" not in text
        assert "trainkit-course verify" in text
    assert [finding.place for finding in feedback(course).findings if finding.place == "proof"] == ["proof"]
    # Others' pages neither tell of it nor doubt what is theirs.
    theirs, others = (page.read_text("utf-8") if page.exists() else "" for page in own)
    assert "Proven to entry" not in theirs
    assert "Proven to entry" in others
    assert any(finding.place == "proof" for finding in export(course).findings)
    said = json.loads((course.folder / "export/datapackage.json").read_bytes())
    assert said["proof"]["proven"] is False


def test_what_was_proven_is_not_proven_again(course: Course, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither seals nor marks of entries that are unchanged are worked out a second time."""
    from trainkit_grading.ledger.entries import Sealer
    from trainkit_grading.marking.score import Scorer

    monkeypatch.setattr(Sealer, "seal", lambda *_: pytest.fail("computed again"))
    monkeypatch.setattr(Scorer, "score_attempts", lambda *_: pytest.fail("worked out again"))
    assert prove(course).proven


def test_marking_notes_what_it_has_worked_out(course: Course, monkeypatch: pytest.MonkeyPatch) -> None:
    from trainkit_grading.marking.score import Scorer

    before = prove(course).entries
    assert mark(course).ok
    monkeypatch.setattr(Scorer, "score_attempts", lambda *_: pytest.fail("worked out again"))
    assert prove(course).entries > before
