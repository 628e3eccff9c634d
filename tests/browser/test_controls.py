"""Every control by keyboard, mouse and finger, in a real JupyterLab."""

from __future__ import annotations

from pathlib import Path

import pytest
from copies import BENCH, STEPS, Copy, safe_way
from lab import (
    Chrome,
    Lab,
    Server,
    answer_choice,
    answer_grid,
    answer_insert,
    answer_number,
    answer_order,
    answer_point,
    answer_set,
    answer_several,
    answer_text,
    card_order,
    expect_status,
    focused,
    play_actions,
    save,
    tab_to,
)
from playwright.sync_api import Locator, Page, Playwright, expect

pytestmark = pytest.mark.browser


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
    expect_status(question, "saved")
    expect(question.locator(".tk-status")).to_contain_text("SAVED")
    assert copy.answer("A1") == {"kind": "number", "text": "35", "unit": "lbf·ft"}

    question = lab.question("A2")
    answer_choice(page, question, "acw")
    expect_status(question, "saved")
    assert copy.answer("A2") == {"kind": "choice", "option": "acw"}

    question = lab.question("A3")
    answer_order(page, question, [STEPS[place] for place in (2, 0, 1, 4, 3)])
    expect_status(question, "saved")
    assert copy.answer("A3") == {"kind": "order", "cards": ["s2", "s0", "s1", "s4", "s3"]}

    question = lab.question("A4")
    answer_several(page, question, ["seal", "nut"])
    expect_status(question, "saved")
    assert copy.answer("A4") == {"kind": "several", "options": ["seal", "nut"]}

    hand_in = lab.question("finish")
    tab_to(page, hand_in.locator(".tk-hand"))
    page.keyboard.press("Enter")
    expect_status(hand_in, "unsure")
    expect(hand_in.locator(".tk-progress")).to_contain_text("Not answered: A5, A6, A7, A8, A9, A10, A11.")
    assert list(copy.folder.glob("*.zip")) == []

    question = lab.question("A5")
    answer_insert(page, question, 2)
    expect_status(question, "saved")
    assert copy.answer("A5") == {"kind": "insert", "place": 2}

    question = lab.question("A6")
    way = safe_way(BENCH)
    play_actions(page, question, way)
    expect_status(question, "saved")
    expect(question.locator(".tk-ending")).to_have_text(" This attempt is complete.")
    assert copy.answer("A6") == {"kind": "actions", "actions": way, "gave_up": False}

    question = lab.question("A7")
    answer_point(page, question, "3")
    expect_status(question, "saved")
    expect(question.locator('[data-target="3"]')).to_have_class("tk-place-to-press tk-chosen")
    assert copy.answer("A7") == {"kind": "point", "target": "3"}

    question = lab.question("A8")
    answer_set(page, question, 9.75, 0.25, 0.0)
    expect_status(question, "saved")
    expect(question.locator(".tk-readout")).to_have_text("9:45")
    assert copy.answer("A8") == {"kind": "set", "value": 9.75}

    question = lab.question("A9")
    answer_set(page, question, 24.5, 0.5, 20.0)
    expect_status(question, "saved")
    assert copy.answer("A9") == {"kind": "set", "value": 24.5}

    question = lab.question("A10")
    answer_grid(page, question, {"Flange seal": "Renew", "Drive gear": "Refit"})
    expect_status(question, "saved")
    assert copy.answer("A10") == {"kind": "grid", "rows": {"seal": "renew", "gear": "refit"}}

    question = lab.question("A11")
    answer_text(page, question, "The pin would shear: <b>x</b> m 1 0 0 dd")
    expect_status(question, "saved")
    assert copy.answer("A11") == {"kind": "text", "text": "The pin would shear: <b>x</b> m 1 0 0 dd"}

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


KEYS = [
    *(
        "x",
        "c",
        "v",
        "d d",
        "a",
        "b",
        "m",
        "y",
        "r",
        "1",
        "6",
        "0 0",
        "i i",
        "z",
        "l",
        "o",
        "f",
        "h",
        "s",
        "q",
        "k",
        "j",
    ),
    *("Delete", "Backspace", "Escape", "ArrowDown", "ArrowUp", "Shift+m", "Shift+v", "Shift+Enter", "Shift+ArrowDown"),
]


PLACES = [
    ("A1", ".tk-units input >> nth=0"),
    ("A2", ".tk-choice input >> nth=0"),
    ("A2", ".tk-settle"),
    ("A2", ""),
    ("A3", ".tk-card >> nth=0"),
    ("A6", ".tk-stop"),
    ("A7", ".tk-point-list input >> nth=0"),
    ("A8", ".tk-slider"),
    ("finish", ".tk-look"),
]


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


def test_the_bench_by_mouse_starts_again_and_stops(lab: Lab, copy: Copy) -> None:
    question = lab.question("A6")
    first, second, *_ = safe_way(BENCH)
    question.locator(f'[data-action="{first}"]').click()
    expect(question.locator(".tk-count")).to_contain_text("1 of")
    expect(question.locator(".tk-log li")).to_have_count(1)
    expect(question.locator(".tk-seen strong")).not_to_have_text("Nothing has been done yet.")
    question.get_by_role("button", name="Start again").click()
    expect(question.locator(".tk-count")).to_contain_text("0 of")
    assert copy.answer("A6") == {"kind": "actions", "actions": [first], "gave_up": False}
    question.locator(f'[data-action="{first}"]').click()
    question.locator(f'[data-action="{second}"]').click()
    expect(question.locator(".tk-count")).to_contain_text("2 of")
    question.get_by_role("button", name="Stop here").click()
    expect(question.locator(".tk-ending")).to_have_text(" You stopped this attempt here.")
    expect_status(question, "saved")
    assert copy.answer("A6") == {"kind": "actions", "actions": [first, second], "gave_up": True}
    lab.run_all()
    expect(lab.question("A6").locator(".tk-ending")).to_have_text(" You stopped this attempt here.")


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


def test_every_question_by_mouse(lab: Lab, copy: Copy) -> None:
    page = lab.page
    question = lab.question("A1")
    question.locator(".tk-input").click()
    page.keyboard.type("35,0")
    question.get_by_text("lbf·ft", exact=True).click()
    question.get_by_role("button", name="Save answer").click()
    expect_status(question, "saved")
    assert copy.answer("A1") == {"kind": "number", "text": "35,0", "unit": "lbf·ft"}

    question = lab.question("A2")
    question.get_by_text("Anticlockwise").click()
    question.get_by_role("button", name="Save answer").click()
    expect_status(question, "saved")

    question = lab.question("A3")
    drag(page, question, 0, 3)
    assert card_order(question) == [*STEPS[1:4], STEPS[0], STEPS[4]]
    question.get_by_role("button", name=f"Move up: {STEPS[4]}").click()
    assert card_order(question) == [*STEPS[1:4], STEPS[4], STEPS[0]]
    question.get_by_role("button", name=f"Move down: {STEPS[1]}").click()
    assert card_order(question) == [STEPS[2], STEPS[1], STEPS[3], STEPS[4], STEPS[0]]
    question.get_by_role("button", name="Save answer").click()
    expect_status(question, "saved")
    assert copy.answer("A3") == {"kind": "order", "cards": ["s2", "s1", "s3", "s4", "s0"]}

    question = lab.question("A7")
    question.locator('[data-target="4"]').click()
    expect(question.get_by_role("radio", name="Screw 4")).to_be_checked()
    question.get_by_role("button", name="Save answer").click()
    expect_status(question, "saved")
    assert copy.answer("A7") == {"kind": "point", "target": "4"}

    question = lab.question("A8")
    face = question.locator(".tk-face").bounding_box()
    assert face is not None
    page.mouse.move(face["x"] + face["width"] / 2, face["y"] + 30)
    page.mouse.down()  # twelve o'clock
    page.mouse.move(face["x"] + face["width"] - 30, face["y"] + face["height"] / 2, steps=5)
    page.mouse.up()  # three o'clock
    expect(question.locator(".tk-readout")).to_have_text("3:00")
    question.get_by_role("button", name="Back one step").click()
    expect(question.locator(".tk-readout")).to_have_text("2:45")
    question.get_by_role("button", name="Save answer").click()
    expect_status(question, "saved")
    assert copy.answer("A8") == {"kind": "set", "value": 2.75}

    question = lab.question("A5")
    question.locator(".tk-gap").nth(3).click()
    question.get_by_role("button", name="Save answer").click()
    expect_status(question, "saved")
    assert copy.answer("A5") == {"kind": "insert", "place": 3}


def drag(page: Page, question: Locator, start: int, end: int) -> None:
    """Drag a card to where another one stands."""
    cards = question.locator(".tk-card")
    one, other = cards.nth(start).bounding_box(), cards.nth(end).bounding_box()
    assert one is not None
    assert other is not None
    page.mouse.move(one["x"] + 60, one["y"] + 20)
    page.mouse.down()
    for share in (0.3, 0.6, 0.9, 1.0):
        page.mouse.move(one["x"] + 60, one["y"] + 20 + (other["y"] + 25 - one["y"] - 20) * share)
    page.mouse.up()


def test_every_question_by_finger(playwright: Playwright, server: Server, copy: Copy, tmp_path: Path) -> None:
    with Chrome(playwright, tmp_path / "profile", touch=True) as chrome:
        page, lab = chrome.page, Lab(chrome.page, server)
        lab.open(copy.path)
        lab.run_all()
        question = lab.question("A2")
        question.get_by_text("It stands still").tap()
        question.get_by_role("button", name="Save answer").tap()
        expect_status(question, "saved")
        assert copy.answer("A2") == {"kind": "choice", "option": "still"}

        question = lab.question("A3")
        cards = question.locator(".tk-card")
        cards.nth(0).tap()  # lifts
        expect(question.locator(".tk-lifted")).to_contain_text("lifted")
        cards.nth(2).tap()  # and puts it there
        assert card_order(question) == [STEPS[1], STEPS[2], STEPS[0], *STEPS[3:]]
        question.locator(".tk-down").nth(3).tap()
        assert card_order(question) == [STEPS[1], STEPS[2], STEPS[0], STEPS[4], STEPS[3]]
        finger_drag(page, question, 4, 0)
        assert card_order(question) == [STEPS[3], STEPS[1], STEPS[2], STEPS[0], STEPS[4]]
        question.get_by_role("button", name="Save answer").tap()
        expect_status(question, "saved")
        assert copy.answer("A3") == {"kind": "order", "cards": ["s3", "s1", "s2", "s0", "s4"]}
        assert chrome.errors == []


def finger_drag(page: Page, question: Locator, start: int, end: int) -> None:
    """Drag a card by its grip with a finger, through the browser's own touch input."""
    grips = question.locator(".tk-grip")
    one, other = grips.nth(start).bounding_box(), grips.nth(end).bounding_box()
    assert one is not None
    assert other is not None
    session = page.context.new_cdp_session(page)
    x, y = one["x"] + 20, one["y"] + 22
    steps = [y + (other["y"] + 8 - y) * share for share in (0.2, 0.4, 0.6, 0.8, 1.0)]
    session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for height in steps:
        session.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": height}]})
        page.wait_for_timeout(60)  # a finger takes its time; a fling would swallow the tap that follows
    page.wait_for_timeout(200)
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_practice_is_explained_at_once_and_goes_on(lab: Lab, copy: Copy) -> None:
    page = lab.page
    lab.show_cell(1)
    question = page.locator(".tk-question[data-mode=practise]")
    expect(question).to_be_visible()
    answer_number(page, question, "98765 N·m")
    expect(question.locator(".tk-verdict")).to_contain_text("Not yet")
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


@pytest.mark.parametrize("size", [(1366, 768), (683, 384)], ids=["laptop", "laptop at 200 percent"])
def test_controls_are_large_named_and_fit_the_screen(
    playwright: Playwright, server: Server, copy: Copy, tmp_path: Path, size: tuple[int, int]
) -> None:
    with Chrome(playwright, tmp_path / "profile", size=size) as chrome:
        lab = Lab(chrome.page, server)
        lab.open(copy.path)
        lab.run_all()
        for name in (*(f"A{number}" for number in range(1, 12)), "finish"):
            question = lab.question(name)
            fits = question.evaluate("(node) => node.scrollWidth <= node.clientWidth + 1")
            assert fits, f"{name} is wider than the screen"
            for control in question.locator("button, label:has(input), .tk-grip").all():
                box = control.bounding_box()
                assert box is not None
                assert box["height"] >= 44, control.evaluate("(node) => node.outerHTML")
                assert box["width"] >= 44, control.evaluate("(node) => node.outerHTML")
            for control in question.get_by_role("button").or_(question.get_by_role("radio")).all():
                assert control.evaluate(
                    "(node) => (node.ariaLabel || node.closest('label')?.textContent || node.textContent).trim()"
                )
            focusable = question.locator("button, input, textarea, [tabindex='0']").first
            focusable.focus()
            lab.page.keyboard.press("Tab")
            ring = lab.page.evaluate("() => getComputedStyle(document.activeElement).outline")
            assert "3px" in ring


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
