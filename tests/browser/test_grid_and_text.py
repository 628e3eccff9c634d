"""The grid, the text and work that is watched, in a real JupyterLab."""

from __future__ import annotations

import pytest
from playwright.sync_api import Locator, expect

from tests.browser.by_keyboard import answer_grid, answer_text, explained_and_gone_on, save, tab_to
from tests.browser.by_pointer import SIZES, fits_the_screen
from tests.browser.copies import Copy
from tests.browser.drawn import PARTS, TEXT, WATCHED
from tests.browser.lab import Lab, expect_status

pytestmark = pytest.mark.browser

ITEMS = (PARTS, TEXT, WATCHED)
PRACTISED = {"parts": "sequence/fate-of-parts"}


def spoken(question: Locator) -> Locator:
    """Return the place inside the control where changes are said aloud."""
    return question.locator(".tk-control .tk-unseen[aria-live]")


def test_both_by_keyboard_and_again_after_a_restart(lab: Lab, copy: Copy) -> None:
    page, before = lab.page, lab.cells()
    words = "It would take the torque, and 1 2 3 x dd shear."
    rows = {row.text: PARTS.columns[place % 5].text for place, row in enumerate(PARTS.rows)}
    answer_grid(page, lab.question("A1"), rows)
    answer_text(page, lab.question("A2"), words)
    for name in ("A1", "A2"):
        expect_status(lab.question(name), "saved")
    assert copy.answer("A1") == {
        "kind": "grid",
        "rows": {row.id: PARTS.columns[place % 5].id for place, row in enumerate(PARTS.rows)},
    }
    assert copy.answer("A2") == {"kind": "text", "text": words}

    lab.restart()
    for name in ("A1", "A2"):
        expect_status(lab.question(name), "saved")
    question = lab.question("A1")
    for place, line in enumerate(question.locator(".tk-grid-row").all()):
        expect(line.get_by_role("radio").nth(place % 5)).to_be_checked()
    expect(question.locator(".tk-grid-count")).to_have_text("Chosen in 6 of 6 rows.")
    question = lab.question("A2")
    expect(question.locator("textarea")).to_have_value(words)
    expect(spoken(question)).to_have_text("")  # said while one types, not when a page opens
    assert lab.cells() == before
    assert len(copy.answers().entries) == 2


def test_both_by_mouse(lab: Lab, copy: Copy) -> None:
    question = lab.question("A1")
    line = question.locator(".tk-grid-row").nth(2)
    # The whole cell is the target, not the button alone.
    line.locator("td").nth(3).click(position={"x": 6, "y": 6})
    expect(line.get_by_role("radio").nth(3)).to_be_checked()
    copy.expect_saved(question, "click", kind="grid", rows={PARTS.rows[2].id: PARTS.columns[3].id})

    question = lab.question("A2")
    question.locator("textarea").click()
    lab.page.keyboard.type("It shears")
    question.locator("textarea").click(position={"x": 12, "y": 20})  # into the middle of what stands there
    lab.page.keyboard.press("Home")
    lab.page.keyboard.type("The pin: ")
    copy.expect_saved(question, "click", kind="text", text="The pin: It shears")


def test_both_by_finger(touched: Lab, copy: Copy) -> None:
    page, lab = touched.page, touched
    question = lab.question("A1")
    question.locator(".tk-grid-row").nth(1).locator("label").nth(2).tap()
    copy.expect_saved(question, "tap", kind="grid", rows={PARTS.rows[1].id: PARTS.columns[2].id})

    question = lab.question("A2")
    question.locator("textarea").tap()
    page.keyboard.insert_text("It shears.")
    copy.expect_saved(question, "tap", kind="text", text="It shears.")


def test_a_grid_is_a_table_with_one_group_of_buttons_a_row(lab: Lab, copy: Copy) -> None:
    page, question = lab.page, lab.question("A1")
    table = question.get_by_role("table", name="Choose one in each row")
    assert table.get_by_role("columnheader").all_inner_texts() == [column.text for column in PARTS.columns]
    assert table.get_by_role("rowheader").all_inner_texts() == [row.text for row in PARTS.rows]
    first, second = PARTS.rows[:2]
    for row in PARTS.rows:
        for column in PARTS.columns:
            expect(table.get_by_role("radio", name=f"{row.text} {column.text}", exact=True)).to_have_count(1)
    groups = [
        line.get_by_role("radio").evaluate_all("(all) => [...new Set(all.map((each) => each.name))]")
        for line in question.locator(".tk-grid-row").all()
    ]
    assert [len(group) for group in groups] == [1] * 6
    assert len({group[0] for group in groups}) == 6
    # Tab goes from row to row, the arrows stay in the row and go round.
    tab_to(page, question.get_by_role("radio").first)
    page.keyboard.press("ArrowLeft")
    last = question.get_by_role("radio", name=f"{first.text} {PARTS.columns[-1].text}", exact=True)
    expect(last).to_be_checked()
    count_of_rows = question.locator(".tk-grid-count")
    expect(count_of_rows).to_have_attribute("aria-live", "polite")
    expect(count_of_rows).to_have_text("Chosen in 1 of 6 rows.")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    expect(question.get_by_role("radio", name=f"{second.text} {PARTS.columns[0].text}", exact=True)).to_be_checked()
    expect(last).to_be_checked()
    expect(count_of_rows).to_have_text("Chosen in 2 of 6 rows.")
    page.keyboard.press("Enter")  # saves from where one is, as in any form
    copy.expect_saved(question, kind="grid", rows={first.id: PARTS.columns[-1].id, second.id: "1"})


def test_a_text_counts_what_is_left_and_ends_at_its_limit(lab: Lab, copy: Copy) -> None:
    page, question = lab.page, lab.question("A2")
    area = question.get_by_role("textbox", name="Your answer")
    expect(area).to_have_accessible_description("A person reads this. 80 of 80 characters are left.")
    tab_to(page, area)
    page.keyboard.type("x" * 25)
    expect(question.locator(".tk-hint")).to_contain_text("55 of 80 characters are left.")
    expect(spoken(question)).to_have_text("")
    page.keyboard.type("y" * 6)
    expect(spoken(question)).to_have_text("50 characters are left.")
    page.keyboard.press("Enter")  # a new line, as in any text
    page.keyboard.type("z" * 60)
    expect(spoken(question)).to_have_text("The text is full.")
    expect(area).to_have_value("x" * 25 + "y" * 6 + "\n" + "z" * 48)
    save(page, question)
    copy.expect_saved(question, kind="text", text="x" * 25 + "y" * 6 + "\n" + "z" * 48)


def test_nothing_chosen_is_said_and_not_saved(lab: Lab, copy: Copy) -> None:
    for name, words in (("A1", "Choose in at least one row first."), ("A2", "Write a sentence first.")):
        question = lab.question(name)
        save(lab.page, question)
        expect(question.locator(".tk-alarm")).to_have_text(words)
        assert question.evaluate("(node) => node.querySelector('.tk-control').contains(document.activeElement)")
    assert copy.answers().entries == ()


def test_practical_work_is_shown_and_not_missed_at_the_hand_in(lab: Lab) -> None:
    lab.show_cell(len(PRACTISED) + 3)
    note = lab.page.locator(".tk-watched")
    expect(note).to_contain_text("Lock out the starter. (critical)")
    expect(note).to_contain_text("Your instructor watches this and signs for it.")
    expect(note.locator("button, input, textarea")).to_have_count(0)
    hand_in = lab.question("finish")
    expect(hand_in.locator(".tk-progress")).to_contain_text("Not answered: A1, A2.")
    expect(hand_in.locator(".tk-progress")).to_contain_text("watched and signed by your instructor: A3.")


def test_practice_explains_a_grid_and_goes_on(lab: Lab, copy: Copy) -> None:
    page = lab.page
    lab.show_cell(1)
    question = page.locator(".tk-question[data-mode=practise]")
    expect(question).to_be_visible()
    tab_to(page, question.get_by_role("radio").first)
    page.keyboard.press("Space")
    explained_and_gone_on(page, question)
    assert copy.answers().entries == ()


def test_the_words_of_the_columns_stand_where_the_choice_is(lab: Lab) -> None:
    """On a wide screen they stand above it, on a narrow one beside it; to those who hear it, it stays a table."""
    for (width, height), size in SIZES.items():
        lab.page.set_viewport_size({"width": width, "height": height})
        question = lab.question("A1")
        fits_the_screen(question)
        word = question.locator(".tk-grid-cell span").first.bounding_box()
        heads = question.locator("thead").bounding_box()
        assert word is not None
        assert heads is not None
        assert (word["width"] > 20) == (heads["width"] < 20) == (width < 1000), size
        expect(question.get_by_role("table").last.get_by_role("row")).to_have_count(7)
        expect(question.get_by_role("radio", name=f"{PARTS.rows[0].text} {PARTS.columns[0].text}")).to_have_count(1)
        fits_the_screen(lab.question("A2"))
