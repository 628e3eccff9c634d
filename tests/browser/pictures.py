"""Make the pictures of the README: what apprentice, instructor and coordinator see, taken from a demo course.

Run it from the top of the repository with the environment of the tests: ``python tests/browser/pictures.py``.
"""

from __future__ import annotations

import html
import re
import shutil
import subprocess
import sys
import sysconfig
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.by_keyboard import answer_choice
from tests.browser.lab import Chrome, Lab, Server

ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / ".github" / "pictures"
COMMAND = Path(sysconfig.get_path("scripts")) / "trainkit-course"


def terminal(course: Path) -> str:
    """Return a page with what some commands print in a course folder."""
    shown = []
    for arguments in (["check"], ["collect"], ["mark"], ["report", "--for", "instructor"], ["verify"]):
        done = subprocess.run([COMMAND, *arguments], cwd=course, capture_output=True, text=True, check=False)
        printed = re.sub(r"\x1b\[[0-9;]*m", "", done.stdout + done.stderr).replace(str(course), "saltmere")
        shown.append(f"<b>$ trainkit-course {' '.join(arguments)}</b>\n{html.escape(printed)}")
    style = "margin:0;padding:18px 22px;background:#14191d;color:#e9edef;font:15px/1.5 monospace;white-space:pre-wrap"
    return f'<meta charset="utf-8"><body style="margin:0"><pre style="{style}">{chr(10).join(shown)}</pre>'


def main() -> None:
    """Make all pictures."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    work = Path(tempfile.mkdtemp(prefix="pictures-"))
    subprocess.run([COMMAND, "demo", "--into", work / "demo"], check=True, capture_output=True)
    course = work / "demo" / "course"
    with (
        sync_playwright() as playwright,
        Chrome(playwright, work / "profile") as chrome,
        Server(work / "demo" / "apprentices", work / "state", extension=True) as server,
    ):
        page = chrome.page
        page.set_viewport_size({"width": 1366, "height": 1180})
        page.goto((course / "report" / "readiness.html").as_uri())
        page.screenshot(path=PICTURES / "coordinator.png")
        (work / "terminal.html").write_text(terminal(course), "utf-8")
        page.set_viewport_size({"width": 1000, "height": 400})
        page.goto((work / "terminal.html").as_uri())
        page.screenshot(path=PICTURES / "instructor.png", full_page=True)
        page.set_viewport_size({"width": 1366, "height": 768})
        lab = Lab(page, server)
        lab.open("lena/lock-pin/lock-pin.ipynb")
        lab.wait_ready()
        question = lab.question("A1")
        if question.locator(".tk-choice input").count():
            value = question.locator(".tk-choice input").first.get_attribute("value")
            answer_choice(page, question, str(value))
        page.wait_for_timeout(1500)
        question.scroll_into_view_if_needed()
        page.screenshot(path=PICTURES / "apprentice.png")
    shutil.rmtree(work, ignore_errors=True)
    sys.stdout.write(f"{PICTURES}\n")


if __name__ == "__main__":
    main()
