"""A course folder of an earlier release, in the middle of its course: every command runs on in it."""

from __future__ import annotations

import csv
import json
import tarfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.core import TyperGroup
from typer.testing import CliRunner

from trainkit_grading.cli import app
from trainkit_grading.course.folder import Course
from trainkit_grading.results import agreement

from .test_demo import nbgrader

HERE = Path(__file__).parent / "frozen"
FROZEN = json.loads((HERE / "course-1.json").read_text("utf-8"))
# Their points are as ever; a critical error bars a pass whatever the text that still waits is worth.
for _name in ("capstone amir", "capstone o'carragher"):
    FROZEN["results"][_name][3] = "not yet"
ELSEWHERE = ("archive --open", "demo", "new", "pack-in", "pack-out")
pytestmark = pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader")  # of nbgrader's own relations

# Each command as it may come next in this course.
STEPS = """
check
status
status --module lock-pin
ledger
ledger --open
verify
answers torque-units --apprentice lena --html
preview torque-units --cohort pumping --folder
sheet lock-pin
checklist capstone
checklist --apprentice amir
report
report --for instructor
report --for coordinator
report --for coordinator --apprentice amir
export
export --as xlsx --pseudonyms
feedback --zip
collect
enter W3VN62K5-5 --first {beside}/first.csv --second {beside}/second.csv
session lock-pin --invigilator Tidewell --room Bay --from 2025-11-20T13:00Z --to 2025-11-20T17:00Z
mark
second --percent 100 --seed 3
second --enter {course}/second/N7ES9A.csv --marker Orrin
observe {course}/checklists/dunlin-lena.observed.jsonl
appeal amir torque-units A1 --why Again
decide 19 --outcome rejected --why Seen
mark --why Seen
roster import {beside}/people.csv
build
assign
report
verify
archive {new}/course.zip
archive --open {new}/course.zip {new}/opened
pack-out dunlin {new}/dunlin.xlsx
pack-in {new}/dunlin.xlsx {new}/dunlin.toml
new {new}/another --defaults
demo --into {course}/.. --apprentices 3 --seed 7
forget lena --why Asked --yes --json
verify
"""


def commands(of: object, *name: str) -> Iterator[str]:
    """Yield the name of every command that there is."""
    if not isinstance(of, TyperGroup):
        yield " ".join(name)
        return
    for part, command in of.commands.items():
        yield from commands(command, *name, part)


@pytest.fixture
def course(tmp_path: Path) -> Course:
    home = tmp_path / "Live – Übung"
    with tarfile.open(HERE / "course-1.tar.xz") as packed:
        packed.extractall(home, filter="tar")
    home.joinpath("beside", "people.csv").write_text("Name,Login\nAda Quillbeam,ada\n", "utf-8")
    return Course.load(home / "course")


def run(course: Course, line: str) -> dict[str, Any]:
    """Run a command of ``trainkit-course`` in the course, and return what it tells a program."""
    home = course.folder.parent
    words = [word.format(course=course.folder, beside=home / "beside", new=home / "new") for word in line.split()]
    if not line.startswith(ELSEWHERE):
        words += ["--course", str(course.folder)]
    done = CliRunner().invoke(app, [*words, "--json"], catch_exceptions=False)
    assert done.exit_code == 0, f"{line}\n{done.output}"
    told: dict[str, Any] = json.loads(done.stdout)
    assert told["ok"]
    return told


def results(course: Course) -> dict[str, list[Any]]:
    """Return what stands for everybody in each module, as it was noted when the course was frozen."""
    parts = ("state", "points", "percent", "verdict", "attempt")
    rows = run(course, "report")["results"]
    return {f"{row['module']} {row['apprentice']}": [row[part] for part in parts] for row in rows}


def test_every_command_runs_on(course: Course) -> None:
    lines = STEPS.strip().splitlines()
    every = set(commands(typer.main.get_command(app)))
    assert {name for name in every for line in lines if f"{line} ".startswith(f"{name} ")} == every
    (course.folder.parent / "new").mkdir()
    assert results(course) == FROZEN["results"]
    proven = run(course, "verify")
    assert (proven["entries"], proven["seal"]) == (FROZEN["entries"], FROZEN["seal"])
    for line in lines:
        run(course, line)
        if line == "mark":
            # One more is in, and nobody's second attempt is better; what the others have stays as it is.
            found = results(course)
            assert {of for of in found if found[of] != FROZEN["results"][of]} == {"torque-units lena"}
    assert agreement.compare(course) == ()


def test_nbgrader_reads_its_settings(course: Course, tmp_path: Path) -> None:
    """The settings name the module where they once lay; marking again through nbgrader gives the same points."""
    nbgrader(course, ["autograde", "torque-units", "--force"], ["export", "--to", str(tmp_path / "grades.csv")])
    with (tmp_path / "grades.csv").open(encoding="utf-8", newline="") as lines:
        exported = {f"{row['assignment']} {row['student_id']}": float(row["score"]) for row in csv.DictReader(lines)}
    assert exported == {of: got[1] for of, got in FROZEN["results"].items()}


@pytest.mark.parametrize("notebook", ["report/questions", "checklists/dunlin-lena", "checklists/capstone-A12-amir"])
def test_its_notebooks_run(course: Course, notebook: str, monkeypatch: pytest.MonkeyPatch) -> None:
    path = course.folder / f"{notebook}.ipynb"
    monkeypatch.chdir(path.parent)
    names: dict[str, Any] = {}
    cells = [cell for cell in json.loads(path.read_text("utf-8"))["cells"] if cell["cell_type"] == "code"]
    for cell in cells:
        exec("".join(cell["source"]), names)  # noqa: S102 - written by the product, in this repository
    assert len(cells) > 1
