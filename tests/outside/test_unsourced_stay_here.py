"""Check values without a published source stay in this folder: no product code, pack, workbook or demo holds one."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from tests.outside.checks import table

ROOT = Path(__file__).resolve().parents[2]
# Text that people or the product read; courses that were given out stay as they are.
KINDS = (".py", ".toml", ".ipynb", ".md", ".js", ".ts", ".csv", ".j2", ".html")
APART = ("tests/outside/", "tests/grading/frozen/")
UNIT = {"N.m": "N·m", "lbf.ft": "lbf·ft", "lbf.in": "lbf·in"}
PAIRED = re.compile(r"(?P<one>\d+) (?P<unit>lbf\.\w+) exactly in N\.m \(\w[\w ]* (?P<other>\d+) N\.m\)")


def unsourced() -> list[tuple[str, str]]:
    """Return the printed pairs that are common practice without a source."""
    rows = (row for row in table().values() if "common practice, no source" in row.source)
    pairs = filter(None, (PAIRED.match(row.inputs) for row in rows))
    return [(f"{pair['one']} {UNIT[pair['unit']]}", f"{pair['other']} N·m") for pair in pairs]


def beside(one: str, other: str) -> str:
    """Return the pattern of two torques that stand side by side, however their units are written."""
    wanted = []
    for text in (one, other):
        value, _, unit = text.partition(" ")
        letters = r"[\s·.*-]?".join(unit.split("·"))
        wanted.append(rf"(?<![\d.]){value}[\s\u2009]?{letters}")
    gap = r"[^\d\n]{1,14}"
    return f"{wanted[0]}{gap}{wanted[1]}|{wanted[1]}{gap}{wanted[0]}"


def product() -> list[Path]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    files = [path for path in listed.splitlines() if path.endswith(KINDS) and not path.startswith(APART)]
    return [ROOT / path for path in files if (ROOT / path).is_file()]


@pytest.mark.parametrize(("one", "other"), unsourced())
def test_no_pair_without_a_source_stands_outside_this_folder(one: str, other: str) -> None:
    pattern = re.compile(beside(one, other), re.IGNORECASE)
    assert pattern.search(f'torque = ["{one}", "{other}"]')
    assert pattern.search(f"{other} ({one})".replace("·", ".").replace(" ", "\u2009"))
    assert not pattern.search(f"3{one}, {other}")
    assert [str(path.relative_to(ROOT)) for path in product() if pattern.search(path.read_text("utf-8"))] == []


def test_the_pairs_are_known() -> None:
    assert len(unsourced()) == 4
    assert len(product()) > 400
