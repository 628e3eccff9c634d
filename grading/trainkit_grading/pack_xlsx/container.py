"""The file itself, looked at before anything reads it: what no honest workbook has makes the whole of it refused.

An XLSX file is a zip of XML files. Each of them is unpacked against a limit and run through defusedxml, which refuses
definitions of entities, before openpyxl gets to see the file; cells that stand absurdly far out, and sheets that are
absurdly large, are refused here too, so that no number written in the file decides how much memory is used.
Nothing is unpacked to disk, no link is followed, and no formula is worked out.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import ParseError

from trainkit_grading.errors import PackSheetError
from trainkit_grading.support.refusals import refusal

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


LARGEST = 8_000_000  # bytes of the file; the largest pack there can be takes a fifth of it
UNPACKED = 32_000_000  # bytes of everything in it
MEMBERS = 400
ROWS = 30_000  # the longest table of a pack has 20,000 entries
COLUMNS = 100
ELEMENTS = 600_000  # of XML in one part; the longest table takes half of them

# What a workbook of values has no use for.
_ACTIVE = {
    "vbaproject": "macros",
    "macrosheets/": "macros",
    "externallinks/": "links to other workbooks",
    "activex/": "controls",
    "embeddings/": "embedded files",
    "connections.xml": "connections to other data",
    "querytables/": "queries of other data",
    "ctrlprops/": "controls",
}


# What a damaged zip, one with a password, or one that lies about itself ends in.
_UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    OSError,
    ValueError,
)


@dataclass(frozen=True, slots=True)
class SheetInfo:
    """What openpyxl does not tell of a sheet that it reads row by row.

    Parameters
    ----------
    name : str
        Its name.
    hidden : bool
        Whether a person does not see it.
    merged : tuple of str
        Ranges of cells that were made one.
    notes : tuple of pair of str
        Cells to which somebody pinned a note, and what it says.
    """

    name: str
    hidden: bool
    merged: tuple[str, ...]
    notes: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Workbook:
    """The bytes of a workbook that can be read, and its sheets."""

    content: bytes
    sheets: tuple[SheetInfo, ...]


def inspected(path: Path) -> Workbook:
    """Return a workbook that is safe to read.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    PackSheetError
        If the file cannot be read, is no workbook, or holds what no honest one does.
    """
    if path.suffix.lower() != ".xlsx":
        raise PackSheetError(
            str(path), rule="A pack comes back in an .xlsx workbook.", remedy="Save it as “Excel workbook (.xlsx)”."
        )
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST + 1)
    except OSError as error:
        raise refusal(error, path) from None
    if len(content) > LARGEST:
        raise _hostile(path, f"more than {LARGEST} bytes", f"A workbook of a pack has at most {LARGEST} bytes.")
    try:
        return looked_into(content, path)
    except PackSheetError:
        raise
    except _UNREADABLE as error:
        # A workbook with a password is no zip at all.
        raise PackSheetError(
            str(path),
            rule=f"This is no workbook that can be opened ({type(error).__name__}).",
            remedy="Open it in a spreadsheet, take a password off it, and save it as “Excel workbook (.xlsx)”.",
        ) from None


def _hostile(path: Path, met: str, rule: str, remedy: str = "") -> PackSheetError:
    return PackSheetError(met, rule=rule, remedy=remedy or "Check that this is the right file.", place=str(path))


def looked_into(content: bytes, path: Path) -> Workbook:
    """Return the workbook of some bytes, as :func:`inspected` does; ``path`` names it in errors."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        members = archive.infolist()
        names = [member.filename for member in members]
        if len(names) > MEMBERS or len({name.casefold() for name in names}) != len(names):
            raise _hostile(path, f"{len(names)} parts", "A workbook has few parts, each once.")
        if any(member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for member in members):
            raise _hostile(path, path.name, "The workbook is packed in a way that no spreadsheet uses.")
        for name in names:
            for sign, what in _ACTIVE.items():
                if sign in name.casefold():
                    raise _hostile(
                        path,
                        name,
                        f"The workbook holds {what}; a pack is values only.",
                        "Save it as “Excel workbook (.xlsx)”, without them.",
                    )
        parts: dict[str, bytes] = {}
        left = UNPACKED
        for member in members:
            # What a member says about its size may be a lie, so what comes out of it is counted.
            with archive.open(member) as stream:
                data = stream.read(left + 1)
            left -= len(data)
            if left < 0:
                raise _hostile(path, member.filename, f"Unpacked, a workbook has at most {UNPACKED} bytes.")
            parts[member.filename] = data
    found = {
        name: _part(name, data, path) for name, data in parts.items() if re.search(r"\.(xml|rels|vml)$", name, re.I)
    }
    return Workbook(content, _sheets(found, path))


@dataclass(slots=True)
class _Part:
    """What is kept of one XML file."""

    sheets: list[dict[str, str]]
    relations: dict[str, tuple[str, str]]
    merged: list[str]
    notes: list[tuple[str, str]]


def _part(name: str, data: bytes, path: Path) -> _Part:
    """Walk through one XML file, refuse what must not be there and keep what openpyxl does not tell."""
    kept = _Part([], {}, [], [])
    row = column = 0
    for begins, tag, element in _elements(name, data, path):
        if begins:
            if tag == "row":
                row, column = _counted(element.get("r"), row + 1), 0
            elif tag == "c":
                place = re.fullmatch(r"([A-Za-z]{1,7})(\d{1,7})", element.get("r") or "")
                column = _letters(place[1]) if place else column + 1
                row = int(place[2]) if place else row
            continue
        if tag == "c" and len(element) and (row > ROWS or column > COLUMNS):
            raise _hostile(
                path,
                f"{name} {element.get('r') or ''}".strip(),
                f"A sheet of a pack has at most {ROWS} rows and {COLUMNS} columns.",
                "Delete what stands far outside the table.",
            )
        if tag == "sheet":
            kept.sheets.append({_local(key): value for key, value in element.attrib.items()})
        elif tag == "Relationship":
            kept.relations[element.get("Id", "")] = (element.get("Type", ""), element.get("Target", ""))
        elif tag == "mergeCell":
            kept.merged.append(element.get("ref", ""))
        elif tag == "comment":
            kept.notes.append((element.get("ref", ""), "".join(element.itertext())))
        if tag in ("row", "mergeCell", "comment", "si", "xf", "col"):
            element.clear()
    return kept


def _elements(name: str, data: bytes, path: Path) -> Iterator[tuple[bool, str, Any]]:
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    depth = count = 0
    try:
        for event, element in iterparse(io.BytesIO(data), events=("start", "end"), forbid_dtd=True):
            depth += 1 if event == "start" else -1
            count += event == "start"
            if depth > 60 or count > ELEMENTS:
                raise _hostile(path, name, "No part of such a workbook is nested so deeply or so long.")
            yield event == "start", _local(element.tag), element
    except PackSheetError:
        raise  # it is a ValueError, too
    except DefusedXmlException:
        raise _hostile(path, name, "A workbook defines no entities and no document types.") from None
    except (ParseError, ValueError, LookupError):
        raise _hostile(
            path, name, "This part of the workbook is damaged.", "Open it in a spreadsheet and save it again."
        ) from None


def _local(tag: object) -> str:
    return str(tag).rpartition("}")[2]


def _counted(written: str | None, otherwise: int) -> int:
    return int(written) if written and written.isdecimal() and len(written) < 9 else ROWS + 1 if written else otherwise


def _letters(written: str) -> int:
    number = 0
    for letter in written.upper():
        number = number * 26 + ord(letter) - 64
    return number


def _sheets(parts: dict[str, _Part], path: Path) -> tuple[SheetInfo, ...]:
    relations = parts.get("xl/_rels/workbook.xml.rels")
    book = parts.get("xl/workbook.xml")
    if book is None or relations is None or not book.sheets:
        raise _hostile(
            path, path.name, "There are no sheets in it.", "Save it in a spreadsheet as “Excel workbook (.xlsx)”."
        )
    found = []
    for each in book.sheets:
        _, target = relations.relations.get(each.get("id", ""), ("", ""))
        home = _inside("xl", target)
        folder, _, file = home.rpartition("/")
        own = parts.get(f"{folder}/_rels/{file}.rels")
        notes = [
            note
            for kind, where in (own.relations.values() if own else ())
            if kind.endswith("/comments")
            for note in getattr(parts.get(_inside(folder, where)), "notes", ())
        ]
        merged = getattr(parts.get(home), "merged", ())
        hidden = each.get("state", "visible") != "visible"
        found.append(SheetInfo(each.get("name", ""), hidden, tuple(merged), tuple(notes)))
    return tuple(found)


def _inside(folder: str, target: str) -> str:
    """Return the part that a relation names: from the top, or from the folder of what names it."""
    steps: list[str] = [] if target.startswith("/") else folder.split("/")
    for step in target.strip("/").split("/"):
        if step == "..":
            steps[-1:] = []
        elif step != ".":
            steps.append(step)
    return "/".join(steps)
