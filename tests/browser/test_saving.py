"""SAVED means on the disk, NOT SAVED means that it is not: with a killed kernel, a dead server, a closed browser."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Playwright, expect

from tests.browser.by_keyboard import answer_choice, answer_number, answer_order, card_order
from tests.browser.copies import BENCH, STEPS, Copy, safe_way, write_copy
from tests.browser.lab import Chrome, Lab, Server, expect_status

pytestmark = pytest.mark.browser

killing = pytest.mark.skipif(sys.platform == "win32", reason="a process is killed with a POSIX signal")


@killing
def test_an_answer_after_the_kernel_was_killed_is_not_saved_and_is_sent_by_itself_later(lab: Lab, copy: Copy) -> None:
    page = lab.page
    answer_number(page, lab.question("A1"), "35", "lbf·ft")
    expect_status(lab.question("A1"), "saved")
    os.kill(lab.kernel_pid(), signal.SIGKILL)
    told = page.locator(".jp-Dialog")
    expect(told).to_contain_text("Kernel Restarting")  # JupyterLab's own words
    page.keyboard.press("Enter")
    expect(told).to_have_count(0)
    # Saved before: still shown as saved. Changed now: not saved, and kept.
    question = lab.question("A1")
    expect_status(question, "saved")
    answer_number(page, question, "36")
    expect_status(question, "failed")
    expect(question.locator(".tk-status")).to_contain_text("NOT SAVED")
    expect(question.locator(".tk-alarm")).to_contain_text("Your answer is kept here")
    expect(question.locator(".tk-input")).to_have_value("36")
    answer_choice(page, lab.question("A2"), "acw")
    expect_status(lab.question("A2"), "failed")
    question = lab.question("A6")
    question.locator(f'[data-action="{safe_way(BENCH)[0]}"]').click()
    expect_status(question, "failed")
    expect(question.locator(".tk-count")).to_contain_text("0 of")  # what the kernel has not said has not happened
    # Moved, but the button that saves was not pressed.
    moved = [STEPS[1], STEPS[0], *STEPS[2:]]
    answer_order(page, lab.question("A3"), moved, saving=False)
    assert set(copy.answers().latest()) == {"A1"}
    assert copy.answer("A1") == {"kind": "number", "text": "35", "unit": "lbf·ft"}

    page.keyboard.press("Escape")
    lab.restart()

    expect_status(lab.question("A1"), "saved")
    expect_status(lab.question("A2"), "saved")
    assert copy.answer("A1") == {"kind": "number", "text": "36", "unit": "lbf·ft"}
    assert copy.answer("A2") == {"kind": "choice", "option": "acw"}
    # What nobody asked to save is offered again, not sent.
    question = lab.question("A3")
    expect_status(question, "draft")
    assert card_order(question) == moved
    assert "A3" not in copy.answers().latest()
    assert copy.answers().problems == ()


def test_an_answer_given_while_the_kernel_is_busy_is_saved_when_it_answers(lab: Lab, copy: Copy) -> None:
    # Messages of controls and cells may share the kernel's one thread: the answer waits for the cell.
    lab.page.evaluate(
        """() => { window.jupyterapp.shell.currentWidget.sessionContext.session.kernel
          .requestExecute({ code: "import time; time.sleep(9)", store_history: false }); }"""
    )
    question = lab.question("A2")
    answer_choice(lab.page, question, "cw")
    expect_status(question, "saved", timeout=20_000)
    assert copy.answer("A2") == {"kind": "choice", "option": "cw"}


def test_answers_come_back_after_the_browser_was_closed(
    playwright: Playwright, server: Server, copy: Copy, tmp_path: Path
) -> None:
    with Chrome(playwright, tmp_path / "first") as chrome:
        lab = Lab(chrome.page, server).run(copy.path)
        answer_number(chrome.page, lab.question("A1"), "35,5 N·m")
        expect_status(lab.question("A1"), "saved")
        answer_order(chrome.page, lab.question("A3"), STEPS[::-1])
        expect_status(lab.question("A3"), "saved")
    server.close_kernels()
    with Chrome(playwright, tmp_path / "second") as chrome:
        lab = Lab(chrome.page, server).run(copy.path)
        question = lab.question("A1")
        expect_status(question, "saved")
        expect(question.locator(".tk-input")).to_have_value("35,5 N·m")
        expect(question.locator(".tk-understood")).to_have_text("Understood as 35.5\u2009N·m.")
        question = lab.question("A3")
        expect_status(question, "saved")
        assert card_order(question) == list(STEPS[::-1])
        expect_status(lab.question("A2"), "none")
        assert chrome.errors == []


@killing
def test_with_the_server_gone_nothing_is_called_saved(
    playwright: Playwright, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    root = tmp_path_factory.mktemp("alone")
    write_copy(root / "copy")
    with (
        Server(root, tmp_path_factory.mktemp("state")) as server,
        Chrome(playwright, tmp_path / "profile") as chrome,
    ):
        lab = Lab(chrome.page, server).run("copy/controls.ipynb")
        question = lab.question("A2")
        os.killpg(server.process.pid, signal.SIGKILL)
        answer_choice(chrome.page, question, "cw")
        expect_status(question, "failed")
        expect(question.locator(".tk-status")).to_contain_text("NOT SAVED")
        assert not (root / "copy" / "answers.jsonl").exists()
