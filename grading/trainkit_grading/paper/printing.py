"""PDF of the sheets, by a browser that is there anyway: the same engine that shows them prints them.

A PDF library of Python would need a second layout of everything, pictures included; the browser's print is what whoever
prints the page by hand gets, too.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from trainkit_grading.errors import PaperError
from trainkit_grading.support.files import write_atomically

_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "msedge", "microsoft-edge", "chrome")
_PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
    r"C:\Program Files\Microsoft\Edge\Application\msedge.exe",
)
_PATIENCE = 180.0  # seconds; a class of answer sheets on a slow laptop


def browser() -> str | None:
    """Return the program of a browser that can print without a window, or None."""
    found = next((path for name in _NAMES if (path := shutil.which(name)) is not None), None)
    return found or next((place for place in _PLACES if Path(place).is_file()), None)


def print_pdf(page: Path, pdf: Path) -> None:
    """Print a page into a PDF, which appears whole or not at all.

    Raises
    ------
    PaperError
        If there is no browser for it, or it does not print.
    """
    program = browser()
    if program is None:
        raise PaperError(
            pdf.name,
            rule="A PDF is printed by Chromium, Chrome or Edge, and none was found.",
            remedy=f"Open {page} in any browser and print from there: A4, no headers and footers.",
        )
    with tempfile.TemporaryDirectory(prefix="trainkit-print-") as home:
        made = Path(home) / "sheet.pdf"
        # A browser does not shut itself in when it runs as the administrator of a container, and then will not start.
        alone = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        command = [
            *(program, "--headless", *alone, "--disable-gpu", "--no-first-run", f"--user-data-dir={home}/profile"),
            *("--no-pdf-header-footer", f"--print-to-pdf={made}", page.absolute().as_uri()),
        ]
        try:
            ran = subprocess.run(command, capture_output=True, text=True, timeout=_PATIENCE, check=False)  # noqa: S603 - our own command, the page is a file of ours
        except (OSError, subprocess.TimeoutExpired) as error:
            raise _failed(pdf, page, type(error).__name__) from None
        if not made.is_file():
            raise _failed(pdf, page, (ran.stderr.strip().splitlines() or ["no reason given"])[-1][:120])
        write_atomically(pdf, made.read_bytes())


def _failed(pdf: Path, page: Path, said: str) -> PaperError:
    return PaperError(
        pdf.name,
        rule=f"The browser did not print it ({said}).",
        remedy=f"Open {page} in any browser and print from there: A4, no headers and footers.",
    )
