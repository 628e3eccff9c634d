"""A workbook comes back into a pack, once the checker has nothing against it."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

from trainkit.items.misconceptions import all_misconceptions
from trainkit.packs.check import examine_bytes
from trainkit.packs.shape import LARGEST
from trainkit_grading.errors import PackSheetError
from trainkit_grading.pack_xlsx.keeping import put
from trainkit_grading.pack_xlsx.spots import CellFinding, Spot, at_cell
from trainkit_grading.support.outcome import Finding, Outcome

if TYPE_CHECKING:
    from pathlib import Path

    from trainkit_grading.pack_xlsx.sheet_reading import Sheets


def take_in(file: Path, pack: Path, *, replace: bool = False) -> Outcome:
    """Read a workbook, check it as a pack, and write the pack where nothing is refused.

    Parameters
    ----------
    file : Path
        The workbook.
    pack : Path
        The pack's file. One that is there is changed in place, so that its comments stay.
    replace : bool
        Whether a file that is there may be changed; a copy of it is kept.

    Raises
    ------
    PackSheetError
        If the workbook cannot be read at all, or the pack cannot be written.
    """
    from trainkit_grading.pack_xlsx.container import inspected
    from trainkit_grading.pack_xlsx.sheet_reading import read_sheets

    if pack.suffix.lower() != ".toml":
        raise PackSheetError(str(pack), rule="A pack is a .toml file.", remedy="End its name in .toml.")
    if pack.exists() and not replace:
        put(pack, b"", replace=False)  # which says what to do
    sheets = read_sheets(inspected(file), str(file))
    findings = examined(sheets, str(pack))
    told = [finding.told() for finding in findings]
    data = {"file": str(file), "pack": str(pack), "cells": [finding.as_data() for finding in findings]}
    if any(finding.severity == "refused" for finding in findings):
        return Outcome(
            "pack-in", (), tuple(told), f"Nothing is written. Mend these cells in {file}, save, and try again.", data
        )
    text, lost = _text(sheets, file, pack)
    if lost:
        told.append(
            Finding(
                "warning",
                str(pack),
                "These comments went with what they stood beside; the copy has them: " + " / ".join(lost),
            )
        )
    if len(text.encode()) > LARGEST:
        raise PackSheetError(
            f"{len(text.encode())} bytes",
            rule=f"A pack has at most {LARGEST} bytes.",
            remedy="Shorten it.",
            place=str(file),
        )
    kept = put(pack, text.encode(), replace=replace)
    return Outcome(
        "pack-in",
        (f"{pack} is written: what stands in {file}, checked.", *kept),
        tuple(told),
        f"Look at it once more: trainkit check {pack}",
        data,
    )


def examined(sheets: Sheets, place: str) -> tuple[CellFinding, ...]:
    """Return all that is wrong, of the sheets and of the pack that they make, by sheet and cell."""
    from trainkit_grading.pack_xlsx.toml import fresh

    text = fresh(sheets.data)
    found = list(sheets.findings)
    wrong = {finding.spot for finding in found if finding.severity == "refused"}
    for finding in examine_bytes(text.encode(), place, all_misconceptions()).findings:
        met = at_cell(finding, sheets.spots)
        # A cell that could not be read is no finding of the checker's as well.
        if met.spot == Spot("") or met.spot not in wrong:
            found.append(met)
    rank = {"refused": 0, "warning": 1, "note": 2}
    return tuple(sorted(dict.fromkeys(found), key=lambda each: rank[each.severity]))


def _text(sheets: Sheets, file: Path, pack: Path) -> tuple[str, tuple[str, ...]]:
    """Return the text of the pack's file, and the comments of the old one that it has no more."""
    from trainkit_grading.pack_xlsx.toml import rewritten

    opening = (
        f"Written from {file.name} by trainkit-course pack-in. `trainkit check` holds the values against each other."
    )
    old = ""
    if pack.exists():
        content = pack.read_bytes()
        if len(content) <= LARGEST:
            old = content.decode("utf-8-sig", "replace").replace("\r\n", "\n")
    changed = rewritten(old, sheets.data, opening)
    # A writer that loses something is found here, before anything is written.
    if tomllib.loads(changed.text) != sheets.data:
        raise PackSheetError(
            str(pack),
            rule="The file does not read as what was to be written.",
            remedy="Report this, with the workbook.",
        )
    return changed.text, changed.lost
