"""The calm page: a workbook alone on the screen, one step at a time, as ``trainkit open`` shows it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.browser.accessible import _AXE, RULES, take_theme
from tests.browser.by_keyboard import answer_choice, focused, tab_to
from tests.browser.lab import PATIENCE, Lab, Server, expect_status
from tests.browser.released import write_released

pytestmark = pytest.mark.browser

# What an apprentice is never to see: JupyterLab's bars and side panels, code, prompts, dialogs, popups.
APPARATUS = (
    "#jp-menu-panel, #jp-top-bar, .jp-SideBar, .jp-SideArea, #jp-bottom-panel, .jp-NotebookPanel-toolbar, .cm-editor, "
    ".jp-InputPrompt, .jp-OutputPrompt, .jp-Notebook-footer, .jp-Dialog, .Toastify__toast, .lm-TabBar"
)
SEEN = """(wanted) => [...document.querySelectorAll(wanted)].filter((node) => node.checkVisibility(
  { visibilityProperty: true }) && node.getBoundingClientRect().width).map((node) => node.className || node.id)"""
# Whatever scrolls by itself within the sheet, or makes it wider than the screen.
SCROLLERS = """() => {
  const sheet = document.querySelector(".jp-WindowedPanel-outer");
  const inner = [...sheet.querySelectorAll("*")].filter((node) => node.checkVisibility() &&
    /auto|scroll/.test(getComputedStyle(node).overflow) &&
    (node.scrollHeight > node.clientHeight + 1 || node.scrollWidth > node.clientWidth + 1));
  return inner.map((node) => node.className).concat(sheet.scrollWidth > sheet.clientWidth ? ["the sheet"] : []);
}"""
SHARE = '() => document.querySelector(".jp-WindowedPanel-outer").clientHeight / innerHeight'


@pytest.fixture(scope="module")
def calm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """JupyterLab as ``trainkit open`` starts it, with nobody's settings."""
    root = tmp_path_factory.mktemp("calm") / "the apprentice's folder"
    root.mkdir()
    with Server(root, tmp_path_factory.mktemp("calm-state"), calm=True) as running:
        yield running


_SERIAL = count(1)


@pytest.fixture
def home(calm: Server) -> Iterator[Path]:
    """A folder of its own with a released workbook, all its texts, and a cell that somebody added."""
    folder = calm.root / f"copy {next(_SERIAL)}"
    folder.mkdir()
    write_released(folder, texts=True, foreign=["import os"])
    yield folder
    calm.close_kernels()


def opened(page: Page, calm: Server, home: Path) -> Lab:
    lab = Lab(page, calm)
    lab.open(f"{home.name}/lock-pin.ipynb")
    lab.wait_ready()
    return lab


def where(page: Page) -> str:
    return page.locator(".tk-pager-where").inner_text()


def at(page: Page, title: str) -> None:
    expect(page.locator(".tk-contents-link[aria-current]")).to_contain_text(title)


def findings(page: Page) -> list[str]:
    """Return what axe finds in the whole page."""
    page.evaluate("() => { document.body.style.height = '100vh'; }")
    response = _AXE.run(page, options={"resultTypes": ["violations"], "runOnly": RULES}).response
    assert len(response["passes"]) > 20
    return [f"{rule['id']}: {node['html'][:160]}" for rule in response["violations"] for node in rule["nodes"]]


def test_the_workbook_stands_alone_step_by_step_and_full_jupyterlab_is_one_link_away(
    page: Page, calm: Server, home: Path
) -> None:
    lab = opened(page, calm, home)
    before = lab.cells()
    titles = []
    while True:
        assert page.evaluate(SEEN, APPARATUS) == []
        assert page.evaluate(SCROLLERS) == []
        titles.append(page.locator(".tk-contents-link[aria-current] > span:nth-child(2)").inner_text())
        expect(page).to_have_title(f"{titles[-1]} – Lock pin")
        if not page.locator(".tk-pager-next").is_visible():
            break
        page.locator(".tk-pager-next").click()
    assert titles[0] == "Lock pin"
    assert titles[-4:] == ["Question A1", "Question A2", "Question A3", "Hand in"]
    assert where(page) == f"{len(titles)} of {len(titles)}"
    # What was left at its end was read; leafing through practice is none.
    read = page.locator('.tk-contents-link[data-how="read"]')
    expect(read.first).to_contain_text("Lock pin, read")
    expect(page.locator(".tk-contents-link", has_text="Tell which dead centre")).to_contain_text(", open")
    # What somebody added is named as such, and folded.
    expect(page.get_by_text("A cell that is not part of this workbook", exact=True)).to_be_visible()
    expect(page.locator(".tk-how pre", has_text="import os")).to_be_hidden()

    page.locator(".tk-contents .tk-way").click()
    page.wait_for_url("**/lab/tree/**")
    expect(page.locator("#jp-menu-panel")).to_be_visible(timeout=PATIENCE)
    page.locator(".tk-strip .tk-way").click()
    page.wait_for_url("**/doc/tree/**")
    lab.wait_ready()
    at(page, "Hand in")  # where it was left
    assert page.evaluate(SEEN, APPARATUS) == []
    assert lab.cells() == before


def test_worked_examples_show_results_and_fold_their_code(page: Page, calm: Server, home: Path) -> None:
    opened(page, calm, home)
    page.locator(".tk-contents-link", has_text="Worked example 1").click()
    how = page.get_by_text("How this was computed", exact=True)
    code = page.locator(".tk-how pre", has_text="pack.bar.tool(90")
    expect(how).to_be_visible()
    expect(code).to_be_hidden()
    how.click()
    expect(code).to_be_visible()
    assert page.evaluate(SEEN, ".cm-editor") == []


def test_from_opening_to_the_first_answer_in_twelve_keys_and_no_key_is_jupyterlabs(
    page: Page, calm: Server, home: Path
) -> None:
    lab = opened(page, calm, home)
    before = lab.cells()
    pressed = 0

    def press(key: str) -> None:
        nonlocal pressed
        pressed += 1
        page.keyboard.press(key)

    press("Tab")
    assert "Skip to the question" in focused(page)
    press("Enter")
    question = page.locator(".tk-question[data-mode=practise]")
    expect(question).to_be_focused()
    answer = question.locator("input").first
    while not answer.evaluate("(node) => node === document.activeElement"):
        press("Tab")
        assert pressed < 12
    press("Space")
    while "tk-settle" not in focused(page):
        press("Tab")
        assert pressed < 12
    press("Enter")
    assert pressed <= 12
    expect(question.locator(".tk-verdict")).to_be_visible()
    expect(page.locator(".tk-contents-link[aria-current]")).to_contain_text(", practised")

    # A word that stands there twice is one stop, and the ring of each stop is seen whole.
    terms = question.locator("xpath=ancestor::*[contains(@class, 'jp-Notebook')]").locator(".tk-term:visible")
    stops = [each.get_attribute("data-term") for each in terms.all() if each.get_attribute("tabindex") == "0"]
    assert len(stops) == len(set(stops)) > 0
    assert page.locator(".tk-away :focus, .tk-away:focus").count() == 0

    everything = [*"abxcvmyzr1", "d", "d", "0", "0", "Enter", "Shift+Enter", "ArrowDown", "Escape"]
    everything += ["Control+b", "Control+Shift+c", "Control+s", "Control+Enter", "Control+Shift+d", "Alt+w"]
    for place in (".jp-MarkdownOutput h2:visible", ".tk-contents", ".tk-question:visible .tk-head"):
        page.locator(place).first.click(position={"x": 3, "y": 3})
        for key in everything:
            page.keyboard.press(key)
    page.locator(".jp-MarkdownOutput h2:visible").first.dblclick()
    assert lab.cells() == before
    assert page.evaluate(SEEN, APPARATUS) == []


def test_the_place_is_kept_beside_the_workbook_and_an_address_leads_to_any_step(
    page: Page, calm: Server, home: Path
) -> None:
    lab = opened(page, calm, home)
    page.locator(".tk-contents-link", has_text="Question A2").click()
    answer_choice(page, page.locator('.tk-question[data-name="A2"]'), "cw")
    expect_status(page.locator('.tk-question[data-name="A2"]'), "saved")
    expect(page.locator(".tk-contents-link[aria-current]")).to_contain_text(", answered")
    kept = home / "lock-pin.place.json"
    page.wait_for_timeout(800)  # several changes are one file
    assert json.loads(kept.read_text("utf-8"))["step"] == "question-a2"

    address = page.url.partition("#")[0]
    page.goto("about:blank")
    lab.open(f"{home.name}/lock-pin.ipynb")
    at(page, "Question A2")
    # The strip leads to what is open, whichever step is shown.
    lab.wait_ready()
    page.get_by_role("button", name="Go to A1").click()
    expect(page.locator('.tk-question[data-name="A1"]')).to_be_focused()
    at(page, "Question A1")
    page.evaluate("() => { location.hash = '#step=words'; }")
    expect(page.locator("h2", has_text="Words")).to_be_visible()
    page.goto("about:blank")
    page.goto(f"{address}#step=summary-card")
    expect(page.locator("h2", has_text="Summary card")).to_be_visible(timeout=PATIENCE)
    # Somebody else's folder has a place of its own.
    assert not (calm.root / kept.name).exists()


def test_narrow_and_enlarged_the_workbook_keeps_its_room(page: Page, calm: Server, home: Path) -> None:
    opened(page, calm, home)
    for width, height in ((390, 844), (683, 384), (768, 1024)):
        page.set_viewport_size({"width": width, "height": height})
        toggle = page.get_by_role("button", name="Contents", exact=True)
        expect(toggle).to_be_visible()
        page.wait_for_timeout(300)
        assert page.evaluate(SHARE) >= 0.85
        toggle.click()
        expect(page.locator(".tk-contents-link[aria-current]")).to_be_focused()
        page.keyboard.press("Escape")
        expect(toggle).to_be_focused()
        for title in ("Lock pin", "The four places", "Tell which", "Question A3"):
            toggle.click()
            page.locator(".tk-contents-link", has_text=title).first.click()
            expect(page.locator(".tk-contents")).to_be_hidden()
            assert page.evaluate(SCROLLERS) == [], (title, width)
        box = page.locator(".tk-pager-back").bounding_box()
        assert box is not None
        assert box["height"] >= 44


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_nothing_in_the_whole_page(page: Page, calm: Server, home: Path, *, dark: bool) -> None:
    opened(page, calm, home)
    take_theme(page, dark=dark)
    for title in ("Lock pin", "What the pin does", "Tell which", "Question A3", "Hand in"):
        page.locator(".tk-contents-link", has_text=title).first.click()
        assert findings(page) == [], title
    page.set_viewport_size({"width": 683, "height": 384})  # 200 % of a laptop's
    page.get_by_role("button", name="Contents", exact=True).click()
    assert findings(page) == []
    page.get_by_role("button", name="All on one page").click()
    assert findings(page) == []


def test_on_paper_all_steps_follow_and_code_stays_away(page: Page, calm: Server, home: Path, tmp_path: Path) -> None:
    lab = opened(page, calm, home)
    page.locator(".tk-contents-link", has_text="What the pin does").click()
    page.pdf(path=tmp_path / "printed.pdf", format="A4")
    text = " ".join(sheet.extract_text() for sheet in PdfReader(tmp_path / "printed.pdf").pages)
    for title in ("Lock pin", "What the pin does", "Question A1", "Hand in"):
        assert title in text, title
    assert "import" not in text
    assert "All on one page" not in text
    assert where(page).startswith("2 of")
    # The strip stands above the first title, not across it.
    page.emulate_media(media="print")
    strip, title = (page.locator(each).first.bounding_box() for each in (".tk-strip", ".jp-MarkdownOutput h1"))
    page.emulate_media(media="screen")
    assert strip is not None
    assert title is not None
    assert strip["y"] + strip["height"] <= title["y"]
    # Together on the screen, too.
    page.get_by_role("button", name="All on one page").click()
    for name in ("A1", "A3", "finish"):
        expect(lab.question(name)).to_be_visible()
    page.get_by_role("button", name="All on one page").click()
    expect(page.locator('.tk-question[data-name="A1"]')).to_be_hidden()


def test_another_notebook_opens_in_jupyterlab_as_it_comes(page: Page, calm: Server, home: Path) -> None:
    cells = [{"cell_type": "code", "id": "one", "metadata": {}, "outputs": [], "execution_count": None, "source": "1"}]
    (home / "notes.ipynb").write_text(json.dumps({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}))
    Lab(page, calm).open(f"{home.name}/notes.ipynb")
    expect(page.locator(".jp-NotebookPanel-toolbar")).to_be_visible()
    expect(page.locator(".cm-editor").first).to_be_visible()
    expect(page.locator(".tk-strip")).to_have_count(0)
    assert page.evaluate("() => document.body.hasAttribute('data-tk-calm')") is False


def test_the_contents_are_reached_and_worked_by_keyboard(page: Page, calm: Server, home: Path) -> None:
    opened(page, calm, home)
    for _ in range(3):
        page.keyboard.press("Tab")
    assert "Skip to the contents" in focused(page)
    page.keyboard.press("Enter")
    expect(page.locator(".tk-contents-link[aria-current]")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    at(page, "What the pin does")
    expect(page.locator("h2", has_text="What the pin does")).to_be_focused()
    tab_to(page, page.locator(".tk-pager-next"))
    ring = page.locator(".tk-pager-next").evaluate(
        """(node) => { const box = node.getBoundingClientRect(), sheet = node.closest(".jp-WindowedPanel-outer")
          .getBoundingClientRect(); return box.bottom + 5 <= sheet.bottom && box.right + 5 <= sheet.right; }"""
    )
    assert ring
    page.keyboard.press("Enter")
    at(page, "The four places")
