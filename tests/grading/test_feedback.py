"""Feedback of a real course: what a page says, where it lies, and that nbgrader makes the very same."""

from __future__ import annotations

import json
import random
import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import pytest

from trainkit import modules
from trainkit.items.kinds import ChoiceResponse, Item, Key, NumberResponse, OrderResponse, Response, TextResponse
from trainkit.items.marking import mark as mark_item
from trainkit.items.misconceptions import MANUAL
from trainkit.items.template import find, names
from trainkit_grading.cli.simulate.ways import WAYS
from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError
from trainkit_grading.marking.mark import mark
from trainkit_grading.reports.feedback import Pages, feedback
from trainkit_grading.reports.feedback.delivery import ZIPS
from trainkit_grading.reports.feedback.practice import Lost, next_practice, section
from trainkit_grading.reports.feedback.words import RULES, reveals_answers

from .dialogs import dismissed
from .makers import (
    ANSWERED,
    FIRST,
    MODULE,
    PEOPLE,
    SECOND,
    THIRD,
    Run,
    change,
    edited,
    form_of,
    found,
    keys_of,
    nbgrader,
    set_to,
    text_of,
    tree,
)
from .packed import members_of

if TYPE_CHECKING:
    from playwright.sync_api import Playwright

TEMPLATES = ("torque-units/convert", "lock-pin/what-next", "sequence/put-in-order", "capstone/explain-why")
SCRIPT = "<script>alert('hurt')</script>"
CELL = "(select id from base_cell where name = ?)"
COMMENT = "Good. <b>Name the bar</b> too."


def wrongly(item: Item, key: Key) -> Response:
    """Answer wrongly, and where that can be, so that it is unsafe."""
    if item.kind == "number":
        return NumberResponse(text="1 <img src=x onerror=alert(1)>", unit=item.units[0])
    if item.kind == "choice":
        wrong = (each.id for each in item.options if each.id != key.right)  # type: ignore[union-attr]  # a choice's key
        return ChoiceResponse(option=next(iter(key.critical), None) or next(wrong))  # type: ignore[union-attr]
    if item.kind == "order":
        right = list(WAYS["order"].right(item, key, random.Random(1)).cards)  # type: ignore[union-attr]
        return OrderResponse(cards=tuple(reversed(right)))
    return TextResponse(text=f"I would look first. {SCRIPT}")


def rightly(item: Item, key: Key) -> Response:
    return WAYS[item.kind].right(item, key, random.Random(1))


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Course:
    """A course in which one answers all wrongly and with markup, one rightly, one not at all; it is marked."""
    home = tmp_path_factory.mktemp("feedback")
    made = found(home / "a course", TEMPLATES)
    made.write_roster(((FIRST, "Amir <b>Shah</b>"), *PEOPLE[1:]))
    made.give_out()
    for person, how in ((FIRST, wrongly), (SECOND, rightly)):
        made.hand_in(person, home / person, how=how)
    assert mark(made.collect()).ok
    return made.course


@pytest.fixture
def course(told: Course, tmp_path: Path) -> Course:
    return Course.load(shutil.copytree(told.folder, tmp_path / "a course"))


def page_of(course: Course, person: str) -> str:
    return (course.feedback / person / MODULE / f"{MODULE}.html").read_text("utf-8")


def test_a_page_says_first_what_would_do_harm_and_escapes_what_was_written(course: Course) -> None:
    outcome = feedback(course)
    assert outcome.ok
    assert set(outcome.data["pages"][MODULE]) == {FIRST, SECOND}
    page = page_of(course, FIRST)
    text = text_of(page)
    order = [text.index(word) for word in ("Cautions", "Starting system.", "invented", "First: unsafe answers")]
    assert order == sorted(order)
    harm = text_of(page.partition("First: unsafe answers")[2].partition("What was right")[0])
    rest = text_of(page.partition("What was right")[2])
    assert "A2 ▲ unsafe answer" in harm
    assert "What happens, and the safe way" in harm
    assert MANUAL in harm
    assert "A2 ▲" not in rest
    assert rest.rindex("Practise next The most useful first.") > rest.index("What your instructor still marks")
    waiting = text_of(page.partition("What your instructor still marks")[2])
    assert "A4 … your instructor still marks this up to 4 points" in waiting
    assert "I would look first." in waiting
    for markup in ("<script", "<img", "<b>"):
        assert markup not in page
    assert SCRIPT in text
    assert "Amir <b>Shah</b>" in text
    assert "default-src 'none'" in page
    assert "://" not in page.replace("http://www.w3.org/2000/svg", "")


def test_right_answers_are_listed_and_nothing_is_left_to_gain(course: Course) -> None:
    feedback(course)
    text = text_of(page_of(course, SECOND))
    assert "unsafe answer" not in text
    assert "What to look at again" not in text
    assert "up to 4 points" in text
    assert "Nothing is left to gain here." in text
    assert "… waiting" in text


def test_nothing_of_another_is_in_a_page_and_again_it_is_the_same(course: Course) -> None:
    feedback(course, zipped=True)
    for person in (FIRST, SECOND):
        page = page_of(course, person)
        for other, name in PEOPLE:
            if other != person:
                assert other not in text_of(page)
                assert name not in text_of(page)
        assert members_of(course.zips / ZIPS / f"{person}.zip") == {f"feedback/{MODULE}.html": page.encode()}
    assert sorted(path.stem for path in (course.zips / ZIPS).iterdir()) == sorted((FIRST, SECOND))
    before = {**tree(course.feedback), **tree(course.zips)}
    feedback(course, zipped=True)
    assert {**tree(course.feedback), **tree(course.zips)} == before


def test_nbgrader_makes_the_same_page_and_releases_it(course: Course, tmp_path: Path) -> None:
    exchange = tmp_path / "exchange"
    exchange.mkdir(mode=0o777)
    exchange.chmod(0o777)
    course = edited(course, ('root = ""', f'root = "{exchange}"'))
    feedback(course)
    ours = tree(course.feedback)
    shutil.rmtree(course.feedback)
    nbgrader(course, "generate_feedback", MODULE)
    assert tree(course.feedback) == ours
    nbgrader(course, "release_feedback", MODULE)
    released = sorted((exchange / course.name / "feedback").glob("*.html"))
    assert sorted(path.read_text("utf-8") for path in released) == sorted(
        (page_of(course, FIRST), page_of(course, SECOND))
    )


@pytest.mark.parametrize("step", ["generate_feedback", "autograde"])
def test_nbgrader_does_nothing_of_its_own_where_the_course_cannot_be_used(course: Course, step: str) -> None:
    """Its own pages would be pictures of the marked notebook, its own marking would run what was handed in."""
    handed_in = course.submitted / FIRST / MODULE / f"{MODULE}.ipynb"
    cells = json.loads(handed_in.read_bytes())
    cells["cells"][0]["source"] = f"open({str(course.folder / 'ran.txt')!r}, 'w').close()"
    handed_in.write_text(json.dumps(cells), "utf-8")
    course.file.write_text("this is no TOML", "utf-8")
    said = nbgrader(course, step, MODULE, *(["--force"] if step == "autograde" else []), fails=True)
    assert "TOML" in said.stderr
    assert not list(course.folder.rglob("*.html"))
    assert not (course.folder / "ran.txt").exists()


def test_what_a_person_sets_and_writes_counts(course: Course) -> None:
    feedback(course)
    assert "A2 ▲ unsafe answer" in text_of(page_of(course, FIRST))
    set_points = "update grade set manual_score = ?, needs_manual_grade = 0 where cell_id in "
    write = "update comment set manual_comment = ? where cell_id in "
    change(course, set_points + CELL, 2, "A2")
    change(course, set_points + CELL, 3, "A4")
    change(course, write + CELL, COMMENT, "A4")
    assert mark(course).ok
    assert feedback(course).ok
    page = page_of(course, FIRST)
    text = text_of(page)
    assert "A2 ▲" not in text
    assert "● A2" in text
    assert "set by your instructor" in text
    assert "A4 ◐ right in part 3 of 4 points" in text
    assert "Your instructor has set these points." in text
    assert COMMENT in text
    assert "<b>" not in page


def test_a_page_whose_marks_no_longer_stand_is_removed(course: Course) -> None:
    feedback(course, zipped=True)
    shutil.rmtree(course.submitted / SECOND)
    journal = course.submitted / FIRST / MODULE / "answers.jsonl"
    journal.write_text(journal.read_text("utf-8").splitlines()[0] + "\n", "utf-8")
    outcome = feedback(course, zipped=True)
    assert not outcome.ok
    assert any(FIRST in finding.place and "mark" in finding.text for finding in outcome.findings)
    assert not (course.feedback / FIRST / MODULE / f"{MODULE}.html").exists()
    assert not (course.zips / ZIPS / f"{FIRST}.zip").exists()


@pytest.mark.parametrize(
    ("reveal", "of_module", "attempt", "due", "allowed", "hours", "tells"),
    [
        ("method", "", 1, None, 1, 0, False),
        ("answers", "", 1, None, 1, 0, True),
        ("answers", "", 1, None, 2, 0, False),  # another attempt is allowed, and nothing says when it ends
        ("answers", "", 1, 5, 3, 4, False),
        ("answers", "", 1, 5, 3, 6, True),
        ("answers", "", 2, 5, 3, 6, False),  # a form of a later attempt is out
        ("answers", "method", 1, None, 1, 0, False),
        ("method", "answers", 1, None, 1, 0, True),
    ],
)
def test_answers_are_told_once_no_attempt_is_open(
    course: Course, reveal: str, of_module: str, attempt: int, due: int | None, allowed: int, hours: int, tells: bool
) -> None:
    when = None if due is None else ANSWERED + timedelta(hours=due)
    update: dict[str, Any] = {"reveal": of_module, "attempt": attempt, "due": when}
    entry = course.modules[0].model_copy(update=update)
    policy = course.attempts.model_copy(update={"allowed": allowed})
    made = replace(course, reveal=reveal, attempts=policy)
    assert reveals_answers(made, entry, 1, ANSWERED + timedelta(hours=hours)) is tells


def test_reveal_is_read_from_course_toml_and_followed(course: Course) -> None:
    key = keys_of(course, form_of(course, FIRST).code)["A1"]
    feedback(course)
    method = text_of(page_of(course, FIRST))
    assert "It leaves the right answers out" in method
    assert "The right answer" not in method
    assert not [line for line in key.working if " ".join(line.split()) in method]
    feedback(set_to(course, reveal='"answers"', allowed="1"))
    answers = text_of(page_of(course, FIRST))
    assert "The right answer" in answers
    for line in (key.shown, *key.working):  # type: ignore[union-attr]  # a number's key
        assert " ".join(line.split()) in answers


def test_without_leave_to_tell_answers_the_keys_are_not_read_for_it(
    course: Course, monkeypatch: pytest.MonkeyPatch
) -> None:
    from trainkit_grading.reports.feedback import page

    def refuse(*_: object) -> None:
        raise AssertionError("a key was read")

    monkeypatch.setattr(page, "_keys", refuse)
    monkeypatch.setattr(page, "right_answer", refuse)
    assert "not yet" in Pages(course).page(MODULE, FIRST)


def test_what_is_not_marked_is_refused_with_a_remedy(course: Course) -> None:
    with pytest.raises(CourseError, match="Nothing was handed in"):
        Pages(course).page(MODULE, THIRD)


def test_the_command_says_what_to_do_next(course: Course, command: Run) -> None:
    done = command("feedback", "--zip", "--json", "--course", course.folder)
    told = json.loads(done.stdout)
    assert told["ok"]
    assert "_feedback" in told["next"]
    assert set(told["pages"][MODULE]) == {FIRST, SECOND}
    command("feedback", "nothing", "--course", course.folder, status=1)


def test_practice_stands_in_the_order_of_its_use() -> None:
    book = modules.load("turning-direction")
    lost = [
        Lost("A1", "turning-direction/shaft-sense", 2.0),
        Lost("A2", "turning-direction/other-end-clock", 1.5, recognised=True),
        Lost("A3", "turning-direction/shaft-sense", 0.5),
    ]
    first, second = next_practice(book, lost)
    assert (first.items, second.items) == (("A2",), ("A1", "A3"))
    assert next_practice(book, [*lost, Lost("A4", "turning-direction/tool-sense", 0.1, unsafe=True)])[0].unsafe
    assert next_practice(book, []) == ()


@pytest.mark.parametrize("module", modules.names())
def test_every_skill_of_every_workbook_has_a_section(module: str) -> None:
    book = modules.load(module)
    for skill in book.blueprint.skills:
        if any(find(template).kind not in ("text", "observed") for template in skill.templates):
            assert section(book.notebook, skill.id), skill.id


def test_capstone_names_the_workbook_that_teaches_it() -> None:
    (practice,) = next_practice(modules.load("capstone"), [Lost("A8", "lock-pin/what-next", 2.0)])
    assert [place.module for place in practice.places] == ["capstone", "lock-pin"]


def test_every_kind_of_question_has_a_rule_in_plain_words() -> None:
    assert {find(name).kind for name in names()} <= set(RULES)


@pytest.mark.browser
@pytest.mark.parametrize("width", [360, 683, 1366])
def test_a_page_asks_for_nothing_and_fits(course: Course, width: int, playwright: Playwright) -> None:
    feedback(course)
    path = course.feedback / FIRST / MODULE / f"{MODULE}.html"
    asked: list[str] = []
    said: list[str] = []
    browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
    schemes: tuple[Literal["light", "dark"], ...] = ("light", "dark")
    for scheme in schemes:
        context = browser.new_context(viewport={"width": width, "height": 768}, color_scheme=scheme)
        page = context.new_page()
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda message: said.append(message.text))
        page.on("dialog", lambda dialog: dismissed(dialog, said))
        page.goto(path.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        twice = "[...document.querySelectorAll('[id]')].map(node => node.id)"
        identifiers = page.evaluate(twice)
        assert len(identifiers) == len(set(identifiers))
        assert SCRIPT in page.inner_text("body")
        context.close()
    browser.close()
    assert set(asked) == {path.as_uri()}
    assert not said


def test_marked_items_of_the_tests_are_marked_as_meant(course: Course) -> None:
    """What the tests take for wrong and right is."""
    for person, how, verdict in ((FIRST, wrongly, "not yet"), (SECOND, rightly, "right")):
        form = form_of(course, person)
        for entry in form.items[:2]:
            key = keys_of(course, form.code)[entry.id]
            assert mark_item(entry.item, key, how(entry.item, key)).verdict == verdict
