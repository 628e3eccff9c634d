"""How long a frame takes while an instrument is dragged; run as ``python tests/bench/instrument_frames.py [NAME ...]``.

In a real JupyterLab and Chromium. A name is that of :data:`trainkit.widgets.instruments.INSTRUMENTS`; all by default.
The page itself moves the pointer once a frame, round the middle of what is dragged, so that no automation lies between
two frames; what is printed are the intervals between 300 frames and the script's part of each. The aim is 17 ms, and
34 ms at the 95th percentile, on a quiet machine. Then it drags on for many moves (``MOVES=...`` in the environment; an
hour at one a frame has 216000) and tells how the heap of the page has changed.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from playwright.sync_api import Page, sync_playwright

from tests.bench.picture_latency import OPENED, notebook
from tests.browser.lab import Chrome, Lab, Server
from trainkit.widgets.instruments import INSTRUMENTS

FRAMES = 300
MOVES = int(os.environ.get("MOVES", "20000"))

# What is dragged: the first of these that is there. A canvas may say where its parts are, as x, y and radius.
DRAG = """async ([name, frames, moves]) => {
  const root = document.querySelector(`.tk-question[data-name="${name}"]`);
  const kinds = ["canvas", ".tk-grip-to-turn", "[data-drag]", "[data-measure]", ".tk-circle-view", "svg"];
  const node = kinds.map((kind) => root.querySelector(kind)).find(Boolean);
  node.scrollIntoView({ block: "center" });
  await new Promise((done) => setTimeout(done, 300));
  const box = node.getBoundingClientRect();
  const parts = Object.values(JSON.parse(node.dataset.gears ?? "{}"));
  const [x, y, radius] = parts[0] ?? [box.width / 2, box.height / 2, Math.min(box.width, box.height) / 3];
  // A pointer of the page's own cannot be captured.
  Element.prototype.setPointerCapture = () => {};
  let angle = 0;
  const send = (type, buttons) => node.dispatchEvent(new PointerEvent(type, {
    bubbles: true, cancelable: true, pointerId: 7, button: type === "pointermove" ? -1 : 0, buttons,
    clientX: box.left + x + 0.7 * radius * Math.sin(angle), clientY: box.top + y - 0.7 * radius * Math.cos(angle),
  }));
  const frame = () => new Promise(requestAnimationFrame);
  const deltas = [], script = [];
  send("pointerdown", 1);
  let last = await frame();
  for (let number = 0; number < frames + 20; number++) {
    const before = performance.now();
    angle += 0.07 * (number % 90 < 60 ? 1 : -1);
    send("pointermove", 1);
    script.push(performance.now() - before);
    const now = await frame();
    deltas.push(now - last);
    last = now;
  }
  const heap = () => performance.memory.usedJSHeapSize;
  globalThis.gc?.();
  const from = heap();
  for (let number = 0; number < moves; number++) {
    angle += 0.07 * (number % 90 < 60 ? 1 : -1);
    send("pointermove", 1);
    if (number % 200 === 199) await frame();
  }
  send("pointerup", 0);
  await frame();
  globalThis.gc?.();
  await new Promise((done) => setTimeout(done, 200));
  const kind = node.className.baseVal ?? node.className;
  return { deltas: deltas.slice(20), script: script.slice(20), heap: [from, heap()], node: kind };
}"""


def spread(values: list[float]) -> str:
    """Return median and 95th percentile in words."""
    ordered = sorted(values)
    return f"{statistics.median(values):5.1f} / {ordered[int(0.95 * (len(ordered) - 1))]:5.1f}"


def measure(page: Page, name: str) -> None:
    """Drag an instrument and print its line."""
    found: Any = page.evaluate(DRAG, [name, FRAMES, MOVES])
    from_, to = (size / 1e6 for size in found["heap"])
    load = f"load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    print(
        f"{name:10} frame {spread(found['deltas'])} ms   script of a move {spread(found['script'])} ms   "
        f"heap {from_:.1f} to {to:.1f} MB after {MOVES} moves   n = {FRAMES}   {load}   ({found['node']})"
    )


def main() -> None:
    """Measure and print."""
    names = sys.argv[1:] or list(INSTRUMENTS)
    work = Path(tempfile.mkdtemp(prefix="frames-"))
    root = work / "root"
    root.mkdir()
    notebook(root / "instruments.ipynb", [OPENED, *(f'book.instrument("{name}")' for name in names)])
    print("median / 95th percentile")
    with (
        Server(root, work / "state") as server,
        sync_playwright() as playwright,
        Chrome(playwright, work / "profile") as chrome,
    ):
        lab = Lab(chrome.page, server)
        lab.open("instruments.ipynb")
        lab.run_all()
        for name in names:
            lab.question(name)
            measure(chrome.page, name)
    shutil.rmtree(work, ignore_errors=True)


if __name__ == "__main__":
    main()
