"""Instruments in a real JupyterLab, by keyboard, mouse and finger: what they say agrees with the mechanics."""

from __future__ import annotations

import math
import os
import re
import signal
import sys
from collections.abc import Iterator

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.accessible import APPLIED, findings, show_all, take_theme
from tests.browser.by_keyboard import tab_to
from tests.browser.by_pointer import SIZES, box_of, finger, fits_the_screen, middle, pull_bar
from tests.browser.copies import added, write_notebook
from tests.browser.lab import LAPTOP, Chrome, Lab, Server
from trainkit import packs

pytestmark = pytest.mark.browser

PACK = packs.load("dunlin")
TRAIN = PACK.train
KINDS = ("gears", "clock", "wrench", "pin")
OPENED = """\
from pathlib import Path

from trainkit import modules, workbook

book = workbook.Book(modules.load("lock-pin"), Path("nowhere"))"""
CELLS = (OPENED, *(f'book.instrument("{kind}")' for kind in KINDS), 'book.practice("pinning")')


def run(page: Page, server: Server, folder: str) -> Lab:
    """Write a notebook with every instrument into a folder of the server, open and run it."""
    path = f"{folder}/try.ipynb"
    write_notebook(server.root / path, [added(source, f"c{place}") for place, source in enumerate(CELLS)])
    return Lab(page, server).run(path)


@pytest.fixture(scope="module")
def opened(server: Server, chrome: Chrome) -> Iterator[Lab]:
    """The notebook, opened and run once for all tests of this module."""
    chrome.begin_anew()
    lab = run(chrome.page, server, "instruments")
    show_all(chrome.page)
    yield lab
    server.close_kernels()
    assert chrome.errors == []
    chrome.begin_anew()


def lever_of(shown: Locator) -> tuple[float, float, float]:
    """Return wrench, adapter and angle as the sliders tell them."""
    told = [
        float(str(shown.locator(f'[data-measure="{name}"]').get_attribute("aria-valuenow")))
        for name in ("length", "adapter", "angle")
    ]
    return told[0], told[1], told[2]


def expect_setting(shown: Locator) -> None:
    """Expect the mark next to what the lever gives: 44 N·m at the bolt, on a scale with half newton metres."""
    length, adapter, angle = lever_of(shown)
    exact = 44 * length / (length + adapter * math.cos(math.radians(angle)))
    expect(shown).to_have_attribute("data-set", f"Set {math.floor(exact * 2 + 0.5) / 2:.1f}\u2009N·m")
    expect(shown.locator(".tk-readout")).to_contain_text("N·m")


def test_the_wrench_by_keyboard_and_by_mouse(opened: Lab) -> None:
    page, before, shown = opened.page, opened.cells(), opened.question("wrench")
    shown.get_by_role("button", name="Go back to the start").click()
    slider = shown.locator('[data-measure="angle"]')
    tab_to(page, slider)
    for key in ("PageUp", "ArrowRight", "ArrowRight", "x", "0", "0"):
        page.keyboard.press(key)
    expect(slider).to_have_attribute("aria-valuetext", "60°")
    expect_setting(shown)
    expect(shown.locator(".tk-lever-lines")).to_contain_text("32\u2009lbf·ft × 320 ÷ 344")
    expect(shown.locator(".tk-unseen[aria-live]")).to_contain_text("Set 41.0\u2009N·m.")
    tab_to(page, shown.locator('[data-measure="length"]'))
    page.keyboard.press("ArrowDown")
    expect(shown.locator('[data-measure="length"]')).to_have_attribute("aria-valuenow", "315")
    tab_to(page, shown.get_by_role("button", name=re.compile(r"More by 1\smm")))
    page.keyboard.press("Enter")
    expect(shown.locator('[data-measure="adapter"]')).to_have_attribute("aria-valuenow", "49")
    expect_setting(shown)
    tab_to(page, slider)
    page.keyboard.press("Home")
    expect(slider).to_have_attribute("aria-valuetext", "0°")
    expect_setting(shown)  # and with it the picture is the last one
    assert opened.cells() == before

    x, y = middle(shown.locator('[data-drag="bolt"]'))
    page.mouse.move(x, y)
    page.mouse.down()
    for part in range(1, 11):
        page.mouse.move(x - 6 * part, y - 9 * part)  # up and back
    page.mouse.up()
    expect(shown.locator(".tk-limits")).to_contain_text("folded back")
    expect_setting(shown)
    assert lever_of(shown)[2] > 90
    page.wait_for_timeout(300)
    grip = shown.locator('[data-drag="grip"]')
    x, y = middle(grip)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 40, y, steps=8)
    page.mouse.up()
    expect(shown.locator('[data-measure="length"]')).not_to_have_attribute("aria-valuenow", "315")
    assert lever_of(shown)[0] > 315
    expect_setting(shown)
    shown.get_by_text("clamping screws of the drive gear").click()
    expect(shown.locator(".tk-lever-lines")).to_contain_text("31\u2009N·m")
    shown.get_by_role("button", name="Go back to the start").click()
    expect(shown).to_have_attribute("data-set", "Set 38.5\u2009N·m")
    expect(shown.get_by_role("radio", name=re.compile("^flange bolts"))).to_be_checked()


def test_everything_by_finger(tablet: Chrome, server: Server) -> None:
    page, lab = tablet.page, run(tablet.page, server, "by finger")
    shown = lab.question("wrench")
    x, y = middle(shown.locator('[data-drag="bolt"]'))
    finger(page, [(x, y - part * 10) for part in range(8)])
    expect(shown.locator('[data-measure="angle"]')).not_to_have_attribute("aria-valuenow", "0")
    expect_setting(shown)
    shown.get_by_role("button", name=re.compile(r"More by 5\smm")).tap()
    expect(shown.locator('[data-measure="length"]')).to_have_attribute("aria-valuenow", "325")
    expect_setting(shown)


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
        # In a notebook without the extension axe measures no contrast; tests/trainkit/test_figures.py holds it.
        assert findings(page, APPLIED - {"color-contrast"}) == []
    page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})


def test_the_lock_pin_by_keyboard(opened: Lab) -> None:
    page, shown = opened.page, opened.question("pin")
    slider = shown.locator(".tk-pin-slider")
    tab_to(page, slider)
    for _ in range(10):
        page.keyboard.press("PageUp")
        if float(str(shown.get_attribute("data-crank"))) >= -15:
            break
    page.keyboard.press(" ")
    expect(shown).to_have_attribute("data-pin", "pressed")
    for _ in range(40):
        page.keyboard.press("ArrowRight")
        if shown.get_attribute("data-pin") == "seated":
            break
    expect(shown).to_have_attribute("data-pin", "seated")
    assert shown.get_attribute("data-crank") == "-0.250"  # where the clearance begins
    expect(shown.locator(".tk-seen")).to_contain_text("compression dead centre of cylinder 1")
    page.keyboard.down("ArrowRight")  # on against the pin
    expect(shown).to_have_attribute("data-pin", "sheared")
    page.keyboard.up("ArrowRight")
    expect(shown.locator(".tk-seen")).to_contain_text("First make the engine safe.")
    button = shown.locator(".tk-pin-again")
    tab_to(page, button)
    expect(button).to_have_text("Make the engine safe")
    page.keyboard.press("Enter")
    expect(button).to_have_text("Begin again with a sound engine")
    page.keyboard.press("Enter")
    expect(shown).to_have_attribute("data-pin", "out")


def test_the_lock_pin_by_mouse_and_a_pull_in_practice(opened: Lab) -> None:
    page, shown = opened.page, opened.question("pin")
    box = box_of(shown.locator(".tk-pin-bar"))
    x, y = box["x"] + box["width"] / 2, box["y"] + min(box["height"] * 0.5, box["width"] / 2 + 4)

    def at(degrees: float) -> tuple[float, float]:
        return x + 60 * math.sin(math.radians(degrees)), y - 60 * math.cos(math.radians(degrees))

    # Seen from the flywheel end Dunlin turns anticlockwise, and the pinion against it: nine turns to one.
    page.mouse.move(*at(35))
    page.mouse.down()
    for turned in range(0, 240, 10):
        page.mouse.move(*at(35 + turned))
    page.mouse.up()
    before = float(str(shown.get_attribute("data-crank")))
    assert abs(before + 40 - 230 / 9) < 2
    shown.locator(".tk-pin-press").click()
    page.mouse.move(*at(0))
    page.mouse.down()
    for turned in range(0, 300, 10):
        page.mouse.move(*at(turned))
    page.mouse.up()
    # The pin stops the hand; what it does after that, it does with nothing in it.
    expect(shown).to_have_attribute("data-pin", "seated")
    expect(shown).to_have_attribute("data-load", "0.000")
    shown.locator(".tk-pin-cut").click()
    expect(shown.locator(".tk-seen")).not_to_contain_text("compression dead centre")

    opened.show_cell(len(CELLS) - 1)
    bench = page.locator('.tk-question[data-kind="actions"]')
    bench.locator(".tk-pin-cut").click()
    expect(bench.locator(".tk-pin-cut")).to_have_text("Cut the case open")
    fit = bench.locator('[data-action="fit-bar"][aria-disabled="false"]')
    fitted = fit.count()
    if fitted:
        fit.click()
    expect(bench.locator(".tk-log li")).to_have_count(fitted)
    pull_bar(page, bench, -25)
    expect(bench.locator(".tk-log li")).to_have_count(fitted + 1)
    expect(bench.locator(".tk-log li").last).to_contain_text("Bar back a little")
    # A wreck says first what makes the engine safe: the button that begins again does that before.
    again = bench.locator(".tk-again")
    if again.inner_text() != "Go back to the start":
        again.click()
    again.click()
    expect(bench.locator(".tk-log li")).to_have_count(0)


@pytest.mark.skipif(sys.platform == "win32", reason="a process is stopped with a POSIX signal")
def test_a_press_at_the_bench_is_seen_at_once_and_taken_back_if_the_kernel_stays_silent(opened: Lab) -> None:
    page = opened.page
    opened.show_cell(len(CELLS) - 1)
    bench = page.locator('.tk-question[data-kind="actions"]')
    expect(bench).to_be_visible()
    page.wait_for_timeout(600)  # the kernel says ahead what each action leads to
    kernel = opened.kernel_pid()
    os.kill(kernel, signal.SIGSTOP)
    try:
        bench.locator('.tk-action[aria-disabled="false"]').first.click()
        expect(bench.locator(".tk-log li")).to_have_count(1, timeout=2000)
        expect(bench).to_have_attribute("data-status", "saving")
        expect(bench).to_have_attribute("data-status", "failed", timeout=15_000)
        expect(bench.locator(".tk-log li")).to_have_count(0)
    finally:
        os.kill(kernel, signal.SIGCONT)
    # The kernel had not lost the press: what it says in the end is what is shown.
    expect(bench.locator(".tk-log li")).to_have_count(1)
    expect(bench).to_have_attribute("data-status", "none")
