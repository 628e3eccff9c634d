"""How long from a key press to the painted picture; run as ``python tests/bench/picture_latency.py [PRESSES]``.

In a real JupyterLab and Chromium, for the gear train, the clock face, and the bench of the lock pin in practice and in
an assessment, where each action is also written to the disk. The clock starts with the time that the browser gives the
key event. It stops once the first frame with a changed picture is painted: in the task that follows the frame's
callbacks, style, layout and paint. Then a key is held for as long as sixty repeats of it take, and the frames are
counted in which the picture changed. The aim is a median of 17 ms, one frame of sixty a second, on a quiet machine.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from playwright.sync_api import Locator, Page, sync_playwright

from tests.browser.copies import BENCH, write_copy
from tests.browser.lab import Chrome, Lab, Server

REPEATS, REPEAT_MS = 60, 33
OPENED = """\
from trainkit import workbook

book = workbook.open("turning-direction")"""

WATCH = """(root) => {
  const told = (window.told = { pressed: [], painted: [], frames: 0 });
  let asked = false;
  const changed = () => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => {
      const after = new MessageChannel();
      after.port1.onmessage = () => {
        asked = false;
        told.painted.push(performance.now());
        told.frames += 1;
      };
      after.port2.postMessage(null);
    });
  };
  window.watchedPicture?.disconnect();
  window.watchedPicture = new MutationObserver((list) => {
    // A canvas tells nobody that it is drawn; what it shows is said at its slider, and it is drawn in the same frame.
    const drawn = (node) => node.querySelector?.("svg") || node.closest?.("svg");
    if (list.some((each) => each.target.closest?.("svg") || each.attributeName === "aria-valuenow" ||
      each.type === "childList" && [...each.addedNodes].some(drawn))) changed();
  });
  window.watchedPicture.observe(root, { subtree: true, childList: true, attributes: true });
  window.removeEventListener("keydown", window.watchedKeys, true);
  window.watchedKeys = (event) => event.repeat || told.pressed.push(event.timeStamp);
  window.addEventListener("keydown", window.watchedKeys, true);
}"""


def press(page: Page, key: str) -> float | None:
    """Press a key and return the milliseconds until the picture that it changed was painted; None if none did."""
    before = page.evaluate("() => [told.pressed.length, told.painted.length]")
    page.keyboard.press(key)
    try:
        page.wait_for_function(f"() => told.painted.length > {before[1]}", timeout=3000)
    except Exception:  # noqa: BLE001 - Playwright's own error; a press need not change the picture
        return None
    page.wait_for_timeout(random.randint(30, 80))
    pressed, painted = page.evaluate(f"() => [told.pressed[{before[0]}], told.painted[{before[1]}]]")
    return float(painted - pressed)


def hold(page: Page, key: str) -> tuple[int, float]:
    """Hold a key as long as sixty repeats take; return the frames with a new picture, and the seconds."""
    page.evaluate("() => { told.frames = 0; told.from = performance.now(); }")
    page.keyboard.down(key)
    for _ in range(REPEATS):
        page.wait_for_timeout(REPEAT_MS)
        page.keyboard.down(key)
    page.keyboard.up(key)
    frames, seconds = page.evaluate("() => [told.frames, (performance.now() - told.from) / 1000]")
    return int(frames), float(seconds)


def bench_key(bench: Locator) -> str:
    """Return the key of an action that can be done now; start again where there is none."""
    ready = bench.locator('.tk-action[aria-disabled="false"]')
    if not ready.count():
        bench.locator(".tk-again").click()
        bench.page.wait_for_timeout(500)
    number = random.randrange(ready.count())
    return str(ready.nth(number).get_attribute("aria-keyshortcuts")).lower()


def notebook(path: Path, cells: list[str]) -> None:
    """Write a notebook of code cells."""
    made: list[dict[str, object]] = [
        {"id": f"c{place}", "cell_type": "code", "metadata": {}, "source": cell, "outputs": [], "execution_count": None}
        for place, cell in enumerate(cells)
    ]
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    content = {"nbformat": 4, "nbformat_minor": 5, "metadata": {"kernelspec": kernel}, "cells": made}
    path.write_text(json.dumps(content), "utf-8")


def words(name: str, waits: list[float]) -> str:
    """Return one line of the table."""
    ordered = sorted(waits)
    late = ordered[int(0.95 * (len(ordered) - 1))]
    middle = statistics.median(waits)
    return f"{name:32} median {middle:6.1f}   95 % {late:6.1f}   most {ordered[-1]:6.1f}   n = {len(waits)}"


def main() -> None:
    """Measure and print."""
    presses = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    work = Path(tempfile.mkdtemp(prefix="latency-"))
    root = work / "root"
    root.mkdir()
    notebook(root / "instruments.ipynb", [OPENED, 'book.instrument("gears")', 'book.instrument("clock")'])
    write_copy(root / "copy", items=(BENCH,), practised={"bench": "lock-pin/pin-the-engine"})
    print("key press to painted picture, milliseconds")
    with (
        Server(root, work / "state") as server,
        sync_playwright() as playwright,
        Chrome(playwright, work / "profile") as chrome,
    ):
        page, lab = chrome.page, Lab(chrome.page, server)
        lab.open("instruments.ipynb")
        lab.run_all()
        for kind, name in (("gears", "gear train"), ("clock", "clock face")):
            shown: Any = lab.question(kind)
            shown.evaluate(WATCH)
            shown.locator(".tk-turned").focus()
            waits = [wait for _ in range(presses + 5) if (wait := press(page, "ArrowRight")) is not None][5:]
            frames, seconds = hold(page, "ArrowRight")
            print(words(name, waits))
            print(f"{'':32} held {seconds:.2f} s: {frames} pictures, {frames / seconds:.0f} a second")
        lab.open("copy/controls.ipynb")
        lab.run_all()
        for mode, name in (("practise", "lock pin bench, practice"), ("assess", "lock pin bench, assessment")):
            bench = page.locator(f'.tk-question[data-kind="actions"][data-mode="{mode}"]')
            lab.show_cell(1 if mode == "practise" else 2)
            bench.evaluate(WATCH)
            bench.focus()
            waits = [wait for _ in range(presses + 5) if (wait := press(page, bench_key(bench))) is not None][5:]
            print(words(name, waits))
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    print(f"{os.cpu_count()} processors{load}")
    shutil.rmtree(work, ignore_errors=True)


if __name__ == "__main__":
    main()
