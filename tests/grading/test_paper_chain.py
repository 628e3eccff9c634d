"""From sheet to report: the same answers, given on paper and on screen, earn the same, for every kind of question."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import pytest
from papers import BEGUN, BOTH, ENDED, answer_on_screen, answers, clock, code_of, form_of, give_out, table, typed

from trainkit import journal, modules
from trainkit_grading import sessions, tallies
from trainkit_grading.bridge import gradebook
from trainkit_grading.course import Course
from trainkit_grading.feedback import feedback
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.marking import mark
from trainkit_grading.paperwork.entering import enter
from trainkit_grading.paperwork.sheets import make
from trainkit_grading.proving import prove
from trainkit_grading.report import report
from trainkit_grading.scoring import score
from trainkit_grading.sessions import Session

MODULES = tuple(modules.names())


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> tuple[Course, Course]:
    """Two copies of one course: in the first all was answered on screen, in the second the same came on paper."""
    home = tmp_path_factory.mktemp("paper")
    on_screen = give_out(home / "screen", MODULES)
    on_paper = Course.load(shutil.copytree(on_screen.folder, home / "paper"))
    answer_on_screen(on_screen, home / "apprentices")
    assert mark(on_screen, clock=clock).ok
    for module in MODULES:
        assert make(on_paper, module).ok
        for person in BOTH:
            form = form_of(on_paper, module, person)
            texts = typed(form, answers(on_screen, module, person))
            code = code_of(on_paper, module, person)
            files = {
                number: table(home / f"{number}.csv", form, by, texts)
                for number, by in ((1, "P. Tidewell"), (2, "M. Orrin"))
            }
            outcome = enter(on_paper, code, files=files, clock=clock)
            assert outcome.ok, outcome
            assert not outcome.data["differ"]
    return on_screen, on_paper


def entries(course: Course) -> list[Entry]:
    with gradebook.opened(course) as engine, engine.connect() as connection:
        return list(Ledger(connection, course.seed()).entries(["marked"]))


def test_the_same_answers_earn_the_same(both: tuple[Course, Course]) -> None:
    on_screen, on_paper = both
    kinds: set[str] = set()
    for module in MODULES:
        for person in BOTH:
            one, other = score(on_screen, module, person), score(on_paper, module, person)
            assert (one.medium, other.medium) == ("screen", "paper")
            assert not other.flags
            for shown, written in zip(one.items, other.items, strict=True):
                assert written.mark == shown.mark, (module, person, shown.id)
                kinds |= {written.item.kind} if written.response is not None else set()
    assert kinds == {
        *("number", "choice", "several", "order", "insert", "grid", "point", "set", "actions", "text"),
    }


def test_mark_feedback_report_and_proof_go_on_as_ever(both: tuple[Course, Course], tmp_path: Path) -> None:
    course = Course.load(shutil.copytree(both[1].folder, tmp_path / "again"))
    watched = Session("lock-pin", "P. Tidewell", "Bay 2", BEGUN, ENDED, "calculator")
    assert sessions.watch(course, watched).ok
    marked = mark(course, clock=clock)
    assert marked.ok, marked.findings
    # Those who sat together have the same times on their sheets; nobody is suspected for that.
    assert not [finding for finding in marked.findings if finding.severity != "note"], marked.findings
    for entry in entries(course):
        assert entry.detail["medium"] == "paper"
        assert entry.detail["paper"]["typed"] == ["P. Tidewell", "M. Orrin"]
        first, second = entry.detail["paper"]["passes"]
        assert len(first) == len(second) == 64
        assert first != second
    with gradebook.opened(course) as engine, engine.connect() as connection:
        found = tallies.in_ledger(connection, MODULES)
    assert {tally.medium for of in found.values() for tally in of.values()} == {"paper"}
    assert feedback(course).ok
    assert report(course).ok
    with (course.report / "marks.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == len(MODULES) * len(BOTH)
    assert {row["arrived"][:16] for row in rows} == {ENDED.isoformat()[:16]}
    assert {row["module"] for row in rows if row["session"] == "yes"} == {"lock-pin"}
    assert prove(course).ok
    told = [json.loads(line) for line in course.arrivals_log.read_text("utf-8").splitlines()]
    assert {(line["how"], line["told_by"]) for line in told} == {("paper", "form code")}


def test_the_journal_is_one_that_a_workbook_could_have_written(both: tuple[Course, Course]) -> None:
    for person in BOTH:
        reading = journal.read(both[1].submitted / person / "lock-pin" / journal.JOURNAL_FILE)
        assert not reading.problems
        assert all(BEGUN <= entry.when <= ENDED for entry in reading.entries)
        assert [entry.when for entry in reading.entries] == sorted(entry.when for entry in reading.entries)
