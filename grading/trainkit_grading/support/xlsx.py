"""Tables for spreadsheets: XLSX with a head that stays in sight, and text that no spreadsheet takes for a formula."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trainkit_grading.support.files import write_atomically
from trainkit_grading.support.plaintext import plain

# A spreadsheet would take a cell that begins so for a formula and run it.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
Value = str | int | float | bool | None


@dataclass(frozen=True, slots=True)
class Worksheet:
    """One sheet.

    Parameters
    ----------
    title : str
        What stands on its tab.
    rows : iterable of sequence
        The rows, the head first; they are written one by one and not kept.
    widths : sequence of int
        Widths of the first columns in signs.
    filtered : bool
        Whether its columns can be filtered.
    """

    title: str
    rows: Iterable[Sequence[Value]]
    widths: Sequence[int] = ()
    filtered: bool = False


def cell(value: str) -> str:
    """Return text that no spreadsheet takes for a formula; such text gets an apostrophe in front.

    Examples
    --------
    >>> cell("=SUM(A1)"), cell("amir")
    ("'=SUM(A1)", 'amir')
    """
    shown = plain(value)
    return f"'{shown}" if shown.startswith(_FORMULA) else shown


def write_xlsx(path: Path, sheets: Iterable[Worksheet]) -> None:
    """Write sheets as XLSX, one row at a time.

    Parameters
    ----------
    path : Path
        The file; what is there is replaced once all is written.
    sheets : iterable of Worksheet
        The sheets, in their order.
    """
    # It takes a while to load, and only this needs it.
    import xlsxwriter
    from xlsxwriter.exceptions import FileCreateError

    # Text is text: nothing becomes a formula, an address or a number by how it looks.
    how = {
        "constant_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
        "nan_inf_to_errors": False,
    }
    # Packed in memory: a zip that meets a full disk would complain once more when Python throws it away.
    packed = io.BytesIO()
    try:
        with xlsxwriter.Workbook(packed, how) as book:
            bold = book.add_format({"bold": True, "bottom": 1})
            for each in sheets:
                _write(book.add_worksheet(each.title), each, bold)
    except FileCreateError as error:
        raise error.args[0] from None  # what the system has refused
    write_atomically(path, packed.getvalue())


def _write(sheet: Any, of: Worksheet, bold: Any) -> None:
    for place, width in enumerate(of.widths):
        sheet.set_column(place, place, width)
    sheet.freeze_panes(1, 1)
    sheet.set_landscape()
    sheet.set_paper(9)  # A4
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    number = columns = 0
    for number, row in enumerate(of.rows):
        columns = max(columns, len(row))
        for place, value in enumerate(row):
            if value is None or value == "":
                continue
            if isinstance(value, str):
                sheet.write_string(number, place, value, bold if number == 0 else None)
            elif isinstance(value, bool):
                sheet.write_string(number, place, "yes" if value else "no")
            else:
                sheet.write_number(number, place, value)
    if of.filtered and number:
        sheet.autofilter(0, 0, number, columns - 1)
