"""Opening a workbook with the JupyterLab extension: it gets ready by itself, and everything else is left alone."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.by_keyboard import answer_choice, answer_number, answer_order, focused, tab_to
from tests.browser.by_pointer import SIZES
from tests.browser.copies import STEPS, added, write_notebook
from tests.browser.lab import PATIENCE, Lab, Server, expect_status
from tests.browser.released import authored, write_released
from trainkit.cli.workbooks import extension_options
from trainkit.journal import read

pytestmark = pytest.mark.browser
posix = pytest.mark.skipif(sys.platform == "win32", reason="a process is stopped and killed with POSIX signals")

BUILT = Path(extension_options()[0].partition("=")[2]) / "trainkit-workbooks"
# What would show that a notebook is one: code, prompts, and the bar in the place of hidden code.
APPARATUS = ".jp-InputPrompt, .jp-OutputPrompt, .jp-InputPlaceholder, .jp-Collapser, .jp-cell-toolbar"


def opened(page: Page, server: Server, notebook: Path) -> Lab:
    lab = Lab(page, server)
    lab.open(notebook.relative_to(server.root).as_posix())
    return lab


def shown_code(page: Page) -> list[str]:
    """Return the code that can be seen, wherever the page is scrolled to."""
    editors = page.locator(".jp-Notebook .cm-content").all()
    lines = "(node) => [...node.querySelectorAll('.cm-line')].map((line) => line.textContent).join('\\n')"
    return [editor.evaluate(lines) for editor in editors if editor.is_visible()]


def test_it_opens_ready_without_any_key_and_runs_nothing_of_anybody_else(
    page: Page, opening: Server, folder: Path
) -> None:
    # Both leave a trace if they are carried out: a cell that was added, and a file that Python would take for trainkit.
    (folder / "trainkit.py").write_text("from pathlib import Path\nPath('carried-out').touch()\n")
    foreign = "import os\nos.mkdir('run-by-itself')"
    lab = opened(page, opening, write_released(folder, foreign=[foreign]))
    # The one of this release, even where an installation left another.
    loaded = page.evaluate(
        """() => JSON.parse(document.getElementById("jupyter-config-data").textContent).federated_extensions
          .filter(({ name }) => name === "trainkit-workbooks").map(({ load }) => load)"""
    )
    package = json.loads((BUILT / "package.json").read_text("utf-8"))
    assert loaded == [package["jupyterlab"]["_build"]["load"]]
    strip = lab.wait_ready()
    expect(strip).to_contain_text("Lock pin")
    expect(strip).to_contain_text("form K7 · Zoë O'Neill")
    expect(strip).to_contain_text("0 of 3 answered")
    expect(strip).to_contain_text("1 part was added to this workbook. It was left as it is, and not run.")
    assert not (folder / "carried-out").exists()
    assert not (folder / "run-by-itself").exists()

    for name in ("A1", "A2", "A3", "finish"):
        expect(lab.question(name)).to_be_visible()
    expect(page.locator('.tk-question[data-mode="practise"]')).to_have_count(1)
    # The code of worked examples stays; what somebody added looks as it does in any notebook. Older releases of
    # JupyterLab hold only the cells in the page that are in view.
    visible = ["".join(c["source"]) for c in authored() if c["cell_type"] == "code" and "source_hidden" not in str(c)]
    sources = [cell["source"] for cell in lab.cells()]
    shown = set()
    for number, source in enumerate(sources):
        if source == foreign or source in visible:
            lab.show_cell(number)
            expect(page.locator(".jp-Cell.jp-mod-active .cm-content")).to_be_visible()
            shown |= set(shown_code(page))
    assert foreign in shown
    assert len(shown) > 1
    assert shown - {foreign} <= set(visible)
    for each in page.locator(APPARATUS).all():
        assert not each.is_visible() or each.locator("xpath=ancestor::*[contains(@class, 'tk-foreign')]").count()
    # The picture of a cell whose code is hidden shows: it was run, although the copy is not one that is trusted.
    lab.show_cell(next(number for number, source in enumerate(sources) if "figures.Picture(" in source))
    expect(page.locator(".jp-Cell.jp-mod-active .jp-OutputArea .tk-figure")).to_be_visible()


def test_another_notebook_is_left_alone(page: Page, opening: Server, folder: Path) -> None:
    cells = [
        added("print('run')\nbook = None", "one"),
        added('from trainkit import workbook\nbook = workbook.open("lock-pin"); print()', "two"),
        added('book.ask("A1")', "three"),
    ]
    # The name of a workbook makes none.
    write_notebook(folder / "lock-pin.ipynb", cells)
    lab = opened(page, opening, folder / "lock-pin.ipynb")
    page.wait_for_timeout(1000)
    lab.wait_idle()
    expect(page.locator(".tk-strip")).to_have_count(0)
    expect(page.locator(".jp-NotebookPanel-toolbar")).to_be_visible()
    expect(page.locator(".jp-OutputArea-output")).to_have_count(0)
    assert page.locator(".jp-InputPrompt", has_text="[ ]:").first.is_visible()
    assert len(shown_code(page)) == len(cells)
    assert lab.in_kernel("print('book' in globals())").strip() == "False"
    lab.show_cell(0)
    page.keyboard.press("b")
    assert len(lab.cells()) == len(cells) + 1, "the notebook's own keys are as they were"
    page.keyboard.press("d")
    page.keyboard.press("d")


def test_keys_never_change_a_workbook_and_the_strip_works_by_keyboard(
    page: Page, opening: Server, folder: Path
) -> None:
    lab = opened(page, opening, write_released(folder))
    strip = lab.wait_ready()
    before = lab.cells()
    everything = [*"abxcvmyzr1", "d", "d", "0", "0", "Enter", "Shift+Enter", "Shift+m", "Shift+ArrowDown", "Space"]
    # On a heading, in the empty space beside a question, and in a question.
    page.locator(".jp-MarkdownOutput h1").dblclick()
    expect(page.locator(".jp-MarkdownOutput h1")).to_be_visible()
    for key in everything:
        page.keyboard.press(key)
    lab.show_cell(3)
    for key in everything:
        page.keyboard.press(key)
    question = lab.question("A2")
    question.locator(".tk-head").click()
    for key in [key for key in everything if key not in ("Enter", "Space")]:
        page.keyboard.press(key)
    assert lab.cells() == before
    assert not page.locator(".jp-Dialog").count()

    expect(strip.get_by_role("status")).to_contain_text("answered")
    tab_to(page, strip.get_by_role("button", name="Go to A1"))
    page.keyboard.press("Enter")
    expect(page.locator('.tk-question[data-name="A1"]')).to_be_focused()
    expect(page.locator('.tk-question[data-name="A1"]')).to_be_in_viewport(ratio=0.5)
    assert "tk-question" in focused(page)


@posix
def test_the_strip_says_saved_and_not_saved_and_a_killed_kernel_gets_ready_again(
    page: Page, opening: Server, folder: Path
) -> None:
    lab = opened(page, opening, write_released(folder))
    strip = lab.wait_ready()
    expect(strip).to_have_attribute("data-status", "none")
    answer_number(page, lab.question("A1"), "35", "lbf·ft")
    expect(strip).to_have_attribute("data-status", "saved")
    expect(strip).to_contain_text("1 of 3 answered")
    expect(strip).to_contain_text("✓ SAVED")
    expect(strip.get_by_role("status")).to_contain_text("SAVED. 1 of 3 answered.")

    # Moved, and not saved yet.
    answer_order(page, lab.question("A3"), STEPS[::-1], saving=False)
    expect(strip).to_have_attribute("data-status", "failed")
    expect(strip).to_contain_text("▲ NOT SAVED A3")
    expect(strip.get_by_role("status")).to_contain_text("NOT SAVED, A3.")
    expect(strip.get_by_role("button")).to_have_text("Go to A3")
    answer_order(page, lab.question("A3"), STEPS[::-1])
    expect(strip).to_have_attribute("data-status", "saved")
    expect(strip).to_contain_text("2 of 3 answered")

    # A kernel that stands still does not save; when it goes on, what was sent is saved.
    kernel = lab.kernel_pid()
    os.kill(kernel, signal.SIGSTOP)
    answer_choice(page, lab.question("A2"), "cw")
    expect(strip).to_contain_text("Saving… A2")
    expect(strip).to_contain_text("▲ NOT SAVED A2", timeout=PATIENCE)
    os.kill(kernel, signal.SIGCONT)
    expect(strip).to_have_attribute("data-status", "saved")
    expect(strip).to_contain_text("3 of 3 answered")
    strip.get_by_role("button", name="Go to the hand-in").click()
    expect(page.locator('.tk-question[data-name="finish"]')).to_be_focused()

    # Killed: the strip says that what is saved is safe, JupyterLab starts another kernel, and the workbook gets ready
    # again by itself.
    page.evaluate(
        """() => {
          const strip = document.querySelector(".tk-strip");
          window.states = [];
          new MutationObserver(() => window.states.push(`${strip.dataset.status} ${strip.innerText}`))
            .observe(strip, { attributeFilter: ["data-status"] });
        }"""
    )
    os.kill(kernel, signal.SIGKILL)
    page.wait_for_function("() => window.states.some((state) => state.startsWith('saved'))", timeout=60_000)
    states = page.evaluate("() => window.states")
    assert re.search(r"^waiting (.|\n)*Reconnecting; 3 answers are safe", states[0]), states
    assert not any("NOT SAVED" in state for state in states), states
    expect(page.locator(".jp-Dialog")).to_have_count(0)  # JupyterLab tells of it in a window of its own
    assert any(state.startswith("waiting ") for state in states), states
    expect_status(lab.question("A2"), "saved")
    answer_choice(page, lab.question("A2"), "acw")
    expect_status(lab.question("A2"), "saved")

    # The page is loaded again, and shows what was answered without any key.
    lab.open(f"{folder.name}/lock-pin.ipynb")
    strip = lab.wait_ready()
    expect(strip).to_have_attribute("data-status", "saved")
    expect(strip).to_contain_text("3 of 3 answered")
    question = lab.question("A1")
    expect_status(question, "saved")
    expect(question.locator(".tk-input")).to_have_value("35")
    latest = read(folder / "answers.jsonl").latest()
    assert latest["A2"].response.model_dump(mode="json") == {"kind": "choice", "option": "acw"}


def test_without_the_extension_nothing_runs_by_itself_and_run_all_makes_it_ready(page: Page, server: Server) -> None:
    home = server.root / "plain copy"
    lab = opened(page, server, write_released(home))
    expect(page.locator(".tk-strip")).to_have_count(0)
    expect(page.locator(".tk-question")).to_have_count(0)
    lab.run_all()
    expect(lab.question("A1")).to_be_visible()
    server.close_kernels()
    shutil.rmtree(home)


def test_the_strip_fits_every_screen(page: Page, opening: Server, folder: Path) -> None:
    lab = opened(page, opening, write_released(folder, foreign=["import os"]))
    lab.wait_ready()
    for size in (*SIZES, (320, 640)):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.wait_for_timeout(300)
        wrong = page.evaluate(
            """() => {
              const strip = document.querySelector(".tk-strip"), box = strip.getBoundingClientRect();
              const first = document.querySelector(".jp-Cell").getBoundingClientRect();
              return [...strip.querySelectorAll("strong, span, button, p:not(.tk-strip-unseen)")]
                .filter((node) => node.textContent && node.getClientRects().length)
                .map((node) => [node.textContent, node.getBoundingClientRect()])
                .filter(([, part]) => part.right > box.right + 1 || part.bottom > box.bottom + 1 || part.left < 0)
                .map(([text]) => text).concat(first.top + 1 < box.bottom ? ["the strip covers the workbook"] : []);
            }"""
        )
        assert wrong == [], size
        button = page.locator(".tk-strip-next").bounding_box()
        assert button is not None
        assert button["height"] >= 44
