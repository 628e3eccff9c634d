"""From a value to what stands in a cell, and back: whatever went out comes back as it was, letter by letter."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

from trainkit.packs.findings import shorten

if TYPE_CHECKING:
    from trainkit_grading.pack_xlsx.sheet_layout import PackColumn


LONGEST = 32_767  # letters in a cell, as spreadsheets have it

_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
_LIKE_ESCAPE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
# What XML 1.0 cannot hold, and the carriage return, which it would turn into a line feed.
_UNWRITABLE = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff]")
_PLAIN_NAME = re.compile(r"[^\s,;\[][^,;\r\n]*(?<!\s)")
_NUMBER = re.compile(r"[+-]?(\d{1,30}([.,]\d{0,30})?|[.,]\d{1,30})([eE][+-]?\d{1,3})?")
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_WHOLE = re.compile(r"[+-]?\d{1,18}")
_YES_NO = {"yes": True, "true": True, "no": False, "false": False}


class CellError(Exception):
    """A cell that holds nothing of what belongs into it.

    Parameters
    ----------
    code : str
        Stable, words joined by hyphens.
    value : object
        What was met.
    rule, remedy : str
        Whole sentences.
    """

    def __init__(self, code: str, value: object, rule: str, remedy: str) -> None:
        self.code, self.value, self.rule, self.remedy = code, shorten(value), rule, remedy
        super().__init__(code, rule)


@dataclass(frozen=True, slots=True)
class CellValue:
    """What a cell holds; ``said`` tells where it was not written the way it is meant."""

    value: Any
    said: str = ""


def escaped(text: str) -> str:
    r"""Write a text so that a workbook can hold it: letters that XML lacks as ``_xHHHH_`` (ECMA-376, 22.9.2.19).

    Examples
    --------
    >>> escaped("a\x07b _x0041_")
    'a_x0007_b _x005F_x0041_'
    """
    return _UNWRITABLE.sub(lambda met: f"_x{ord(met[0]):04X}_", _LIKE_ESCAPE.sub("_x005F_", text))


def unescaped(text: str) -> str:
    r"""Return the text that was meant.

    Examples
    --------
    >>> unescaped(escaped("a\x07b _x0041_")) == "a\x07b _x0041_"
    True
    """

    def letter(met: re.Match[str]) -> str:
        code = int(met[1], 16)
        return met[0] if 0xD800 <= code <= 0xDFFF else chr(code)  # half a letter is none

    return _ESCAPE.sub(letter, text)


def blank(value: object) -> bool:
    """Tell whether nothing can be seen in a cell."""
    return value is None or (isinstance(value, str) and not value.strip())


def shown(value: Any, column: PackColumn) -> str | int | float | None:
    """Return what stands in the cell of a value; None where there is nothing to show.

    Examples
    --------
    >>> from trainkit_grading.pack_xlsx.sheet_layout import PackColumn
    >>> shown(["crank", "cam"], PackColumn(("takes_off",), "names", "takes off"))
    'crank, cam'
    """
    if value is None or value in ("", [], {}):
        return None
    if column.kind == "flag":
        return "yes" if value else "no"
    if column.kind == "names":
        plain = all(_PLAIN_NAME.fullmatch(name) for name in value)
        return escaped(", ".join(value) if plain else json.dumps(value, ensure_ascii=False))
    if column.kind == "wholes":
        return ", ".join(map(str, value))
    if column.kind == "numbers":
        return "; ".join(repr(float(each)) for each in value)
    if column.kind == "number":
        # A spreadsheet keeps fifteen digits of a number; one with more of them stands as text.
        exact = repr(float(f"{value:.15g}")) == repr(float(value))
        return float(value) if exact else repr(float(value))
    if isinstance(value, str):
        # What would look empty has its first letter escaped, as a cell that looks empty is read as one.
        return escaped(value) if value.strip() else f"_x{ord(value[0]):04X}_{escaped(value[1:])}"
    return int(value)


def taken(value: Any, sort: str, column: PackColumn) -> CellValue:
    """Return what a cell holds, None where it is empty.

    Parameters
    ----------
    value : object
        What openpyxl read.
    sort : str
        openpyxl's letter for what sort of cell it is: ``f`` a formula, ``e`` an error.
    column : PackColumn
        What belongs there.

    Raises
    ------
    CellError
        If it can be none of what belongs there.

    Examples
    --------
    >>> from trainkit_grading.pack_xlsx.sheet_layout import PackColumn
    >>> taken("0,15", "s", PackColumn(("lash_mm",), "number", "lash, mm"))
    CellValue(value=0.15, said='Read as 0.15.')
    """
    if sort == "f":
        raise CellError(
            "cell-formula",
            getattr(value, "text", value) or "=",
            "A formula is never worked out here.",
            "Put the value itself into the cell: copy it, then paste values only.",
        )
    if sort == "e":
        raise CellError("cell-error", value, "The spreadsheet shows an error here.", "Put the value into the cell.")
    if isinstance(value, str):
        value = "" if blank(value) else unescaped(value)
        if column.kind != "text":
            value = value.strip()
    if value is None or value == "":
        return CellValue(None)
    if isinstance(value, date | time | timedelta | datetime):
        return _moment(value, column)
    return _READERS[column.kind](value, column)


def _moment(value: Any, column: PackColumn) -> CellValue:
    if column.kind == "clock":
        if isinstance(value, time) and not (value.second or value.microsecond):
            return CellValue(
                f"{value.hour}:{value.minute:02}", f"The spreadsheet made a time of it; read as {value:%H:%M}."
            )
        if isinstance(value, timedelta) and value.seconds % 60 == 0 and value.days == 0:
            clock = f"{value.seconds // 3600}:{value.seconds // 60 % 60:02}"
            return CellValue(clock, f"The spreadsheet made a time of it; read as {clock}.")
    raise CellError(
        "cell-date",
        str(value) if isinstance(value, timedelta) else value,
        "The spreadsheet made a date or a time of what was typed.",
        "Format the cell as text, then type it again.",
    )


def _text(value: Any, _: PackColumn) -> CellValue:
    if isinstance(value, str):
        spaces = value != value.strip()
        return CellValue(value, "There is a space at its beginning or end; it is kept." if spaces else "")
    if isinstance(value, bool):
        raise CellError("cell-not-text", value, "A text stands here.", "Format the cell as text, then type it again.")
    text = str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)
    return CellValue(text, f"A number stands here; read as the text {text}.")


def _choice(value: Any, column: PackColumn) -> CellValue:
    took = _text(value, column)
    meant = {each.casefold(): each for each in column.choices}
    return took if took.value in column.choices else CellValue(meant.get(took.value.casefold(), took.value), took.said)


def _flag(value: Any, _: PackColumn) -> CellValue:
    meant = value if isinstance(value, bool) else _YES_NO.get(str(value).casefold())
    if meant is None:
        raise CellError("cell-not-yes-no", value, "The value is yes or no.", "Write one of them.")
    return CellValue(meant)


def _whole(value: Any, _: PackColumn) -> CellValue:
    if isinstance(value, str) and _WHOLE.fullmatch(value):
        return CellValue(int(value))
    if isinstance(value, bool | str) or value != int(value):
        raise CellError("cell-not-whole", value, "A whole number stands here.", "Type the number alone, no unit.")
    return CellValue(int(value))


def _number(value: Any, _: PackColumn) -> CellValue:
    if isinstance(value, str):
        return _number_in(value)
    if isinstance(value, bool):
        raise CellError("cell-not-number", value, "A number stands here.", "Type the number alone, no unit.")
    return CellValue(float(value))


def _number_in(text: str) -> CellValue:
    if not _NUMBER.fullmatch(text):
        raise CellError(
            "cell-not-number", text, "A number stands here.", "Type the number alone; its unit stands in the heading."
        )
    if _THOUSANDS.fullmatch(text):
        raise CellError(
            "cell-two-readings",
            text,
            "This can be read as a fraction and as thousands.",
            f"Type it with a point, {text.replace(',', '.')}, or without the comma.",
        )
    value = float(text.replace(",", "."))
    return CellValue(value, f"Read as {value:g}." if "," in text else "")


def _names(value: Any, column: PackColumn) -> CellValue:
    if not isinstance(value, str):
        took = _text(value, column)
        return CellValue([took.value], took.said)
    if value.startswith("["):
        try:
            names = json.loads(value)
        except (ValueError, RecursionError):
            names = None
        if isinstance(names, list) and all(isinstance(name, str) for name in names):
            return CellValue(names)
        raise CellError(
            "cell-not-list",
            value,
            "This begins like a list in brackets and is none.",
            "Write names with commas between.",
        )
    return CellValue([name.strip() for name in re.split("[,;\n]", value) if name.strip()])


def _wholes(value: Any, column: PackColumn) -> CellValue:
    if not isinstance(value, str):
        return CellValue([_whole(value, column).value])
    # The trade writes a firing order with hyphens.
    parts = value.split("-") if re.fullmatch(r"\d+(\s*-\s*\d+)+", value) else re.split(r"[,;\s]+", value)
    return CellValue([_whole(part.strip(), column).value for part in parts if part.strip()])


def _numbers(value: Any, column: PackColumn) -> CellValue:
    if not isinstance(value, str):
        return CellValue([_number(value, column).value])
    if ";" not in value and value.count(",") > 1:
        raise CellError(
            "cell-two-readings",
            value,
            "Commas stand in numbers and between them.",
            "Put semicolons between the numbers.",
        )
    took = [_number_in(part.strip()) for part in value.split(";") if part.strip()]
    return CellValue([each.value for each in took], " ".join(each.said for each in took if each.said))


_READERS = {
    "text": _text,
    "name": _text,
    "clock": _text,
    "choice": _choice,
    "flag": _flag,
    "whole": _whole,
    "number": _number,
    "names": _names,
    "wholes": _wholes,
    "numbers": _numbers,
}
