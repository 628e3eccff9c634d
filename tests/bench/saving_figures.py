"""From a key press to paint, to the disk, and until it is called saved; ``python tests/bench/saving_figures.py [N]``.

In a real JupyterLab and Chromium, at the bench of an assessment and of practice, each time from the time that the
browser gives the key event:

============ ==========================================================================================================
painted      the first frame after the press that shows anything of it is painted: in an assessment that the action is
             pressed and being saved, in practice the new picture
acknowledged the kernel has said that the line is on the disk, and the screen says SAVED
disk         what the kernel spends in forcing the line to the disk, of the time before
============ ==========================================================================================================

The aims are 17 ms for the first and 100 ms for 95 % of the second, on a quiet machine. Then the disk is made slow, so
that the first is seen not to wait for it.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from playwright.sync_api import Page, sync_playwright

from tests.bench.picture_latency import bench_key, words
from tests.browser.copies import BENCH, write_copy
from tests.browser.lab import Chrome, Lab, Server

WATCH = """(root) => {
  const told = (window.told = { pressed: [], painted: [], saved: [] });
  let asked = false;
  const painted = () => {
    if (asked || told.painted.length === told.pressed.length) return;
    asked = true;
    requestAnimationFrame(() => {
      const after = new MessageChannel();
      after.port1.onmessage = () => { asked = false; told.painted.push(performance.now()); };
      after.port2.postMessage(null);
    });
  };
  new MutationObserver((list) => {
    const settled = ["saved", "none"].includes(root.dataset.status);
    if (settled && told.saved.length < told.pressed.length && list.some(({ attributeName }) =>
      attributeName === "data-status")) told.saved.push(performance.now());
    painted();
  }).observe(root, { subtree: true, childList: true, attributes: true, characterData: true });
  root.addEventListener("keydown", (event) => told.pressed.push(event.timeStamp), true);
}"""
# In the kernel: how long each line was being forced to the disk, and a disk that is as slow as it is told.
DISK = """
import os, time
_sync, _took, _slow = os.fsync, [], [0.0]
def _timed(descriptor):
    begun = time.perf_counter()
    time.sleep(_slow[0])
    _sync(descriptor)
    _took.append(1000 * (time.perf_counter() - begun))
os.fsync = _timed
"""


def measured(page: Page, lab: Lab, mode: str, presses: int) -> None:
    """Press keys at one bench and print what they took."""
    bench = page.locator(f'.tk-question[data-kind="actions"][data-mode="{mode}"]')
    lab.show_cell(1 if mode == "practise" else 2)
    bench.evaluate(WATCH)
    bench.focus()
    lab.in_kernel("_took.clear()")
    for count in range(1, presses + 1):
        key = bench_key(bench)
        bench.evaluate("() => told.saved.length = told.painted.length = told.pressed.length")
        page.keyboard.press(key)
        page.wait_for_function(f"() => told.saved.length >= {count} && told.painted.length >= {count}", timeout=9000)
        page.wait_for_timeout(60)
    pressed, painted, saved = page.evaluate("() => [told.pressed, told.painted, told.saved]")
    print(words("painted", [at - begun for begun, at in zip(pressed, painted, strict=False)]))
    print(words("acknowledged", [at - begun for begun, at in zip(pressed, saved, strict=False)]))
    disk = json.loads(lab.in_kernel("import json; print(json.dumps(_took))"))
    if disk:
        print(words("disk", disk))


def main() -> None:
    """Measure and print."""
    presses = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    work = Path(tempfile.mkdtemp(prefix="saving-"))
    write_copy(work / "root" / "copy", items=(BENCH,), practised={"bench": "lock-pin/pin-the-engine"})
    print("from the key press, milliseconds")
    with (
        Server(work / "root", work / "state") as server,
        sync_playwright() as playwright,
        Chrome(playwright, work / "profile") as chrome,
    ):
        lab = Lab(chrome.page, server).run("copy/controls.ipynb")
        lab.in_kernel(DISK)
        for title, mode, slow in (
            ("bench, practice", "practise", 0.0),
            ("bench, assessment", "assess", 0.0),
            ("bench, assessment, a disk that takes 500 ms", "assess", 0.5),
        ):
            lab.in_kernel(f"_slow[0] = {slow}")
            print(title)
            measured(chrome.page, lab, mode, presses if not slow else min(presses, 20))
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    print(f"{os.cpu_count()} processors{load}")
    shutil.rmtree(work, ignore_errors=True)


if __name__ == "__main__":
    main()
