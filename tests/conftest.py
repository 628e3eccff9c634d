"""What all tests share: the clock of each part of the suite, and the rule for machines without a browser."""

from __future__ import annotations

import os
import shutil
from collections import defaultdict
from pathlib import PurePosixPath

import pytest
from hypothesis import settings

# A deadline would measure how busy the machine is, not what the code does.
settings.register_profile("suite", deadline=None)
settings.load_profile("suite")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Skip what needs Chromium where there is none; where CI=true the tests run and fail instead."""
    if CHROMIUM or os.environ.get("CI") == "true":
        return
    reason = pytest.mark.skip(reason="needs Chromium, which is not on PATH")
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(reason)


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
