"""The coordinator's view as a spreadsheet: who stands where, who may be put forward, how modules and cohorts fare."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING

from trainkit_grading.reports.coordinator.page import SIGNS
from trainkit_grading.reports.proof_beside import proof_sheet
from trainkit_grading.results.proof import Proof
from trainkit_grading.support.xlsx import Value, Worksheet, cell, write_xlsx

if TYPE_CHECKING:
    from trainkit_grading.reports.coordinator.overview import Overview


def write_workbook(view: Overview, path: Path, proof: Proof) -> None:
    """Write the view as XLSX.

    Parameters
    ----------
    view : Overview
        What it says.
    path : Path
        The file; what is there is replaced.
    proof : Proof
        How far the course is proven; it stands on a sheet of its own.
    """
    write_xlsx(
        path,
        (
            Worksheet("Readiness", _readiness(view), (24, 16, 18, 8, 12, 60), filtered=True),
            Worksheet("Criteria", _criteria(view), (12, 60, 40, 30)),
            Worksheet("Modules", _modules(view), (24, 30)),
            Worksheet("About", _about(view), (24, 90)),
            replace(proof_sheet(proof), title="Proof"),
        ),
    )


def _readiness(view: Overview) -> Iterable[Sequence[Value]]:
    titles = {module.name: module.title for module in view.modules}
    numbers = [criterion.number for criterion in view.criteria]
    yield (
        "Person",
        "Identifier",
        "Cohort",
        "Left",
        "Put forward",
        "Why",
        *numbers,
        "Missing",
        "Late",
        "Not supervised",
    )
    for each in view.people:
        yield (
            cell(each.person.name),
            cell(each.person.id),
            cell(view.cohorts.get(each.person.cohort, "")),
            "yes" if each.gone else "",
            "yes" if each.forward else "no",
            cell(each.reason),
            *(f"{SIGNS[of.verdict]} {of.verdict}" for of in each.readiness),
            cell(", ".join(titles[name] for name in each.missing)),
            cell(", ".join(titles[name] for name in each.late)),
            cell(
                ", ".join(title for name, title in titles.items() if each.results[name].supervision == "not supervised")
            ),
        )


def _criteria(view: Overview) -> Iterable[Sequence[Value]]:
    yield ("Criterion", "Text", "Modules", "Practical work", "Ready", "Nearly", "Not yet", "No evidence")
    count = view.count()
    for each in view.criteria:
        of = count[each.number]
        yield (
            each.number,
            cell(each.text),
            ", ".join(each.modules),
            ", ".join(each.steps),
            *(of[word] for word in SIGNS),
        )


def _modules(view: Overview) -> Iterable[Sequence[Value]]:
    titles = {module.name: module.title for module in view.modules}
    yield ("Cohort", "Module", "Expected", "Handed in", "Late", "Marked", "Passed", "Critical errors", "Mean, per cent")
    for of in view.fared:
        cohort = {"*": "everybody", "": "in no cohort"}.get(of.cohort) or view.cohorts.get(of.cohort, of.cohort)
        yield (
            cell(cohort),
            cell(titles[of.module]),
            of.expected,
            of.handed_in,
            of.late,
            of.marked,
            of.passed,
            of.critical,
            round(of.percent, 1) if of.marked else None,
        )


def _about(view: Overview) -> Iterable[Sequence[Value]]:
    yield ("What", "Says")
    yield ("Course", cell(view.title))
    yield ("Leads to", cell(view.qualification))
    yield ("Written", view.written.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC"))
    yield ("Ledger", f"ends with entry {view.ledger.entries}, seal {view.ledger.seal}")
    yield (
        "Notice",
        "Training results. For real work the manufacturer's current manual, local codes and a licensed or "
        "supervising person decide.",
    )
