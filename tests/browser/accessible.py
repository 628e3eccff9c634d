"""What axe finds in what a workbook shows; JupyterLab's own page round it is left out."""

from __future__ import annotations

from collections.abc import Set
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

# The strip, every output and every text: all that is ours in the page. Code and menus are JupyterLab's.
OURS = [[".tk-strip"], [".jp-Notebook .jp-OutputArea-output"], [".jp-Notebook .jp-MarkdownOutput"]]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
# Without these nothing was looked at.
APPLIED = frozenset({"button-name", "color-contrast", "target-size", "aria-allowed-attr", "svg-img-alt"})

_AXE = Axe()


def show_all(page: Page) -> None:
    """Have JupyterLab hold every cell in the page at once, in view or not."""
    page.evaluate(
        """() => { const notebook = window.jupyterapp.shell.currentWidget.content;
          notebook.notebookConfig = { ...notebook.notebookConfig, windowingMode: "none" }; }"""
    )


def take_theme(page: Page, *, dark: bool) -> None:
    """Change JupyterLab's theme and wait until it is there."""
    theme = "JupyterLab Dark" if dark else "JupyterLab Light"
    page.evaluate(
        "async (theme) => { await window.jupyterapp.commands.execute('apputils:change-theme', { theme }); }", theme
    )
    expect(page.locator("body")).to_have_attribute("data-jp-theme-light", "false" if dark else "true")
    page.wait_for_timeout(300)  # its style sheet comes a little later


def findings(page: Page, expected: Set[str] = APPLIED) -> list[str]:
    """Return what is wrong, one line each; ``expected`` are rules that must have found something to look at."""
    found = _run(page)
    applied = {rule["id"] for rule in (*found["passes"], *found["violations"])}
    assert applied >= expected, expected - applied
    return [
        f"{rule['id']}: {node['html'][:160]} {node['failureSummary']}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]


def _run(page: Page) -> dict[str, Any]:
    # JupyterLab's page is laid out outside of its body, which has no height then: axe would take all for out of sight.
    page.evaluate("() => { document.body.style.height = '100vh'; }")
    options = {"resultTypes": ["violations"], "runOnly": RULES}
    response: dict[str, Any] = _AXE.run(page, context={"include": OURS}, options=options).response
    return response
