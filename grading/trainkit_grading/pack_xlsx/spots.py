"""Where a value stands in the workbook, and what is found about it there."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Literal

from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainkit.packs.findings import PackFinding as PackFinding
    from trainkit.packs.findings import Path


@dataclass(frozen=True, slots=True)
class Spot:
    """A cell of a sheet, or the whole of one where ``cell`` is empty.

    Examples
    --------
    >>> str(Spot("gears", "C7"))
    'gears!C7'
    """

    sheet: str
    cell: str = ""

    def __str__(self) -> str:
        plain = re.fullmatch(r"[A-Za-z_]\w*", self.sheet)
        sheet = self.sheet if plain else "'" + self.sheet.replace("'", "''") + "'"
        return f"{sheet}!{self.cell}" if self.cell and self.sheet else self.sheet and sheet


@dataclass(frozen=True, slots=True)
class CellFinding:
    """One thing that is found about a workbook.

    Parameters
    ----------
    severity : str
        ``refused``, ``warning`` or ``note``.
    spot : Spot
        Where it stands.
    code : str
        Stable, words joined by hyphens.
    value : str
        What was met.
    rule, remedy : str
        Whole sentences.
    key : str
        The key of the pack, as the checker names it.
    """

    severity: Literal["refused", "warning", "note"]
    spot: Spot
    code: str
    value: str
    rule: str
    remedy: str
    key: str = ""

    def told(self) -> Finding:
        """Return what a command says about it."""
        met = " = ".join(part for part in (self.key, self.value) if part)
        text = " ".join(part for part in (f"{met}:" if met else "", self.rule, self.remedy, f"[{self.code}]") if part)
        return Finding(self.severity, str(self.spot), text)

    def as_data(self) -> dict[str, str]:
        """Return it as plain JSON data."""
        data = asdict(self)
        return {**data, "spot": str(self.spot)}


def letter(column: int) -> str:
    """Return the letters of a column, counted from 1.

    Examples
    --------
    >>> letter(3), letter(28)
    ('C', 'AB')
    """
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def path_of(key: str) -> Path:
    """Return the path that the checker writes as a key.

    Examples
    --------
    >>> path_of("fasteners[3].stages[1].torque[2]")
    ('fasteners', 2, 'stages', 0, 'torque', 1)
    """
    path: list[str | int] = []
    for name, number in re.findall(r"([^.\[\]]+)|\[(\d{1,9})\]", key):
        path.append(name or int(number) - 1)
    return tuple(path)


def spot_of(path: Path, spots: Mapping[Path, Spot]) -> Spot:
    """Return the cell of a path, or of the nearest thing around it."""
    for length in range(len(path), 0, -1):
        if (found := spots.get(path[:length])) is not None:
            return found
    return Spot("")


# What the checker says about a line of TOML, said about a cell.
_REMEDIES = {
    "key-missing": "Fill this cell in.",
    "notice-missing": "Fill the sheet notice in.",
    "hazards-missing": "Write the usual cautions into the sheet hazards, each a row with its kind.",
    "step-unordered": "Write a row with its reason into the sheet precedence, or delete the step.",
}
_SEVERITIES: dict[str, Literal["refused", "warning", "note"]] = {"refuse": "refused", "warn": "warning", "note": "note"}


def at_cell(finding: PackFinding, spots: Mapping[Path, Spot]) -> CellFinding:
    """Return a finding of the checker with the cell it is about, in the words of a spreadsheet."""
    remedy = _REMEDIES.get(finding.code, finding.remedy)
    remedy = re.sub(r'add as_printed = \["([^"]*)"\] to this table', r"write \1 into as printed of this row", remedy)
    remedy = re.sub(r"Add torque = \[\.\.\.\] in two units", "Fill in both torques", remedy)
    remedy = re.sub(r'Add \[\[hazards\]\] with kind = "([^"]*)"; .*', r"Add a row of the kind \1.", remedy)
    remedy = re.sub(r"\[\[(\w+)\]\]", r"a row of the sheet \1", remedy)
    path = path_of(finding.key)
    if "replaces" in path and path[-1] == finding.value:
        path = (*path, "without")  # the step that is left out, not the one in its place
    rule = re.sub(r"^The key (\w+) is required here\.$", r"This cell is required: \1.", finding.rule)
    return CellFinding(
        _SEVERITIES[finding.severity],
        spot_of(path, spots),
        finding.code,
        finding.value,
        rule.replace(" in double quotes", "").replace(" without quotes", ""),
        remedy.replace(" in double quotes", ""),
        finding.key,
    )
