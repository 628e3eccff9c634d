"""The checklist on a tablet by finger, keyboard and mouse, saved line by line whatever dies, in a real JupyterLab."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, expect

from tests.browser.accessible import RULES, take_theme
from tests.browser.by_keyboard import tab_to
from tests.browser.by_pointer import fits_the_screen
from tests.browser.lab import Chrome, Lab, Server, expect_status
from trainkit import journal, packs
from trainkit_grading.course.seeds import Seed
from trainkit_grading.signoff.checklists import Checklist, of_pack
from trainkit_grading.signoff.making import notebook_text
from trainkit_grading.signoff.sittings import observations

pytestmark = pytest.mark.browser

_SERIAL = count(1)


def small_sheet() -> Checklist:
    """The first steps of the whole job, under a name as people have them."""
    whole = of_pack(packs.load("dunlin"), Seed(bytes(32)), "saltmere")
    return replace(whole, steps=whole.steps[:7], apprentice="o'brien", person="Niamh O’Brien")


@pytest.fixture
def sheet(server: Server) -> Iterator[tuple[Checklist, Path]]:
    """A sheet in a folder of its own, as the command writes it."""
    made = small_sheet()
    home = server.root / f"checklists {next(_SERIAL)}"
    home.mkdir()
    (home / f"{made.stem}.json").write_text(made.to_text(), "utf-8")
    (home / f"{made.stem}.ipynb").write_text(notebook_text(made), "utf-8")
    yield made, home
    server.close_kernels()


def opened(lab: Lab, made: Checklist, home: Path) -> Locator:
    lab.run(f"{home.name}/{made.stem}.ipynb")
    view = lab.page.locator(".tk-sheet")
    expect(view).to_be_visible()
    return view


def on_disk(made: Checklist, home: Path) -> list[tuple[str, str]]:
    reading = journal.read(home / f"{made.stem}.observed.jsonl")
    assert reading.problems == ()
    said = [entry.response.model_dump() for entry in reading.entries]
    return [
        (entry.item, str(each.get("option") or each.get("text")))
        for entry, each in zip(reading.entries, said, strict=True)
    ]


def step(view: Locator, number: int) -> Locator:
    return view.locator(f'[data-what="s{number}"]')


def test_a_checklist_by_finger_mouse_and_keys(tablet: Chrome, server: Server, sheet: tuple[Checklist, Path]) -> None:
    made, home = sheet
    page, lab = tablet.page, Lab(tablet.page, server)
    outside: list[str] = []
    page.on("request", lambda asked: outside.append(asked.url) if "127.0.0.1" not in asked.url else None)
    view = opened(lab, made, home)
    before = lab.cells()
    expect(page.get_by_text("Training values, invented").first).to_be_visible()  # the cautions come first
    expect_status(view, "none")
    fits_the_screen(view)
    expect(view.locator(".tk-critical-word")).to_have_count(sum(each.critical for each in made.steps))

    step(view, 1).get_by_role("radio", name="unprompted").tap()
    expect(step(view, 1).locator(".tk-line-state")).to_have_text("✓ saved")
    expect_status(view, "saved")
    assert on_disk(made, home) == [("s1", "unprompted")]
    step(view, 2).get_by_role("radio", name="prompted", exact=True).click()
    expect(step(view, 2).locator(".tk-line-state")).to_have_text("✓ saved")

    # By keys: Tab to the step, arrows move, the space bar chooses; letters choose at once.
    tab_to(page, step(view, 3).get_by_role("radio", name="unprompted"))
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert len(on_disk(made, home)) == 2
    page.keyboard.press("Space")
    expect(step(view, 3).get_by_role("radio", name="not done")).to_be_checked()
    page.keyboard.press("Tab")
    for key in ("s", "u"):
        page.keyboard.press(key)
    page.keyboard.press("x")  # cuts the cell anywhere else
    expect(step(view, 4).locator(".tk-line-state")).to_have_text("✓ saved")
    assert on_disk(made, home)[-1] == ("s4", "unprompted")

    # What is saved stays in sight however far down one is.
    expect(view.locator(".tk-sheet-state")).to_be_in_viewport()
    view.get_by_role("button", name="Sign").tap()
    expect(view.locator(".tk-sheet-state")).to_be_in_viewport()
    expect(view.locator(".tk-alarm")).to_contain_text("steps 5-7")
    names = {"Who observes": "P. Tidewell", "Who trained": "M. Orrin", "Number of the engine": "Set 4"}
    for label, said in names.items():
        view.get_by_label(label).tap()
        page.keyboard.insert_text(said)
    page.keyboard.press("Enter")

    # The kernel dies: nothing says SAVED that is not, and what was chosen goes down by itself afterwards.
    expect_status(view, "saved")
    os.kill(lab.kernel_pid(), signal.SIGSTOP)
    step(view, 5).get_by_role("radio", name="unprompted").tap()
    expect_status(view, "failed")
    expect(view.locator(".tk-sheet-state")).to_have_text("▲ NOT SAVED: 1")
    expect(step(view, 5).locator(".tk-line-state")).to_have_text("▲ NOT SAVED")
    lab.restart()
    view = page.locator(".tk-sheet")
    expect(step(view, 5).locator(".tk-line-state")).to_have_text("✓ saved")
    expect(step(view, 5).get_by_role("radio", name="unprompted")).to_be_checked()
    expect(view.get_by_label("Who observes")).to_have_value("P. Tidewell")

    for number in (6, 7):
        step(view, number).get_by_role("radio", name="unprompted").tap()
    expect_status(view, "saved")
    expect(view.locator(".tk-sheet-count")).to_have_text("7 of 7 steps")
    view.get_by_role("button", name="Sign").tap()
    expect(view.locator(".tk-sheet-state")).to_contain_text("SAVED and signed")
    expect(view.locator(".tk-done")).to_contain_text(f"trainkit-course observe {made.stem}.observed.jsonl")
    fits_the_screen(view)
    (seen,), findings = observations(home / f"{made.stem}.observed.jsonl", made)
    assert findings == ()
    assert list(seen.outcomes.values()) == ["unprompted", "prompted", "not done", *["unprompted"] * 4]
    assert (seen.observer, seen.trainer, seen.engine) == ("P. Tidewell", "M. Orrin", "Set 4")
    assert (datetime.now(UTC) - seen.at).total_seconds() < 600
    for dark in (False, True):
        take_theme(page, dark=dark)
        found = Axe().run(page, context={"include": [[".tk-sheet"]]}, options={"runOnly": RULES}).response
        assert {"color-contrast", "target-size", "label"} <= {rule["id"] for rule in found["passes"]}
        assert [(rule["id"], node["html"]) for rule in found["violations"] for node in rule["nodes"]] == []
    view.get_by_role("button", name="Show single steps again").tap()
    expect(view.locator(".tk-sheet-count")).to_have_text("0 of 7 steps")
    assert on_disk(made, home)[-1] == ("begin", "again")
    assert lab.cells() == before
    assert outside == []
