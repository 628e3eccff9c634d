"""The cells of a workbook, row by row."""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING, Any

from trainkit_grading.errors import PackSheetError
from trainkit_grading.pack_xlsx.container import COLUMNS, ROWS
from trainkit_grading.pack_xlsx.headings import matched

if TYPE_CHECKING:
    from trainkit_grading.pack_xlsx.container import Workbook


# What stands in a cell, and openpyxl's letter for its sort.
Raw = tuple[Any, str]
Row = tuple[Raw, ...]


def grids_of(workbook: Workbook, place: str) -> dict[str, tuple[Row, ...]]:
    """Return the rows of every sheet, from the first to the last in which something stands.

    Parameters
    ----------
    workbook : Workbook
        What :func:`.container.inspected` has let pass.
    place : str
        The file, for the error.

    Raises
    ------
    PackSheetError
        If openpyxl cannot read it.
    """
    import openpyxl

    try:
        with warnings.catch_warnings():
            # What openpyxl warns of are things of the look that it drops; nothing is written back with it.
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(workbook.content), read_only=True, keep_links=False)
            grids: dict[str, tuple[Row, ...]] = {}
            for sheet in book.worksheets:
                if matched(sheet.title) in map(matched, grids):
                    raise PackSheetError(
                        sheet.title, rule="Two sheets have this name.", remedy="Rename one.", place=place
                    )
                sheet.reset_dimensions()  # what a file says of its own size is not believed
                rows: list[Row] = []
                filled = 0
                for cells in sheet.iter_rows(max_row=ROWS, max_col=COLUMNS):
                    row = tuple((cell.value, cell.data_type) for cell in cells)
                    while row and row[-1][0] is None:
                        row = row[:-1]
                    rows.append(row)
                    if row:
                        filled = len(rows)
                grids[sheet.title] = tuple(rows[:filled])
            return grids
    except PackSheetError:
        raise
    except Exception as error:  # noqa: BLE001 - openpyxl fails in every way there is on a file that somebody bent
        raise PackSheetError(
            type(error).__name__,
            rule="The sheets cannot be read; the workbook is damaged.",
            remedy="Open it in a spreadsheet, save it under another name, and try that.",
            place=place,
        ) from None
