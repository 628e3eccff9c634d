"""What all tests share: the clock of each part of the suite, and the rule for machines without all programs."""

from __future__ import annotations

import os
import shutil
from collections import defaultdict
from collections.abc import Iterator
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

from tests.grading.postgres import programs

if TYPE_CHECKING:
    from playwright.sync_api import Playwright

# A deadline would measure how busy the machine is, not what the code does.
settings.register_profile("suite", deadline=None)
settings.load_profile("suite")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
# By marker: what has to be there, and why a test is skipped without it.
NEEDED = {
    "browser": (CHROMIUM, "needs Chromium, which is not on PATH"),
    "postgresql": (programs(), "needs PostgreSQL's server, which is not installed"),
}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Skip what needs a program that is not there; where CI=true the tests run and fail instead."""
    if os.environ.get("CI") == "true":
        return
    for marker, (there, reason) in NEEDED.items():
        if there:
            continue
        for item in items:
            if item.get_closest_marker(marker):
                item.add_marker(pytest.mark.skip(reason=reason))


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    """Drive Chromium; one for a whole process, since a second one beside it is refused."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as running:
        yield running


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print how long each part of the suite took."""
    seconds: dict[str, float] = defaultdict(float)
    for reports in terminalreporter.stats.values():
        for report in reports:
            if hasattr(report, "duration"):
                parts = PurePosixPath(report.nodeid.partition("::")[0]).parts
                seconds["/".join(parts[:2])] += report.duration
    terminalreporter.section("seconds of each part")
    for part, spent in sorted(seconds.items(), key=lambda entry: -entry[1]):
        terminalreporter.write_line(f"{spent:7.1f}  {part}")
