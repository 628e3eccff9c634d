"""Every row about mechanics or statistics is tested, or stands in a list with the reason why it is not.

A row counts as tested where a test takes it by its identifier, ``@rows("T01")`` or ``row("T01")``: the calls are
read out of the source, so nothing can claim a row without using it. Reasons stand in the modules' ``NOT_TESTED``.
"""

from __future__ import annotations

import ast
import csv
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.outside.checks import TABLE, table

HERE = Path(__file__).parent
AREAS = "TDBWGPS"
MODULES = sorted(path for path in HERE.glob("test_*.py") if path.name != Path(__file__).name)


def taken(tree: ast.AST) -> Iterator[str]:
    """Yield the identifiers that calls of ``rows`` and ``row`` name."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute):
            name = node.func.id if isinstance(node.func, ast.Name) else node.func.attr
            if name in {"row", "rows"}:
                yield from (
                    arg.value for arg in node.args if isinstance(arg, ast.Constant) and isinstance(arg.value, str)
                )


def reasons(tree: ast.Module) -> dict[str, str]:
    """Return the module's ``NOT_TESTED``, which is a plain table."""
    found: dict[str, str] = {}
    for node in tree.body:
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            if any(isinstance(target, ast.Name) and target.id == "NOT_TESTED" for target in targets):
                found |= ast.literal_eval(node.value)
    return found


TREES = {path.name: ast.parse(path.read_text("utf-8")) for path in MODULES}
TESTED = {name: set(taken(tree)) for name, tree in TREES.items()}
REASONS = {name: reasons(tree) for name, tree in TREES.items()}
WANTED = [name for name in table() if name[0] in AREAS]


@pytest.mark.parametrize("name", WANTED)
def test_row_is_tested_or_has_its_reason(name: str) -> None:
    tested = [module for module, names in TESTED.items() if name in names]
    excused = [module for module, table_of in REASONS.items() if name in table_of]
    assert tested or excused, f"no test takes row {name}: {table()[name].inputs}"
    assert not (tested and excused), f"row {name} is tested in {tested}, so no reason belongs in {excused}"


def test_reasons_are_sentences_about_rows_that_exist() -> None:
    for module, entries in REASONS.items():
        for name, reason in entries.items():
            assert name in table(), f"{module} excuses {name}, which is no row"
            assert len(reason.split()) >= 5, f"{module}: the reason for {name} says nothing"


def test_table_is_whole() -> None:
    with TABLE.open(encoding="utf-8", newline="") as lines:
        read = list(csv.reader(lines))
    assert len(read) == len(table()) + 1
    assert {len(line) for line in read} == {8}
    assert all(found.source and found.status for found in table().values())


@pytest.mark.parametrize("name", ["T02", "T07", "D01a", "B10", "B40", "B76", "W01", "W11"])
def test_a_wrong_value_does_not_agree(name: str) -> None:
    """The comparison itself must be able to fail, just outside the tolerance on either side."""
    found = table()[name]
    assert found.agrees(found.number)
    assert not found.agrees(found.number + 2 * found.margin)
    assert not found.agrees(found.number - 2 * found.margin)
