"""Exports: every figure is the ledger's, the schema says what is there, and pseudonyms tell nobody who it is."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from trainkit_grading.course.folder import Course
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.reports.exports.export import export
from trainkit_grading.reports.exports.schema import TABLES
from trainkit_grading.results.results import gather

from .makers import FIRST, SECOND, THIRD, entries
from .test_report import course, marked, taken_in  # noqa: F401 - fixtures


def table(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / f"{name}.csv").open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def test_results_are_those_of_the_course(marked: Course) -> None:  # noqa: F811 - pytest takes the fixture by its name
    assert export(marked).ok
    by_person = {row["person"]: row for row in table(marked.folder / "export", "results")}
    for row in gather(marked).rows:
        found = by_person[row.apprentice]
        assert float(found["points"]) == pytest.approx(row.points)
        assert (found["state"], found["verdict"], found["name"]) == (row.state, row.verdict, row.name)
        assert found["watched"] == str(row.watched).lower()
        assert found["entry"] == (str(row.entry) if row.entry else "")


def test_marks_are_those_of_the_ledger(marked: Course) -> None:  # noqa: F811 - pytest takes the fixture by its name
    assert export(marked).ok
    found = {(row["person"], row["item"]): row for row in table(marked.folder / "export", "marks")}
    stand = entries(marked, Marked)
    assert {entry.apprentice for entry in stand} == {FIRST, SECOND}
    assert len(found) == sum(len(entry.marks) for entry in stand)
    for entry in stand:
        for row in entry.marks:
            said = found[entry.apprentice, row.item]
            assert float(said["points"]) == row.points
            assert json.loads(said["response"] or "null") == json.loads(row.response or "null")
            assert said["counts"] == "true"
            assert said["could_show"].split() == list(entry.could.get(row.item, ()))


@pytest.mark.parametrize("pseudonyms", [False, True])
def test_the_description_says_what_is_there(marked: Course, pseudonyms: bool) -> None:  # noqa: F811 - pytest takes the fixture by its name
    done = export(marked, pseudonyms=pseudonyms)
    folder = Path(done.data["folder"])
    said: dict[str, Any] = json.loads((folder / "datapackage.json").read_text("utf-8"))
    for resource in said["resources"]:
        rows = table(folder, resource["name"])
        fields = {field["name"]: field["type"] for field in resource["schema"]["fields"]}
        if rows:
            assert list(rows[0]) == list(fields)
        keys = [tuple(row[name] for name in resource["schema"]["primaryKey"]) for row in rows]
        assert len(set(keys)) == len(keys)
        for row in rows:
            for name, kind in fields.items():
                assert fits(row[name], kind), (resource["name"], name, row[name])
    assert len(said["resources"]) == len(TABLES)


def fits(value: str, kind: str) -> bool:
    """Tell whether a cell is of a type of Table Schema; an empty one is missing."""
    if not value or kind == "string":
        return True
    patterns = {
        "integer": r"-?\d+",
        "number": r"-?\d+(\.\d+)?",
        "boolean": r"true|false",
        "datetime": r"\d{4}-\d\d-\d\d(T\d\d:\d\d:\d\dZ)?",
    }
    return re.fullmatch(patterns[kind], value) is not None


def test_pseudonyms_tell_nobody_who_it_is(marked: Course) -> None:  # noqa: F811 - pytest takes the fixture by its name
    plain, veiled = export(marked), export(marked, pseudonyms=True)
    folder = Path(veiled.data["folder"])
    everything = b"".join(path.read_bytes() for path in folder.iterdir())
    for row in gather(marked).rows:
        for told in (row.apprentice, row.name, row.form):
            assert not told or told.encode() not in everything
    # The same people, in an order that is not the roster's, with the same figures.
    theirs, ours = table(Path(plain.data["folder"]), "results"), table(folder, "results")
    assert [row["person"] for row in ours] == sorted(row["person"] for row in ours)
    assert sorted(row["points"] for row in theirs) == sorted(row["points"] for row in ours)
    assert "T" not in "".join(row["arrived"] for row in ours)
    # Another time they are the same; in another course they are others.
    assert export(marked, pseudonyms=True).ok
    assert table(folder, "results") == ours


def test_a_spreadsheet_holds_the_same(marked: Course) -> None:  # noqa: F811 - pytest takes the fixture by its name
    done = export(marked, "xlsx")
    book = load_workbook(Path(done.data["folder"]) / f"{marked.name}.xlsx", read_only=True)
    assert book.sheetnames == [*(table.name for table in TABLES), "proof"]
    assert str(book["proof"]["A2"].value).startswith("Proven to entry ")
    head, *rows = book["results"].iter_rows(values_only=True)
    assert list(head) == [column.name for column in TABLES[0].columns]
    assert {row[1] for row in rows} == {FIRST, SECOND, THIRD}


def test_the_manual_has_the_same_columns() -> None:
    text = (Path(__file__).parents[2] / "grading" / "docs" / "formats.md").read_text("utf-8")
    for table_ in TABLES:
        for column in table_.columns:
            assert f"`{column.name}`" in text, (table_.name, column.name)
