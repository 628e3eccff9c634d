"""From the sheets to the values of a pack, each with its cell; nothing that stands there is passed over in silence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from trainkit.packs.findings import Path, shorten
from trainkit.packs.near import meant
from trainkit.sentences import counted
from trainkit_grading.pack_xlsx.cells import CellError, blank, taken
from trainkit_grading.pack_xlsx.grids import Raw, Row, grids_of
from trainkit_grading.pack_xlsx.headings import COVER, matched
from trainkit_grading.pack_xlsx.sheet_layout import PackColumn, PackSheet, pack_sheets
from trainkit_grading.pack_xlsx.spots import CellFinding, Spot, letter

if TYPE_CHECKING:
    from trainkit_grading.pack_xlsx.container import SheetInfo, Workbook


# Stands for what a cell does not hold: of no right type, so that the checker judges nothing that rests on it.
BROKEN: dict[str, Any] = {}

# What can be wrong or odd with a sheet, by its code: how bad it is, the rule, and the remedy.
_REMARKS: Mapping[str, tuple[Literal["refused", "warning", "note"], str, str]] = {
    "sheet-missing": (
        "refused",
        "This sheet is missing.",
        "Put it back, with its headings alone if there is nothing to say.",
    ),
    "cell-note": (
        "warning",
        "A note pinned to a cell does not go into the pack.",
        "It stays in the workbook; keep that.",
    ),
    "sheet-unknown": (
        "warning",
        "This sheet is no part of a pack and does not go into it.",
        "It stays in the workbook; keep that.",
    ),
    "cells-merged": ("refused", "Merged cells hold one value for several places.", "Take them apart and fill in each."),
    "sheet-hidden": ("note", "This sheet is hidden and is read all the same.", ""),
    "column-missing": (
        "refused",
        "A column with this heading is missing.",
        "Put it back, empty if there is nothing to say.",
    ),
    "key-missing": ("refused", "This cell is required.", "Fill it in."),
    "column-twice": ("refused", "Two columns have this heading.", "Delete one."),
    "key-twice": ("refused", "This key stands here twice.", "Delete one of the rows."),
    "row-missing": ("refused", "The row of this key is missing.", "Put it back, empty if there is nothing to say."),
    "pair-without-first": ("refused", "Only the second of two units is filled in.", "Fill this cell in, too."),
    "row-twice": ("refused", "This step is replaced twice here.", "Delete one row."),
    "column-unknown": (
        "warning",
        "This column is no part of a pack and does not go into it.",
        "It stays in the workbook; keep that.",
    ),
}


@dataclass(frozen=True, slots=True)
class Sheets:
    """What the sheets hold.

    Parameters
    ----------
    data : dict
        The values, as they stand in a pack's file.
    spots : mapping of path to Spot
        The cell of every value, and of every value that is not there.
    findings : tuple of CellFinding
        What was wrong or odd on the way.
    """

    data: dict[str, Any]
    spots: Mapping[Path, Spot]
    findings: tuple[CellFinding, ...]


def read_sheets(workbook: Workbook, place: str) -> Sheets:
    """Read all sheets.

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
    reader = _Reader()
    grids = grids_of(workbook, place)
    known = {table.sheet for table in pack_sheets()}
    for sheet in workbook.sheets:
        reader.look_at(sheet, known, grids.get(sheet.name, ()))
    by_name = {matched(name): (name, rows) for name, rows in grids.items()}
    for table in pack_sheets():
        name, rows = by_name.get(matched(table.sheet), ("", ()))
        if not name:
            reader.remark("sheet-missing", Spot(table.sheet))
            reader.leave_out(table)
            continue
        reader.take(table, name, rows)
    return Sheets(reader.data, reader.spots, tuple(reader.findings))


class _Reader:
    def __init__(self) -> None:
        self.data: dict[str, Any] = {}
        self.spots: dict[Path, Spot] = {}
        self.findings: list[CellFinding] = []

    def tell(
        self,
        severity: Literal["refused", "warning", "note"],
        spot: Spot,
        code: str,
        value: object,
        rule: str,
        remedy: str,
    ) -> None:
        self.findings.append(CellFinding(severity, spot, code, shorten(value), rule, remedy))

    def remark(self, code: str, spot: Spot, value: object = "") -> None:
        """Tell what this code stands for."""
        severity, rule, remedy = _REMARKS[code]
        self.tell(severity, spot, code, value, rule, remedy)

    def look_at(self, sheet: SheetInfo, known: set[str], rows: tuple[Row, ...]) -> None:
        """Tell what a sheet has that a pack does not."""
        ours = matched(sheet.name) in {matched(name) for name in known}
        filled = sum(not blank(value) for row in rows for value, _ in row)
        if not ours:
            if matched(sheet.name) != matched(COVER) and filled:
                self.remark("sheet-unknown", Spot(sheet.name), f"{filled} cells")
        else:
            for merged in sheet.merged:
                self.remark("cells-merged", Spot(sheet.name, merged), merged)
            if sheet.hidden:
                self.remark("sheet-hidden", Spot(sheet.name))
        for cell, text in sheet.notes:
            self.remark("cell-note", Spot(sheet.name, cell), text)

    def leave_out(self, table: PackSheet) -> None:
        """See to it that nothing is judged that rests on a sheet which is not there."""
        if len(table.path) == 1:
            self.data[table.path[0]] = BROKEN
            self.spots[table.path] = Spot(table.sheet)

    def take(self, table: PackSheet, sheet: str, rows: tuple[Row, ...]) -> None:
        """Read one sheet into the data."""
        if len(table.path) == 1:
            self.spots[table.path] = Spot(sheet, "A1")
        head = next((number for number, row in enumerate(rows) if any(not blank(value) for value, _ in row)), 0)
        headings = rows[head] if rows else ()
        below = tuple(enumerate(rows[head + 1 :], start=head + 2))
        if table.upright:
            self._upright(table, sheet, headings, below)
            return
        places = self._columns(sheet, headings, {matched(each.title): each for each in table.columns}, below, head + 1)
        if len(table.path) == 1:
            self.data[table.path[0]] = []
        for number, row in below:
            cells = {column: _at(row, place) for place, column in places.items()}
            if all(blank(value) for value, _ in cells.values()):
                continue
            # A column that is not there was told of at the headings.
            at = dict.fromkeys(table.columns, Spot(sheet, f"A{head + 1}"))
            at |= {column: Spot(sheet, f"{letter(place + 1)}{number}") for place, column in places.items()}
            self._entry(table, cells, at, Spot(sheet, f"A{number}"))
        if len(table.path) == 1 and not self.data[table.path[0]]:
            del self.data[table.path[0]]

    def _columns(
        self,
        sheet: str,
        headings: Row,
        known: Mapping[str, Any],
        below: tuple[tuple[int, Row], ...],
        line: int,
        others: tuple[str, ...] = (),
    ) -> dict[int, Any]:
        """Return which column stands where; tell of those that are missing, double or not ours."""
        places: dict[int, Any] = {}
        widest = max([len(headings), *(len(row) for _, row in below)])
        for place in range(widest):
            value, _ = _at(headings, place)
            heading = matched(value) if value is not None else ""
            filled = sum(not blank(_at(row, place)[0]) for _, row in below)
            spot = Spot(sheet, f"{letter(place + 1)}{line}")
            if heading in known and known[heading] not in places.values():
                places[place] = known[heading]
            elif heading in known:
                self.remark("column-twice", spot, value)
            elif heading not in others and (filled or heading):
                cells = counted(filled, "cell")
                self.remark("column-unknown", spot, f"{value or 'no heading'}, {cells}")
        for column in dict.fromkeys(known.values()):
            if column not in places.values() and (headings or below):
                title = column if isinstance(column, str) else column.title
                self.remark("column-missing", Spot(sheet, f"A{line}"), title)
        return places

    def _upright(self, table: PackSheet, sheet: str, headings: Row, below: tuple[tuple[int, Row], ...]) -> None:
        places = self._columns(
            sheet,
            headings,
            {"key": "key", "value": "value"},
            below,
            below[0][0] - 1 if below else 1,
            ("what it holds",),
        )
        where = {name: place for place, name in places.items()}
        known = {matched(column.title): column for column in table.columns}
        cells: dict[PackColumn, Raw] = {}
        at: dict[PackColumn, Spot] = {}
        for number, row in below:
            key = _at(row, where["key"])[0] if "key" in where else None
            raw = _at(row, where["value"]) if "value" in where else (None, "n")
            if blank(key) and blank(raw[0]):
                continue
            column = known.get(matched(key))
            spot = Spot(sheet, f"{letter(where.get('value', 1) + 1)}{number}")
            if column is None:
                near = meant(matched(key), known)
                told = f"Did you mean {near}?" if near else "Delete this row."
                self.tell("refused", spot, "key-unknown", key or raw[0], "No such key is known here.", told)
            elif column in cells:
                self.remark("key-twice", spot, key)
            else:
                cells[column], at[column] = raw, spot
        for column in table.columns:
            if column not in cells:
                if below:
                    self.remark("row-missing", Spot(sheet, "A1"), column.title)
                at[column] = Spot(sheet, "A1")
        # Keys at the top of a pack stand beside its tables.
        target: Any = self.data.setdefault(table.path[0], {}) if table.path else self.data
        for column in table.columns:
            path = (*table.path, *column.path)
            self.spots[path] = at[column]
            if (value := self._value(column, cells.get(column, (None, "n")), at[column])) is not None:
                target[column.path[0]] = value

    def _entry(self, table: PackSheet, cells: dict[PackColumn, Raw], at: dict[PackColumn, Spot], row: Spot) -> None:
        """Add the entry of one row."""
        values = {column: self._value(column, raw, at[column]) for column, raw in cells.items()}
        if len(table.path) == 1:
            entries: list[Any] = self.data[table.path[0]]
            path: Path = (table.path[0], len(entries))
            entries.append(self._together(table.columns, values, at, path))
        else:
            owner = self._owner(table, values, at)
            if owner is None:
                return
            path = self._into(table, owner, values, at)
        self.spots.setdefault(path, row)
        for column in table.columns:
            self.spots[(*path, *column.path)] = at[column]

    def _together(
        self, columns: tuple[PackColumn, ...], values: dict[PackColumn, Any], at: dict[PackColumn, Spot], path: Path
    ) -> dict[str, Any]:
        """Make one table of the values of a row; two columns of a pair become a list."""
        entry: dict[str, Any] = {}
        for column in columns:
            value = values.get(column)
            key = str(column.path[0])
            if len(column.path) == 1:
                if value is not None:
                    entry[key] = value
                continue
            if column.path[1] == 0:
                self.spots[(*path, key)] = at[column]
            pair = entry.get(key)
            if value is BROKEN or pair is BROKEN:
                entry[key] = BROKEN
            elif value is not None and column.path[1] == 1 and pair is None:
                first = next(each for each in columns if each.path == (key, 0))
                self.remark("pair-without-first", at[first], value)
                entry[key] = BROKEN
            elif value is not None:
                entry[key] = [*(pair or ()), value]
        return entry

    def _owner(self, table: PackSheet, values: dict[PackColumn, Any], at: dict[PackColumn, Spot]) -> int | None:
        """Return the number of the entry that a row belongs to."""
        column = table.columns[0]
        name = values.get(column)
        entries = self.data.get(table.path[0], ())
        names = [entry.get("id") for entry in entries if entries is not BROKEN]
        if name is not None and name is not BROKEN and name in names:
            return names.index(name)
        if name is not BROKEN:
            near = meant(str(name), [each for each in names if isinstance(each, str)])
            self.tell(
                "refused",
                at[column],
                "row-without-owner",
                name or "",
                f"This row belongs to no entry of the sheet {column.refers}.",
                f"Did you mean {near}?" if near else f"Write an id of the sheet {column.refers}.",
            )
        return None

    def _into(self, table: PackSheet, owner: int, values: dict[PackColumn, Any], at: dict[PackColumn, Spot]) -> Path:
        entry = self.data[table.path[0]][owner]
        path: Path = (table.path[0], owner, table.path[1])
        rest = table.columns[1:]
        self.spots.setdefault(path, at[table.columns[0]])
        if table.sheet == "replaces":
            without, instead = (values.get(column) for column in rest)
            replaced = entry.setdefault(table.path[1], {})
            if without is None or instead is None:
                empty = rest[0] if without is None else rest[1]
                self.remark("key-missing", at[empty])
            elif without is not BROKEN and without in replaced:
                self.remark("row-twice", at[rest[0]], without)
            elif without is not BROKEN:
                replaced[without] = instead
            self.spots[(*path, str(without))] = at[rest[1]]
            return (*path, str(without))
        entries = entry.setdefault(table.path[1], [])
        path = (*path, len(entries))
        if isinstance(rest[0].path[0], int):
            entries.append([BROKEN if values.get(column) is None else values[column] for column in rest])
            for column in rest:
                if values.get(column) is None:
                    self.tell("refused", at[column], "key-missing", "", "A number stands here.", "Fill it in.")
        else:
            entries.append(self._together(rest, values, at, path))
        return path

    def _value(self, column: PackColumn, raw: Raw, spot: Spot) -> Any:
        try:
            took = taken(*raw, column)
        except CellError as fault:
            self.tell("refused", spot, fault.code, fault.value, fault.rule, fault.remedy)
            return BROKEN
        if took.said:
            self.tell("note", spot, "cell-read-as", raw[0], took.said, "")
        return took.value


def _at(row: Row, place: int) -> Raw:
    return row[place] if place < len(row) else (None, "n")
