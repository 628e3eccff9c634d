"""Packs as workbooks, changed the way people and their programs change them."""

from __future__ import annotations

import io
import json
import tomllib
import warnings
from pathlib import Path
from typing import Any

import openpyxl

import trainkit
from tests.trainkit.plain_engine import plain
from trainkit.packs.schema import Document
from trainkit_grading.course import packs as own

DUNLIN = (Path(trainkit.__file__).parent / "packs" / "data" / "dunlin.toml").read_text("utf-8")
CURLEW = Path(own.find_pack("curlew")).read_text("utf-8")
START = plain()


def document(text: str) -> Document:
    """Return the values of a pack's text, what it leaves out included."""

    def frozen(value: Any) -> Any:
        if isinstance(value, list):
            return tuple(map(frozen, value))
        return {key: frozen(each) for key, each in value.items()} if isinstance(value, dict) else value

    return Document.model_validate(frozen(tomllib.loads(text)))


def toml(data: dict[str, Any]) -> str:
    """Write values as a pack's text, in a plain way of its own."""

    def written(value: Any) -> str:
        if isinstance(value, dict):
            return "{" + ", ".join(f"{json.dumps(key)} = {written(each)}" for key, each in value.items()) + "}"
        if isinstance(value, list):
            return "[" + ", ".join(map(written, value)) + "]"
        return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else repr(value).lower()

    return "".join(f"{json.dumps(key)} = {written(value)}\n" for key, value in data.items())


def opened(file: Path | bytes) -> openpyxl.Workbook:
    """Open a workbook whole, as a spreadsheet does."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return openpyxl.load_workbook(io.BytesIO(file) if isinstance(file, bytes) else file)


def column(sheet: Any, heading: str) -> int:
    """Return the number of the column whose heading begins so."""
    return int(next(cell.column for cell in sheet[1] if str(cell.value).startswith(heading)))


def cell(book: openpyxl.Workbook, sheet: str, row: str, heading: str) -> Any:
    """Return the cell in the row whose first cell reads so."""
    number = next(each[0].row for each in book[sheet].iter_rows() if str(each[0].value).startswith(row))
    return book[sheet].cell(number, column(book[sheet], heading))
