"""What the page says of saving is so: on a slow disk, with a restarted or a dead kernel, and in two windows at once."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.by_keyboard import answer_choice, answer_number, answer_order, card_order
from tests.browser.copies import BENCH, ITEMS, STEPS, safe_way
from tests.browser.lab import Lab, Server, expect_status
from tests.browser.released import ASKED, write_released
from trainkit.journal import DRAFTS_FILE, read

pytestmark = pytest.mark.browser

# Each answer waits for the disk as long as somebody waits for a network drive.
SLOW = """
import os, time
_sync = os.fsync
def slowly(descriptor):
    time.sleep({seconds})
    _sync(descriptor)
os.fsync = slowly
"""
# Every status of the strip from now on, and what it says.
WATCH = """() => {
  const strip = document.querySelector(".tk-strip");
  window.states = [];
  new MutationObserver(() => {
    const now = `${strip.dataset.status} ${strip.querySelector(".tk-strip-status").textContent.trim()}`;
    if (window.states.at(-1) !== now) window.states.push(now);
  }).observe(strip, { subtree: true, childList: true, attributes: true, characterData: true });
}"""


def opened(page: Page, server: Server, notebook: Path, workspace: str = "") -> Lab:
    lab = Lab(page, server)
    lab.open(notebook.relative_to(server.root).as_posix(), workspace=workspace)
    lab.wait_ready()
    return lab


def answers(folder: Path) -> dict[str, object]:
    return {
        item: entry.response.model_dump(mode="json") for item, entry in read(folder / "answers.jsonl").latest().items()
    }


def test_on_a_slow_disk_a_press_is_seen_at_once_and_saved_is_said_when_it_is(
    page: Page, opening: Server, folder: Path
) -> None:
    lab = opened(page, opening, write_released(folder, items=[*ASKED[:1], BENCH]))
    lab.in_kernel(SLOW.format(seconds=1.5))
    strip = page.locator(".tk-strip")
    bench = lab.question("A2")
    first = safe_way(BENCH)[0]
    button = bench.locator(f'[data-action="{first}"]')
    count = bench.locator(".tk-count")
    before = count.inner_text()
    # Looked at in the page itself, right after the press: the frame that comes next shows it.
    seen = button.evaluate(
        """(button) => {
          button.click();
          const { status } = button.closest(".tk-question").dataset;
          return [status, button.hasAttribute("data-pressed")];
        }"""
    )
    assert seen == ["saving", True]
    assert count.inner_text() == before, "what it leads to is shown once it is recorded"
    expect(strip).to_contain_text("Saving… A2")
    expect_status(bench, "saved")
    expect(count).to_contain_text("1 of")
    expect(button).not_to_have_attribute("data-pressed", "")
    assert answers(folder)["A2"] == {"kind": "actions", "actions": [first], "gave_up": False}
    # A press that comes while the one before is being written waits in line, and none is lost.
    for action in safe_way(BENCH)[1:3]:
        bench.locator(f'[data-action="{action}"]').click()
    expect(count).to_contain_text("3 of", timeout=20_000)
    expect_status(bench, "saved")


def test_started_again_from_the_strip_it_says_what_is_safe_and_keeps_what_is_not_saved(
    page: Page, opening: Server, folder: Path
) -> None:
    lab = opened(page, opening, write_released(folder))
    strip = page.locator(".tk-strip")
    again = strip.get_by_role("button", name="Start again")
    answer_number(page, lab.question("A1"), "35", "lbf·ft")
    expect(strip).to_have_attribute("data-status", "saved")
    expect(again).to_have_count(0)
    page.evaluate(WATCH)
    # Restarted, as somebody does from the menu: nothing is lost, so nothing alarms.
    page.evaluate("() => void window.jupyterapp.shell.currentWidget.sessionContext.restartKernel()")
    page.wait_for_function("() => window.states.some((state) => state.startsWith('saved'))", timeout=60_000)
    states = page.evaluate("() => window.states.splice(0)")
    assert states[0] == "waiting Reconnecting; 1 answer is safe", states
    assert not [state for state in states if state.startswith("failed")]

    # Its kernel is taken away, with an order that is moved and not saved.
    moved = [STEPS[1], STEPS[0], *STEPS[2:]]
    answer_order(page, lab.question("A3"), moved, saving=False)
    for kernel in opening.call("GET", "/api/kernels"):
        opening.call("DELETE", f"/api/kernels/{kernel['id']}")
    expect(strip).to_contain_text("Stopped; 1 answer is safe; not saved yet: A3", timeout=45_000)
    expect(strip).to_contain_text("The program that saves has stopped. Press “Start again”.")
    box = again.bounding_box()
    assert box is not None
    assert box["height"] >= 44
    again.press("Enter")
    expect(strip).to_contain_text("NOT SAVED A3", timeout=60_000)
    question = lab.question("A3")
    expect_status(question, "draft")
    assert card_order(question) == moved
    expect_status(lab.question("A1"), "saved")
    answer_order(page, lab.question("A3"), moved)
    expect(strip).to_have_attribute("data-status", "saved")
    assert set(answers(folder)) == {"A1", "A3"}


def test_two_windows_of_one_workbook_show_one_truth(page: Page, opening: Server, folder: Path) -> None:
    notebook = write_released(folder, items=[*ITEMS[:2], BENCH])
    here = opened(page, opening, notebook)
    other = page.context.new_page()
    try:
        there = opened(other, opening, notebook, "second")

        def at(lab: Lab, name: str) -> Locator:
            lab.page.bring_to_front()  # a page behind another one paints nothing
            return lab.question(name)

        answer_choice(page, at(here, "A2"), "cw")
        expect_status(at(here, "A2"), "saved")
        # Nothing stood in the other window: it shows what was saved.
        question = at(there, "A2")
        expect_status(question, "saved")
        expect(question.locator(".tk-other")).to_contain_text("in another window. Here is what is saved.")
        expect(question.locator('input[value="cw"]')).to_be_checked()
        expect(other.locator(".tk-strip")).to_contain_text("1 of 3 answered")
        # Something stood in it, not saved: it stays, and is offered.
        answer_number(other, at(there, "A1"), "36", "lbf·ft", saving=False)
        answer_number(page, at(here, "A1"), "35", "lbf·ft")
        expect_status(at(here, "A1"), "saved")
        question = at(there, "A1")
        expect_status(question, "draft")
        expect(question.locator(".tk-other")).to_contain_text("Your answer here is not saved.")
        expect(question.locator(".tk-input")).to_have_value("36")
        question.get_by_role("button", name="Show it").click()
        expect_status(question, "saved")
        expect(question.locator(".tk-input")).to_have_value("35")
        # At the bench the scenario is one.
        first, second = safe_way(BENCH)[:2]
        at(here, "A3").locator(f'[data-action="{first}"]').click()
        bench = at(there, "A3")
        expect(bench.locator(".tk-count")).to_contain_text("1 of")
        bench.locator(f'[data-action="{second}"]').click()
        expect(at(here, "A3").locator(".tk-count")).to_contain_text("2 of")
    finally:
        other.close()
    assert answers(folder)["A1"] == {"kind": "number", "text": "35", "unit": "lbf·ft"}
    assert answers(folder)["A3"] == {"kind": "actions", "actions": [first, second], "gave_up": False}


def test_a_renamed_workbook_in_a_copied_folder_opens_with_its_answers_and_what_was_typed(
    page: Page, opening: Server, folder: Path
) -> None:
    lab = opened(page, opening, write_released(folder))
    answer_number(page, lab.question("A1"), "35", "lbf·ft")
    expect_status(lab.question("A1"), "saved")
    moved = [STEPS[1], STEPS[0], *STEPS[2:]]
    answer_order(page, lab.question("A3"), moved, saving=False)
    page.wait_for_timeout(800)  # what is typed is kept after a short while
    assert (folder / DRAFTS_FILE).is_file()
    stored = page.evaluate(
        "() => [...Object.keys(localStorage), ...Object.keys(sessionStorage)].filter((key) => /trainkit/i.test(key))"
    )
    assert stored == [], "nothing of a person stays in the browser's profile"
    page.goto("about:blank")
    copied = folder / "another place"
    copied.mkdir()
    for each in list(folder.iterdir()):
        if each.is_file():
            shutil.copyfile(each, copied / each.name)
    renamed = (copied / "lock-pin.ipynb").rename(copied / "my work (1).ipynb")
    lab = Lab(page, opening)
    lab.open(renamed.relative_to(opening.root).as_posix())
    strip = page.locator(".tk-strip")
    expect(strip).to_contain_text("NOT SAVED A3", timeout=60_000)
    expect(strip).to_contain_text("form K7 · Zoë O'Neill")
    question = lab.question("A1")
    expect_status(question, "saved")
    expect(question.locator(".tk-input")).to_have_value("35")
    question = lab.question("A3")
    expect_status(question, "draft")
    assert card_order(question) == moved
    answer_order(page, lab.question("A3"), moved)
    expect_status(lab.question("A3"), "saved")
    assert set(answers(copied)) == {"A1", "A3"}
    assert set(answers(folder)) == {"A1"}
    assert not (copied / DRAFTS_FILE).exists()
