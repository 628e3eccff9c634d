"""The part on its seal and the four strokes in a real JupyterLab: by keyboard, mouse and finger, on every screen."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.accessible import APPLIED, findings, show_all, take_theme
from tests.browser.by_keyboard import tab_to
from tests.browser.by_pointer import SIZES, box_of, fits_the_screen
from tests.browser.copies import added, write_notebook
from tests.browser.lab import LAPTOP, Chrome, Lab, Server
from trainkit import packs

pytestmark = pytest.mark.browser

PACK = packs.load("dunlin")
KINDS = ("bolts", "strokes")
OPENED = """\
from pathlib import Path

from trainkit import modules, workbook

book = workbook.Book(modules.load("tightening"), Path("nowhere"))"""
CELLS = (OPENED, *(f'book.instrument("{kind}")' for kind in KINDS))


def run(page: Page, server: Server, folder: str) -> Lab:
    """Write a notebook with both into a folder of the server, open and run it."""
    path = f"{folder}/try.ipynb"
    write_notebook(server.root / path, [added(source, f"c{place}") for place, source in enumerate(CELLS)])
    return Lab(page, server).run(path)


@pytest.fixture(scope="module")
def opened(server: Server, chrome: Chrome) -> Iterator[Lab]:
    """The notebook, opened and run once for all tests of this module."""
    chrome.begin_anew()
    lab = run(chrome.page, server, "flange and strokes")
    show_all(chrome.page)
    yield lab
    server.close_kernels()
    assert chrome.errors == []
    chrome.begin_anew()


def loads_of(shown: Locator) -> list[float]:
    """Return what each bolt pulls with, in final preloads."""
    return [float(load) for load in str(shown.get_attribute("data-loads")).split()]


def head_of(shown: Locator, bolt: int) -> tuple[float, float]:
    """Return where the head of one of the six screws is on the screen while the part lies level on its seal."""
    picture = shown.locator(".tk-flange-view")
    box = box_of(picture)
    scale = min(box["width"] / 330, (box["height"] - 56) / 190)
    turn = math.radians(float(str(picture.get_attribute("aria-valuenow")))) - math.tau * bolt / 6
    across, back, up = -70 * math.sin(turn), 70 * math.cos(turn), 18 + 24 + 15
    middle_y = box["y"] + (box["height"] - 56) / 2 + 10 * scale
    raised = math.radians(27)
    return (
        box["x"] + box["width"] / 2 + scale * across,
        middle_y - scale * (back * math.sin(raised) + up * math.cos(raised)),
    )


def begin_anew(shown: Locator) -> None:
    shown.get_by_role("button", name="Loosen all and start again").click()
    expect(shown).to_have_attribute("data-count", "0")


def test_the_bolts_by_keyboard_and_by_mouse(opened: Lab) -> None:
    page, before, shown = opened.page, opened.cells(), opened.question("bolts")
    tab_to(page, shown.locator('[data-bolt="1"]'))
    page.keyboard.press("Enter")
    expect(shown).to_have_attribute("data-count", "1")
    expect(shown.locator(".tk-seen")).to_contain_text("leans on screw 1")
    page.keyboard.press("1")  # the key with its number, from wherever the focus is
    expect(shown.locator(".tk-seen")).to_contain_text("gapes 2.5\u2009mm at screw 4")
    assert loads_of(shown)[0] == 1
    page.keyboard.press("Shift+1")
    expect(shown.locator('[data-bolt="1"] .tk-load-words')).to_contain_text("finger-tight")
    tab_to(page, shown.get_by_role("button", name="Show a good next one"))
    page.keyboard.press("Enter")
    expect(shown.locator(".tk-seen")).to_contain_text("Any screw that is left does as well as any other.")
    view = shown.locator(".tk-flange-view")
    tab_to(page, view)
    seen_from = view.get_attribute("aria-valuetext")
    for _ in range(12):
        page.keyboard.press("ArrowRight")
    assert view.get_attribute("aria-valuetext") != seen_from
    for _ in range(12):
        page.keyboard.press("ArrowLeft")
    page.keyboard.press("d")
    page.keyboard.press("d")
    assert opened.cells() == before
    begin_anew(shown)
    expect(shown.locator(".tk-tries li")).to_have_count(1)

    page.wait_for_timeout(600)  # the part has risen again
    page.mouse.click(*head_of(shown, 2))
    expect(shown).to_have_attribute("data-count", "1")
    assert loads_of(shown)[2] == pytest.approx(8 / 31, abs=1e-3)
    for bolt in (6, 1, 4, 2, 5, 1, 4, 2, 5, 3, 6):
        shown.locator(f'[data-bolt="{bolt}"]').click()
    # The order 3, 6, 1, 4, 2, 5 goes crosswise, pair after pair.
    expect(shown.locator(".tk-seen")).to_contain_text("No order is more even than yours.")
    expect(shown.locator(".tk-seen")).to_contain_text("Go round once more.")
    expect(shown.locator(".tk-bars li")).to_have_count(12)
    for bolt in range(1, 7):
        shown.locator(f'[data-bolt="{bolt}"]').click()
    expect(shown.locator(".tk-seen")).to_contain_text("All are tight, and evenly.")
    shown.get_by_role("button", name="Watch: one screw home at once").click()
    expect(shown).to_have_attribute("data-count", "2", timeout=5000)
    begin_anew(shown)
    shown.get_by_text("bolts of the filter bracket (3)").click()
    expect(shown.locator("[data-bolt]")).to_have_count(3)
    shown.get_by_text("clamping screws of the drive gear (6)").click()
    expect(shown.locator("[data-bolt]")).to_have_count(6)


def crank_of(shown: Locator, cylinder: int) -> tuple[float, float]:
    """Return where the middle of a crank is on the screen, of four cylinders in one row."""
    box = box_of(shown.locator(".tk-strokes-view"))
    engine = PACK.engine
    assert engine.crank_radius_mm
    assert engine.rod_length_mm
    scale = min(box["width"] / 4 / 172, 0.74)
    above = 56 * (1 + engine.rod_length_mm / engine.crank_radius_mm) + 159
    return box["x"] + box["width"] * (cylinder - 0.5) / 4, box["y"] + 64 + above * scale


def test_the_strokes_by_keyboard_and_by_mouse(opened: Lab) -> None:
    page, before, shown = opened.page, opened.cells(), opened.question("strokes")
    said = shown.locator(".tk-seen")
    tab_to(page, shown.get_by_role("button", name="Next dead centre"))
    page.keyboard.press("Enter")
    expect(shown).to_have_attribute("data-crank", "0")
    expect(said).to_contain_text("Cylinder 1 has both valves shut: compression, ▲. Cylinder 4 has both valves a little")
    tab_to(page, shown.get_by_role("button", name="Turn the crank once"))
    page.keyboard.press("Enter")
    expect(shown).to_have_attribute("data-crank", "360", timeout=5000)
    expect(said).to_contain_text("Cylinder 4 has both valves shut: compression, ▲.")
    tab_to(page, shown.get_by_role("checkbox", name="Cover the valves"))
    page.keyboard.press("Space")
    expect(said).to_have_text("Pistons 1 and 4 are at the top. Which one has both valves shut?")
    tab_to(page, shown.get_by_role("button", name="Cylinder 1 has both shut"))
    page.keyboard.press("Enter")
    expect(said).to_contain_text("Cylinder 4 has both valves shut: compression, ▲.")
    expect(said).to_contain_text("You took it for the other one.")
    slider = shown.locator(".tk-strokes-view")
    expect(slider).to_be_focused()
    for key in ("ArrowRight", "ArrowRight", "PageUp", "ArrowLeft", "d", "d"):
        page.keyboard.press(key)
    expect(shown).to_have_attribute("data-crank", "371")
    expect(slider).to_have_attribute(
        "aria-valuetext", re.compile("371° of 720°. Pistons 1 and 4 are 11° after the top")
    )
    assert opened.cells() == before

    page.mouse.click(*crank_of(shown, 2))  # JupyterLab scrolls a little when a cell becomes the active one
    x, y = crank_of(shown, 2)
    page.mouse.move(x, y - 30)
    page.mouse.down()
    for degrees in range(0, 91, 10):
        page.mouse.move(x + 30 * math.sin(math.radians(degrees)), y - 30 * math.cos(math.radians(degrees)))
    page.mouse.up()
    assert (
        abs(float(str(shown.get_attribute("data-crank"))) - 461) < 2
    )  # the crank turns clockwise, seen from the front
    page.mouse.move(x, y + 30)
    assert abs(float(str(shown.get_attribute("data-crank"))) - 461) < 2  # let go of
    page.keyboard.press("Home")
    expect(shown).to_have_attribute("data-crank", "680", timeout=5000)


def test_both_by_finger(tablet: Chrome, server: Server) -> None:
    page, lab = tablet.page, run(tablet.page, server, "both by finger")
    shown = lab.question("bolts")
    shown.locator(".tk-flange-view").scroll_into_view_if_needed()
    page.touchscreen.tap(*head_of(shown, 2))
    expect(shown).to_have_attribute("data-count", "1")
    shown.locator('[data-bolt="6"]').tap()
    expect(shown).to_have_attribute("data-count", "2")
    expect(shown.locator(".tk-seen")).to_contain_text("The part lies level")
    shown = lab.question("strokes")
    shown.get_by_role("button", name="Next dead centre").tap()
    expect(shown).to_have_attribute("data-crank", "0")


def test_they_fit_every_screen_and_axe_finds_nothing_in_either_theme(opened: Lab) -> None:
    page = opened.page
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        for kind in KINDS:
            shown = opened.question(kind)
            page.wait_for_timeout(150)
            fits_the_screen(shown)
    page.set_viewport_size({"width": LAPTOP[0], "height": 3200})
    for dark in (True, False):
        take_theme(page, dark=dark)
        # In a notebook without the extension axe measures no contrast; tests/trainkit/test_figures.py holds it. Both
        # are drawn on a canvas, so there is no SVG to look at.
        assert findings(page, APPLIED - {"color-contrast", "svg-img-alt"}) == []
    page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
