"""The reports in a real Chromium: whom they show, in which order, what a cell rests on, by mouse, by keys, on paper.

The pages are opened as files, as people open them. Anything that they ask of anybody is an error, and so is whatever
the browser's console says.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, ConsoleMessage, Locator, Page, Playwright, Request, Route, expect

from tests.browser.accessible import RULES
from tests.browser.lab import CHROMIUM, FLAGS, LAPTOP, PATIENCE
from tests.grading.story import FORWARD, LEAVER, MISSED, NOW, PROMPTED, tell
from trainkit_grading.course.cautions import cautions_of
from trainkit_grading.course.folder import Course
from trainkit_grading.course.roster import Apprentice
from trainkit_grading.reports.coordinator import page as coordinators_page
from trainkit_grading.reports.coordinator import report as coordinators
from trainkit_grading.reports.coordinator.overview import Overview, overview
from trainkit_grading.reports.feedback import feedback
from trainkit_grading.reports.instructor import report as instructors
from trainkit_grading.reports.score_sheet import report
from trainkit_grading.signoff.making import make_checklists
from trainkit_grading.support.plaintext import plain

pytestmark = [
    pytest.mark.browser,
    pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader"),  # of nbgrader's own relations
]
HOSTILE = (
    "<img src=x onerror=alert(1)>",
    "\u202eRight to left",
    "Anna Maria " * 10 + "von Saltmere",
    "</script><script>alert(2)</script>",
)
CELL = "#matrix [data-cell]"


def clock() -> datetime:
    return NOW


@dataclass(frozen=True)
class Written:
    """All pages of the course side, of the story's course, and one with many people."""

    course: Course
    view: Overview
    readiness: Path
    many: Path
    klass: Path
    sheet: Path
    feedback: Path
    checklist: Path


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Written:
    home = tmp_path_factory.mktemp("reports – Übung")
    course = tell(home, 20).course
    assert coordinators.write_coordinator_report(course, clock=clock).ok
    assert instructors.write_instructor_report(course, clock=clock).ok
    assert report(course, clock=clock).ok
    assert feedback(course, ["capstone"], clock=clock).ok
    assert make_checklists(course, pack="dunlin", apprentices=[FORWARD]).ok
    view = overview(course, clock=clock)
    many = home / "many.html"
    many.write_text(coordinators_page.html_text(crowd(view), cautions_of(course)), "utf-8")
    return Written(
        course,
        view,
        course.report / "readiness.html",
        many,
        course.report / "class.html",
        course.report / "index.html",
        course.feedback / PROMPTED / "capstone" / "capstone.html",
        next((course.folder / "checklists").glob("*.html")),
    )


def crowd(view: Overview) -> Overview:
    """The people of the course again and again, under names of their own, some of which mean harm."""
    people = []
    for place in range(250):
        like = view.people[place % len(view.people)]
        name = HOSTILE[place] if place < len(HOSTILE) else f"Person {place:03d}"
        who = Apprentice(f"n{place:03d}", name, like.person.cohort)
        people.append(replace(like, person=who))
    return replace(view, people=tuple(people))


@pytest.fixture(scope="module")
def browser(playwright: Playwright) -> Iterator[Browser]:
    launched = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=FLAGS)
    yield launched
    launched.close()


class Opened:
    """A page that was opened as a file, and what it asked or complained of."""

    def __init__(self, browser: Browser, *, dark: bool = False, script: bool = True, size: tuple[int, int] = LAPTOP):
        self.wrong: list[str] = []
        self.context = browser.new_context(
            color_scheme="dark" if dark else "light",
            java_script_enabled=script,
            viewport={"width": size[0], "height": size[1]},
            offline=False,
        )
        self.page: Page = self.context.new_page()
        self.page.set_default_timeout(PATIENCE)
        self.context.route("**/*", self._asked)
        self.page.on("console", self._said)
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on("dialog", lambda dialog: self.wrong.append(dialog.message))
        self.page.on("requestfailed", self._failed)

    def _asked(self, route: Route) -> None:
        if route.request.url.startswith("file:"):
            route.continue_()
        else:
            self.wrong.append(f"asked {route.request.url}")
            route.abort()

    def _said(self, said: ConsoleMessage) -> None:
        self.wrong.append(f"{said.type}: {said.text}")

    def _failed(self, asked: Request) -> None:
        self.wrong.append(f"failed {asked.url}")

    def go(self, path: Path) -> Page:
        self.page.goto(path.as_uri())
        return self.page


@pytest.fixture
def opened(browser: Browser) -> Iterator[Callable[..., Opened]]:
    """Open pages; at the end none of them has asked for anything but itself."""
    made: list[Opened] = []

    def give(path: Path, **how: Any) -> Opened:
        one = Opened(browser, **how)
        made.append(one)
        one.go(path)
        return one

    yield give
    for one in made:
        one.context.close()
        assert one.wrong == []


def names(page: Page) -> list[str]:
    return page.locator("#matrix tbody th > bdi").all_inner_texts()


def test_whom_it_shows(opened: Callable[..., Opened], written: Written) -> None:
    page = opened(written.readiness).page
    here = [each for each in written.view.people if not each.gone]
    expect(page.locator("#found")).to_have_text(f"{len(here)} of {len(written.view.people)} people.")
    assert set(names(page)) == {each.person.name for each in here}
    page.get_by_role("combobox", name="Leavers").select_option("shown")
    assert set(names(page)) == {each.person.name for each in written.view.people}
    (leaver,) = [each for each in written.view.people if each.gone]
    expect(page.locator("#matrix tr", has_text=leaver.person.name)).to_contain_text("has left")
    page.get_by_role("searchbox", name="Name").fill("DASHT")
    expect(page.locator("#found")).to_have_text(f"1 of {len(written.view.people)} people.")
    assert names(page) == ["Amir Dashtvan"]
    page.get_by_role("searchbox", name="Name").fill("a1")  # by identifier
    expect(page.locator("#matrix tbody tr")).to_have_count(sum("a1" in e.person.id for e in written.view.people))
    page.get_by_role("searchbox", name="Name").fill("nobody of this name")
    expect(page.locator("#matrix tbody tr")).to_have_count(0)
    page.get_by_role("button", name="Show all").click()
    assert set(names(page)) == {each.person.name for each in written.view.people}
    for cohort, title in {**written.view.cohorts, "": "in no cohort"}.items():
        page.get_by_role("combobox", name="Cohort").select_option(label=title)
        assert set(names(page)) == {e.person.name for e in written.view.people if e.person.cohort == cohort}
    page.get_by_role("button", name="Show all").click()
    for place, criterion in enumerate(written.view.criteria):
        page.get_by_role("combobox", name="Criterion").select_option(str(place))
        for number, word in enumerate(("ready", "nearly", "not yet", "no evidence")):
            page.get_by_role("combobox", name="Stands").select_option(str(number))
            asked = {e.person.name for e in written.view.people if e.readiness[place].verdict == word}
            assert set(names(page)) == asked, (criterion.number, word)
    page.get_by_role("combobox", name="Stands").select_option("forward")
    assert set(names(page)) == {each.person.name for each in written.view.people if each.forward}


def test_in_which_order(opened: Callable[..., Opened], written: Written) -> None:
    page = opened(written.readiness).page
    heads = page.locator("#matrix thead button")
    assert heads.count() == 3 + len(written.view.criteria)
    for place in range(heads.count()):
        states = []
        orders = []
        for _ in range(2):
            heads.nth(place).click()
            expect(heads.nth(place)).to_be_focused()
            sorted_by = page.locator("#matrix thead th").evaluate_all("all => all.map((one) => one.ariaSort)")
            assert [state for at, state in enumerate(sorted_by) if at != place] == ["none"] * (heads.count() - 1)
            states.append(sorted_by[place])
            column = page.locator(f"#matrix tbody tr > :nth-child({place + 1})").all_inner_texts()
            orders.append([text.split("\n")[0] for text in column])
        assert set(states) == {"ascending", "descending"}
        if place >= 3:
            rank = {"●": 0, "◐": 1, "○": 2, "–": 3}
            ascending = orders[states.index("ascending")]
            assert [rank[text[0]] for text in ascending] == sorted(rank[text[0]] for text in ascending)
        assert orders[0] != orders[1]
    expect(page.locator("#found")).to_contain_text("Sorted anew.")


def test_more_than_a_hundred_people(opened: Callable[..., Opened], written: Written) -> None:
    page = opened(written.many).page
    page.get_by_role("combobox", name="Leavers").select_option("shown")
    expect(page.locator("#page")).to_have_text("page 1 of 3")
    expect(page.locator("#matrix tbody tr")).to_have_count(100)
    expect(page.get_by_role("button", name="Previous page")).to_be_disabled()
    seen = names(page)
    for number in (2, 3):
        page.get_by_role("button", name="Next page").click()
        expect(page.locator("#page")).to_have_text(f"page {number} of 3")
        seen += names(page)
    expect(page.get_by_role("button", name="Next page")).to_be_disabled()
    # At the end of the pages the focus is somewhere, not lost.
    assert page.evaluate("() => document.activeElement.tagName") == "BUTTON"
    assert len(seen) == len(set(seen)) == 250
    for name in HOSTILE:
        assert plain(name).strip() in seen
    assert page.locator("#matrix img").count() == 0
    page.get_by_role("searchbox", name="Name").fill("onerror")
    expect(page.locator("#matrix tbody tr")).to_have_count(1)
    page.locator(CELL).first.click()
    expect(page.locator("dialog h2")).to_contain_text(HOSTILE[0])
    assert page.locator("dialog img").count() == 0


def cell_of(page: Page, who: str, place: int) -> Locator:
    return page.locator("#matrix tr", has=page.get_by_text(who, exact=True)).locator("[data-cell]").nth(place)


def test_what_a_cell_rests_on(opened: Callable[..., Opened], written: Written) -> None:
    page = opened(written.readiness).page
    dialog = page.get_by_role("dialog")
    cell = cell_of(page, PROMPTED, 2)
    cell.click()
    expect(dialog).to_be_visible()
    person = next(each for each in written.view.people if each.person.id == PROMPTED)
    expect(dialog.locator("h2")).to_have_text(f"{person.person.name}: criterion 2.1")
    expect(dialog).to_contain_text(f"Rule {person.readiness[2].code}: {person.readiness[2].rule}")
    result = person.results["lock-pin"]
    expect(dialog).to_contain_text(f"{result.points:g} of {result.out_of:g} points, {result.percent:.1f}")
    expect(dialog).to_contain_text(f"Ledger entry {result.entry}")
    expect(dialog).to_contain_text("P. Tidewell watched in Bay")
    expect(dialog).to_contain_text("shown again unprompted")
    answers = dialog.locator("details", has_text="The 12 answers")
    answers.locator("summary").click()
    expect(answers.locator("tbody tr")).to_have_count(12)
    dialog.get_by_role("button", name="Close").click()
    expect(dialog).to_be_hidden()
    expect(cell).to_be_focused()


def test_everything_by_keys(opened: Callable[..., Opened], written: Written) -> None:
    page = opened(written.readiness).page
    # Tab reaches one cell of the table; arrows do the rest.
    page.locator("#matrix thead button").last.focus()
    page.keyboard.press("Tab")
    focused = page.locator(":focus")
    expect(focused).to_have_attribute("data-cell", "0 0")
    page.keyboard.press("Tab")
    assert page.locator(f"{CELL}:focus").count() == 0
    page.keyboard.press("Shift+Tab")
    for key, at in (
        ("ArrowDown", "1 0"),
        ("ArrowRight", "1 1"),
        ("End", f"1 {len(written.view.criteria) - 1}"),
        ("ArrowRight", f"1 {len(written.view.criteria) - 1}"),
        ("Home", "1 0"),
        ("ArrowLeft", "1 0"),
        ("ArrowUp", "0 0"),
        ("ArrowUp", "0 0"),
    ):
        page.keyboard.press(key)
        expect(focused).to_have_attribute("data-cell", at)
        assert page.locator(f'{CELL}[tabindex="0"]').count() == 1
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    dialog = page.get_by_role("dialog")
    expect(dialog).to_be_visible()
    expect(page.locator("dialog :focus")).to_have_count(1)
    for _ in range(25):  # the focus stays inside as long as it is open
        page.keyboard.press("Tab")
        assert page.evaluate(
            "() => document.activeElement === document.body || Boolean(document.activeElement.closest('dialog'))"
        )
    page.keyboard.press("Escape")
    expect(dialog).to_be_hidden()
    expect(focused).to_have_attribute("data-cell", "0 1")


def shown(page: Page, selector: str) -> int:
    return int(page.locator(selector).evaluate_all("all => all.filter((one) => one.checkVisibility()).length"))


def test_on_paper(opened: Callable[..., Opened], written: Written, tmp_path: Path) -> None:
    one = opened(written.many)
    page = one.page
    page.get_by_role("combobox", name="Leavers").select_option("shown")
    page.get_by_role("combobox", name="Cohort").select_option(label="Power house")
    count = sum(each.person.cohort == "power" for each in crowd(written.view).people)
    assert count > 100
    # As the browser does before it prints.
    page.emulate_media(media="print")
    page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    assert shown(page, ".tools, .paging, nav") == 0
    # Cautions are folded on the screen, and printed all the same.
    assert shown(page, ".cautions li") > 5
    assert shown(page, "#matrix tbody tr") == count
    expect(page.locator("#found")).to_contain_text(f"{count} of 250 people")
    assert page.evaluate("() => document.documentElement.scrollWidth <= window.innerWidth")
    page.evaluate("() => window.dispatchEvent(new Event('afterprint'))")
    page.emulate_media(media="screen")
    assert shown(page, "#matrix tbody tr") == 100
    printed = page.pdf(format="A4", landscape=True, path=tmp_path / "many.pdf")
    assert printed.startswith(b"%PDF")
    page.locator(CELL).first.click()
    page.emulate_media(media="print")
    assert shown(page, "body > :not(dialog)") == 0
    assert shown(page, "dialog h2") == 1
    assert shown(page, "dialog .close") == 0


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_nothing(opened: Callable[..., Opened], written: Written, dark: bool) -> None:
    def found(page: Page) -> list[str]:
        response = Axe().run(page, options={"resultTypes": ["violations"], "runOnly": RULES}).response
        assert "color-contrast" in {rule["id"] for rule in response["passes"]}
        return [f"{rule['id']}: {node['html'][:200]}" for rule in response["violations"] for node in rule["nodes"]]

    for path in (written.readiness, written.klass, written.sheet, written.feedback, written.checklist):
        page = opened(path, dark=dark).page
        page.evaluate("() => document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        assert found(page) == [], path.name
        if path == written.readiness:
            cell_of(page, MISSED, 4).click()
            page.evaluate("() => document.querySelectorAll('dialog details').forEach((one) => { one.open = true; })")
            assert found(page) == [], "dialog"


def test_small_screens(opened: Callable[..., Opened], written: Written) -> None:
    for path in (written.many, written.klass, written.sheet, written.feedback, written.checklist):
        page = opened(path, size=(320, 640)).page
        page.evaluate("() => document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        wide = page.evaluate(
            """() => {
              const root = document.documentElement;
              if (root.scrollWidth <= window.innerWidth) return [];
              return [...document.querySelectorAll("body *")]
                .filter((one) => !one.closest(".scroll") && one.getBoundingClientRect().right > window.innerWidth + 1)
                .map((one) => one.outerHTML.slice(0, 120)).slice(0, 5).concat([`${root.scrollWidth}`]);
            }"""
        )
        assert wide == [], path.name
        if path == written.many:
            page.locator(CELL).first.click()
            box = page.get_by_role("dialog").bounding_box()
            assert box is not None
            assert box["x"] >= 0
            assert box["x"] + box["width"] <= 320


def test_without_a_script(opened: Callable[..., Opened], written: Written) -> None:
    page = opened(written.readiness, script=False).page
    expect(page.get_by_text("This table needs the script that travels in the page.")).to_be_visible()
    expect(page.locator("#forward li")).to_have_count(sum(each.forward for each in written.view.people))
    # What needs the script is not offered.
    expect(page.locator(".tools")).to_be_hidden()
    expect(page.locator(".paging")).to_be_hidden()


def test_they_are_told_what_stands_in_the_course(opened: Callable[..., Opened], written: Written) -> None:
    page = opened(written.klass).page
    for summary in page.locator("main summary").all():
        summary.click()
    expect(page.locator("main details:not([open])")).to_have_count(0)
    expect(page.locator("#waiting tbody tr")).not_to_have_count(0)
    leaver = next(each for each in written.view.people if each.person.id == LEAVER)
    assert leaver.person.name not in page.locator("#talk").inner_text()
    assert re.search(r"written 2027-04-20", page.locator("header").inner_text())
    assert NOW - timedelta(days=1) < written.view.written
