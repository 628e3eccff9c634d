"""nbgrader's own commands in a course folder: same marks, no kernel, and nothing handed in is run or carried off."""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING, Any

import nbformat
import pytest

from trainkit.items.kinds import NumberResponse, TextResponse
from trainkit_grading.cli import simulate
from trainkit_grading.course.folder import Course
from trainkit_grading.intake import submissions
from trainkit_grading.marking import score
from trainkit_grading.marking.mark import mark
from trainkit_grading.marking.nbgrader_exporter import JournalExporter
from trainkit_grading.nbgrader_bridge import gradebook, steps, tables
from trainkit_grading.results.results import gather

from .dialogs import dismissed
from .makers import ANSWERED, FIRST, MODULE, SECOND, THIRD, Bench, copy_of, journal_in, nbgrader

if TYPE_CHECKING:
    from playwright.sync_api import Playwright

SECRET = "the-seed-of-the-course-must-stay-here"  # noqa: S105 - what a test plants, no password
SCRIPT = "<script>alert('hurt')</script>"
MATHS = r"$\href{javascript:alert(1)}{31}$"


def rows(course: Course) -> dict[str, list[tuple[Any, ...]]]:
    """Return what the gradebook says about submissions, without the random identifiers of its rows."""
    said = {
        "submissions": "select a.name, s.student_id, s.timestamp, s.extension from submitted_assignment s "
        "join assignment a on a.id = s.assignment_id",
        "notebooks": "select n.name, s.student_id, b.flagged, b.late_submission_penalty from submitted_notebook b "
        "join submitted_assignment s on s.id = b.assignment_id join notebook n on n.id = b.notebook_id",
        "grades": "select c.name, s.student_id, g.auto_score, g.manual_score, g.extra_credit, g.needs_manual_grade "
        "from grade g join base_cell c on c.id = g.cell_id join submitted_notebook b on b.id = g.notebook_id "
        "join submitted_assignment s on s.id = b.assignment_id",
        "comments": "select * from comment",
        "people": "select * from student",
    }
    with sqlite3.connect(course.gradebook) as connection:
        return {name: sorted(connection.execute(query), key=repr) for name, query in said.items()}


def outputs(course: Course, apprentice: str) -> list[Any]:
    notebook = nbformat.read(course.autograded / apprentice / MODULE / f"{MODULE}.ipynb", as_version=4)
    return [(cell.id, cell.source, cell.get("outputs")) for cell in notebook.cells]


def type_in(course: Course, apprentice: str, text: str) -> None:
    """Add an answer with markup in it to a journal."""
    journal = journal_in(submissions.folder(course, MODULE, apprentice), clock=lambda: ANSWERED.replace(hour=9))
    journal.append("A1", TextResponse(text=text))
    journal.append("A2", NumberResponse(text=MATHS, unit="<b>"))


@pytest.fixture(scope="module")
def given_in(_given_out: Path, tmp_path_factory: pytest.TempPathFactory) -> Course:
    """A course in which three have handed in: one markup and mathematics, one all that is right."""
    home = tmp_path_factory.mktemp("given in")
    made = Bench(Course.load(shutil.copytree(_given_out, home / "a course")))
    for person in (FIRST, THIRD):
        made.hand_in(person, home / person, at=ANSWERED)
    made.send(made.simulate(SECOND, home / SECOND, simulate.Habits(skill=1.0, slip=0.0)))
    made.collect()
    type_in(made.course, FIRST, SCRIPT + MATHS)
    return made.course


@pytest.fixture(scope="module")
def marked(given_in: Course, tmp_path_factory: pytest.TempPathFactory) -> Course:
    """The same, marked by us."""
    course = copy_of(given_in, tmp_path_factory.mktemp("ours") / "a course")
    assert mark(course).ok
    return course


def spoil(course: Course) -> None:
    """Do to the submissions what an apprentice could, without touching a single answer."""
    (course.keys / "secret.txt").write_text(SECRET, "utf-8")
    first, second, third = (submissions.folder(course, MODULE, person) for person in (FIRST, SECOND, THIRD))
    evil = "import pathlib; pathlib.Path('ran.txt').write_text('ran')"
    notebook = nbformat.read(first / f"{MODULE}.ipynb", as_version=4)
    graded = [cell for cell in notebook.cells if "nbgrader" in cell.metadata]
    for cell in graded:
        cell.source = "get_ipython().ast_node_interactivity = 'none'"
        cell.outputs = [nbformat.v4.new_output("execute_result", {"text/plain": "20.0"})]
    notebook.cells += [nbformat.from_dict({**cell, "id": f"twice{n}"}) for n, cell in enumerate(graded)]
    notebook.cells.insert(0, nbformat.v4.new_code_cell(evil))
    notebook.cells.append(nbformat.v4.new_markdown_cell(SCRIPT))
    nbformat.write(notebook, first / f"{MODULE}.ipynb")
    for name in ("json.py", "trainkit.py", "sitecustomize.py", "ipykernel_launcher.py", "nbgrader_config.py"):
        (second / name).write_text(evil, "utf-8")
    (second / f"{MODULE}.ipynb").write_text("no notebook at all", "utf-8")
    (second / "timestamp.txt").write_text("the day before yesterday", "utf-8")
    (third / f"{MODULE}.ipynb").unlink()
    (third / f"{MODULE}.ipynb").symlink_to(course.keys / "secret.txt")
    (third / "leak.html").symlink_to(course.keys / "secret.txt")
    (third / "forms.json").unlink()
    (third / "forms.json").symlink_to(course.keys / "secret.txt")
    stranger = course.submitted / "stranger" / MODULE
    stranger.mkdir(parents=True)
    shutil.copy(course.release / MODULE / f"{MODULE}.ipynb", stranger)


@pytest.fixture(scope="module")
def spoilt(given_in: Course, tmp_path_factory: pytest.TempPathFactory) -> tuple[Course, str]:
    """The same, spoilt by its owners and then marked by ``nbgrader autograde``, with what that said."""
    course = copy_of(given_in, tmp_path_factory.mktemp("theirs") / "a course")
    spoil(course)
    said = nbgrader(course, "autograde", MODULE)
    return course, said.stderr


LINKS = pytest.mark.skipif(os.name == "nt", reason="making links needs special rights on Windows")


@LINKS
def test_nbgrader_autograde_writes_the_same_rows(marked: Course, spoilt: tuple[Course, str]) -> None:
    course, said = spoilt
    theirs, ours = rows(course), rows(marked)
    # The damaged time stamp of one is not believed; all else is the same, and nobody else got in.
    theirs["submissions"], ours["submissions"] = (
        [row for row in found["submissions"] if row[1] != SECOND] for found in (theirs, ours)
    )
    assert theirs == ours
    assert len(ours["grades"]) == 9
    assert "stranger is not on the roster" in said
    assert "Traceback" not in said


@LINKS
def test_nbgrader_autograde_writes_the_same_notebooks(marked: Course, spoilt: tuple[Course, str]) -> None:
    course, _ = spoilt
    for person in (FIRST, SECOND, THIRD):
        assert outputs(course, person) == outputs(marked, person)


@pytest.fixture(scope="module")
def told_back(spoilt: tuple[Course, str]) -> Course:
    """The same, with feedback pages made by ``nbgrader generate_feedback``."""
    course, _ = spoilt
    nbgrader(course, "generate_feedback", MODULE)
    return course


@LINKS
def test_nothing_handed_in_is_run_or_carried_off(told_back: Course) -> None:
    written = [p for home in (told_back.autograded, told_back.feedback) for p in home.rglob("*") if p.is_file()]
    assert len([path for path in written if path.suffix == ".html"]) == 3
    assert not [path for path in written if path.suffix == ".py"]
    for path in written:
        assert not path.is_symlink()
        assert SECRET not in path.read_text("utf-8", "replace")
    assert not list(told_back.folder.rglob("ran.txt"))


@LINKS
def test_feedback_shows_answer_verdict_reason_and_points(told_back: Course) -> None:
    page = (told_back.feedback / FIRST / MODULE / f"{MODULE}.html").read_text("utf-8")
    for entry in score.score(told_back, MODULE, FIRST).items:
        assert entry.mark.verdict in page
        assert f"of {entry.mark.out_of:g} point" in page
    assert "Cautions" in page
    assert SCRIPT not in page
    assert "&lt;script&gt;alert(" in page
    # It is the page of our own, on which nothing sets mathematics or runs a script.
    assert "mathjax" not in page.lower()
    assert "default-src 'none'" in page
    # In the marked notebook no run of text holds what a viewer would set as mathematics.
    marked = (told_back.autograded / FIRST / MODULE / f"{MODULE}.ipynb").read_text("utf-8")
    drawn = [output["data"]["text/html"] for cell in json.loads(marked)["cells"] for output in cell.get("outputs", ())]
    assert any("href{" in "".join(html) for html in drawn)
    assert not [html for html in drawn if re.search(r"\$[^<>]*\\", "".join(html))]
    assert (told_back.feedback / FIRST / MODULE / "timestamp.txt").is_file()


@LINKS
@pytest.mark.browser
def test_feedback_runs_no_script_of_an_apprentice(told_back: Course, playwright: Playwright) -> None:
    met: list[str] = []
    browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
    page = browser.new_page()
    page.on("dialog", lambda dialog: dismissed(dialog, met))
    page.route("http*://**", lambda route: route.abort())
    page.goto((told_back.feedback / FIRST / MODULE / f"{MODULE}.html").as_uri())
    shown = page.inner_text("body")
    browser.close()
    assert SCRIPT in shown
    assert MATHS in shown
    assert not met


def test_marks_are_those_of_the_scorer(marked: Course) -> None:
    for person, row in gradebook.read(marked, MODULE).items():
        scored = score.score(marked, MODULE, person)
        assert {item: grade.auto_score for item, grade in row.grades.items()} == {
            entry.id: entry.mark.points for entry in scored.items
        }


@LINKS
def test_marking_after_nbgrader_changes_nothing(spoilt: tuple[Course, str], tmp_path: Path) -> None:
    course = copy_of(spoilt[0], tmp_path / "a course")
    before = rows(course)
    assert not mark(course).ok  # for the stranger
    assert rows(course) == before


def test_export_agrees_with_the_report(marked: Course, tmp_path: Path) -> None:
    target = tmp_path / "grades.csv"
    nbgrader(marked, "export", "--to", str(target))
    exported = {line["student_id"]: line for line in csv.DictReader(target.read_text("utf-8").splitlines())}
    for row in gather(marked).rows:
        assert float(exported[row.apprentice]["score"]) == pytest.approx(row.points, abs=1e-9)
        assert float(exported[row.apprentice]["max_score"]) == row.out_of


@LINKS
def test_hostile_submissions_change_nothing_by_our_own_command(
    given_in: Course, marked: Course, tmp_path: Path
) -> None:
    course = copy_of(given_in, tmp_path / "a course")
    spoil(course)
    outcome = mark(course)
    assert [finding.place for finding in outcome.findings if finding.severity == "refused"] == [
        f"submitted/stranger/{MODULE}"
    ]
    flagged = {finding.place for finding in outcome.findings if finding.severity == "warning"}
    assert flagged == {f"{MODULE} {SECOND}", f"{MODULE} {THIRD}"}
    assert rows(course)["grades"] == rows(marked)["grades"]
    for person in (FIRST, SECOND, THIRD):
        assert outputs(course, person) == outputs(marked, person)
    written = list(course.autograded.rglob("*"))
    assert not [path for path in written if path.is_symlink() or path.suffix in (".html", ".py")]


def test_formgraders_button_gives_the_same(given_in: Course, marked: Course, tmp_path: Path) -> None:
    course = copy_of(given_in, tmp_path / "a course")
    with steps.prepared():
        from nbgrader.apps.api import NbGraderAPI
        from nbgrader.coursedir import CourseDirectory

        config = steps.configuration(course)
        api = NbGraderAPI(CourseDirectory(config=config), config=config)
        for person in (FIRST, SECOND, THIRD):
            answer = api.autograde(MODULE, person)
            assert answer["success"], answer["log"]
        shown = api.get_submission(MODULE, FIRST)
    assert rows(course) == rows(marked)
    assert shown["score"] == pytest.approx(score.score(course, MODULE, FIRST).points)
    assert not shown["needs_manual_grade"]


def test_formgraders_page_shows_the_answer(marked: Course) -> None:
    with steps.prepared():
        from nbconvert.exporters import HTMLExporter
        from nbgrader.server_extensions.formgrader import handlers
        from traitlets.config import Config

        config = Config()
        config.HTMLExporter.template_name = "formgrade"
        config.HTMLExporter.extra_template_basedirs = [handlers.template_path]
        notebook = marked.autograded / FIRST / MODULE / f"{MODULE}.ipynb"
        resources = dict.fromkeys(("assignment_id", "notebook_id", "submission_id", "base_url", "student"), "")
        resources |= {"index": 0, "total": 1, "last_name": None, "first_name": None, "notebook_path": ""}  # type: ignore[dict-item]
        page, _ = HTMLExporter(config=config).from_filename(str(notebook), resources=resources)
    for entry in score.score(marked, MODULE, FIRST).items:
        assert entry.mark.verdict in page


@pytest.mark.parametrize("late", [False, True])
def test_penalty_for_lateness_is_nbgraders_own(given_in: Course, tmp_path: Path, late: bool) -> None:
    course = copy_of(given_in, tmp_path / "a course")
    with course.nbgrader_config.open("a", encoding="utf-8") as stream:
        stream.write('\nc.LateSubmissionPlugin.penalty_method = "zero"\n')
    day = 1 if late else 3
    with sqlite3.connect(course.gradebook) as connection:
        connection.execute("update assignment set duedate = ?", (f"2027-03-0{day} 20:00:00.000000",))
    assert mark(course).ok
    row = gradebook.read(course, MODULE)[SECOND]
    earned = score.score(course, MODULE, SECOND).out_of
    assert (row.seconds_late, row.penalty) == ((12 * 3600, pytest.approx(earned)) if late else (0, 0))
    assert row.score == pytest.approx(0 if late else earned)


def test_gradebook_of_another_release_is_noticed() -> None:
    with steps.prepared():
        from nbgrader.api import Base
    for name, ours in tables.METADATA.tables.items():
        theirs = Base.metadata.tables[name]
        for column in ours.columns:
            assert type(theirs.c[column.name].type) is type(column.type), f"{name}.{column.name}"
            assert theirs.c[column.name].primary_key == column.primary_key


def test_exporter_never_opens_what_was_handed_in(given_in: Course) -> None:
    with steps.prepared():
        from nbgrader.converters import Autograde
        from nbgrader.coursedir import CourseDirectory

        config = steps.configuration(given_in)
        coursedir = CourseDirectory(config=config)
        converter = Autograde(coursedir=coursedir, config=config)
        assert converter.exporter_class is JournalExporter
        exporter = JournalExporter(parent=converter, config=config)
        exporter._preprocessors = []
        path = given_in.submitted / FIRST / MODULE / "not-there.ipynb"
        text, _ = exporter.from_filename(str(path), resources={})
    assert json.loads(text)["cells"] == []


def test_a_course_without_a_gradebook_says_so(bench: Bench) -> None:
    outcome = mark(bench.course, [MODULE])
    assert not outcome.ok
    assert "trainkit-course build" in outcome.findings[0].text
