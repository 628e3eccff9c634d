"""What was ticked on a tablet: a file of lines beside the sheet, each on the disk before it is acknowledged.

It is a journal like that of a workbook, so what was saved survives the end of kernel, browser and server, a torn line
costs nothing else, and lines that were changed or taken out show. Its items are ``s1``, ``s2`` … for the steps,
``observer``, ``trainer``, ``engine`` and ``remark``, ``sign`` for the signature, and ``begin`` where another
observation begins in the same file.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainkit import journal
from trainkit.items.kinds import ChoiceResponse, TextResponse
from trainkit_grading.errors import SignOffError
from trainkit_grading.signoff.checklists import OUTCOMES, Checklist
from trainkit_grading.signoff.observations import Observation, spans
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trainkit.journal import JournalLine


ENDING = ".observed.jsonl"
# What is asked besides the steps: its name, the words before it, and whether it has to be there.
FIELDS = {
    "observer": ("Who observes, and signs", True),
    "trainer": ("Who trained the apprentice", True),
    "engine": ("Number of the engine or set", True),
    "remark": ("Remark", False),
}


@dataclass(slots=True)
class Sitting:
    """One observation in the file, as far as it has got.

    Parameters
    ----------
    again : bool
        Whether single steps are shown again.
    values : dict of str to str
        What was said last, by item.
    first : datetime or None
        When the first step was ticked.
    signed : str
        When it was signed, as it stands in the file; empty where something was said after that.
    """

    again: bool = False
    values: dict[str, str] = field(default_factory=dict)
    first: datetime | None = None
    signed: str = ""

    def outcomes(self) -> dict[int, str]:
        """Return what became of each step, by its number."""
        return {int(name[1:]): value for name, value in self.values.items() if name[1:].isdigit()}


def sittings(entries: Iterable[JournalLine], code: str) -> tuple[Sitting, ...]:
    """Return the observations of one sheet in the order in which they were begun, the last one still open perhaps."""
    found = [Sitting()]
    for entry in entries:
        if entry.form != code:
            continue
        value = _value(entry)
        if entry.item == "begin":
            found.append(Sitting(again=value == "again"))
        elif entry.item == "sign":
            found[-1].signed = entry.at
        else:
            found[-1].signed = ""
            found[-1].values[entry.item] = value
            if entry.item[1:].isdigit() and found[-1].first is None:
                found[-1].first = entry.when
    return tuple(found)


def _value(entry: JournalLine) -> str:
    said = entry.response
    if isinstance(said, ChoiceResponse):
        return said.option
    return said.text.strip() if isinstance(said, TextResponse) else ""


def missing(sheet: Checklist, sitting: Sitting) -> str:
    """Say what keeps an observation from being signed, or nothing."""
    lacking = [
        FIELDS[name][0].lower() for name, (_, needed) in FIELDS.items() if needed and not sitting.values.get(name)
    ]
    said = [f"Fill in: {'; '.join(lacking)}."] if lacking else []
    outcomes = sitting.outcomes()
    left = [number for number in range(1, len(sheet.steps) + 1) if number not in outcomes]
    if left and not (sitting.again and outcomes):
        said.append(f"Choose for {'step' if len(left) == 1 else 'steps'} {spans(left)}.")
    return " ".join(said)


def observations(path: Path, sheet: Checklist, why: str = "") -> tuple[tuple[Observation, ...], tuple[Finding, ...]]:
    """Return the signed observations of a tablet's file, and what is odd about it.

    Parameters
    ----------
    path : Path
        The file.
    sheet : Checklist
        The sheet it belongs to.
    why : str, optional
        Why the last of them says something else than is on record.

    Raises
    ------
    SignOffError
        If none of them is signed.
    """
    reading = journal.read(path)
    findings = [Finding("warning", path.name, problem.text) for problem in reading.problems]
    found = [sitting for sitting in sittings(reading.entries, sheet.code) if sitting.values]
    signed = [sitting for sitting in found if sitting.signed and not missing(sheet, sitting)]
    if not signed:
        raise SignOffError(
            path.name,
            rule="No observation in this file is signed.",
            remedy="Open the notebook, complete it and press Sign. What was ticked so far is safe.",
        )
    if len(signed) < len(found):
        findings.append(Finding("note", path.name, "An observation in this file is not signed yet; it was left out."))
    return tuple(_observations(signed, sheet, why)), tuple(findings)


def _observations(signed: list[Sitting], sheet: Checklist, why: str) -> Iterator[Observation]:
    for sitting in signed:
        yield Observation(
            sheet.apprentice,
            sheet,
            {number: outcome for number, outcome in sitting.outcomes().items() if outcome in OUTCOMES},
            sitting.values["observer"],
            sitting.values["trainer"],
            sitting.values["engine"],
            sitting.first or datetime.fromisoformat(sitting.signed),
            "tablet",
            sitting.values.get("remark", ""),
            again=sitting.again,
            why=why if sitting is signed[-1] else "",
        )
