"""Answers that are scripts stay text in every page an instructor or an apprentice opens, in a real browser."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Dialog, Page

from tests.browser.lab import Chrome, Server
from tests.grading.attacks import ELSEWHERE, SHORT, TEXTS
from tests.grading.makers import sow
from trainkit import handin
from trainkit.forms import Forms, Identity
from trainkit.items.kinds import (
    ActionsResponse,
    ChoiceResponse,
    GridResponse,
    NumberResponse,
    ObservedResponse,
    OrderResponse,
    PointResponse,
    Response,
    SeveralResponse,
    TextItem,
    TextResponse,
)
from trainkit.journal import Journal
from trainkit_grading.course.folder import Course
from trainkit_grading.intake.collect import collect
from trainkit_grading.marking.mark import mark
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build
from trainkit_grading.release.init import create
from trainkit_grading.reports.feedback import feedback
from trainkit_grading.reports.score_sheet import report

pytestmark = [
    pytest.mark.browser,
    # From nbgrader's own queries; nothing of ours causes or can cure it.
    pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning"),
]

NUMBERS, CAPSTONE = "torque-units", "capstone"
# The first two answer with one text an item; the third puts something into every other kind of answer and every name.
PEOPLE = ("first", "second", "third")
TAG, TINY, NAME = SHORT
OTHERS: tuple[Response, ...] = (
    NumberResponse(text=TEXTS["image"], unit=TINY),
    NumberResponse(text=TAG, unit=TINY),
    ChoiceResponse(option=TAG),
    SeveralResponse(options=(TAG, TINY)),
    OrderResponse(cards=(TAG, TINY)),
    GridResponse(rows={TAG: TINY}),
    PointResponse(target=TAG),
    ActionsResponse(actions=(TAG, TINY)),
    ObservedResponse(steps={TAG: "unprompted"}, observer=NAME),
)


@dataclass
class Met:
    """What a page did that it should not."""

    dialogs: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def elsewhere(self) -> list[str]:
        return [url for url in self.requests if ELSEWHERE in url]


@contextmanager
def watched(chrome: Chrome) -> Iterator[tuple[Page, Met]]:
    """Give a page of which nothing gets out, and what it tried."""
    page, met = chrome.context.new_page(), Met()

    def dismiss(dialog: Dialog) -> None:
        met.dialogs.append(dialog.message)
        dialog.dismiss()

    page.on("dialog", dismiss)
    page.on("request", lambda request: met.requests.append(request.url))
    page.route(lambda url: not url.startswith(("file:", "http://127.0.0.1")), lambda route: route.abort())
    yield page, met
    page.close()


def hurt(page: Page) -> list[Any]:
    """Provoke whatever waits for the focus, the mouse or time, and return what any frame says of it."""
    page.wait_for_timeout(150)
    for _ in range(4):
        page.keyboard.press("Tab")
    page.evaluate(
        """() => document.querySelectorAll("body *").forEach((node) => {
          node.dispatchEvent(new MouseEvent("mouseover", { bubbles: true }));
          if (node.matches("details")) node.open = true; })"""
    )
    page.wait_for_timeout(150)
    said = [frame.evaluate("() => window.hurt") for frame in page.frames]
    return [one for one in said if one is not None]


def grown(page: Page) -> list[str]:
    """Return the elements that somebody's text has become."""
    made: list[str] = page.evaluate(
        """() => [...document.querySelectorAll(
          "iframe, object, embed, base, form, meta[http-equiv=refresh], mglyph, foreignObject, [onerror], [onload], " +
          "[onfocus], [onmouseover], [ontoggle], [autofocus], a[href^='javascript:'], a[*|href^='javascript:']")]
          .filter((node) => /hurt|elsewhere/.test(node.outerHTML)).map((node) => node.outerHTML.slice(0, 200))"""
    )
    return made


def answer(course: Course, person: str, module: str, folder: Path) -> None:
    with zipfile.ZipFile(course.zips / module / f"{person}.zip") as archive:
        archive.extractall(folder)
    home = folder / module
    forms, who = Forms.read(home), Identity.read(home)
    assert forms is not None
    assert who is not None
    form = forms.of(person)
    honest: dict[str, Any] = {"course": forms.course, "module": module, "form": form.code, "apprentice": person}
    texts = [TextResponse(text=text) for text in TEXTS.values()]
    each: dict[str, Sequence[Response]] = {"first": texts[:12], "second": texts[12:], "third": OTHERS}
    given = each[person]
    journal = Journal(home / "answers.jsonl", **honest)
    for entry, response in zip(form.items, given, strict=False):
        journal.append(entry.id, response)
    for entry in form.items:
        if isinstance(entry.item, TextItem):
            journal.append(entry.id, TextResponse(text="\n".join(TEXTS.values())))
    if person == "third":
        claims = {**honest, "form": NAME, "apprentice": NAME}
        Journal(home / "answers.jsonl", **claims).append(TAG, texts[0])
    made = handin.pack(home)
    made.rename(course.inbox / f"{person} {module}.zip")


@pytest.fixture(scope="module")
def course(tmp_path_factory: pytest.TempPathFactory) -> Course:
    home = tmp_path_factory.mktemp("scripted")
    made = create(sow(home / "a course"), "scripted", "Standby sets")
    lines = "".join(f'{person},"{person.title()}"\n' for person in PEOPLE)
    made.roster_file.write_text(f"apprentice,name\n{lines}", "utf-8")
    made = Course.load(made.folder)
    modules = (NUMBERS, CAPSTONE)
    assert build(made, modules).ok
    assert assign(made, modules).ok
    for person in PEOPLE:
        for module in modules:
            answer(made, person, module, home / "homes" / person)
    assert collect(made).ok
    assert mark(made).ok
    assert report(made).ok
    assert feedback(made).ok
    return made


@pytest.fixture(scope="module")
def formgrader(course: Course, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server in the course folder, as an instructor starts it; it has nbgrader's formgrader."""
    with Server(course.folder, tmp_path_factory.mktemp("state")) as running:
        yield running


def pages(course: Course) -> list[Path]:
    return [
        course.report / "index.html",
        *(course.feedback / who / name / f"{name}.html" for who in PEOPLE for name in (NUMBERS, CAPSTONE)),
    ]


def test_the_probe_sees_what_a_page_does_that_shows_texts_as_they_are(chrome: Chrome, tmp_path: Path) -> None:
    """Each text that is a script does its work where nothing stops it; else the tests below would show nothing."""
    seen = {}
    for name, text in TEXTS.items():
        path = tmp_path / f"{name}.html"
        path.write_text(f"<!doctype html><meta charset=utf-8><body><p>{text}</p>", "utf-8")
        with watched(chrome) as (page, met):
            page.goto(path.as_uri(), wait_until="commit")
            seen[name] = [*hurt(page), *met.elsewhere()]
    expected = {"script", "closing", "image", "svg", "foreign", "frame", "focus", "refresh", "base", "pixel"}
    assert {name for name, things in seen.items() if things} >= expected


def test_feedback_and_score_sheet_show_scripts_as_text(course: Course, chrome: Chrome) -> None:
    for path in pages(course):
        with watched(chrome) as (page, met):
            page.goto(path.as_uri())
            assert hurt(page) == [], path
            assert grown(page) == [], path
            assert met.dialogs == []
            # These pages need nothing from anywhere.
            assert [url for url in met.requests if not url.startswith((path.as_uri(), "data:"))] == []
            assert page.url.startswith(path.as_uri())


def test_feedback_shows_every_answer_as_it_was_typed(course: Course, chrome: Chrome) -> None:
    for person, texts in (("first", [*TEXTS][:12]), ("second", [*TEXTS][12:])):
        with watched(chrome) as (page, _):
            page.goto((course.feedback / person / NUMBERS / f"{NUMBERS}.html").as_uri())
            shown = page.inner_text("body")
        for name in texts:
            if name not in ("terminal", "turning"):
                for line in TEXTS[name].splitlines():
                    assert " ".join(line.split()) in " ".join(shown.split()), name


@pytest.mark.parametrize("module", [NUMBERS, CAPSTONE])
def test_formgrader_shows_scripts_as_text(chrome: Chrome, formgrader: Server, module: str) -> None:
    token = f"token={formgrader.token}"
    listed = formgrader.call("GET", f"/formgrader/api/submitted_notebooks/{module}/{module}")
    assert len(listed) == len(PEOPLE)
    places = [(f"/formgrader/submissions/{entry['id']}/?{token}", "#notebook-container") for entry in listed]
    places.append((f"/formgrader/manage_submissions/{module}?{token}", "table"))
    for place, ready in places:
        with watched(chrome) as (page, met):
            page.goto(formgrader.url + place, wait_until="domcontentloaded")
            page.wait_for_selector(ready)
            assert hurt(page) == [], place
            assert grown(page) == [], place
            assert met.dialogs == []
            assert met.elsewhere() == []
            assert page.url.startswith(formgrader.url)
