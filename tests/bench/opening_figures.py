"""How long an apprentice waits for a workbook; run as ``python tests/bench/opening_figures.py [RUNS]``.

Each authored workbook is opened in a real JupyterLab and Chromium with the extension, each time with a new kernel.
Seconds are counted in the page, from the moment its kernel is connected and has answered for the first time: until the
first question stands in the page, and until everything is ready. The aim for the first is two seconds on a laptop.
How busy the machine is at the moment is told by what an empty cell takes in the same page and kernel, there and back.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from playwright.sync_api import sync_playwright

from tests.browser.lab import Chrome, Lab, Server
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

# The median of some empty cells, once everything is ready.
EMPTY = """async () => {
  const { kernel } = window.jupyterapp.shell.currentWidget.sessionContext.session, took = [];
  for (let cell = 0; cell < 9; cell += 1) {
    const begun = performance.now();
    await kernel.requestExecute({ code: "pass", store_history: false }).done;
    took.push((performance.now() - begun) / 1000);
  }
  return took.sort((one, other) => one - other)[4];
}"""


def main() -> None:
    """Open every workbook so many times and print the figures."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    work = Path(tempfile.mkdtemp(prefix="opening-"))
    (work / "root").mkdir()
    heads = ("first question", "everything ready", "an empty cell")
    print(f"{'workbook':20}{''.join(f'{head:>28}' for head in heads)}   seconds, n = {runs}")
    with (
        Server(work / "root", work / "state", extension=True) as server,
        sync_playwright() as playwright,
        Chrome(playwright, work / "profile") as chrome,
    ):
        chrome.page.add_init_script(f"({CLOCK})()")
        every: list[tuple[float, float, float]] = []
        for name in modules.names():
            shutil.copytree(modules.load(name).folder, work / "root" / name)
            times: list[tuple[float, float, float]] = []
            for _ in range(runs):
                lab = Lab(chrome.page, server)
                lab.open(f"{name}/{name}.ipynb")
                lab.wait_ready()
                at = chrome.page.evaluate("() => window.openedAt")
                empty = chrome.page.evaluate(EMPTY)
                times.append((at["first"] - at["kernel"], at["ready"] - at["kernel"], empty))
                server.close_kernels()
            every += times
            _tell(name, times)
        _tell("all", every)
    ratios = [first / empty for first, _, empty in every]
    print(f"first question, in empty cells: {_words(ratios)}")
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    print(f"median (least to most); {os.cpu_count()} processors{load}")
    shutil.rmtree(work, ignore_errors=True)


def _tell(name: str, times: list[tuple[float, float, float]]) -> None:
    print(f"{name:20}{''.join(f'{_words(list(column)):>28}' for column in zip(*times, strict=True))}")


def _words(seconds: list[float]) -> str:
    return f"{statistics.median(seconds):.3g} ({min(seconds):.3g} to {max(seconds):.3g})"


if __name__ == "__main__":
    main()
