"""The paper edition of a whole course: what is printed, and that answers earn the same on paper and on screen."""

from __future__ import annotations

import base64
import csv
import json
import os
import re
import shutil
import unicodedata
from itertools import product
from pathlib import Path
from typing import get_args

import nbformat
import pytest

from trainkit import journal, modules, packs
from trainkit.items.kinds import ActionsItem, Name, ObservedItem
from trainkit_grading.course import packs as assessment
from trainkit_grading.course.folder import Course
from trainkit_grading.errors import PaperError
from trainkit_grading.keeping.verify import prove
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.marking.mark import mark
from trainkit_grading.marking.score import score
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.paper import bench, codes, printing, reading_part
from trainkit_grading.paper.entering import enter
from trainkit_grading.paper.sheets import INVIGILATOR, make_sheets
from trainkit_grading.record import sessions
from trainkit_grading.record.sessions import Session
from trainkit_grading.release import init
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build
from trainkit_grading.reports.feedback import feedback
from trainkit_grading.reports.score_sheet import report
from trainkit_grading.results import aggregates

from .makers import copy_of, edited, entries, form_of, key_file, sow, text_of
from .papers import (
    BEGUN,
    BOTH,
    ENDED,
    PEOPLE,
    answer_on_screen,
    answers,
    clock,
    code_of,
    give_out,
    table,
    typed,
)

MODULES = tuple(modules.names())


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> tuple[Course, Course]:
    """Two copies of one course: in the first all was answered on screen, in the second the same came on paper."""
    home = tmp_path_factory.mktemp("paper")
    on_screen = give_out(home / "screen", MODULES)
    on_paper = copy_of(on_screen, home / "paper")
    answer_on_screen(on_screen, home / "apprentices")
    assert mark(on_screen, clock=clock).ok
    for module in MODULES:
        made = make_sheets(on_paper, module)
        assert made.ok
        assert len(made.data["sheets"]) == len(PEOPLE)
        for person in BOTH:
            form = form_of(on_paper, person, module)
            texts = typed(form, answers(on_screen, module, person))
            typists = {1: "P. Tidewell", 2: "M. Orrin"}
            files = {number: table(home / f"{number}.csv", form, by, texts) for number, by in typists.items()}
            outcome = enter(on_paper, code_of(on_paper, module, person), files=files, clock=clock)
            assert outcome.ok, outcome
            assert not outcome.data["differ"]
    return on_screen, on_paper


@pytest.fixture
def course(both: tuple[Course, Course]) -> Course:
    """The course whose sheets were printed."""
    return both[1]


def test_the_same_answers_earn_the_same(both: tuple[Course, Course]) -> None:
    on_screen, on_paper = both
    kinds: set[str] = set()
    for module, person in product(MODULES, BOTH):
        one, other = score(on_screen, module, person), score(on_paper, module, person)
        assert (one.medium, other.medium) == ("screen", "paper")
        assert not other.flags
        for shown, written in zip(one.items, other.items, strict=True):
            assert written.mark == shown.mark, (module, person, shown.id)
            kinds |= {written.item.kind} if written.response is not None else set()
    assert kinds == {*get_args(Name)} - {"observed"}


def test_mark_feedback_report_and_proof_go_on_as_ever(both: tuple[Course, Course], tmp_path: Path) -> None:
    course = Course.load(shutil.copytree(both[1].folder, tmp_path / "again"))
    watched = Session("lock-pin", "P. Tidewell", "Bay 2", BEGUN, ENDED, "calculator")
    assert sessions.watch(course, watched).ok
    marked = mark(course, clock=clock)
    assert marked.ok, marked.findings
    # Those who sat together have the same times on their sheets; nobody is suspected for that.
    assert not [finding for finding in marked.findings if finding.severity != "note"], marked.findings
    for entry in entries(course, Marked):
        assert entry.medium == "paper"
        assert entry.paper is not None
        assert entry.paper.typed == ("P. Tidewell", "M. Orrin")
        first, second = entry.paper.passes
        assert len(first) == len(second) == 64
        assert first != second
    with gradebook.opened(course) as engine, engine.connect() as connection:
        found = aggregates.in_ledger(connection, MODULES)
    assert {one.medium for of in found.values() for one in of.values()} == {"paper"}
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


def plain(text: str) -> str:
    return "".join(unicodedata.normalize("NFKC", text).split())


def for_apprentices(course: Course) -> dict[str, str]:
    home = course.folder / "sheets"
    pages = {path.relative_to(home).as_posix(): path.read_text("utf-8") for path in home.rglob("*") if path.is_file()}
    return {name: text for name, text in pages.items() if INVIGILATOR not in name}


def test_everybody_has_sheet_and_table_of_each_module(course: Course) -> None:
    names = set(for_apprentices(course))
    for module in MODULES:
        assert {f"{module}/reading.html", f"{module}/all answer sheets.html"} <= names
        for person in BOTH:
            assert {f"{module}/{person}.html", f"{module}/{person}.csv"} <= names


def test_no_page_holds_the_seed_or_a_key(course: Course) -> None:
    """What only a key says stands nowhere: worked solutions, reasons, names of misconceptions and templates."""
    secret = course.seed().secret
    spelt = [secret.hex(), secret.hex().upper(), base64.b64encode(secret).decode().rstrip("=")]
    pages = for_apprentices(course)
    seen = {name: (text, text_of(text)) for name, text in pages.items()}
    for name, (text, _) in seen.items():
        assert not [each for each in spelt if each in text], name
    for module in MODULES:
        keys = key_file(course, module, 1)
        for person in BOTH:
            form = form_of(course, person, module)
            shown = seen[f"{module}/{person}.html"][1]
            told: set[str] = set()
            for of in form.items:
                key = keys.forms[form.code].keys[of.id]
                plain = key.model_dump(mode="json")
                told |= {key.template, *plain.get("shows", {}).values(), *plain["working"]}
                told |= {text for text in dict(plain.get("reasons", {})).values() if len(text) > 25}
            given = " ".join(str(form.model_dump(mode="json")).split())
            only = {text for text in told if " ".join(text.split()) not in given}
            assert len(only) > 10, (module, person)
            assert not [text for text in only if " ".join(text.split()) in shown], (module, person)


def test_what_is_read_hangs_on_no_form_and_no_seed(course: Course, tmp_path: Path) -> None:
    """The reading part is the same, byte by byte, in a course with another seed whose forms are not even drawn."""
    other = init.create(tmp_path / "other", "saltmere", "Saltmere drainage board")
    assert other.seed().secret != course.seed().secret
    for module in MODULES:
        assert reading_part.html_text(other, other.module(module)) == reading_part.html_text(
            course, course.module(module)
        )


def test_a_sheet_shows_its_own_form_and_nobody_elses(course: Course) -> None:
    pages = for_apprentices(course)
    for module in MODULES:
        own = {person: form_of(course, person, module).code for person in BOTH}
        for person, code in own.items():
            page = pages[f"{module}/{person}.html"]
            assert codes.on_paper(code) in page
            for other in set(own.values()) - {code}:
                assert other not in page
                assert codes.on_paper(other) not in page
        assert not any(code in pages[f"{module}/reading.html"] for code in own.values())


def test_what_is_read_holds_no_pack_that_only_an_assessment_uses(course: Course) -> None:
    hidden = [Path(assessment.find_pack(name)).read_text("utf-8") for name in assessment.names()]
    names = {re.findall(r'^title = "([^"]*)"', text, re.MULTILINE)[0] for text in hidden}
    assert names
    for module in MODULES:
        page = text_of(for_apprentices(course)[f"{module}/reading.html"])
        assert not [name for name in names if name.split(",")[0] in page], module


def test_what_is_read_holds_every_explanation_and_example(course: Course) -> None:
    """Every part of the authored notebook that can be read stands there; what needs a screen does not."""
    left_out = {"Practice", "Summary card", "Words", "Warm-up", "Assessment", "Hand in"}
    for module in MODULES:
        source = for_apprentices(course)[f"{module}/reading.html"]
        page, shown = text_of(source), {text_of(found) for found in re.findall(r"<h2>.*?</h2>", source, re.DOTALL)}
        notebook = nbformat.read(modules.load(module).notebook, as_version=4)
        text = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown")
        headings = re.findall(r"(?m)^## (.*)$", text)
        assert left_out <= set(headings)
        for heading in headings:
            assert (text_of(heading) in shown) == (heading not in left_out), (module, heading)
        assert sum(heading.startswith(("Worked example", "Half-worked")) for heading in headings) > 3
        assert "### " not in page
        assert page.count("Card to keep") == page.count("Words of this workbook") == 1
        assert not re.search(r"Run All Cells|Try it|sliders|Drag ", page), module
        # The question to think about stands before the explanation, with the drawing of what is moved on a screen.
        think = source.index("<h2>Think first</h2>")
        before = source[think : source.index("<h2>", think + 1)]
        assert "Decide before you go on." in before, module
        assert before.count("<svg") >= 1, module


def test_what_is_read_is_about_the_engine_of_the_course(tmp_path: Path) -> None:
    """Another engine to practise on: the worked examples are worked out again for it."""
    made = init.create(sow(tmp_path / "course"), "saltmere", "Saltmere drainage board")
    content, _ = packs.bytes_of("dunlin")
    (made.folder / "plover.toml").write_text(content.decode().replace("Dunlin", "Plover"), "utf-8")
    made = edited(made, ('name = "lock-pin"\n', 'name = "lock-pin"\npractise_on = "plover.toml"\n'))
    page = text_of(reading_part.html_text(made, made.module("lock-pin")))
    assert "Plover" in page
    assert "Dunlin" not in page
    assert "The lock pin of this engine" in page
    assert "Half-worked example" in page
    assert "Warm-up" not in page
    assert "Decide before you go on." in page
    assert "Take as many questions as you like" not in page


def test_cautions_stand_first_and_values_are_called_invented(course: Course) -> None:
    for name, page in for_apprentices(course).items():
        if name.endswith(".csv"):
            continue
        text = text_of(page)
        assert "Cautions" in text[:400], name
        assert "supervising person decide" in text, name
        first = re.search(r"Question A\d+|What |Worked example", text)
        assert first is not None
        assert text.index("lock out the starting system") < first.start(), name


def test_pages_ask_nothing_of_anybody_and_escape_what_they_show(tmp_path: Path) -> None:
    made = init.create(sow(tmp_path / "course"), "saltmere", "<b>Saltmere</b>")
    made.roster_file.write_text('apprentice,name\namir,"<img src=x onerror=alert(1)>"\n', "utf-8")
    assert build(made, ("lash-and-timing",)).ok
    assert assign(made, ("lash-and-timing",)).ok
    make_sheets(made, "lash-and-timing")
    for name, page in for_apprentices(made).items():
        if not name.endswith(".csv"):
            assert "<img" not in page
            assert "<b>Saltmere" not in page
            assert not re.search(r"<script|<link|https?://(?!www\.w3\.org)", page), name
            assert "default-src 'none'" in page


def test_every_kind_has_a_place_to_write(course: Course) -> None:
    pages = for_apprentices(course)
    boxes: dict[str, int] = {}
    for module in MODULES:
        for person in BOTH:
            page = pages[f"{module}/{person}.html"]
            for of in form_of(course, person, module).items:
                start = page.index(f"<h2>Question {of.id} ")
                found = re.search(r"<h2>Question A\d+ |This is the end of form", page[start + 10 :])
                assert found is not None
                part = page[start : start + 10 + found.start()]
                item = of.item
                count = part.count('class="box"')
                wanted = {
                    "number": 0 if item.kind != "number" or len(item.units) == 1 else len(item.units),
                    "choice": len(getattr(item, "options", ())),
                    "several": len(getattr(item, "options", ())) + 1,
                    "insert": len(getattr(item, "written", ())) + 1,
                    "grid": len(getattr(item, "rows", ())) * len(getattr(item, "columns", ())),
                    "point": len(getattr(item, "targets", ())),
                    "actions": 1,
                    "observed": 4 * len(getattr(item, "steps", ())),
                }.get(item.kind, 0)
                assert count == wanted, (module, of.id, item.kind)
                if item.kind == "order":
                    assert part.count('class="place"') == len(item.cards)
                if isinstance(item, ActionsItem):
                    assert part.count("place told") == item.limit
                if item.kind == "text":
                    assert part.count("<i></i>") * 60 >= item.limit
                if item.kind == "set":
                    assert 'class="clock"' in part
                boxes[item.kind] = boxes.get(item.kind, 0) + 1
    assert set(boxes) == {*get_args(Name)}


def test_bench_books_lie_apart_and_judge_nothing(course: Course) -> None:
    for module in ("lock-pin", "capstone"):
        home = course.folder / "sheets" / module / INVIGILATOR
        for person in BOTH:
            page = text_of((home / f"{person}.html").read_text("utf-8"))
            item = next(of.item for of in form_of(course, person, module).items if isinstance(of.item, ActionsItem))
            book = bench.book(item)
            assert all(sentence in page for sentence in book.sentences)
            assert "For the invigilator alone" in page
            # It says what eye and hand get, never what that is worth.
            assert not re.search(r"\bpoints?\b|critical|mistimed|misconception|right hole", page, re.IGNORECASE)
            sheet = text_of(for_apprentices(course)[f"{module}/{person}.html"])
            asked = sheet[sheet.index("Write the letter of one action") :].split("I stop here")[0]
            assert not any(sentence in asked for sentence in book.sentences)
    assert not (course.folder / "sheets" / "sequence" / INVIGILATOR).exists()


def test_written_again_they_are_the_same(course: Course) -> None:
    before = for_apprentices(course)
    make_sheets(course, "sequence")
    assert for_apprentices(course) == before


def test_without_a_browser_there_are_clear_words(course: Course, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda _: None)
    monkeypatch.setattr(printing, "_PLACES", ())
    outcome = make_sheets(course, "sequence", [BOTH[0]], pdf=True)
    assert not outcome.ok
    assert "print from there: A4" in outcome.findings[-1].text


BROWSER = pytest.mark.skipif(
    printing.browser() is None and not os.environ.get("CI"), reason="printing needs Chromium, Chrome or Edge"
)


@BROWSER
def test_printed_the_code_stands_on_every_page_and_nothing_is_lost(course: Course, tmp_path: Path) -> None:
    """Real pages out of a real browser, read back: the code at the head of each, every question whole on one page."""
    from pypdf import PdfReader

    module = "capstone"
    page = course.folder / "sheets" / module / f"{BOTH[0]}.html"
    pdf = tmp_path / "sheet.pdf"
    printing.print_pdf(page, pdf)
    sheets = PdfReader(pdf).pages
    form = form_of(course, BOTH[0], module)
    # A ligature of the font is read back as one sign.
    texts = [unicodedata.normalize("NFKC", " ".join(sheet.extract_text().split())) for sheet in sheets]
    assert 5 < len(texts) < 20
    for number, (sheet, text) in enumerate(zip(sheets, texts, strict=True), start=1):
        assert codes.on_paper(form.code) in text, number
        assert f"page {number} of {len(texts)}" in text
        width, height = (float(side) / 72 * 25.4 for side in sheet.mediabox[2:])
        assert (round(width), round(height)) == (210, 297)
    for of in form.items:
        here = [number for number, text in enumerate(texts) if f"Question {of.id} " in text and " point" in text]
        assert here, of.id
        named = [thing.text for thing in (*getattr(of.item, "options", ()), *getattr(of.item, "cards", ()))]
        if not isinstance(of.item, ActionsItem | ObservedItem):
            whole = ["".join(texts[number].split()) for number in here]
            assert any(all(plain(name) in text for name in named) for text in whole), (of.id, named, whole)
    assert f"This is the end of form {codes.on_paper(form.code)}" in texts[-1]


@BROWSER
@pytest.mark.parametrize(
    ("module", "page", "mark"),
    [("sequence", "all answer sheets", ""), ("lock-pin", f"{INVIGILATOR}/all bench books", "Bench book, form ")],
)
def test_of_all_in_one_print_each_page_says_whose_it_is(
    course: Course, tmp_path: Path, module: str, page: str, mark: str
) -> None:
    from pypdf import PdfReader

    pdf = tmp_path / "all.pdf"
    printing.print_pdf(course.folder / "sheets" / module / f"{page}.html", pdf)
    marks = [f"{mark}{codes.on_paper(form_of(course, person, module).code)}" for person in BOTH]
    seen = []
    for sheet in PdfReader(pdf).pages:
        text = " ".join(sheet.extract_text().split())
        (only,) = [mark for mark in marks if mark in text]
        seen.append(marks.index(only))
    assert seen == sorted(seen)
    assert set(seen) == set(range(len(BOTH)))


@BROWSER
def test_a_browser_that_does_not_print_is_told_of(
    course: Course, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    false = shutil.which("false")
    assert false is not None
    monkeypatch.setattr(printing, "browser", lambda: false)
    with pytest.raises(PaperError, match="did not print"):
        printing.print_pdf(course.folder / "sheets" / "sequence" / "reading.html", tmp_path / "none.pdf")
    assert not (tmp_path / "none.pdf").exists()
