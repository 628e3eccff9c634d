"""Writing an export: a table a file as CSV, all of them as one XLSX, and beside them what the columns mean."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from trainkit import journal
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.reports.coordinator.overview import overview
from trainkit_grading.reports.exports import rows
from trainkit_grading.reports.exports.people import PeopleShown
from trainkit_grading.reports.exports.schema import TABLES, ExportTable, description
from trainkit_grading.reports.proof_beside import proof_sheet, write_proof
from trainkit_grading.results.proof import prove
from trainkit_grading.support.files import pages_held, replacing, write_atomically
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet
from trainkit_grading.support.xlsx import Value, Worksheet, cell, write_xlsx

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


# A sheet of XLSX has no more rows than that (ECMA-376).
_ROWS_OF_A_SHEET = 1_048_576


def export(
    course: Course,
    kind: Literal["csv", "xlsx"] = "csv",
    *,
    pseudonyms: bool = False,
    into: Path | None = None,
    progress: Progress = quiet,
    clock: Callable[[], datetime] = journal.now,
) -> Outcome:
    """Write results, marks, readiness and observations as tables.

    Parameters
    ----------
    course : Course
        The course folder; the export goes into ``export/``, the pseudonymised one into ``export-pseudonymised/``.
    kind : str
        ``"csv"``, a file a table; or ``"xlsx"``, a sheet a table.
    pseudonyms : bool
        Whether people are pseudonymised: no names, no free text, days in the place of moments.
    into : Path, optional
        Another folder than that.
    progress : callable, optional
        Told of each module.
    clock : callable, optional
        Returns the time with its time zone.

    Raises
    ------
    CourseError
        If the roster or the database cannot be read.
    """
    view = overview(course, progress, clock)
    # Figures for an archive vouch for nothing; who opens it proves them.
    proof = prove(course, progress, clock) if into is None else None
    shown = PeopleShown(course.seed(), pseudonyms=pseudonyms)
    folder = into or course.folder / ("export-pseudonymised" if pseudonyms else "export")
    counts: dict[str, int] = {}
    findings: list[Finding] = [*view.findings, *(proof.findings if proof is not None else ())]
    with pages_held(course.folder), gradebook.opened(course) as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        entries, seal = ledger.end()
        folder.mkdir(parents=True, exist_ok=True)
        tables: dict[str, Iterator[Mapping[str, Any]]] = {
            "results": rows.results(course.name, view, shown),
            "marks": rows.marks(course.name, view, shown, ledger),
            "readiness": rows.readiness(course.name, view, shown),
            "observations": rows.observations(course.name, view, shown),
        }
        if kind == "csv":
            written = [folder / f"{table.name}.csv" for table in TABLES]
            for table, path in zip(TABLES, written, strict=True):
                counts[table.name] = _csv(path, table, tables[table.name], pseudonyms)
        else:
            sheets = (
                Worksheet(table.name, _counted(table, tables[table.name], pseudonyms, counts, findings), filtered=True)
                for table in TABLES
            )
            written = [folder / f"{course.name}.xlsx"]
            beside = [proof_sheet(proof, named=not pseudonyms)] if proof is not None else []
            write_xlsx(written[0], chain(sheets, beside))
        said = description(course.name, pseudonyms, seal, entries)
        if proof is not None:
            write_proof(folder, proof, written, named=not pseudonyms)
            said["proof"] = {"proven": proof.proven, "entries": proof.entries, "text": proof.sentence}
        write_atomically(folder / "datapackage.json", json.dumps(said, ensure_ascii=False, indent=1) + "\n")
    done = [f"{counts[table.name]:,} rows of {table.name}." for table in TABLES]
    done.append(f"All of it is in {folder}; datapackage.json says what the columns mean.")
    if proof is not None and proof.entries:
        done.append(proof.sentence)
    if pseudonyms:
        done.append("People are pseudonyms; with keys/seed they can be traced back, so keep that apart.")
    return Outcome("export", tuple(done), tuple(findings), "", {"folder": str(folder), "rows": counts})


def _csv(path: Path, table: ExportTable, found: Iterator[Mapping[str, Any]], pseudonyms: bool) -> int:
    names = [column.name for column in table.kept(pseudonyms)]
    count = 0
    with replacing(path) as stream:
        # With the mark of UTF-8 in front, as spreadsheets need it for letters outside English.
        text = io.TextIOWrapper(stream, "utf-8-sig", newline="")
        writer = csv.writer(text, lineterminator="\r\n")
        writer.writerow(names)
        for row in found:
            writer.writerow([_plain(row[name]) for name in names])
            count += 1
        text.flush()
        text.detach()
    return count


def _plain(value: Any) -> Any:
    """Return a value as CSV has it: truth as Table Schema writes it, text that no spreadsheet runs."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return cell(value) if isinstance(value, str) else value


def _counted(
    table: ExportTable,
    found: Iterator[Mapping[str, Any]],
    pseudonyms: bool,
    counts: dict[str, int],
    findings: list[Finding],
) -> Iterator[Sequence[Value]]:
    names = [column.name for column in table.kept(pseudonyms)]
    yield names
    counts[table.name] = 0
    for row in found:
        if counts[table.name] == _ROWS_OF_A_SHEET - 1:
            text = f"A sheet has at most {_ROWS_OF_A_SHEET:,} rows; the rest is left out. Take CSV for all of it."
            findings.append(Finding("warning", table.name, text))
            return
        counts[table.name] += 1
        yield [cell(value) if isinstance(value, str) else value for value in (row[name] for name in names)]
