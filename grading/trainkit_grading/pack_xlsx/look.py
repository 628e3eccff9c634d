"""How the workbook looks: ink on paper, one accent, cautions in their own colour and in words."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.worksheet.datavalidation import DataValidation

from trainkit_grading.pack_xlsx.spots import letter

if TYPE_CHECKING:
    from collections.abc import Collection

    from trainkit_grading.pack_xlsx.sheet_layout import PackColumn


_INK, _PAPER, _QUIET, _ACCENT, _DANGER = "1B2A33", "FBFAF6", "51616B", "0B6E72", "A3262A"
_RULE = Side(style="thin", color="C9CFD3")

BODY = Font(name="Arial", size=11, color=_INK)
QUIET = Font(name="Arial", size=10, color=_QUIET)
TITLE = Font(name="Arial", size=16, bold=True, color=_INK)
CAUTION = Font(name="Arial", size=12, bold=True, color="8A4B00")
HEADING = (Font(name="Arial", size=11, bold=True, color="FFFFFF"), PatternFill("solid", fgColor=_ACCENT))
MARKED = (Font(name="Arial", size=11, bold=True, color="FFFFFF"), PatternFill("solid", fgColor=_DANGER))
WRAPPED = Alignment(wrap_text=True, vertical="top")
NUMBER = Alignment(vertical="top", horizontal="right", indent=1)
UPRIGHT = Alignment(wrap_text=True, vertical="top", horizontal="left")

_LAST = 5000  # rows in which a choice is offered
_NARROWEST, _NARROW, _WIDEST = 9, 24, 54  # letters; what is longer goes on in the next line
_LINE = 15.5  # points
_BOLD, _FIT = 0.85, 1.1  # small letters are narrower than the digit that a column is measured in


def ready(sheet: Any, frozen: str, rows: str, notice: str) -> None:
    """Freeze the headings and make the sheet print well: landscape, as wide as the paper, headings on each page."""
    sheet.freeze_panes = frozen
    sheet.print_title_rows = rows
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_options.gridLines = False
    sheet.sheet_view.zoomScale = 110
    # In these lines an ampersand begins an order to the printer.
    sheet.oddHeader.left.text = notice.replace("&", "&&")
    sheet.oddHeader.left.size = 9
    sheet.oddFooter.left.text = "&A"
    sheet.oddFooter.right.text = "&P / &N"


def fitted(sheet: Any, narrow: Collection[int] = ()) -> None:
    """Make columns as wide as what stands in them, up to a bound, and rows as high as that needs.

    Parameters
    ----------
    sheet : Worksheet
        The sheet.
    narrow : collection of int
        Columns, counted from 1, that hold lists: they go on in the next line sooner, so that a page holds more.
    """
    widths: list[int] = []
    for place, column in enumerate(sheet.iter_cols(values_only=True), start=1):
        # A heading may break between its words, what stands below it only where it is too long.
        words = max(len(word) for word in str(column[0]).split()) + 3
        longest = max(
            [len(line) for value in column[1:] if value is not None for line in str(value).split("\n")] or [0]
        )
        widest = max(_NARROW if place in narrow else _WIDEST, words)
        widths.append(min(max(words, longest + 2, _NARROWEST), widest))
        sheet.column_dimensions[letter(place)].width = widths[-1]
    for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        fit = _FIT if number > 1 else _BOLD
        lines = [
            sum(max(1, len(textwrap.wrap(line, int(width * fit)))) for line in str(value).split("\n"))
            for value, width in zip(row, widths, strict=True)
            if value is not None
        ]
        sheet.row_dimensions[number].height = _LINE * min(max(lines or [1]), 26)


def _choices(column: PackColumn) -> DataValidation | None:
    """Return what a spreadsheet offers for a column; None where anything may be typed."""
    told = {"prompt": _short(column.help, 255), "promptTitle": _short(column.title, 32), "showInputMessage": True}
    if column.kind == "flag":
        return DataValidation("list", formula1='"yes,no"', allow_blank=True, **told, **_STOP)
    if column.kind == "choice":
        return DataValidation(
            "list",
            formula1=f'"{",".join(column.choices)}"',
            allow_blank=True,
            **told,
            **(_OPEN if column.open else _STOP),
        )
    if column.refers and column.kind == "name":
        # Offered, not demanded: whoever fills in the steps first has no tools yet. The check finds what is missing.
        listed = f"'{column.refers}'!$A$2:$A${_LAST}"
        return DataValidation("list", formula1=listed, allow_blank=True, **told, **_OPEN)
    if not column.help:
        return None
    return DataValidation(None, allow_blank=True, **told)


_OPEN = {"showErrorMessage": False}
_STOP = {
    "showErrorMessage": True,
    "errorTitle": "Choose from the list",
    "error": "Only the words of the list can stand here.",
}


def validated(sheet: Any, column: PackColumn, where: str) -> None:
    """Offer choices, and say what belongs into the cells, of a range like ``C2:C5000``."""
    offered = _choices(column)
    if offered is not None:
        offered.add(where)
        sheet.add_data_validation(offered)


def striking(sheet: Any, place: int, rows: int) -> None:
    """Make rows stand out whose marked column says yes; the word stands there too."""
    column, last = letter(place), max(rows + 1, _LAST)
    rule = FormulaRule(
        formula=[f'${column}2="yes"'],
        font=Font(bold=True, color=_DANGER),
        fill=PatternFill("solid", bgColor="FBE9E7"),
    )
    sheet.conditional_formatting.add(f"{column}2:{column}{last}", rule)


def lined(cell: Any) -> None:
    """Draw the thin rule below a cell."""
    cell.border = Border(bottom=_RULE)


def _short(text: str, length: int) -> str:
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"
