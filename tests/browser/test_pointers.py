"""The controls for numbers, options, orders and the bench by mouse and by finger, in a real JupyterLab."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.by_keyboard import card_order
from tests.browser.by_pointer import finger_card, mouse_card, pull_bar
from tests.browser.copies import BENCH, STEPS, Copy, safe_way
from tests.browser.lab import Lab, expect_status

pytestmark = pytest.mark.browser


def test_every_question_by_mouse(lab: Lab, copy: Copy) -> None:
    page = lab.page

    question = lab.question("A1")
    question.locator(".tk-input").click()
    page.keyboard.type("35,0")
    question.get_by_text("lbf·ft", exact=True).click()
    copy.expect_saved(question, "click", kind="number", text="35,0", unit="lbf·ft")

    question = lab.question("A2")
    question.get_by_text("Anticlockwise").click()
    copy.expect_saved(question, "click", kind="choice", option="acw")

    question = lab.question("A3")
    mouse_card(page, question, 0, 3)
    assert card_order(question) == [*STEPS[1:4], STEPS[0], STEPS[4]]
    question.get_by_role("button", name=f"Move up: {STEPS[4]}").click()
    assert card_order(question) == [*STEPS[1:4], STEPS[4], STEPS[0]]
    question.get_by_role("button", name=f"Move down: {STEPS[1]}").click()
    assert card_order(question) == [STEPS[2], STEPS[1], STEPS[3], STEPS[4], STEPS[0]]
    copy.expect_saved(question, "click", kind="order", cards=["s2", "s1", "s3", "s4", "s0"])

    question = lab.question("A4")
    for words in ("Flange seal", "Gear", "Locking nut", "Gear"):  # the last one is taken back
        question.get_by_text(words, exact=True).click()
    copy.expect_saved(question, "click", kind="several", options=["seal", "nut"])

    question = lab.question("A5")
    question.locator(".tk-gap").nth(3).click()
    copy.expect_saved(question, "click", kind="insert", place=3)


def test_every_question_by_finger(touched: Lab, copy: Copy) -> None:
    page, lab = touched.page, touched
    question = lab.question("A1")
    question.locator(".tk-input").tap()
    page.keyboard.insert_text("35")  # the keyboard on the screen
    question.get_by_text("lbf·in", exact=True).tap()
    copy.expect_saved(question, "tap", kind="number", text="35", unit="lbf·in")

    question = lab.question("A2")
    question.get_by_text("It stands still").tap()
    copy.expect_saved(question, "tap", kind="choice", option="still")

    question = lab.question("A3")
    cards = question.locator(".tk-card")
    cards.nth(0).tap()  # lifts
    expect(question.locator(".tk-lifted")).to_contain_text("lifted")
    cards.nth(2).tap()  # and puts it there
    assert card_order(question) == [STEPS[1], STEPS[2], STEPS[0], *STEPS[3:]]
    question.locator(".tk-down").nth(3).tap()
    assert card_order(question) == [STEPS[1], STEPS[2], STEPS[0], STEPS[4], STEPS[3]]
    finger_card(page, question, 4, 0)
    assert card_order(question) == [STEPS[3], STEPS[1], STEPS[2], STEPS[0], STEPS[4]]
    copy.expect_saved(question, "tap", kind="order", cards=["s3", "s1", "s2", "s0", "s4"])

    question = lab.question("A4")
    question.get_by_text("Gear", exact=True).tap()
    question.get_by_text("Locking nut", exact=True).tap()
    copy.expect_saved(question, "tap", kind="several", options=["nut", "gear"])

    question = lab.question("A5")
    question.locator(".tk-gap").nth(0).tap()
    copy.expect_saved(question, "tap", kind="insert", place=0)

    question = lab.question("A6")
    way = safe_way(BENCH)
    for done, action in enumerate(way, start=1):
        question.locator(f'[data-action="{action}"]').tap()
        expect(question.locator(".tk-count")).to_contain_text(f"{done} of")
    expect(question.locator(".tk-ending")).to_have_text(" This attempt is complete.")
    copy.expect_saved(question, kind="actions", actions=way, gave_up=False)

    hand_in = lab.question("finish")
    hand_in.locator(".tk-hand").tap()
    expect_status(hand_in, "unsure")
    hand_in.get_by_role("button", name="Hand in all the same").tap()
    expect_status(hand_in, "packed")
    assert len(list(copy.folder.glob("*.zip"))) == 1


def test_the_bench_by_mouse_starts_again_and_stops(lab: Lab, copy: Copy) -> None:
    question = lab.question("A6")
    first, second, *_ = safe_way(BENCH)
    question.locator(f'[data-action="{first}"]').click()
    expect(question.locator(".tk-count")).to_contain_text("1 of")
    expect(question.locator(".tk-log li")).to_have_count(1)
    expect(question.locator(".tk-seen strong")).not_to_have_text("Nothing has been done yet.")
    question.get_by_role("button", name="Go back to the start").click()
    expect(question.locator(".tk-count")).to_contain_text("0 of")
    assert copy.answer("A6") == {"kind": "actions", "actions": [first], "gave_up": False}
    question.locator(f'[data-action="{first}"]').click()
    expect(question.locator(".tk-count")).to_contain_text("1 of")
    question.locator(f'[data-action="{second}"]').click()
    expect(question.locator(".tk-count")).to_contain_text("2 of")
    question.get_by_role("button", name="Stop here").click()
    expect(question.locator(".tk-ending")).to_have_text(" You stopped this attempt here.")
    copy.expect_saved(question, kind="actions", actions=[first, second], gave_up=True)
    lab.run_all()
    expect(lab.question("A6").locator(".tk-ending")).to_have_text(" You stopped this attempt here.")


# Degrees of a pull at the bar, clockwise, for each action that bars.
PULLS = {"on-a-little": 25, "on-to-press-mark": 75, "back-a-little": -25, "back-off": -75}


def test_a_pull_at_the_bar_is_recorded_as_the_action_that_its_button_does(lab: Lab, copy: Copy) -> None:
    page, question = lab.page, lab.question("A6")
    expect(question.locator(".tk-pin-cut")).to_have_count(0)  # an assessment has no case to cut open
    way = safe_way(BENCH)
    assert set(PULLS) & set(way)
    for done, action in enumerate(way, start=1):
        if action == "press":
            question.locator(".tk-pin-knob").click()
        elif action in PULLS:
            pull_bar(page, question, PULLS[action], steps=3 if done % 2 else 30)  # slowly or fast, it is the same
        else:
            question.locator(f'[data-action="{action}"]').click()
        expect(question.locator(".tk-count")).to_contain_text(f"{done} of")
    expect(question.locator(".tk-ending")).to_have_text(" This attempt is complete.")
    copy.expect_saved(question, kind="actions", actions=way, gave_up=False)
    pull_bar(page, question, 75)  # it is over: nothing is barred any more
    assert copy.answer("A6") == {"kind": "actions", "actions": way, "gave_up": False}
