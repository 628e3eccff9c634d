"""Every control by keyboard, in a real JupyterLab; mouse and finger have their own tests in ``test_pointers``."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Locator, expect

from tests.browser.answers import give
from tests.browser.by_keyboard import answer_choice, answer_number, card_order, focused, save, tab_to
from tests.browser.by_pointer import SIZES, fits_the_screen
from tests.browser.copies import BENCH, ITEMS, STEPS, Copy, safe_way
from tests.browser.lab import Lab, expect_status

pytestmark = pytest.mark.browser


def test_another_unit_than_the_chosen_one_is_settled_before_it_is_saved(lab: Lab, copy: Copy) -> None:
    page = lab.page
    question = lab.question("A1")
    answer_number(page, question, "31 lbf·ft", "N·m", saving=False)
    asked = question.get_by_role("group", name="Which unit do you mean?")
    expect(asked).to_contain_text("You typed lbf·ft, and N·m is chosen. Which unit do you mean?")
    tab_to(page, question.locator(".tk-settle"))
    page.keyboard.press("Enter")
    expect_status(question, "failed")
    expect(question.locator(".tk-alarm")).to_contain_text("Which unit do you mean?")
    assert copy.answers().entries == ()
    # The focus stands on the first way out; pressing it saves.
    expect(asked.get_by_role("button", name="Keep 31\u2009lbf·ft")).to_be_focused()
    page.keyboard.press("Enter")
    copy.expect_saved(question, kind="number", text="31", unit="lbf·ft")
    expect(asked).to_be_empty()
    expect(question.locator(".tk-understood")).to_have_text("Understood as 31\u2009lbf·ft.")

    answer_number(page, question, "42 N·m", saving=False)  # lbf·ft is still chosen
    asked.get_by_role("button", name="Change to 42\u2009lbf·ft").click()
    expect(question.locator(".tk-input")).to_have_value("42")
    expect_status(question, "draft")  # nobody has pressed Save yet
    save(page, question)
    copy.expect_saved(question, kind="number", text="42", unit="lbf·ft")


def test_the_calculator_works_by_keyboard_and_is_no_part_of_the_answer(lab: Lab, copy: Copy) -> None:
    page = lab.page
    question = lab.question("A1")
    before = lab.cells()
    tab_to(page, question.get_by_text("Calculator", exact=True))
    page.keyboard.press("Enter")
    sum_field = question.get_by_role("textbox", name="Sum to work out")
    tab_to(page, sum_field)
    page.keyboard.type("42*(300-20)/300")
    page.keyboard.press("Enter")
    result = question.locator(".tk-sum-result")
    expect(result).to_have_text("= 39.2")
    page.keyboard.press("Control+a")
    page.keyboard.type("1/0")
    page.keyboard.press("Enter")
    expect(result).to_have_text("Nothing can be divided by 0.")
    question.get_by_role("button", name="Clear the sum").click()
    for name in ("7", "times", "bracket open", "8", "minus", "point", "5", "bracket closed"):
        question.get_by_role("button", name=name, exact=True).click()
    expect(sum_field).to_have_value("7×(8−.5)")
    question.get_by_role("button", name="Work out").click()
    expect(result).to_have_text("= 52.5")
    expect_status(question, "none")
    expect(question.locator(".tk-input")).to_have_value("")
    assert copy.answers().entries == ()
    assert lab.cells() == before


def test_every_question_is_answered_and_handed_in_by_keyboard_alone(lab: Lab, copy: Copy) -> None:
    page = lab.page
    before = lab.cells()
    question = lab.question("A1")
    expect_status(question, "none")
    answer_number(page, question, "35", "lbf·ft", saving=False)
    expect(question.locator(".tk-understood")).to_have_text("Understood as 35\u2009lbf·ft.")
    assert copy.answers().entries == ()  # read back, not recorded
    expect_status(question, "draft")
    save(page, question)
    copy.expect_saved(question, kind="number", text="35", unit="lbf·ft")
    expect(question.locator(".tk-status")).to_contain_text("SAVED")

    def answered(name: str, **answer: Any) -> Locator:
        question = lab.question(name)
        give(page, lab, name, ITEMS[int(name[1:]) - 1], answer)
        copy.expect_saved(question, **answer)
        return question

    answered("A2", kind="choice", option="acw")
    answered("A3", kind="order", cards=["s2", "s0", "s1", "s4", "s3"])
    answered("A4", kind="several", options=["seal", "nut"])

    hand_in = lab.question("finish")
    expect(hand_in.locator(".tk-progress")).to_contain_text("Answered and saved: 4 of 11.")  # without a press
    tab_to(page, hand_in.locator(".tk-hand"))
    page.keyboard.press("Enter")
    expect_status(hand_in, "unsure")
    expect(hand_in.locator(".tk-progress")).to_contain_text("Not answered: A5, A6, A7, A8, A9, A10, A11.")
    assert list(copy.folder.glob("*.zip")) == []

    answered("A5", kind="insert", place=2)
    question = answered("A6", kind="actions", actions=safe_way(BENCH), gave_up=False)
    expect(question.locator(".tk-ending")).to_have_text(" This attempt is complete.")
    question = answered("A7", kind="point", target="3")
    expect(question.locator('[data-target="3"]')).to_have_class("tk-place-to-press tk-chosen")
    question = answered("A8", kind="set", value=9.75)
    expect(question.locator(".tk-readout")).to_have_text("9:45")
    answered("A9", kind="set", value=24.5)
    answered("A10", kind="grid", rows={"seal": "renew", "gear": "refit"})
    answered("A11", kind="text", text="The pin would shear: <b>x</b> m 1 0 0 dd")

    hand_in = lab.question("finish")
    tab_to(page, hand_in.locator(".tk-hand"))
    page.keyboard.press("Enter")
    expect_status(hand_in, "packed")
    expect(hand_in.locator(".tk-file")).to_have_text("controls-zoë_o_neill-K7.handin.zip")
    assert [path.name for path in copy.folder.glob("*.zip")] == ["controls-zoë_o_neill-K7.handin.zip"]
    assert lab.cells() == before
    assert copy.answers().problems == ()


def test_an_order_by_keys_speaks_and_can_be_put_back(lab: Lab, copy: Copy) -> None:
    page, question = lab.page, lab.question("A3")
    said = question.locator(".tk-ordering > .tk-unseen")
    tab_to(page, question.locator('.tk-card[tabindex="0"]'))
    page.keyboard.press("Enter")
    expect(said).to_contain_text("is lifted, number 1 of 5")
    page.keyboard.press("End")
    expect(said).to_contain_text(f"{STEPS[0]} is now number 5 of 5")
    assert card_order(question) == [*STEPS[1:], STEPS[0]]
    page.keyboard.press("ArrowUp")
    assert card_order(question) == [*STEPS[1:4], STEPS[0], STEPS[4]]
    page.keyboard.press("Escape")
    expect(said).to_contain_text("is back as number 1 of 5")
    assert card_order(question) == list(STEPS)
    assert STEPS[0] in focused(page)
    page.keyboard.press("ArrowDown")  # without a lifted card the arrows move the focus only
    assert STEPS[1] in focused(page)
    assert card_order(question) == list(STEPS)
    page.keyboard.press("Space")
    page.keyboard.press("Home")
    page.keyboard.press("Tab")  # leaving puts the card down where it is
    assert card_order(question) == [STEPS[1], STEPS[0], *STEPS[2:]]
    expect(question.locator(".tk-lifted")).to_have_count(0)
    expect_status(question, "draft")
    assert copy.answers().entries == ()


# Whatever the notebook has a plain key for; those that save, choose or move in a control among them.
KEYS = (
    *"xcvabmyr16zlofhsqkj",
    *("d d", "0 0", "i i", "Delete", "Backspace", "Escape", "Space", "Enter", "Home", "End", "PageUp", "PageDown"),
    *("ArrowDown", "ArrowUp", "Shift+m", "Shift+v", "Shift+Enter", "Shift+ArrowDown"),
)
PLACES = (
    *(("A1", ".tk-input"), ("A1", ".tk-units input >> nth=0"), ("A2", ".tk-choice input >> nth=0")),
    *(("A2", ".tk-settle"), ("A2", ""), ("A3", ".tk-card >> nth=0"), ("A4", ".tk-choice input >> nth=1")),
    *(("A5", ".tk-insert input >> nth=2"), ("A6", ".tk-action >> nth=0"), ("A6", ".tk-stop")),
    *(
        ("A7", ".tk-point-list input >> nth=0"),
        ("A8", ".tk-slider"),
        ("A8", ".tk-nudge >> nth=0"),
        ("A9", ".tk-slider"),
    ),
    *(("A10", ".tk-grid-cell input >> nth=1"), ("A11", "textarea"), ("finish", ".tk-look")),
)


def test_plain_keys_in_a_control_never_change_the_notebook(lab: Lab) -> None:
    page, before, kernel = lab.page, lab.cells(), lab.kernel_pid()
    for name, selector in PLACES:
        question = lab.question(name)
        target = question.locator(selector) if selector else question
        for keys in KEYS:
            target.focus()
            for key in keys.split():
                page.keyboard.press(key)
        assert lab.cells() == before, f"{name} {selector}"
    page.wait_for_timeout(500)
    assert lab.cells() == before
    assert lab.kernel_pid() == kernel
    expect(page.locator(".jp-Dialog")).to_have_count(0)


def test_the_guard_is_needed(lab: Lab) -> None:
    """Outside the controls the same keys do change the notebook: the test above can fail."""
    before = lab.cells()
    lab.show_cell(0)
    lab.page.keyboard.press("b")
    assert len(lab.cells()) == len(before) + 1


def test_keys_with_control_still_reach_the_notebook(lab: Lab, copy: Copy) -> None:
    question = lab.question("A2")
    answer_choice(lab.page, question, "cw")
    expect_status(question, "saved")
    size = (copy.folder / "controls.ipynb").stat().st_size
    lab.page.keyboard.press("Control+s")
    lab.page.wait_for_function("() => !window.jupyterapp.shell.currentWidget.context.model.dirty")
    assert (copy.folder / "controls.ipynb").stat().st_size > size  # it now holds the outputs
    lab.page.keyboard.press("Control+Enter")  # runs the cell again: the answer comes back from the disk
    lab.wait_idle()
    expect_status(lab.question("A2"), "saved")
    expect(lab.question("A2").locator('input[value="cw"]')).to_be_checked()


def test_practice_gives_a_hint_and_a_second_try_explains_and_goes_on(lab: Lab, copy: Copy) -> None:
    page = lab.page
    lab.show_cell(1)
    question = page.locator(".tk-question[data-mode=practise]")
    expect(question).to_be_visible()
    answer_number(page, question, "98765 N·m")
    expect(question.locator(".tk-verdict")).to_contain_text("Not yet")
    edge, word = question.evaluate(
        """(node) => [getComputedStyle(node.querySelector(".tk-explained")).borderLeftColor,
          getComputedStyle(node.querySelector(".tk-verdict")).color]"""
    )
    assert edge == word  # what comes of it has one colour
    expect(question.locator(".tk-explained")).to_contain_text("Try again.")
    expect(question.locator(".tk-working")).to_have_count(0)
    answer_number(page, question, "98764 N·m")
    expect(question.locator(".tk-compared")).to_contain_text("✗ Your answer")
    expect(question.locator(".tk-working li").first).to_be_visible()
    expect(question.locator(".tk-tally")).to_have_text("0 of 1 right at the first try")
    prompt = question.locator(".tk-given").inner_text()
    tab_to(page, question.locator(".tk-next"))
    page.keyboard.press("Enter")
    expect(question.locator(".tk-verdict")).to_have_count(0)
    expect(question.locator(".tk-input")).to_be_focused()  # the focus never falls out of the question
    assert question.locator(".tk-given").inner_text() != prompt
    assert copy.answers().entries == ()


def test_a_number_that_cannot_be_read_is_said_and_not_recorded(lab: Lab, copy: Copy) -> None:
    question = lab.question("A1")
    answer_number(lab.page, question, "1,250", "N·m")
    expect_status(question, "failed")
    expect(question.locator(".tk-alarm")).to_contain_text("Write 1250 for thousands")
    answer_number(lab.page, question, "35")
    expect_status(question, "saved")  # the unit stays picked
    answer_number(lab.page, question, "36 lb")
    expect_status(question, "failed")
    assert copy.answer("A1") == {"kind": "number", "text": "35", "unit": "N·m"}


def test_controls_are_large_named_and_fit_the_screen(lab: Lab) -> None:
    page = lab.page
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        for name in (*(f"A{number}" for number in range(1, 12)), "finish"):
            fits_the_screen(lab.question(name))
    for name in (*(f"A{number}" for number in range(1, 12)), "finish"):
        question = lab.question(name)
        for control in question.get_by_role("button").or_(question.get_by_role("radio")).all():
            assert control.evaluate(
                "(node) => (node.ariaLabel || node.closest('label')?.textContent || node.textContent).trim()"
            )
        question.locator("button, input, textarea, [tabindex='0']").first.focus()
        page.keyboard.press("Tab")
        assert "3px" in page.evaluate("() => getComputedStyle(document.activeElement).outline")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_theme_of_jupyterlab_decides_the_paper(lab: Lab, dark: bool) -> None:
    theme = "JupyterLab Dark" if dark else "JupyterLab Light"
    lab.page.evaluate(
        "async (theme) => { await window.jupyterapp.commands.execute('apputils:change-theme', { theme }); }", theme
    )
    expect(lab.page.locator("body")).to_have_attribute("data-jp-theme-light", "false" if dark else "true")
    question = lab.question("A2")
    paper = "rgb(20, 25, 29)" if dark else "rgb(251, 250, 246)"
    expect(question).to_have_css("background-color", paper)
    expect(question.locator("svg.tk-figure rect.paper")).to_have_css("fill", paper)
