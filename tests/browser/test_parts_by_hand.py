"""Taking apart and building up in the page: by keyboard, and by the mouse on the picture."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import expect

from tests.browser.accessible import findings, show_all
from tests.browser.by_keyboard import tab_to
from tests.browser.by_pointer import middle
from tests.browser.copies import added, write_notebook
from tests.browser.lab import Chrome, Lab, Server

pytestmark = pytest.mark.browser

CELLS = (
    """\
from pathlib import Path

from trainkit import modules, workbook

book = workbook.Book(modules.load("sequence"), Path("nowhere"))""",
    'book.instrument("parts")',
)
BATTERY = "Until this is proved dead, the engine can turn over under your hands: starting battery."


@pytest.fixture(scope="module")
def opened(server: Server, chrome: Chrome) -> Iterator[Lab]:
    chrome.begin_anew()
    write_notebook(server.root / "parts/try.ipynb", [added(source, f"c{at}") for at, source in enumerate(CELLS)])
    lab = Lab(chrome.page, server).run("parts/try.ipynb")
    show_all(chrome.page)
    yield lab
    server.close_kernels()
    assert chrome.errors == []
    chrome.begin_anew()


def test_steps_are_taken_by_keyboard_and_one_that_comes_too_early_is_answered(opened: Lab) -> None:
    page, before, shown = opened.page, opened.cells(), opened.question("parts")
    choices = shown.locator(".tk-parts-choices button")
    first = choices.filter(has_text="Switch off the starting battery")
    early = choices.filter(has_text="With everybody clear")
    tab_to(page, choices.first)
    page.keyboard.press(str(early.get_attribute("aria-keyshortcuts")))
    expect(shown).to_have_attribute("data-count", "0")
    told = shown.locator(".tk-parts-told")
    expect(told).to_contain_text("Unsafe order")
    expect(told).to_contain_text("First: Switch off the starting battery")
    expect(shown.locator(".tk-consequence")).to_have_count(1)
    page.keyboard.press(str(first.get_attribute("aria-keyshortcuts")))
    expect(shown).to_have_attribute("data-count", "1")
    expect(shown.locator(".tk-consequence")).to_have_count(0)
    expect(shown.locator(".tk-parts-energies")).to_contain_text("■ starting battery: isolated, not proved")
    tab_to(page, shown.get_by_role("button", name="Take the last step back"))
    page.keyboard.press("Enter")
    expect(shown).to_have_attribute("data-count", "0")
    assert opened.cells() == before
    assert findings(page) == []


def test_a_part_that_is_dragged_off_too_early_goes_back(opened: Lab) -> None:
    page, shown = opened.page, opened.question("parts")
    expect(shown).to_have_attribute("data-count", "0")
    cover = shown.locator('[data-piece="part access-cover"]')
    cover.scroll_into_view_if_needed()
    x, y = middle(cover)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 90, y + 12, steps=8)
    page.mouse.up()
    expect(shown.locator(".tk-parts-told")).to_contain_text(BATTERY)
    expect(shown).to_have_attribute("data-outcome", "exposed")
    expect(shown).to_have_attribute("data-count", "0")
    expect(cover).to_have_attribute("transform", "translate(0 0)")
