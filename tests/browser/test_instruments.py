"""Instruments in a real JupyterLab, by keyboard, mouse and finger: what they say agrees with the mechanics."""

from __future__ import annotations

import math
import os
import re
import signal
import sys
from collections.abc import Iterator
from fractions import Fraction

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.accessible import APPLIED, findings, show_all, take_theme
from tests.browser.by_keyboard import tab_to
from tests.browser.by_pointer import SIZES, box_of, finger, fits_the_screen, middle
from tests.browser.copies import added, write_notebook
from tests.browser.lab import LAPTOP, Chrome, Lab, Server
from trainkit import packs
from trainkit.gears import Clock

pytestmark = pytest.mark.browser

PACK = packs.load("dunlin")
TRAIN = PACK.train
KINDS = ("gears", "clock", "wrench", "bolts")
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


def turned_to(shown: Locator) -> Fraction:
    """Return where the crank stands: degrees forward of the start."""
    return Fraction(str(shown.get_attribute("data-crank")))


def row(shown: Locator, gear: str) -> Locator:
    return shown.locator(f'tr[data-gear="{gear}"]')


def degrees_in(text: str) -> float:
    """Read what a row says of an angle: positive is clockwise."""
    if text == "at the start":
        return 0.0
    found = re.fullmatch(r"so far ([\d.]+)° (clockwise|anticlockwise)", text)
    assert found is not None, text
    return float(found[1]) * (1 if found[2] == "clockwise" else -1)


def expect_train(shown: Locator, crank: Fraction, behind: dict[str, float], end: str) -> None:
    """Expect of every gear what the train does, less what the play has eaten, in degrees of the crank."""
    forward = 1 if end == "front" else -1  # Dunlin runs clockwise, seen from the front
    for gear in TRAIN.gears:
        turn = TRAIN.turn("crank", float(crank + Fraction(behind.get(gear.id, 0.0))) * forward, seen_from=end)
        told = row(shown, gear.id)
        assert degrees_in(told.locator(".tk-angle").inner_text()) == pytest.approx(turn.degrees(gear.id), abs=0.006)
        mark = PACK.lock_pin_table.seats if gear.id == "fuel" else "9:00" if gear.id == "idler" else "12:00"
        at = Clock.parse(mark) if end == "front" else Clock.parse(mark).mirrored()
        said = Clock.parse(told.locator(".tk-mark-at").inner_text().rpartition(" at ")[2])
        off = float(said.degrees - turn.clock(gear.id, at).degrees) % 360
        assert min(off, 360 - off) <= 0.26  # half a minute of the clock
        drawn = shown.locator(f'.tk-view:not([hidden]) [data-turns="{gear.id}"]').get_attribute("transform")
        rotated = re.match(r"rotate\((\S+) ", str(drawn))
        assert rotated is not None
        assert float(rotated[1]) == pytest.approx(turn.degrees(gear.id), abs=1e-6)


def lag(gear: str, back: Fraction) -> float:
    """Return by how much of the crank a gear stays ahead when the crank has come back so far: at most all the lash."""
    return min(float(back), TRAIN.path("crank", gear).lash)


def choose(page: Page, shown: Locator, words: str) -> None:
    """Choose a radio button by keyboard."""
    wanted = shown.get_by_role("radio", name=words, exact=True)
    group = shown.locator(f'input[name="{wanted.get_attribute("name")}"]')
    tab_to(page, group.and_(shown.locator(":checked")))
    for _ in range(group.count()):
        if wanted.is_checked():
            return
        page.keyboard.press("ArrowDown")
    raise AssertionError(words)


def start(shown: Locator) -> None:
    shown.get_by_role("button", name="Go back to the start").click()
    expect(shown).to_have_attribute("data-crank", "0")


def test_the_gear_train_by_keyboard(opened: Lab) -> None:
    page, before = opened.page, opened.cells()
    shown = opened.question("gears")
    slider = shown.locator(".tk-turned")
    tab_to(page, slider)
    for key, count in (("ArrowRight", 7), ("PageUp", 3), ("ArrowDown", 2)):
        for _ in range(count):
            page.keyboard.press(key)
    # 37 on and 2 back: far more than all play, so that every gear follows again.
    assert turned_to(shown) == 35
    behind = {gear.id: lag(gear.id, Fraction(2)) for gear in TRAIN.gears}
    expect_train(shown, Fraction(35), behind, "front")
    assert row(shown, "cam").locator(".tk-now").inner_text() == "turns anticlockwise"
    assert row(shown, "cam").locator(".tk-play").inner_text().strip().endswith("play taken up")
    expect(slider).to_have_attribute("aria-valuenow", "35")
    expect(slider).to_have_attribute("aria-valuetext", re.compile("35° clockwise of the start, seen from the front"))
    expect(shown.locator("[aria-live]")).to_contain_text("35° clockwise of the start")

    choose(page, shown, "the flywheel end")
    expect_train(shown, Fraction(35), behind, "flywheel")
    expect(shown.locator(".tk-where")).to_contain_text("35° anticlockwise of the start, seen from the flywheel end")
    expect(shown.locator("[data-way='1'] .tk-sense")).to_have_text("anticlockwise")
    expect(shown.locator(".tk-view:not([hidden]) text", has_text="seen from the flywheel end")).to_be_visible()
    choose(page, shown, "the front")

    tab_to(page, slider)
    for key in ("x", "d", "d", "0", "0", "Home"):
        page.keyboard.press(key)
    expect(shown).to_have_attribute("data-crank", "0")
    expect(shown.locator(".tk-zone")).to_have_text("The lock pin hole is in line with the pin.")
    tab_to(page, shown.locator("[data-way='1']"))
    page.keyboard.press("Enter")
    page.keyboard.press("Space")
    assert turned_to(shown) == 2
    assert opened.cells() == before


def test_driven_gears_wait_until_the_lash_is_taken_up(opened: Lab) -> None:
    page, shown = opened.page, opened.question("gears")
    start(shown)
    choose(page, shown, "0.05°")
    tab_to(page, shown.locator(".tk-turned"))
    step = Fraction(1, 20)
    for count in range(1, 9):
        page.keyboard.press("ArrowLeft")
        back = count * step
        expect_train(shown, -back, {gear.id: lag(gear.id, back) for gear in TRAIN.gears}, "front")
        for mesh in PACK.meshes:
            whole = TRAIN.path("crank", mesh.driven).lash
            own = TRAIN.path(mesh.driver, mesh.driven).lash * abs(float(TRAIN.ratio(mesh.driver, "crank")))
            rate = abs(float(TRAIN.ratio("crank", mesh.driven)))
            left = (own - max(0.0, min(own, float(back) - (whole - own)))) * rate
            told = row(shown, mesh.driven).locator(".tk-play").inner_text().strip()
            assert told.endswith("play taken up" if left < 1e-9 else f"{left:.2f}° of play left"), (mesh, told)
            tooth = row(shown, mesh.driven).locator("[data-slides]")
            slid = float(str(tooth.get_attribute("transform")).removeprefix("translate(").split()[0])
            share = 1 - left / (own * rate)
            assert slid == pytest.approx(-share * float(str(tooth.get_attribute("data-slides"))), abs=0.01)
    assert row(shown, "water").locator(".tk-now").inner_text() == "stands still"
    # Drawn ten times as large, each mesh keeps the part that is taken up; the crank stays where it is.
    choose(page, shown, "10 times as large")
    assert turned_to(shown) == -Fraction(8, 20)
    crank_lash = TRAIN.path("crank", "idler").lash
    assert degrees_in(row(shown, "idler").locator(".tk-angle").inner_text()) == pytest.approx(
        (0.4 - 10 * crank_lash) * 1.5, abs=0.006
    )
    choose(page, shown, "true to size")
    choose(page, shown, "1°")
    start(shown)


def around(view: Locator, gear: str, degrees: float, reach: float) -> tuple[float, float]:
    """Return a point on the screen at so many degrees clockwise from twelve round a gear's middle."""
    box = box_of(view.locator("svg"))
    place = str(view.locator(f'[data-turns="{gear}"]').get_attribute("data-middle"))
    wide = float(str(view.locator("svg").get_attribute("width")))
    x, y = (float(part) * box["width"] / wide for part in place.split())
    angle = math.radians(degrees)
    return box["x"] + x + reach * math.sin(angle), box["y"] + y - reach * math.cos(angle)


def test_gears_and_hand_by_mouse(opened: Lab) -> None:
    page, shown = opened.page, opened.question("gears")
    start(shown)
    view = shown.locator(".tk-view:not([hidden])")
    page.mouse.move(*around(view, "crank", 0, 30))
    page.mouse.down()
    for degrees in range(0, 430, 10):  # once round and on, so that whole turns count
        page.mouse.move(*around(view, "crank", degrees, 30))
    page.mouse.up()
    crank = turned_to(shown)
    assert abs(crank - 420) < 3
    expect_train(shown, crank, {}, "front")
    expect(shown.locator(".tk-where")).to_contain_text("after top dead centre on exhaust")
    page.mouse.move(*around(view, "crank", 90, 30))
    assert turned_to(shown) == crank  # let go of
    shown.get_by_text("the flywheel end", exact=True).click()
    start(shown)
    other = shown.locator(".tk-view:not([hidden])")
    page.mouse.move(*around(other, "crank", 0, 30))
    page.mouse.down()
    page.mouse.move(*around(other, "crank", 30, 30), steps=5)
    page.mouse.up()
    assert abs(turned_to(shown) + 30) < 3  # clockwise from there is back
    shown.get_by_text("the front", exact=True).click()
    button = shown.locator("[data-way='1']")
    page.mouse.move(*middle(button))
    page.mouse.down()
    at_first = turned_to(shown)
    page.wait_for_timeout(900)  # a button that is held goes on
    page.mouse.up()
    assert turned_to(shown) > at_first + 3
    held = turned_to(shown)
    page.wait_for_timeout(200)
    assert turned_to(shown) == held
    start(shown)

    shown = opened.question("clock")
    view = shown.locator(".tk-view:not([hidden])")
    page.mouse.move(*around(view, "fuel", 75, 70))
    page.mouse.down()
    page.mouse.move(*around(view, "fuel", 45, 70), steps=6)
    page.mouse.up()
    assert abs(turned_to(shown) + 60) < 4  # half as fast as the crank, less the play
    expect(shown.locator(".tk-zone")).to_contain_text("Before the mark “back off to”")
    for _ in range(60):
        if turned_to(shown) >= -12:
            break
        shown.locator("[data-way='1']").click()
    expect(shown.locator(".tk-zone")).to_contain_text("press, and bar on slowly")
    for _ in range(20):
        if turned_to(shown) >= 0:
            break
        shown.locator("[data-way='1']").click()
    before = turned_to(shown)
    shown.get_by_text("10°", exact=True).click()
    shown.locator("[data-way='1']").click()
    assert turned_to(shown) == before + 10
    shown.get_by_text("1°", exact=True).click()
    for _ in range(6):
        shown.locator("[data-way='-1']").click()
    expect(shown.locator(".tk-zone")).to_contain_text("Reached by barring back")
    start(shown)


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


def test_everything_by_finger(tablet: Chrome, server: Server) -> None:
    page, lab = tablet.page, run(tablet.page, server, "by finger")
    for kind, gear, from_, reach in (("gears", "crank", 0, 36), ("clock", "fuel", 75, 70)):
        shown = lab.question(kind)
        view = shown.locator(".tk-view:not([hidden])")
        finger(page, [around(view, gear, from_ + degrees, reach) for degrees in range(0, 91, 10)])
        crank = turned_to(shown)
        # The browser keeps back the first millimetres and the last moment of a finger's way.
        whole = 90 if kind == "gears" else 180
        assert whole * 0.6 < crank < whole + 6
        if kind == "gears":
            expect_train(shown, crank, {}, "front")
        shown.get_by_text("the flywheel end", exact=True).tap()
        expect(shown.locator(".tk-where")).to_contain_text("anticlockwise of the start, seen from the flywheel end")
        shown.locator("[data-way='-1']").tap()
        assert turned_to(shown) == crank - 1

    shown = lab.question("wrench")
    x, y = middle(shown.locator('[data-drag="bolt"]'))
    finger(page, [(x, y - part * 10) for part in range(8)])
    expect(shown.locator('[data-measure="angle"]')).not_to_have_attribute("aria-valuenow", "0")
    expect_setting(shown)
    shown.get_by_role("button", name=re.compile(r"More by 5\smm")).tap()
    expect(shown.locator('[data-measure="length"]')).to_have_attribute("aria-valuenow", "325")
    expect_setting(shown)

    shown = lab.question("bolts")
    shown.locator(".tk-flange-view").scroll_into_view_if_needed()
    page.touchscreen.tap(*head_of(shown, 2))
    expect(shown).to_have_attribute("data-count", "1")
    shown.locator('[data-bolt="6"]').tap()
    expect(shown).to_have_attribute("data-count", "2")
    expect(shown.locator(".tk-seen")).to_contain_text("The part lies level")


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
