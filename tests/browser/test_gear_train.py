"""The gear train and the clock face in a real JupyterLab, by keyboard, mouse and finger, against the mechanics."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from fractions import Fraction

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.accessible import show_all
from tests.browser.by_keyboard import tab_to
from tests.browser.by_pointer import box_of, finger, middle
from tests.browser.copies import added, write_notebook
from tests.browser.lab import Chrome, Lab, Server
from trainkit import packs
from trainkit.gears import Clock

pytestmark = pytest.mark.browser

PACK = packs.load("dunlin")
TRAIN = PACK.train
OPENED = """\
from pathlib import Path

from trainkit import modules, workbook

book = workbook.Book(modules.load("lock-pin"), Path("nowhere"))"""
CELLS = (OPENED, 'book.instrument("gears")', 'book.instrument("clock")')


def run(page: Page, server: Server, folder: str) -> Lab:
    """Write a notebook with both into a folder of the server, open and run it."""
    path = f"{folder}/turn.ipynb"
    write_notebook(server.root / path, [added(source, f"c{place}") for place, source in enumerate(CELLS)])
    return Lab(page, server).run(path)


@pytest.fixture(scope="module")
def opened(server: Server, chrome: Chrome) -> Iterator[Lab]:
    """The notebook, opened and run once for all tests of this module."""
    chrome.begin_anew()
    lab = run(chrome.page, server, "trains")
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
    """Expect of every gear what the train does, less what the lash has eaten, in degrees of the crank."""
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
        assert float(str(told.get_attribute("data-turned"))) == pytest.approx(turn.degrees(gear.id), abs=1e-6)


def lag(gear: str, back: Fraction) -> float:
    """Return by how much of the crank a gear stays ahead when the crank has come back so far: at most all the lash."""
    return min(float(back), TRAIN.path("crank", gear).lash)


def at_the(shown: Locator, end: str) -> None:
    """Wait until the walk has come to an end of the engine."""
    expect(shown.locator(".tk-walk")).to_have_js_property("value", "180" if end == "flywheel" else "0")
    expect(shown).to_have_attribute("data-end", end)


def on_gear(shown: Locator, gear: str, degrees: float) -> tuple[float, float]:
    """Return a point on a gear of the train on the screen, so many degrees clockwise from its top as it is seen."""
    canvas = shown.locator(".tk-train-canvas")
    box = box_of(canvas)
    x, y, radius = json.loads(str(canvas.get_attribute("data-gears")))[gear]
    angle = math.radians(degrees)
    return box["x"] + x + 0.8 * radius * math.sin(angle), box["y"] + y - 0.8 * radius * math.cos(angle)


def turn_by_mouse(page: Page, shown: Locator, gear: str, way: range) -> None:
    """Take hold of a gear with the mouse and turn it."""
    points = [on_gear(shown, gear, degrees) for degrees in way]
    page.mouse.move(*points[0])
    page.mouse.down()
    for point in points[1:]:
        page.mouse.move(*point)
    page.mouse.up()


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
    # 37 on and 2 back: far more than all lash, so that every gear follows again.
    assert turned_to(shown) == 35
    behind = {gear.id: lag(gear.id, Fraction(2)) for gear in TRAIN.gears}
    expect_train(shown, Fraction(35), behind, "front")
    assert row(shown, "cam").locator(".tk-now").inner_text() == "turns anticlockwise"
    assert row(shown, "cam").locator(".tk-play").inner_text().strip().endswith("lash taken up")
    expect(slider).to_have_attribute("aria-valuenow", "35")
    expect(slider).to_have_attribute("aria-valuetext", re.compile("35° clockwise of the start, seen from the front"))
    expect(shown.locator("[aria-live]")).to_contain_text("35° clockwise of the start")

    choose(page, shown, "the flywheel end")
    at_the(shown, "flywheel")
    expect_train(shown, Fraction(35), behind, "flywheel")
    expect(shown.locator(".tk-where")).to_contain_text("35° anticlockwise of the start, seen from the flywheel end")
    expect(shown.locator("[data-way='1'] .tk-sense")).to_have_text("anticlockwise")
    choose(page, shown, "the front")
    at_the(shown, "front")

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
            assert told.endswith("lash taken up" if left < 1e-9 else f"{left:.2f}° of lash left"), (mesh, told)
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
    turn_by_mouse(page, shown, "crank", range(0, 430, 10))  # once round and on, so that whole turns count
    crank = turned_to(shown)
    assert abs(crank - 420) < 3
    expect_train(shown, crank, {}, "front")
    expect(shown.locator(".tk-where")).to_contain_text("after top dead centre on exhaust")
    page.mouse.move(*on_gear(shown, "crank", 90))
    assert turned_to(shown) == crank  # let go of
    shown.get_by_text("the flywheel end", exact=True).click()
    at_the(shown, "flywheel")
    start(shown)
    turn_by_mouse(page, shown, "crank", range(0, 31, 6))
    assert abs(turned_to(shown) + 30) < 3  # clockwise from there is back
    shown.get_by_text("the front", exact=True).click()
    at_the(shown, "front")
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
    assert abs(turned_to(shown) + 60) < 4  # half as fast as the crank, less the lash
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


def test_any_gear_drives_and_the_crank_waits_for_the_lash(opened: Lab) -> None:
    page, shown = opened.page, opened.question("gears")
    start(shown)
    turn_by_mouse(page, shown, "fuel", range(20, 61, 2))
    first = turned_to(shown)
    lash = TRAIN.path("crank", "fuel").lash
    fuel = degrees_in(row(shown, "fuel").locator(".tk-angle").inner_text())
    assert abs(fuel - 40) < 2
    # The fuel gear makes half a turn for one of the crank, which it now pulls along by the other flanks.
    assert float(first) == pytest.approx(fuel * 2 - lash, abs=0.02)
    expect(row(shown, "fuel")).to_have_class(re.compile("tk-held"))
    expect(shown.locator(".tk-glass-words")).to_contain_text("The idler gear pushes the crank gear forward.")
    # By keyboard too: a step that is smaller than the lash turns the held gear alone.
    slider = shown.locator(".tk-turned")
    choose(page, shown, "0.05°")
    tab_to(page, slider)
    expect(slider).to_have_attribute("aria-label", "fuel metering unit gear")
    page.keyboard.press("ArrowLeft")
    assert turned_to(shown) == first
    expect(row(shown, "crank").locator(".tk-now")).to_have_text("stands still")
    expect(row(shown, "fuel").locator(".tk-now")).to_have_text("turns anticlockwise")
    page.keyboard.press("m")
    expect(shown.get_by_label("Magnified")).to_have_value("1")
    page.keyboard.press("g")
    expect(shown.get_by_label("You turn")).to_have_value("oil")
    choose(page, shown, "1°")
    shown.get_by_label("You turn").select_option("crank")
    shown.get_by_label("Magnified").select_option("0")
    start(shown)


def test_arrows_are_set_first_and_answered_in_words_too(opened: Lab) -> None:
    page, shown = opened.page, opened.question("gears")
    start(shown)
    told = shown.locator(".tk-predicted")
    shown.get_by_role("button", name="Set your arrows").click()
    expect(told).to_contain_text("The crank gear turns clockwise, seen from the front.")
    page.mouse.click(*on_gear(shown, "idler", 60))  # clockwise, which is wrong
    page.mouse.click(*on_gear(shown, "cam", 60))  # clockwise, which is right
    expect(told).to_contain_text("3 to go")
    oil = row(shown, "oil").get_by_role("button")
    tab_to(page, oil)
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    expect(oil).to_have_text("Your arrow: anticlockwise.")  # right
    assert turned_to(shown) == 0  # a press is no drag
    before = shown.locator(".tk-train-canvas").screenshot()
    shown.get_by_role("button", name="Turn and compare").click()
    expect(shown).to_have_attribute("data-crank", "120")
    expect(told).to_have_text("Right: 2 of 3. The idler gear turns anticlockwise, not clockwise.")
    assert shown.locator(".tk-train-canvas").screenshot() != before
    shown.locator(".tk-walk").fill("180")
    expect(told).to_have_text("Right: 2 of 3. The idler gear turns clockwise, not anticlockwise.")
    shown.locator(".tk-walk").fill("0")
    shown.get_by_role("button", name="Clear the arrows").click()
    expect(told).to_contain_text("Set your own arrows first")
    start(shown)


def test_by_finger(tablet: Chrome, server: Server) -> None:
    page, lab = tablet.page, run(tablet.page, server, "trains by finger")
    for kind, whole in (("gears", 90), ("clock", 180)):
        shown = lab.question(kind)
        way = range(0, 91, 10)
        if kind == "gears":
            finger(page, [on_gear(shown, "crank", degrees) for degrees in way])
        else:
            view = shown.locator(".tk-view:not([hidden])")
            finger(page, [around(view, "fuel", 75 + degrees, 70) for degrees in way])
        crank = turned_to(shown)
        # The browser keeps back the first millimetres and the last moment of a finger's way.
        assert whole * 0.6 < crank < whole + 6
        if kind == "gears":
            expect_train(shown, crank, {}, "front")
        shown.get_by_text("the flywheel end", exact=True).tap()
        expect(shown.locator(".tk-where")).to_contain_text("anticlockwise of the start, seen from the flywheel end")
        shown.locator("[data-way='-1']").tap()
        assert abs(turned_to(shown) - crank + 1) <= Fraction(1, 40)  # from the whole step that is nearest
