"""The place on a picture, and the hand and the scale to be set, in a real JupyterLab."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Locator, expect

from tests.browser.answers import give
from tests.browser.by_keyboard import explained_and_gone_on, focused, save, tab_to
from tests.browser.by_pointer import SIZES, box_of, finger, fits_the_screen, middle, on_face
from tests.browser.copies import Copy
from tests.browser.drawn import BOLTS, CLOCK, GEARS, WRENCH
from tests.browser.lab import Lab, expect_status
from trainkit.items.kinds import Item

pytestmark = pytest.mark.browser

ITEMS: tuple[Item, ...] = (GEARS, BOLTS, CLOCK, WRENCH)
PRACTISED = {"gears": "turning-direction/gear-on-picture", "marks": "turning-direction/mark-after-turning"}


def spoken(question: Locator) -> Locator:
    """Return the place inside the control where changes are said aloud."""
    return question.locator(".tk-control .tk-unseen[aria-live]")


def test_all_of_them_by_keyboard_and_again_after_a_restart(lab: Lab, copy: Copy) -> None:
    page, before = lab.page, lab.cells()
    expected: dict[str, dict[str, Any]] = {
        "A1": {"kind": "point", "target": GEARS.targets[4].id},
        "A2": {"kind": "point", "target": BOLTS.targets[2].id},
        "A3": {"kind": "set", "value": 7.75},
        "A4": {"kind": "set", "value": 27.5},
    }
    for (name, answer), item in zip(expected.items(), ITEMS, strict=True):
        give(page, lab, name, item, answer)
    for name, answer in expected.items():
        copy.expect_saved(lab.question(name), **answer)

    lab.restart()
    for name in expected:
        expect_status(lab.question(name), "saved")
    chosen = lab.question("A1").locator(f'[data-target="{GEARS.targets[4].id}"]')
    expect(chosen).to_have_class("tk-place-to-press tk-chosen")
    question = lab.question("A3")
    expect(question.locator(".tk-readout")).to_have_text("7:45")
    expect(question.locator(".tk-hand")).to_have_attribute("transform", "rotate(232.5 130 130)")
    slider = lab.question("A4").locator(".tk-slider")
    expect(slider).to_have_attribute("aria-valuetext", "27.5\u2009N·m")
    assert lab.cells() == before
    assert len(copy.answers().entries) == len(expected)


def test_all_of_them_by_mouse(lab: Lab, copy: Copy) -> None:
    page = lab.page
    question = lab.question("A1")
    gear = GEARS.targets[2]
    shape = question.locator(f'[data-target="{gear.id}"]')
    expect(shape.locator(".solid").first).not_to_have_css("stroke-width", "6px")
    page.mouse.click(*middle(shape.locator(".solid").first))
    expect(question.get_by_role("radio", name=gear.text, exact=True)).to_be_checked()
    expect(spoken(question)).to_have_text(f"{gear.text} is chosen.")
    expect(shape.locator(".solid").first).to_have_css("stroke-width", "6px")  # thicker, not only of another colour
    copy.expect_saved(question, "click", kind="point", target=gear.id)

    question = lab.question("A3")
    page.mouse.move(*on_face(question, 0))
    page.mouse.down()
    page.mouse.move(*on_face(question, 1.5), steps=4)
    page.mouse.move(*on_face(question, 4.3), steps=4)
    expect(question.locator(".tk-readout")).to_have_text("4:20")  # it follows, and keeps to its steps
    page.mouse.up()
    expect(spoken(question)).to_have_text("4:20")
    page.mouse.move(*on_face(question, 9))  # let go of
    expect(question.locator(".tk-readout")).to_have_text("4:20")
    copy.expect_saved(question, "click", kind="set", value=pytest.approx(4 + 1 / 3))

    question = lab.question("A4")
    scale = question.locator(".tk-face").bounding_box()
    assert scale is not None
    page.mouse.click(scale["x"] + scale["width"] / 2, scale["y"] + scale["height"] / 2)
    expect(question.locator(".tk-readout")).to_have_text("60.0\u2009N·m")
    question.get_by_role("button", name="On one step").click()
    expect(spoken(question)).to_have_text("60.5\u2009N·m")
    copy.expect_saved(question, "click", kind="set", value=60.5)


def test_all_of_them_by_finger(touched: Lab, copy: Copy) -> None:
    page, lab = touched.page, touched
    question = lab.question("A2")
    bolt = BOLTS.targets[1]
    x, y = middle(question.locator(f'[data-target="{bolt.id}"] polygon'))
    page.touchscreen.tap(x + 14, y + 14)  # beside the head, yet within a finger of its middle
    expect(question.get_by_role("radio", name=bolt.text, exact=True)).to_be_checked()
    copy.expect_saved(question, "tap", kind="point", target=bolt.id)
    question.get_by_text(BOLTS.targets[0].text, exact=True).tap()  # the list does the same
    copy.expect_saved(question, "tap", kind="point", target=BOLTS.targets[0].id)

    question = lab.question("A3")
    finger(page, [on_face(question, hours) for hours in (11, 10, 9, 8)])
    expect(question.locator(".tk-readout")).to_have_text("8:00")
    question.get_by_role("button", name="Back one step").tap()
    expect(question.locator(".tk-readout")).to_have_text("7:55")
    copy.expect_saved(question, "tap", kind="set", value=pytest.approx(7 + 11 / 12))

    question = lab.question("A4")
    scale = box_of(question.locator(".tk-face"))
    height = scale["y"] + scale["height"] / 2
    finger(page, [(scale["x"] + scale["width"] * share, height) for share in (0.2, 0.3, 0.4, 0.5)])
    expect(question.locator(".tk-readout")).to_have_text("60.0\u2009N·m")
    question.get_by_role("button", name="On one step").tap()
    copy.expect_saved(question, "tap", kind="set", value=60.5)


def test_every_gear_and_bolt_on_the_picture_is_the_one_in_the_list(lab: Lab) -> None:
    for name, item in (("A1", GEARS), ("A2", BOLTS)):
        question = lab.question(name)
        for target in item.targets:
            # Its middle is its own, whatever stands in front of it or beside it.
            lab.page.mouse.click(*middle(question.locator(f'[data-target="{target.id}"] >> .solid, .filled').first))
            expect(question.get_by_role("radio", name=target.text, exact=True)).to_be_checked()


def test_the_hand_goes_by_steps_and_to_its_ends_and_says_where_it_stands(lab: Lab) -> None:
    page, question = lab.page, lab.question("A3")
    slider = question.get_by_role("slider", name="Hand of the clock")
    expect(slider).to_have_attribute("aria-valuetext", "not set")
    tab_to(page, slider)
    for key, words in (
        ("ArrowRight", "12:05"),
        ("ArrowUp", "12:10"),
        ("ArrowLeft", "12:05"),
        ("ArrowDown", "12:00"),
        ("ArrowDown", "11:55"),  # round it goes
        ("Home", "12:00"),
        ("End", "11:55"),
        ("PageUp", "12:55"),
        ("PageDown", "11:55"),
    ):
        page.keyboard.press(key)
        expect(slider).to_have_attribute("aria-valuetext", words)
        expect(question.locator(".tk-readout")).to_have_text(words)
    expect(slider).to_have_attribute("aria-valuemin", "0")
    expect(slider).to_have_attribute("aria-valuemax", "12")
    expect(slider).to_have_attribute("aria-valuenow", re.compile(r"11\.91666"))
    tab_to(page, question.get_by_role("button", name="On one step"))
    page.keyboard.press("Enter")
    expect(spoken(question)).to_have_text("12:00")
    assert "tk-nudge" in focused(page)

    question = lab.question("A4")
    slider = question.get_by_role("slider", name="Scale in N·m")
    tab_to(page, slider)
    for key, words in (
        ("ArrowUp", "20.0"),
        ("ArrowDown", "20.0"),  # a straight scale ends at its ends
        ("PageUp", "28.0"),
        ("End", "100.0"),
        ("ArrowRight", "100.0"),
        ("ArrowLeft", "99.5"),
    ):
        page.keyboard.press(key)
        expect(slider).to_have_attribute("aria-valuetext", f"{words}\u2009N·m")


def test_the_hand_is_painted_in_the_browser_at_once(lab: Lab) -> None:
    """Between a key press and the turned hand no message goes to the kernel: it is turned when the key returns."""
    question = lab.question("A3")
    turned = question.evaluate(
        """(node) => {
          const slider = node.querySelector(".tk-slider"), hand = node.querySelector(".tk-hand");
          const press = () => slider.dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowRight", bubbles: true }));
          return [1, 2, 3].map(() => { press(); return hand.getAttribute("transform"); });
        }"""
    )
    assert turned == ["rotate(2.5 130 130)", "rotate(5 130 130)", "rotate(7.5 130 130)"]


def test_nothing_chosen_is_said_and_not_saved(lab: Lab, copy: Copy) -> None:
    for name, words in (("A1", "Choose a place first."), ("A3", "Set it first.")):
        question = lab.question(name)
        save(lab.page, question)
        expect(question.locator(".tk-alarm")).to_have_text(words)
        assert question.evaluate("(node) => node.querySelector('.tk-control').contains(document.activeElement)")
    assert copy.answers().entries == ()


@pytest.mark.parametrize("skill", PRACTISED)
def test_practice_explains_each_of_them(lab: Lab, copy: Copy, skill: str) -> None:
    page, place = lab.page, list(PRACTISED).index(skill)
    lab.show_cell(1 + place)
    question = page.locator(".tk-question[data-mode=practise]").nth(place)
    expect(question).to_be_visible()
    if skill == "marks":
        tab_to(page, question.locator(".tk-slider"))
        page.keyboard.press("Home")
    else:
        tab_to(page, question.get_by_role("radio").first)
        page.keyboard.press("Space")
    explained_and_gone_on(page, question)
    assert copy.answers().entries == ()


def test_targets_are_large_and_nothing_is_wider_than_the_screen(lab: Lab) -> None:
    for (width, height), size in SIZES.items():
        lab.page.set_viewport_size({"width": width, "height": height})
        for name in ("A1", "A2", "A3", "A4"):
            fits_the_screen(lab.question(name))
        for place in lab.question("A2").locator(".tk-place-to-press").all():
            # Neighbours are far enough off on this flange for a finger's width each.
            assert box_of(place.locator(".tk-rim-to-press, polygon").first)["width"] >= 43.5, size
