"""Every finding of the checker names the cell that a person finds by looking: by headings and by counting rows.

The other way from a finding to its cell uses neither the paths nor the columns of the code: a mutated pack's own text
says on which line its fault stands; entries are counted by their headers, and the sheet is searched for the heading.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

import pytest
from openpyxl.utils import get_column_letter

from tests.trainkit.pack_faults import CASES, Case, line_of, mutated
from trainkit.packs.places import Places
from trainkit.packs.shape import read as in_shape
from trainkit_grading.errors import PackSheetError
from trainkit_grading.pack_xlsx.back import examined
from trainkit_grading.pack_xlsx.container import looked_into
from trainkit_grading.pack_xlsx.grids import Row, grids_of
from trainkit_grading.pack_xlsx.out import book_of
from trainkit_grading.pack_xlsx.sheet_reading import read_sheets
from trainkit_grading.pack_xlsx.sheet_writing import written

from .sheets import START

SHEETS = {"fasteners.stages": "stages", "": "pack"}


def goes_out(case: Case) -> bool:
    """Tell whether the shape of a case's pack is right: another does not go out."""
    text = mutated(case.base, case.edits)
    _, values, findings = in_shape(text, "mine.toml", Places(text))
    return values is not None and not findings


# One case a code: what rules find beyond that differs in the rule, not in how a cell is found.
BY_CODE = {case.code: case for case in reversed(CASES) if goes_out(case)}


def looked_up(text: str, line: int, book: Mapping[str, tuple[Row, ...]]) -> tuple[str, set[str]]:
    """Return the sheet of a line and the cells that it may stand in."""
    lines = text.split("\n")[:line]
    headers = [each for each in lines if re.fullmatch(r"\[\[?[a-z_.]+\]\]?", each)]
    name = headers[-1].strip("[]") if headers else ""
    # A list may go on over several lines; its key stands above.
    begun = next(each for each in reversed(lines) if each in headers or re.match("[a-z_]+ =", each))
    key = "" if begun in headers else begun.partition(" =")[0]
    words = re.sub("_(mm|deg)$", ",", key).replace("_", " ")
    name = {"replaces": "replaces", "at": "places"}.get(key, SHEETS.get(name, name))
    rows = [[str(value or "") for value, _ in row] for row in book[name]]
    if name in ("replaces", "places"):
        return name, {f"{letter}{row}" for letter in "ABC" for row in range(2, len(rows) + 1)}
    if rows[0][0] == "key":
        return name, {f"B{number}" for number, row in enumerate(rows, start=1) if row[0].startswith(words)} | {"A1"}
    number = headers.count(headers[-1]) + 1
    places = [place for place, heading in enumerate(rows[0], start=1) if heading.startswith(words)]
    return name, {f"{get_column_letter(place)}{number}" for place in places} | (set() if key else {"A1"})


@pytest.mark.parametrize("code", BY_CODE)
def test_a_finding_names_the_cell_that_a_person_finds(code: str) -> None:
    case = BY_CODE[code]
    text = mutated(case.base, case.edits)
    book = looked_into(written(tomllib.loads(text), "mine", "Invented.", ()), Path("mine.xlsx"))
    sheets = read_sheets(book, "mine.xlsx")
    found = [each for each in examined(sheets, "mine.toml") if each.code == code]
    assert not sheets.findings
    assert found
    for each in found:
        assert each.rule
        assert each.remedy
        # The words are those of a spreadsheet.
        assert "[[" not in each.remedy
        assert "double quotes" not in each.rule + each.remedy
    if case.at is not None:
        sheet, cells = looked_up(text, line_of(text, case.at), grids_of(book, "mine.xlsx"))
        assert any(each.spot.sheet == sheet and each.spot.cell in cells for each in found), (sheet, cells, found)


def test_names_that_stand_twice_cannot_say_whose_rows_are_whose() -> None:
    text = START.replace('id = "gear-nut"', 'id = "pump-bolts"')
    with pytest.raises(PackSheetError, match="stand twice"):
        book_of(text, "mine.toml")


def test_most_rules_are_held_here() -> None:
    assert len(BY_CODE) > 0.7 * len({case.code for case in CASES})
