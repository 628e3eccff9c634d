"""A short copy of an authored workbook, as a course releases it, for what happens when one is opened."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tests.browser.copies import ITEMS, added, write_notebook
from tests.trainkit.given_out import identify, release
from trainkit import modules
from trainkit.items.kinds import Item

MODULE = "lock-pin"
# A number, a choice and an order.
ASKED = ITEMS[:3]


def _source(cell: dict[str, Any]) -> str:
    return "".join(cell["source"])


def authored() -> list[dict[str, Any]]:
    """Return the cells of the authored workbook."""
    cells: list[dict[str, Any]] = json.loads(modules.load(MODULE).notebook.read_text("utf-8"))["cells"]
    return cells


def write_released(
    folder: Path,
    *,
    items: Sequence[Item] = ASKED,
    foreign: Sequence[str] = (),
    assessed: bool = True,
    texts: bool = False,
) -> Path:
    """Write a copy with a few cells of each sort, and return the notebook's path.

    ``foreign`` is added behind them; with ``texts`` all texts of the workbook are kept, not the first one alone.
    """
    cells = authored()
    code = [cell for cell in cells if cell["cell_type"] == "code"]
    wanted = {f'book.ask("A{place}")' for place in range(1, len(items) + 1)} | {"book.finish()"}
    practice = next(cell for cell in code if _source(cell).startswith("book.practice("))
    # The opening cell, cautions, pictures whose code is hidden, and the first worked example, whose code shows; what is
    # moved has tests of its own.
    example = next(place for place, cell in enumerate(code) if "source_hidden" not in str(cell["metadata"]))
    kept = [cells[0]] + [
        cell
        for cell in cells[1:]
        if (cell in code[: example + 1] and "book.instrument(" not in _source(cell))
        or cell is practice
        or _source(cell) in wanted
        or (texts and cell["cell_type"] == "markdown")
    ]
    if assessed:
        release(folder, items, ["zoë o'neill"])
        identify(folder, "zoë o'neill", "Zoë O'Neill")
    path = folder / f"{MODULE}.ipynb"
    write_notebook(path, [*kept, *(added(source, f"added-{n}") for n, source in enumerate(foreign))])
    return path
