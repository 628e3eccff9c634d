"""Texts and practical work: what a person gives points for, through formgrader's own doors, and what becomes of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import nbformat
import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.intake import submissions
from trainkit_grading.ledger.kinds import Changed, Voided
from trainkit_grading.marking.mark import mark
from trainkit_grading.results.results import gather

from .makers import (
    FIRST,
    MODULE,
    SECOND,
    Bench,
    copy_of,
    entries,
    found,
    give,
    grades_of,
    nbgrader,
    writing,
)
from .test_bridge import rows

WORDS = "The teeth stay on the flank that carries the load.\n<script>window.hurt = 1</script> $x$"
pytestmark = pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader")  # of nbgrader's own relations


@pytest.fixture(scope="module")
def handed_in(tmp_path_factory: pytest.TempPathFactory) -> Course:
    """A course whose module asks for an order, a text and practical work; one wrote a text, the other did not."""
    home = tmp_path_factory.mktemp("written")
    made = found(home / "a course", ("sequence/put-in-order", "capstone/explain-why", "capstone/observed-work"))
    made.give_out()
    for person in (FIRST, SECOND):
        made.hand_in(person, home / person, how=writing(WORDS if person == FIRST else ""))
    return made.collect()


def _rewrite(course: Course, person: str, words: str) -> None:
    """Let an apprentice hand in the same again, with other words."""
    Bench(course).answer(submissions.folder(course, MODULE, person), how=writing(words))


@pytest.fixture
def course(handed_in: Course, tmp_path: Path) -> Course:
    return copy_of(handed_in, tmp_path / "a course")


def _ours(course: Course) -> None:
    assert mark(course).ok


def _theirs(course: Course) -> None:
    nbgrader(course, "autograde", MODULE, "--force")


MARKERS = [pytest.param(_ours, id="trainkit-course mark"), pytest.param(_theirs, id="nbgrader autograde")]


def test_the_release_keeps_the_cells_that_ask(handed_in: Course) -> None:
    notebook = nbformat.read(handed_in.release / MODULE / f"{MODULE}.ipynb", as_version=4)
    asking = {
        cell.metadata.nbgrader.grade_id: cell
        for cell in notebook.cells
        if cell.metadata.get("nbgrader", {}).get("grade")
    }
    assert {name: cell.source for name, cell in asking.items()} == {
        name: f'book.ask("{name}")' for name in ("A1", "A2", "A3")
    }
    assert [name for name, cell in asking.items() if cell.metadata.nbgrader.solution] == ["A2", "A3"]
    assert not any(cell.metadata.get("editable", True) for cell in asking.values())


@pytest.mark.parametrize("run", MARKERS)
def test_the_life_of_a_text(course: Course, run: Callable[[Course], None]) -> None:
    """It waits for a person; the points stay with the very words they were given for, and go with them."""
    run(course)
    written, missing = grades_of(course)["A2"], grades_of(course, SECOND)["A2"]
    assert (written.auto_score, written.needs_manual_grade) == (None, True)
    assert (missing.auto_score, missing.needs_manual_grade) == (0.0, False)
    for person in (FIRST, SECOND):
        watched = grades_of(course, person)["A3"]
        assert (watched.auto_score, watched.needs_manual_grade) == (None, True)
    # Whoever left the text out cannot reach the cut score with the practical work alone.
    verdicts = {row.apprentice: row.verdict for row in gather(course).rows}
    assert (verdicts[FIRST], verdicts[SECOND]) == ("waiting", "not yet")
    give(course, "A2", 1.5)
    run(course)
    row = grades_of(course)["A2"]
    assert (row.manual_score, row.needs_manual_grade) == (1.5, False)
    assert len(entries(course, Changed)) == 1
    _rewrite(course, FIRST, "Now it says something else.")
    run(course)
    row = grades_of(course)["A2"]
    assert (row.manual_score, row.needs_manual_grade) == (None, True)
    (given,), (voided,) = entries(course, Changed), entries(course, Voided)
    assert (given.after, voided.before, voided.after) == (1.5, 1.5, None)


def test_words_that_come_back_are_looked_at_again(course: Course) -> None:
    _ours(course)
    give(course, "A2", 1.5)
    for words in ("Now it says something else.", WORDS):
        _rewrite(course, FIRST, words)
        _ours(course)
    row = grades_of(course)["A2"]
    assert (row.manual_score, row.needs_manual_grade) == (None, True)


def test_both_ways_write_the_same_rows_and_notebooks(course: Course, tmp_path: Path) -> None:
    other = copy_of(course, tmp_path / "another")
    _ours(course)
    _theirs(other)
    assert rows(course)["grades"] == rows(other)["grades"]
    comments = [sorted(((row[-2], row[-1]) for row in rows(of)["comments"]), key=repr) for of in (course, other)]
    assert comments[0] == comments[1]
    assert ("No response.", None) in comments[0]
    for person in (FIRST, SECOND):
        ours, theirs = (
            nbformat.read(of.autograded / person / MODULE / f"{MODULE}.ipynb", as_version=4) for of in (course, other)
        )
        assert [(c.source, c.get("outputs")) for c in ours.cells] == [
            (c.source, c.get("outputs")) for c in theirs.cells
        ]


def test_practical_work_is_signed_for_once(course: Course) -> None:
    _ours(course)
    give(course, "A2", 2.0)
    give(course, "A3", 3.0)
    _rewrite(course, FIRST, WORDS)
    _ours(course)
    row = grades_of(course)["A3"]
    assert (row.manual_score, row.needs_manual_grade) == (3.0, False)
    (result,) = [row for row in gather(course).rows if row.apprentice == FIRST]
    assert result.verdict in ("passed", "not yet")
    assert result.points >= 5.0


def test_whoever_marks_sees_text_and_rubric_and_no_markup_of_the_apprentice(course: Course) -> None:
    _ours(course)
    notebook = nbformat.read(course.autograded / FIRST / MODULE / f"{MODULE}.ipynb", as_version=4)
    (cell,) = [cell for cell in notebook.cells if cell.metadata.get("nbgrader", {}).get("grade_id") == "A2"]
    assert cell.source.startswith('book.ask("A2")\n# answer ')
    shown, rubric = cell.outputs
    assert "The teeth stay on the flank" in shown.data["text/plain"]
    assert "&lt;script" in shown.data["text/html"]
    assert "<script" not in shown.data["text/html"] + rubric.data["text/html"]
    assert "Rubric" in rubric.data["text/plain"]
    for released in (course.release, course.source, course.zips):
        for path in released.rglob("*"):
            assert not path.is_file() or b"Rubric," not in path.read_bytes()
