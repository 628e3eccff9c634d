"""How long an apprentice waits for a workbook; run as ``python tests/bench/opening_figures.py [RUNS]``.

Each authored workbook is opened in a real JupyterLab and Chromium with the extension, each time with a new kernel.
Seconds are counted in the page, from the moment its kernel is connected and has answered for the first time: until the
first question stands in the page, and until everything is ready. The aim for the first is two seconds on a laptop.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "browser"))

from lab import Chrome, Lab, Server
from playwright.sync_api import sync_playwright

from trainkit import modules

# Looked at every 10 ms, which is the error of each figure.
CLOCK = """() => {
  const at = (window.openedAt = {});
  setInterval(() => {
    const kernel = window.jupyterapp?.shell?.currentWidget?.sessionContext?.session?.kernel;
    const status = document.querySelector(".tk-strip")?.dataset.status;
    const now = performance.now() / 1000;
    if (kernel?.connectionStatus === "connected" && kernel.info && ["idle", "busy"].includes(kernel.status))
      at.kernel ??= now;
    if (document.querySelector(".tk-question")) at.first ??= now;
    if (at.kernel && ["none", "saved", "practice"].includes(status)) at.ready ??= now;
  }, 10);
}"""


def main() -> None:
    """Open every workbook so many times and print the figures."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    work = Path(tempfile.mkdtemp(prefix="opening-"))
    (work / "root").mkdir()
    print(f"{'workbook':20} {'first question':>24} {'everything ready':>24}   seconds, n = {runs}")
    with (
        Server(work / "root", work / "state", extension=True) as server,
        sync_playwright() as playwright,
        Chrome(playwright, work / "profile") as chrome,
    ):
        chrome.page.add_init_script(f"({CLOCK})()")
        first_of_all: list[float] = []
        for name in modules.names():
            shutil.copytree(modules.load(name).folder, work / "root" / name)
            first, ready = [], []
            for _ in range(runs):
                lab = Lab(chrome.page, server)
                lab.open(f"{name}/{name}.ipynb")
                lab.wait_ready()
                at = chrome.page.evaluate("() => window.openedAt")
                first.append(at["first"] - at["kernel"])
                ready.append(at["ready"] - at["kernel"])
                server.close_kernels()
            first_of_all += first
            print(f"{name:20} {_words(first):>24} {_words(ready):>24}")
        print(f"{'all':20} {_words(first_of_all):>24}")
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    print(f"median (least to most); {os.cpu_count()} processors{load}")
    shutil.rmtree(work, ignore_errors=True)


def _words(seconds: list[float]) -> str:
    return f"{statistics.median(seconds):.2f} ({min(seconds):.2f} to {max(seconds):.2f})"


if __name__ == "__main__":
    main()
