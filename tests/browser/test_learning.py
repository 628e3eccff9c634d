"""What an apprentice learns with: half-worked example, practice, warm-up and card, by keyboard, mouse and finger."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.by_keyboard import (
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
    play_actions,
    tab_to,
)
from tests.browser.by_pointer import SIZES, finger, finger_card, fits_the_screen, middle, mouse_card, on_face
from tests.browser.copies import added, write_notebook
from tests.browser.lab import LAPTOP, Chrome, Lab, Server
from trainkit.widgets.state import KINDS

pytestmark = pytest.mark.browser

SOURCES = (
    "from pathlib import Path\n\nfrom trainkit import modules, packs, workbook\n"
    "from trainkit.widgets.control import Control\nfrom trainkit.widgets.state import KINDS\n"
    "from trainkit.widgets.warming import WarmUp\n\n"
    'book = workbook.Book(modules.load("turning-direction"), Path())',
    'warm = Control(WarmUp(KINDS, packs.load("dunlin")))\nwarm',
    'begun = book.complete("how-far")\nbegun',
    "book.card()",
    'practised = book.practice("how-far")\npractised',
    'workbook.Book(modules.load("lock-pin"), Path()).practice("pinning")',
)
WARM, BEGUN, CARD, PRACTISED, BENCH = range(1, 6)


@pytest.fixture(scope="module")
def path(server: Server) -> str:
    """A notebook with one cell for each piece."""
    path = "learning/learning.ipynb"
    write_notebook(server.root / path, [added(source, f"cell-{place}") for place, source in enumerate(SOURCES)])
    return path


@pytest.fixture(scope="module")
def learning(server: Server, chrome: Chrome, path: str) -> Iterator[Lab]:
    """The notebook, opened once: each test has pieces of its own in it, but for the warm-up, which comes round."""
    chrome.begin_anew()
    _note_prints(chrome.page)
    lab = Lab(chrome.page, server).run(path)
    before = lab.cells()
    yield lab
    assert lab.cells() == before  # plain keys never change the notebook
    assert chrome.errors == []
    chrome.begin_anew()
    server.close_kernels()


def piece(lab: Lab, number: int) -> Locator:
    lab.show_cell(number)
    found = lab.page.locator(".jp-Notebook-cell").nth(number).locator(".tk-question")
    expect(found).to_be_visible()
    return found


def test_every_control_is_warmed_up_by_keyboard(learning: Lab) -> None:
    page, warm = learning.page, piece(learning, WARM)
    for place, kind in enumerate(KINDS):
        expect(warm).to_have_attribute("data-kind", kind)
        if place:  # whoever goes on by keyboard stands in the next control at once
            assert warm.evaluate("(node) => node.querySelector('.tk-control').contains(document.activeElement)")
        _BY_KEYBOARD[kind](page, warm)
        _works(warm)
        for width, height in ((683, 384), (420, 800)):  # the two that leave the least room
            page.set_viewport_size({"width": width, "height": height})
            fits_the_screen(warm)
        page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
        tab_to(page, warm.locator(".tk-next"))
        page.keyboard.press("Enter")
    expect(warm).to_have_attribute("data-kind", KINDS[0])


def _press_twice_and_stop(page: Page, warm: Locator) -> None:
    play_actions(page, warm, ["on-a-little", "on-a-little"])
    tab_to(page, warm.locator(".tk-stop"))
    page.keyboard.press("Enter")


_BY_KEYBOARD: dict[str, Callable[[Page, Locator], None]] = {
    "number": lambda page, warm: answer_number(page, warm, "12,5", "N·m"),
    "choice": lambda page, warm: answer_choice(page, warm, "b"),
    "several": lambda page, warm: answer_several(page, warm, ["a", "c"]),
    "order": lambda page, warm: answer_order(page, warm, ["First", "Second", "Third"]),
    "insert": lambda page, warm: answer_insert(page, warm, 1),
    "grid": lambda page, warm: answer_grid(page, warm, {"Row 1": "left", "Row 2": "right"}),
    "point": lambda page, warm: answer_point(page, warm, "3"),
    "set": lambda page, warm: answer_set(page, warm, 3.0, 0.25, 0.0),
    "actions": _press_twice_and_stop,
    "text": lambda page, warm: answer_text(page, warm, "x 0 0 dd"),
}


def _works(warm: Locator) -> None:
    expect(warm.locator(".tk-verdict")).to_contain_text("That works.")
    expect(warm.locator(".tk-tally")).to_contain_text(f"of {len(KINDS)} tried out")


def test_every_control_is_warmed_up_by_mouse(learning: Lab) -> None:
    page, warm = learning.page, piece(learning, WARM)
    for kind in KINDS:
        expect(warm).to_have_attribute("data-kind", kind)
        _point_and_press(page, warm, kind, lambda shown: shown.click())
        if kind == "order":
            mouse_card(page, warm, 0, 2)
            assert card_order(warm) == ["First", "Second", "Third"]
        if kind == "set":
            page.mouse.click(*on_face(warm, 3.0))
        if kind == "text":
            page.keyboard.type("ok")
        if kind != "actions":
            warm.get_by_role("button", name="Try it").click()
        _works(warm)
        warm.locator(".tk-next").click()


def _point_and_press(page: Page, warm: Locator, kind: str, press: Callable[[Locator], None]) -> None:
    """Do what is done by pressing alone, with mouse or finger."""
    if kind == "number":
        press(warm.locator(".tk-input"))
        page.keyboard.insert_text("12,5")
        press(warm.get_by_text("N·m", exact=True))
    elif kind in ("choice", "several"):
        for words in ["The middle one"] if kind == "choice" else ["The upper one", "The lower one"]:
            press(warm.get_by_text(words, exact=True))
    elif kind == "insert":
        press(warm.locator(".tk-gap").nth(1))
    elif kind == "grid":
        for row, column in ((0, 0), (1, 1)):
            press(warm.locator(".tk-grid-row").nth(row).locator(".tk-grid-cell").nth(column))
    elif kind == "point":
        press(warm.locator('[data-target="3"]'))
    elif kind == "actions":
        for done in (1, 2):
            press(warm.locator('[data-action="on-a-little"]'))
            expect(warm.locator(".tk-count")).to_contain_text(f"{done} of")
        press(warm.locator(".tk-stop"))
    elif kind == "text":
        press(warm.locator(".tk-text-area"))


def test_a_half_worked_example_is_completed_by_keyboard(learning: Lab) -> None:
    page, begun = learning.page, piece(learning, BEGUN)
    working = json.loads(learning.in_kernel("import json; print(json.dumps(begun.state.key.working))"))
    lines = begun.locator(".tk-begun li")
    shown = lines.count()
    expect(lines).to_have_text(working[:shown])
    hint = begun.locator(".tk-hint-button")
    tab_to(page, hint)
    while hint.get_attribute("aria-disabled") != "true":
        page.keyboard.press("Enter")
        shown += 1
        expect(lines).to_have_text(working[:shown])
    expect(begun.locator(".tk-begun [role=status]")).to_contain_text("The next line is yours")
    expect(hint).to_be_focused()  # it stays where the finger is
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        fits_the_screen(begun)
    expect(begun.locator(".tk-only-unit")).to_have_text("degrees (°)")  # a sign alone is easily missed
    answer = learning.in_kernel("print(f'{begun.state.key.answer:g}')").strip()
    answer_number(page, begun, answer)
    expect(begun.locator(".tk-verdict")).to_contain_text("Right")
    expect(begun.locator(".tk-explained li")).to_have_text(working[shown:])
    assert begun.locator(".tk-explained ol").get_attribute("start") == str(shown + 1)


def test_practice_says_what_comes_and_meets_a_misconception_again(learning: Lab) -> None:
    page, practised = learning.page, piece(learning, PRACTISED)
    rule = "practised.state.key.rules[0]"
    answer_number(page, practised, learning.in_kernel(f"print(f'{{{rule}.value:.5f}}')").strip())
    cure = learning.in_kernel(
        f"from trainkit.items.misconceptions import misconception; print(misconception({rule}.misconception).cure)"
    ).strip()
    expect(practised.locator(".tk-explained")).to_contain_text(cure)
    again = practised.get_by_text("The same point once more. Use what you have just read.")
    for _ in range(2):  # at once, or after one other question
        tab_to(page, practised.locator(".tk-next"))
        page.keyboard.press("Enter")
        expect(practised.locator(".tk-verdict")).to_have_count(0)
        if again.count():
            break
        answer_number(page, practised, learning.in_kernel("print(f'{practised.state.key.answer:.5f}')").strip())
        expect(practised.locator(".tk-verdict")).to_be_visible()
    expect(again).to_be_visible()
    answer_number(page, practised, learning.in_kernel("print(f'{practised.state.key.answer:.5f}')").strip())
    expect(practised.locator(".tk-explained")).to_contain_text("Before, this point went wrong. Now it is right.")


def test_what_is_told_about_an_engine_lies_open_on_a_laptop(learning: Lab) -> None:
    learning.page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
    bench = piece(learning, BENCH)
    expect(bench.locator(".tk-given")).to_be_visible()
    # No line ends between a number and its unit.
    numbers = bench.locator(".tk-given .tk-whole")
    expect(numbers.first).to_have_css("text-wrap-mode", "nowrap")
    assert numbers.count() == sum(row.count("\u2009") for row in bench.locator(".tk-given td").all_text_contents())
    tab_to(learning.page, bench.locator("summary"))
    learning.page.keyboard.press("Enter")
    expect(bench.locator(".tk-given")).to_be_hidden()


def test_a_press_at_the_bench_is_never_lost_and_a_held_key_is_one(learning: Lab) -> None:
    page, bench = learning.page, piece(learning, BENCH)
    tab_to(page, bench.locator(".tk-action").first)
    key = str(bench.locator('[data-action="check-stroke"]').get_attribute("aria-keyshortcuts"))
    # Looking is open and harmless however this bench is found.
    for _ in range(3):  # faster than the kernel answers
        page.keyboard.press(key)
    expect(bench.locator(".tk-count")).to_contain_text("3 of")
    expect(bench.locator(".tk-log li")).to_have_count(3)
    for _ in range(4):  # the browser says of all but the first that the key is held
        page.keyboard.down(key)
    page.keyboard.up(key)
    expect(bench.locator(".tk-count")).to_contain_text("4 of")
    tab_to(page, bench.locator(".tk-again"))
    page.keyboard.press("Enter")
    expect(bench.locator(".tk-count")).to_contain_text("0 of")


def _note_prints(page: Page) -> None:
    """Note what would be printed, in place of the browser's own window."""
    page.add_init_script("window.print = () => { (top.printed ??= []).push(document.body.innerText); }")


def test_the_card_prints_alone(learning: Lab) -> None:
    page = learning.page
    card = piece(learning, CARD)
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        fits_the_screen(card)
    page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
    button = card.get_by_role("button", name="Print this card")
    tab_to(page, button)
    page.keyboard.press("Enter")
    page.wait_for_function("() => window.printed?.length === 1")
    page.mouse.click(*middle(button))
    page.wait_for_function("() => window.printed?.length === 2")
    first, second = page.evaluate("() => window.printed")
    assert first == second
    assert first.startswith("Turning direction")
    for words in ("crank gear", "9 turns of the tool", "licensed or supervising person", "Last of all:"):
        assert words in first
    assert "Warm-up" not in first  # nothing else of the notebook
    assert "Print this card" not in first
    expect(card.locator("iframe")).to_have_count(1)
    expect(button).to_be_visible()


def test_a_card_folds_in_the_middle_of_one_sheet(chrome: Chrome, learning: Lab) -> None:
    """On paper the cautions fill the upper half of a sheet of A4, and the rest ends on the same sheet."""
    pages = json.loads(
        learning.in_kernel(
            "import json; from trainkit import cards, modules, packs; print(json.dumps({name: cards.card(name, "
            "modules.load(name).blueprint.title, packs.load('dunlin')).page for name in modules.names()}))"
        )
    )
    sheet = chrome.context.new_page()
    sheet.emulate_media(media="print")
    sheet.set_viewport_size({"width": 794, "height": 1123})
    for name, content in pages.items():
        sheet.set_content(content)
        size = sheet.evaluate(
            """() => {
                const cautions = document.querySelector('.tk-pocket-cautions');
                const inner = Math.max(...[...cautions.querySelectorAll('li')].map((line) =>
                    line.getBoundingClientRect().bottom));
                return [cautions.getBoundingClientRect().bottom, inner, document.body.scrollHeight,
                    document.body.scrollWidth];
            }"""
        )
        fold, cautioned, height, width = (each / 96 * 25.4 for each in size)
        assert 297 / 2 - 8 - 8 <= fold <= 297 / 2 - 8, name  # the upper margin is 8 mm
        assert cautioned <= fold, name
        assert height <= 297 - 2 * 8, name
        assert width <= 194.5, name
    sheet.close()


def test_every_piece_by_finger(tablet: Chrome, server: Server, path: str) -> None:
    page = tablet.page
    _note_prints(page)
    lab = Lab(page, server).run(path)
    warm = piece(lab, WARM)
    for kind in KINDS:
        expect(warm).to_have_attribute("data-kind", kind)
        _point_and_press(page, warm, kind, lambda shown: shown.tap())
        if kind == "order":
            finger_card(page, warm, 0, 2)
            warm.get_by_role("button", name="Move down: Third").tap()
            assert card_order(warm) == ["First", "Second", "Third"]
        if kind == "set":
            finger(page, [on_face(warm, hours) for hours in (1.0, 2.0, 3.0)])
        if kind == "text":
            page.keyboard.insert_text("ok")
        if kind != "actions":
            warm.get_by_role("button", name="Try it").tap()
        _works(warm)
        warm.locator(".tk-next").tap()

    begun = piece(lab, BEGUN)
    fits_the_screen(begun)
    lines = begun.locator(".tk-begun li").count()
    begun.get_by_role("button", name="Show the next line").tap()
    expect(begun.locator(".tk-begun li")).to_have_count(lines + 1)

    # On a tablet what is told about the engine is folded, so that all buttons of the bench are in sight at once.
    bench = piece(lab, BENCH)
    fits_the_screen(bench)
    expect(bench.locator(".tk-given")).to_be_hidden()
    bench.evaluate("(node) => node.scrollIntoView()")
    expect(bench.locator(".tk-action").last).to_be_in_viewport(ratio=1)
    bench.get_by_text("Read this first").tap()
    expect(bench.locator(".tk-given")).to_be_visible()
    fits_the_screen(bench)

    card = piece(lab, CARD)
    fits_the_screen(card)
    card.get_by_role("button", name="Print this card").tap()
    page.wait_for_function("() => window.printed?.length === 1")
