"""A pack goes out to a workbook."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit import packs as installed
from trainkit.packs.findings import error_from
from trainkit.packs.load import bytes_of
from trainkit.packs.pack import Pack
from trainkit.packs.places import Places
from trainkit.packs.schema import Document
from trainkit.packs.shape import decode, read
from trainkit_grading.course import packs
from trainkit_grading.errors import PackSheetError
from trainkit_grading.pack_xlsx.keeping import put
from trainkit_grading.support.outcome import Finding, Outcome

if TYPE_CHECKING:
    from collections.abc import Mapping


def send_out(pack: str, file: Path, *, replace: bool = False) -> Outcome:
    """Write a pack into a workbook.

    A pack that the checker refuses goes out all the same, so that it can be mended in the workbook, as long as its
    shape is right; what is wrong with it is told.

    Parameters
    ----------
    pack : str
        The name of a pack, or the path of its file.
    file : Path
        The workbook.
    replace : bool
        Whether a file that is there is replaced; a copy of it is kept.

    Raises
    ------
    PackError
        If there is no such pack, or its shape is wrong.
    PackSheetError
        If it cannot be written, or a workbook cannot hold it.
    """
    if file.suffix.lower() != ".xlsx":
        raise PackSheetError(str(file), rule="A pack goes out to an .xlsx workbook.", remedy="End its name in .xlsx.")
    content, place = bytes_of(packs.find_pack(pack))
    text, findings = decode(content, place)
    if findings:
        raise error_from(findings, place)
    book = book_of(text, place)
    kept = put(file, book, replace=replace)
    examined = installed.examine_text(text, place)
    # The workbook is written all the same, so nothing here is a refusal of this command.
    said = [Finding("warning" if found.severity != "note" else "note", "", str(found)) for found in examined.findings]
    if "#" in text:
        said.append(
            Finding(
                "note",
                place,
                "Comments of the file do not go into the workbook. They stay where you bring the workbook back into "
                "this file with --replace.",
            )
        )
    if pack in packs.names():
        said.append(
            Finding(
                "warning", str(file), "This pack is for assessment only. Keep the workbook where no apprentice gets it."
            )
        )
    return Outcome(
        "pack-out",
        (f"{file} is written: one sheet for each table of {place}.", *kept),
        tuple(said),
        f"Change it in a spreadsheet, then: trainkit-course pack-in {_quoted(file)} MY-PACK.toml",
        {"pack": place, "file": str(file)},
    )


def book_of(text: str, place: str) -> bytes:
    """Return the workbook of a pack's text, after reading it back and finding everything there.

    Raises
    ------
    PackError
        If the shape of the pack is wrong.
    PackSheetError
        If a workbook cannot hold it.
    """
    from trainkit_grading.pack_xlsx.container import looked_into
    from trainkit_grading.pack_xlsx.sheet_reading import read_sheets
    from trainkit_grading.pack_xlsx.sheet_writing import written

    _, values, findings = read(text, place, Places(text))
    if findings or values is None:
        raise error_from(findings, place)
    pack = Pack.model_construct(**values, digest="", place=place)
    data = tomllib.loads(text)
    cautions = tuple((hazard.title, hazard.text) for hazard in pack.cautions)
    book = written(data, pack.title, pack.notice, cautions)
    back = read_sheets(looked_into(book, Path(place)), place)
    if not same(data, back.data):
        refused = next((found for found in back.findings if found.severity == "refused"), None)
        raise PackSheetError(
            str(refused.spot) if refused else place,
            rule=f"A workbook cannot hold this pack without a loss{f' ({refused.rule})' if refused else ''}.",
            remedy="Run trainkit check and mend what it finds: names that stand twice, or are none.",
            place=place,
        )
    return book


def same(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Tell whether two packs' values are the same; what is left out is what it is without being said."""
    try:
        first, second = (Document.model_validate(_frozen(each)) for each in (one, other))
    except ValueError:
        return False
    return first.model_dump() == second.model_dump()


def _frozen(value: Any) -> Any:
    if isinstance(value, list | tuple):
        return tuple(map(_frozen, value))
    return {key: _frozen(each) for key, each in value.items()} if isinstance(value, dict) else value


def _quoted(path: Path) -> str:
    return f'"{path}"' if " " in str(path) else str(path)
