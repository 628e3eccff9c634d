"""A pack goes out to a workbook and comes back, and nothing of it is lost or passed over on the way."""

from __future__ import annotations

import datetime
import json
import subprocess
import sys
import tomllib
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from trainkit import packs
from trainkit.errors import PackError
from trainkit_grading.cli import app
from trainkit_grading.errors import PackSheetError
from trainkit_grading.pack_xlsx import send_out, take_in
from trainkit_grading.pack_xlsx.out import book_of
from trainkit_grading.pack_xlsx.sheet_layout import pack_sheets
from trainkit_grading.support.outcome import Outcome

from .sheets import CURLEW, DUNLIN, START, cell, column, document, opened, toml

Change = Callable[[openpyxl.Workbook], object]


book_once = lru_cache(book_of)


def back(tmp_path: Path, change: Change | None = None, text: str = START, saved: bool = True) -> Outcome:
    """Send a pack out, change the workbook, and take it in as ``back.toml``."""
    file = tmp_path / "pack.xlsx"
    file.write_bytes(book_once(text, "pack.toml"))
    if saved:
        book = opened(file)
        if change is not None:
            change(book)
        book.save(file)
    return take_in(file, tmp_path / "back.toml", replace=True)


def pack_of(tmp_path: Path) -> str:
    return (tmp_path / "back.toml").read_text("utf-8")


@pytest.mark.parametrize("text", [DUNLIN, CURLEW, START], ids=["dunlin", "curlew", "start"])
@pytest.mark.parametrize("saved", [False, True], ids=["as-written", "saved-by-another-program"])
def test_a_pack_comes_back_as_it_was(tmp_path: Path, text: str, saved: bool) -> None:
    outcome = back(tmp_path, text=text, saved=saved)
    assert outcome.ok
    assert outcome.findings == ()
    assert document(pack_of(tmp_path)) == document(text)
    # Not even what goes without saying is said or left out otherwise than before.
    assert tomllib.loads(pack_of(tmp_path)) == tomllib.loads(text)


odd = st.one_of(
    st.sampled_from(
        [
            "=1+1",
            "+44",
            "-5",
            "@SUM(A1)",
            "_x0041_",
            "_x005F_",
            " both ",
            "'quoted'",
            '"',
            "3/8-16",
            "2026-01-02",
            "1,5",
        ]
    ),
    st.sampled_from(["TRUE", "no", "#N/A", "#REF!", "=cmd|' /C calc'!A0", "[1, 2]", "\u00a0", "٣", "e\u0301", "𝔘"]),
    st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x7f"), min_size=1, max_size=30),
)
line = odd.filter(lambda text: min(text) > "\x1f")
number = st.floats(0.001, 10, allow_subnormal=False) | st.sampled_from([0.1 + 0.2, 1 / 3, 5e-3, 2.0, 1e-3])
CHANGES: dict[tuple[Any, ...], st.SearchStrategy[Any]] = {
    ("title",): line,
    ("notice", "text"): odd,
    ("notice", "manual"): odd,
    ("engine", "job"): odd.map(
        lambda text: "".join(letter for letter in text if letter >= " " or letter in "\n\t") or "x"
    ),
    ("engine", "firing_order"): st.lists(st.integers(-(2**53), 2**53), min_size=1, max_size=5),
    ("engine", "page"): odd,
    ("engine", "as_printed"): st.lists(odd, max_size=3),
    ("gears", 1, "name"): line,
    ("gears", 1, "on_shaft"): odd,
    ("gears", 1, "module_mm"): number,
    ("meshes", 0, "lash_mm"): number,
    ("lock_pin", "false_holes_deg"): st.lists(number, max_size=4),
    ("lock_pin", "stiff"): st.booleans(),
    ("fasteners", 0, "thread"): odd,
    ("fasteners", 0, "prevailing"): st.tuples(odd, odd).map(list),
    ("fasteners", 1, "at"): st.lists(st.tuples(number, number).map(list), min_size=1, max_size=3),
    ("fasteners", 1, "stages", 1, "torque"): st.tuples(odd, odd).map(list),
    ("fasteners", 1, "stages", 1, "angle"): number,
    ("steps", 3, "takes_off"): st.lists(odd, max_size=3),
    ("precedence", 0, "reason"): line,
    ("precedence", 0, "shows"): odd,
    ("configurations", 0, "adds"): st.lists(odd, max_size=3),
    ("configurations", 0, "replaces"): st.just({"bar": "pin-in", "relieve": "isolate"}),
}


@settings(max_examples=20, deadline=None)
@given(st.fixed_dictionaries({}, optional=CHANGES))
@example(
    {("notice", "text"): "a\x07b\r\n\ufffe", ("notice", "manual"): "\x01&P", ("title",): "=1+1 & \uffff" + "x" * 140}
)
@example({("notice", "text"): "  ", ("gears", 1, "name"): " ", ("engine", "page"): "\t"})
def test_whatever_stands_in_a_pack_comes_back_letter_by_letter(made: dict[tuple[Any, ...], Any]) -> None:
    from trainkit_grading.pack_xlsx.container import looked_into
    from trainkit_grading.pack_xlsx.sheet_reading import read_sheets

    data = tomllib.loads(START)
    for path, value in made.items():
        inside: Any = data
        for key in path[:-1]:
            inside = inside[key]
        inside[path[-1]] = value
    text = toml(data)
    written = book_of(text, "pack.toml")
    for row in (row for sheet in opened(written) for row in sheet.iter_rows()):
        assert all(each.data_type in "ns" for each in row)  # never a formula, whatever a text begins with
    again = Path("again.xlsx")
    assert document(toml(read_sheets(looked_into(written, again), "again.xlsx").data)) == document(text)


def test_a_workbook_shows_what_a_person_needs(tmp_path: Path) -> None:
    send_out("dunlin", tmp_path / "d.xlsx")
    book = opened(tmp_path / "d.xlsx")
    pack = packs.load("dunlin")
    cover = book.worksheets[0]
    texts = [str(each.value) for row in cover.iter_rows() for each in row if each.value]
    assert texts[1] == f"⚠ {pack.cautions[0].title}"
    assert texts.index(pack.cautions[-1].text) < texts.index(pack.notice)
    for sheet in book.worksheets:
        assert sheet.freeze_panes
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.page_setup.fitToWidth == 1
        assert "Training values, invented" in sheet.oddHeader.left.text
    offered = {
        (sheet.title, str(each.sqref).partition(":")[0]): each.formula1
        for sheet in book.worksheets
        for each in sheet.data_validations.dataValidation
    }
    assert offered["gears", "E2"] == '"crank,idler,camshaft,component,accessory"'
    assert offered["meshes", "A2"] == "'gears'!$A$2:$A$5000"
    assert book["gears"]["F1"].value == "module, mm"
    assert "▲" in book["precedence"]["D1"].value
    # Below the last row a text stays a text: a clock position is no time, a thread no date.
    assert book["fasteners"].column_dimensions["C"].number_format == "@"


def test_every_key_of_a_pack_has_a_column_with_a_heading_of_its_own_and_is_explained() -> None:
    for table in pack_sheets():
        titles = [each.title for each in table.columns]
        assert len(set(titles)) == len(titles)
        for each in table.columns:
            assert each.help or each.path == ("strokes",), (table.sheet, each.path)
            assert "`" not in each.help


def test_what_people_type_is_read_as_meant_and_told(tmp_path: Path) -> None:
    def change(book: openpyxl.Workbook) -> None:
        cell(book, "meshes", "crank", "lash").value = "0,12"
        cell(book, "gears", "pump", "teeth").value = "64"
        cell(book, "steps", "isolate", "critical").value = True
        cell(book, "steps", "relieve", "critical").value = "YES "
        cell(book, "lock_pin", "seats", "value").value = datetime.time(12, 0)
        cell(book, "engine", "firing", "value").value = "1-3-2"
        cell(book, "tools", "wrench", "unit").value = "N·m"
        cell(book, "barring", "tool", "value").value = " socket-bar "
        cell(book, "fasteners", "gear-nut", "grade").value = 8.8
        book["gears"].insert_rows(3, 2)
        book["parts"].insert_rows(2)
        book["tools"].append([None, "   "])
        book["steps"].move_range("B1:B40", cols=60)

    outcome = back(tmp_path, change)
    assert outcome.ok, outcome.findings
    assert document(pack_of(tmp_path)) == document(START)
    told = {finding.place: finding.text for finding in outcome.findings}
    assert "0.12" in told["meshes!D2"]
    assert "text 8.8" in told["fasteners!D3"]
    assert len(told) == 3


def test_a_space_at_the_end_is_kept_and_told(tmp_path: Path) -> None:
    def change(book: openpyxl.Workbook) -> None:
        cell(book, "gears", "crank", "name").value = "crank gear "

    outcome = back(tmp_path, change)
    assert document(pack_of(tmp_path)).gears[0].name == "crank gear "
    assert [finding.place for finding in outcome.findings] == ["gears!B2"]


def test_what_is_no_part_of_a_pack_is_told_and_the_rest_goes_on(tmp_path: Path) -> None:
    from openpyxl.comments import Comment

    def change(book: openpyxl.Workbook) -> None:
        book["gears"]["N1"] = "remarks"
        book["gears"]["N2"], book["gears"]["N3"] = "counted", "counted twice"
        book["steps"]["BA4"] = "ask Tom"
        book["tools"]["A2"].comment = Comment("lent out", "me")
        book.create_sheet("notes to myself")["B2"] = "order seals"
        book["parts"].sheet_state = "hidden"
        book["read first"]["D4"] = "nobody reads this back"

    outcome = back(tmp_path, change)
    assert outcome.ok
    assert document(pack_of(tmp_path)) == document(START)
    told = {finding.place: finding.text for finding in outcome.findings}
    assert "remarks, 2 cells" in told["gears!N1"]
    assert "no heading, 1 cell:" in told["steps!BA1"]
    assert "lent out" in told["tools!A2"]
    assert "1 cells" in told["'notes to myself'"]
    assert "hidden" in told["parts"]
    assert len(told) == 5


REFUSED: list[tuple[str, str, Change, Any]] = [
    ("cell-formula", "gears!C2", lambda book: cell(book, "gears", "crank", "teeth"), "=16*2"),
    ("cell-formula", "steps!B3", lambda book: cell(book, "steps", "relieve", "text"), '=HYPERLINK("http://a","b")'),
    ("cell-error", "meshes!D2", lambda book: cell(book, "meshes", "crank", "lash"), "#REF!"),
    ("cell-date", "fasteners!C2", lambda book: cell(book, "fasteners", "pump", "thread"), datetime.date(2026, 8, 3)),
    ("cell-date", "gears!C2", lambda book: cell(book, "gears", "crank", "teeth"), datetime.datetime(2026, 8, 3, 1, 2)),
    ("cell-not-whole", "gears!C2", lambda book: cell(book, "gears", "crank", "teeth"), 31.5),
    ("cell-not-whole", "gears!C2", lambda book: cell(book, "gears", "crank", "teeth"), True),
    ("cell-not-whole", "engine!B7", lambda book: cell(book, "engine", "firing", "value"), "1, x, 2"),
    ("cell-not-number", "meshes!D2", lambda book: cell(book, "meshes", "crank", "lash"), "0.12 mm"),
    ("cell-two-readings", "tools!F5", lambda book: cell(book, "tools", "wrench", "high"), "1,200"),
    ("cell-two-readings", "lock_pin!B21", lambda book: cell(book, "lock_pin", "false", "value"), "1,2,3"),
    ("cell-not-yes-no", "steps!K2", lambda book: cell(book, "steps", "isolate", "critical"), "perhaps"),
    ("cell-not-list", "steps!H7", lambda book: cell(book, "steps", "pump-off", "takes off"), '["a'),
    ("row-without-owner", "stages!A2", lambda book: book["stages"]["A2"], "pump-bolt"),
    ("pair-without-first", "stages!C3", lambda book: book["stages"]["C3"], None),
    ("key-missing", "stages!D3", lambda book: book["stages"]["D3"], None),
    ("key-missing", "gears!C2", lambda book: cell(book, "gears", "crank", "teeth"), None),
    ("key-missing", "engine!B4", lambda book: cell(book, "engine", "job", "value"), "  "),
    ("key-unknown", "engine!B4", lambda book: book["engine"]["A4"], "jobs"),
    ("key-twice", "engine!B5", lambda book: book["engine"]["A5"], "job"),
    ("column-missing", "gears!A1", lambda book: book["gears"]["C1"], "number of teeth"),
    ("column-twice", "gears!C1", lambda book: book["gears"]["C1"], "name"),
    ("value-not-allowed", "gears!E2", lambda book: cell(book, "gears", "crank", "role"), "kurbel"),
    ("clock-unreadable", "lock_pin!B10", lambda book: cell(book, "lock_pin", "seats", "value"), "half past two"),
    ("identifier-unreadable", "gears!A3", lambda book: book["gears"]["A3"], "Pump Gear"),
    ("step-undeclared", "replaces!B2", lambda book: book["replaces"]["B2"], "bare"),
    ("step-undeclared", "replaces!C2", lambda book: book["replaces"]["C2"], "pin-inn"),
    ("cell-formula", "replaces!C2", lambda book: book["replaces"]["C2"], "=A1"),
    ("key-missing", "places!C2", lambda book: book["places"]["C2"], None),
]


Row = tuple[str, str, Change, Any]


def apart(rows: list[Row]) -> list[list[Row]]:
    """Put rows together that do not touch the same sheet, so that one workbook shows many of them at once."""
    groups: list[list[Row]] = []
    for row in rows:
        sheet = row[1].partition("!")[0]
        fitting = [each for each in groups if sheet not in [other[1].partition("!")[0] for other in each]]
        if fitting:
            fitting[0].append(row)
        else:
            groups.append([row])
    return groups


@pytest.mark.parametrize(
    "rows",
    apart([row for row in REFUSED if row[0].startswith("cell-")])
    + apart([row for row in REFUSED if row[0][:5] != "cell-"]),
    ids=lambda rows: "-".join(row[1] for row in rows),
)
def test_what_a_cell_cannot_hold_is_refused_with_the_cell(tmp_path: Path, rows: list[Row]) -> None:
    data = tomllib.loads(START)
    data["configurations"][0]["replaces"] = {"bar": "free-pin"}
    data["fasteners"][0] |= {"pattern": "free", "at": [[0.0, 40.0], [40.0, 0.0], [0.0, -40.0]]}
    del data["fasteners"][0]["spread_mm"]

    def change(book: openpyxl.Workbook) -> None:
        cells = [(where(book), value) for _, _, where, value in rows]
        for each, value in cells:
            each.value = value  # type: ignore[attr-defined]  # a cell

    outcome = back(tmp_path, change, toml(data))
    assert not outcome.ok
    assert not (tmp_path / "back.toml").exists()
    told = {(each["code"], each["spot"]) for each in outcome.data["cells"] if each["severity"] == "refused"}
    wanted = {row[:2] for row in rows}
    # What rests on a cell that cannot be read is not judged: nothing else is said than what is wrong.
    assert told == wanted if rows[0][0].startswith("cell-") else told >= wanted


def test_no_row_is_led_to_the_opposite_of_what_it_names(tmp_path: Path) -> None:
    def change(book: openpyxl.Workbook) -> None:
        book["stages"]["A2"].value = "upper-bolts"
        book["stages"]["A3"].value = "lower-bolt"

    outcome = back(tmp_path, change, START.replace("pump-bolts", "lower-bolts"))
    told = {each["spot"]: each["remedy"] for each in outcome.data["cells"] if each["code"] == "row-without-owner"}
    assert told == {
        "stages!A2": "Write an id of the sheet fasteners.",
        "stages!A3": "Did you mean lower-bolts?",
    }


def test_a_pack_of_another_format_is_refused(tmp_path: Path) -> None:
    outcome = back(tmp_path, lambda book: setattr(book["pack"]["B2"], "value", 2))
    assert [(finding.place, finding.severity) for finding in outcome.findings] == [("pack!B2", "refused")]


def test_merged_cells_and_missing_sheets_are_refused(tmp_path: Path) -> None:
    def change(book: openpyxl.Workbook) -> None:
        book["gears"].merge_cells("E2:E3")
        del book["tools"]

    outcome = back(tmp_path, change)
    told = {(each["spot"], each["code"]) for each in outcome.data["cells"] if each["severity"] == "refused"}
    assert ("gears!E2:E3", "cells-merged") in told
    assert ("tools", "sheet-missing") in told


def test_warnings_against_a_manual_go_on(tmp_path: Path) -> None:
    text = DUNLIN.replace('values = "invented"', 'values = "manual"\nmanual = "Book"\nedition = "2"')

    def change(book: openpyxl.Workbook) -> None:
        book["stages"]["C4"] = "45 N·m"
        for table in pack_sheets():
            page = next((number for number, each in enumerate(table.columns, start=1) if each.path == ("page",)), 0)
            sheet = book[table.sheet]
            if page and table.upright:
                sheet.cell(page + 1, 2).value = "12-3"
            elif page:
                for number in range(2, sheet.max_row + 1):
                    sheet.cell(number, page).value = "12-3"

    outcome = back(tmp_path, change, text)
    assert outcome.ok
    assert {finding.severity for finding in outcome.findings} == {"warning"}
    assert "stages!C4" in [finding.place for finding in outcome.findings]
    assert any("write torque-columns-disagree into as printed" in finding.text for finding in outcome.findings)
    assert document(pack_of(tmp_path)).fasteners[0].stages[2].torque == ("45 N·m", "32 lbf·ft")


def test_comments_stay_where_they_stand(tmp_path: Path) -> None:
    target = tmp_path / "back.toml"
    target.write_text(DUNLIN, "utf-8")

    def change(book: openpyxl.Workbook) -> None:
        cell(book, "meshes", "crank", "lash").value = 0.16
        book["parts"].append(["rag", "wiping rag", "discard"])

    outcome = back(tmp_path, change, DUNLIN)
    assert outcome.ok
    old, new = DUNLIN.split("\n"), pack_of(tmp_path).split("\n")
    assert [each for each in new if each not in old] == ["lash_mm = 0.16", 'id = "rag"', 'name = "wiping rag"']
    assert [each for each in old if each.startswith("#")] == [each for each in new if each.startswith("#")]
    # The comment about the steps still stands before the steps, not before the part that was added.
    assert new[new.index('id = "rag"') + 4].startswith("# One action a step")
    assert (tmp_path / "back.toml.old").read_text("utf-8") == DUNLIN


def test_a_comment_that_cannot_stay_is_told(tmp_path: Path) -> None:
    text = START.replace('id = "sensor-off"', 'id = "sensor-off" # only on some engines')
    target = tmp_path / "back.toml"
    target.write_text(text, "utf-8")

    def change(book: openpyxl.Workbook) -> None:
        for sheet, places in (("steps", (0,)), ("precedence", (0,)), ("configurations", (0,))):
            for row in list(book[sheet].iter_rows())[::-1]:
                if row[places[0]].value in ("sensor-off", "speed-sensor"):
                    book[sheet].delete_rows(row[0].row)

    outcome = back(tmp_path, change, text)
    assert outcome.ok, outcome.findings
    assert "only on some engines" in outcome.findings[-1].text
    assert "sensor" not in pack_of(tmp_path)


@pytest.mark.parametrize("swap", [True, False])
def test_entries_in_another_order_are_written_in_it(tmp_path: Path, swap: bool) -> None:
    target = tmp_path / "back.toml"
    target.write_text(START, "utf-8")

    def change(book: openpyxl.Workbook) -> None:
        sheet = book["parts"]
        rows = [[each.value for each in row] for row in sheet.iter_rows(min_row=2)]
        for number, row in enumerate(reversed(rows) if swap else rows, start=2):
            for place, value in enumerate(row, start=1):
                sheet.cell(number, place).value = value

    assert back(tmp_path, change).ok
    parts = [part.id for part in document(START).parts]
    assert [part.id for part in document(pack_of(tmp_path)).parts] == (parts[::-1] if swap else parts)
    assert (pack_of(tmp_path) == START) is not swap


def test_nothing_is_written_over_unasked(tmp_path: Path) -> None:
    file, pack = tmp_path / "a.xlsx", tmp_path / "a.toml"
    file.write_bytes(b"mine")
    with pytest.raises(PackSheetError, match="--replace"):
        send_out("dunlin", file)
    assert file.read_bytes() == b"mine"
    assert send_out("dunlin", file, replace=True).ok
    assert (tmp_path / "a.xlsx.old").read_bytes() == b"mine"
    pack.write_text("mine", "utf-8")
    with pytest.raises(PackSheetError, match="--replace"):
        take_in(file, pack)
    assert pack.read_text("utf-8") == "mine"
    assert take_in(file, pack, replace=True).ok
    assert (tmp_path / "a.toml.old").read_text("utf-8") == "mine"
    assert document(pack.read_text("utf-8")) == document(DUNLIN)


def test_a_draft_goes_out_to_be_mended_and_a_broken_shape_does_not(tmp_path: Path) -> None:
    draft = tmp_path / "draft.toml"
    draft.write_text(START.replace('tool = "socket-bar"', 'tool = "crowbar"'), "utf-8")
    outcome = send_out(str(draft), tmp_path / "draft.xlsx")
    assert outcome.ok
    assert any("crowbar" in finding.text for finding in outcome.findings)
    draft.write_text(START.replace("teeth = 32", 'teeth = "many"'), "utf-8")
    with pytest.raises(PackError, match="whole number"):
        send_out(str(draft), tmp_path / "other.xlsx")
    draft.write_text(START.replace('id = "gear-nut"', 'id = "pump-bolts"'), "utf-8")
    with pytest.raises(PackSheetError, match="without a loss"):
        send_out(str(draft), tmp_path / "other.xlsx")
    draft.write_text(START.replace('text = "This engine', f'text = "{"x" * 1000}This engine'), "utf-8")
    assert send_out(str(draft), tmp_path / "other.xlsx").ok


def test_the_assessment_pack_comes_with_a_warning(tmp_path: Path) -> None:
    outcome = send_out("curlew", tmp_path / "c.xlsx")
    assert any("no apprentice" in finding.text for finding in outcome.findings)


def test_the_commands_as_an_instructor_gives_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    run = CliRunner()
    out = run.invoke(app, ["pack-out", "dunlin", "dunlin.xlsx"])
    assert out.exit_code == 0
    assert "trainkit-course pack-in dunlin.xlsx" in out.output
    book = opened(tmp_path / "dunlin.xlsx")
    cell(book, "gears", "idler", "teeth").value = 29
    book.save("dunlin.xlsx")
    wrong = run.invoke(app, ["pack-in", "dunlin.xlsx", "mine.toml", "--json"])
    assert wrong.exit_code == 1
    said = json.loads(wrong.output)
    assert said["findings"]
    assert {"gears", "lock_pin"} >= {each["place"].partition("!")[0] for each in said["findings"]}
    assert not Path("mine.toml").exists()
    cell(book, "gears", "idler", "teeth").value = 28
    book.save("dunlin.xlsx")
    assert run.invoke(app, ["pack-in", "dunlin.xlsx", "mine.toml"]).exit_code == 0
    assert packs.examine("mine.toml").findings == ()


def test_the_course_commands_do_not_wait_for_spreadsheets() -> None:
    code = "import sys, trainkit_grading.cli, trainkit_grading.pack_xlsx; print('openpyxl' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_columns_are_found_by_their_headings_alone(tmp_path: Path) -> None:
    def change(book: openpyxl.Workbook) -> None:
        for table in (each for each in pack_sheets() if not each.upright):
            sheet = book[table.sheet]
            rows = [[each.value for each in row][::-1] for row in sheet.iter_rows()]
            for number, row in enumerate(rows, start=1):
                for place, value in enumerate(row, start=1):
                    sheet.cell(number, place).value = value
        book.move_sheet("hazards", 5)

    assert back(tmp_path, change).findings == ()
    assert document(pack_of(tmp_path)) == document(START)
    assert column(opened(tmp_path / "pack.xlsx")["gears"], "id") == 12
