"""From the values of a pack to a workbook."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from openpyxl import Workbook

from trainkit.packs.findings import key_of, shorten
from trainkit_grading.errors import PackSheetError
from trainkit_grading.pack_xlsx import look
from trainkit_grading.pack_xlsx.cells import LONGEST, escaped, shown
from trainkit_grading.pack_xlsx.headings import COVER
from trainkit_grading.pack_xlsx.sheet_layout import PackColumn, PackSheet, pack_sheets
from trainkit_grading.pack_xlsx.spots import letter

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping


def written(data: Mapping[str, Any], title: str, notice: str, cautions: tuple[tuple[str, str], ...]) -> bytes:
    """Return the bytes of a workbook.

    Parameters
    ----------
    data : mapping
        The values, as they stand in the pack's file; their shape is right.
    title, notice : str
        What the pack is called, and what is said about its values.
    cautions : tuple of pair of str
        What the first sheet opens with, each a title and a text.

    Raises
    ------
    PackSheetError
        If a value is longer than a cell can hold.
    """
    book = Workbook()
    book.properties.creator, book.properties.title = "trainkit", shorten(title, 200)
    # A line above the page holds at most 255 letters, and none that cannot be printed.
    short = f"{shorten(title, 90)} – {shorten(notice.partition('.')[0], 90)}. {_DECIDES}"
    _cover(book.active, title, notice, cautions, short)
    for table in pack_sheets():
        sheet = book.create_sheet(table.sheet)
        if table.upright:
            _upright(sheet, table, data)
        else:
            _rows(sheet, table, data)
        look.ready(sheet, "B2", "1:1", short)
        look.fitted(
            sheet, [place for place, each in enumerate(table.columns, 1) if each.kind == "names" and not table.upright]
        )
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


_DECIDES = "Real work: the manufacturer’s current manual decides."
_HOW = (
    "Each sheet is one table of the pack. A heading with * must be filled in.",
    "▲ marks what can hurt the engine or a person.",
    "Pick a cell to read what belongs there. Empty means: nothing said.",
    "Units stand in the headings; type the number alone.",
    "A torque is typed as printed, with its unit: 44 N·m, and its conversion in the column beside it.",
    "Names in a list have commas between them. A row belongs to the entry that its first column names.",
    "No formulas, no merged cells. Columns and sheets of your own may be added; they stay in the workbook.",
    "What you write on this first sheet is not taken in.",
    "Then: trainkit-course pack-in THIS-FILE.xlsx my-engine.toml",
)


def _cover(sheet: Any, title: str, notice: str, cautions: tuple[tuple[str, str], ...], short: str) -> None:
    sheet.title = COVER
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 30, 96
    lines: list[tuple[str, str, Any]] = [(f"⚠ {first}", text, look.CAUTION) for first, text in cautions]
    lines += [("", "", look.BODY), ("Where values come from", notice, look.CAUTION), ("", "", look.BODY)]
    lines += [("How to fill it in" if not number else "", text, look.BODY) for number, text in enumerate(_HOW)]
    _put(sheet.cell(1, 1), escaped(title), look.TITLE)
    for number, (first, text, font) in enumerate(lines, start=2):
        _put(sheet.cell(number, 1), escaped(first), font)
        _put(sheet.cell(number, 2), escaped(text), look.BODY)
        for cell in (sheet.cell(number, 1), sheet.cell(number, 2)):
            cell.alignment = look.WRAPPED
        sheet.row_dimensions[number].height = 16.5 * max(1, -(-len(text) // 105))
    sheet.protection.sheet = True  # no password: it only says that this sheet is not for writing
    sheet.sheet_view.showGridLines = False
    look.ready(sheet, "A2", "1:1", short)


def _upright(sheet: Any, table: PackSheet, data: Mapping[str, Any]) -> None:
    for place, heading in enumerate(("key", "value", "what it holds"), start=1):
        _heading(sheet, place, heading)
    values = data.get(table.path[0], {}) if table.path else data
    for number, column in enumerate(table.columns, start=2):
        _put(sheet.cell(number, 1), _marked_title(column), look.BODY)
        _value(sheet.cell(number, 2), _inside(values, column.path), column, (*table.path, *column.path))
        _put(sheet.cell(number, 3), column.help, look.QUIET)
        for place in (1, 2, 3):
            look.lined(sheet.cell(number, place))
            sheet.cell(number, place).alignment = look.UPRIGHT
        look.validated(sheet, column, f"B{number}")


def _rows(sheet: Any, table: PackSheet, data: Mapping[str, Any]) -> None:
    count = 0
    for count, (path, values) in enumerate(_entries(table, data), start=1):
        for place, column in enumerate(table.columns, start=1):
            cell = sheet.cell(count + 1, place)
            _value(cell, _inside(values, column.path), column, (*path, *column.path))
            look.lined(cell)
    for place, column in enumerate(table.columns, start=1):
        _heading(sheet, place, _marked_title(column), column.marked)
        # What is typed below the last row is text where a text belongs, and no date or formula.
        sheet.column_dimensions[letter(place)].number_format = _format(column)
        look.validated(sheet, column, f"{letter(place)}2:{letter(place)}5000")
        if column.marked:
            look.striking(sheet, place, count)
    sheet.auto_filter.ref = f"A1:{letter(len(table.columns))}{count + 1}"


def _entries(table: PackSheet, data: Mapping[str, Any]) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    """Yield the entries of a table with their paths, those inside other entries with the name of these."""
    section = table.path[0]
    for number, entry in enumerate(data.get(section, ())):
        if len(table.path) == 1:
            yield (section, number), entry
            continue
        inside = entry.get(table.path[1], ())
        owner = str(table.columns[0].path[0])
        if table.sheet == "replaces":
            for without, instead in dict(inside).items():
                yield (
                    (section, number, table.path[1], without),
                    {owner: entry["id"], "without": without, "instead": instead},
                )
            continue
        for place, each in enumerate(inside):
            values = dict(enumerate(each)) if isinstance(each, list | tuple) else each
            yield (section, number, table.path[1], place), {owner: entry["id"], **values}


def _inside(values: Any, path: tuple[str | int, ...]) -> Any:
    for key in path:
        if values is None:
            return None
        values = values.get(key) if hasattr(values, "get") else values[int(key)]
    return values


def _marked_title(column: PackColumn) -> str:
    return f"{column.title}{' *' if column.required else ''}{' ▲' if column.marked else ''}"


def _heading(sheet: Any, place: int, text: str, marked: bool = False) -> None:
    cell = sheet.cell(1, place)
    font, fill = look.MARKED if marked else look.HEADING
    _put(cell, text, font)
    cell.fill, cell.alignment = fill, look.WRAPPED


def _format(column: PackColumn) -> str:
    return {"whole": "0", "number": "General"}.get(column.kind, "@")


def _value(cell: Any, value: Any, column: PackColumn, path: tuple[str | int, ...]) -> None:
    content = shown(value, column)
    if isinstance(content, str) and len(content) > LONGEST:
        raise PackSheetError(
            key_of(path),
            rule=f"A cell holds at most {LONGEST} letters, and this value takes {len(content)}.",
            remedy="Shorten it in the pack.",
        )
    _put(cell, content, look.BODY)
    cell.number_format = "General" if isinstance(content, float) else _format(column)
    cell.alignment = look.NUMBER if isinstance(content, int | float) else look.WRAPPED


def _put(cell: Any, content: str | int | float | None, font: Any) -> None:
    """Write into a cell; a text stays a text, whatever letter it begins with."""
    cell.font = font
    if content == "":
        return
    cell.value = content
    if isinstance(content, str):
        cell.data_type = "s"
        # The spreadsheet's own sign for it, so that it stays one when somebody types there.
        cell.quotePrefix = content[:1] in "=+-@"
