"""The score sheet: every figure follows from the gradebook and the journals, on a page that asks nothing of anybody."""

from __future__ import annotations

import csv
import io
import re
import shutil
from html.parser import HTMLParser
from pathlib import Path

import pytest

from trainkit_grading.cli import simulate
from trainkit_grading.course.folder import Course
from trainkit_grading.marking import score
from trainkit_grading.marking.mark import mark
from trainkit_grading.reports import score_sheet
from trainkit_grading.results import results
from trainkit_grading.results.results import gather

from .makers import COLLECTED, FIRST, MODULE, SECOND, THIRD, Bench, change, copy_of, keep, kept


@pytest.fixture(scope="module")
def taken_in(_given_out: Path, tmp_path_factory: pytest.TempPathFactory) -> Course:
    """One knows everything, one guesses, one hands nothing in; nothing is marked yet."""
    home = tmp_path_factory.mktemp("report")
    bench = Bench(Course.load(shutil.copytree(_given_out, home / "a course")))
    for person, skill in ((FIRST, 1.0), (SECOND, 0.0)):
        habits = simulate.Habits(skill=skill, slip=0.0, guess=1.0, second_thoughts=0.0)
        bench.send(bench.simulate(person, home / person, habits))
    return bench.collect()


@pytest.fixture
def course(taken_in: Course, tmp_path: Path) -> Course:
    return copy_of(taken_in, tmp_path / "a course")


@pytest.fixture
def marked(course: Course) -> Course:
    assert mark(course).ok
    return course


@pytest.fixture
def reported(marked: Course) -> Course:
    done = score_sheet.report(marked, clock=lambda: COLLECTED)
    assert done.ok
    assert Path(done.data["html"]).is_file()
    assert Path(done.data["csv"]).is_file()
    assert [row["apprentice"] for row in done.data["results"]] == [FIRST, SECOND, THIRD]
    return marked


def of(course: Course, person: str) -> results.Result:
    return gather(course).of(person, MODULE)


def table(course: Course) -> list[dict[str, str]]:
    text = (course.report / "marks.csv").read_text("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


class Page(HTMLParser):
    """Collects the text of a page and everything in it that could fetch or run something."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.cells: list[list[str]] = []
        self.suspects: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in {"script", "link", "img", "iframe", "object", "embed", "form", "base", "a"}:
            self.suspects.append(tag)
        # The name of a drawing's language looks like an address, and is never fetched.
        told = [(name, value or "") for name, value in attrs if name != "xmlns"]
        self.suspects += [name for name, value in told if name.startswith("on") or "://" in value]

    def handle_data(self, data: str) -> None:
        self.words.append(" ".join(data.split()))

    @property
    def text(self) -> str:
        return " ".join(word for word in self.words if word)


def page(course: Course) -> Page:
    return Page((course.report / "index.html").read_text("utf-8"))


def test_passed_not_yet_and_missing(reported: Course) -> None:
    course = reported
    lines = {line["apprentice"]: line for line in table(course)}
    assert list(lines) == [FIRST, SECOND, THIRD]
    first, second, third = lines.values()
    assert (first["state"], first["passed"], first["percent"]) == ("handed in", "yes", "100.0")
    scored = score.score(course, MODULE, SECOND)
    assert float(second["points"]) == scored.points
    assert float(second["out_of"]) == scored.out_of == 6
    assert second["percent"] == f"{100 * scored.points / 6:.1f}"
    assert second["passed"] == ("yes" if scored.points / 6 >= 0.6 and not scored.critical else "no")
    assert second["critical_items"].split() == list(scored.critical)
    assert second["critical_errors"] == str(len(scored.critical))
    assert (third["state"], third["passed"], third["points"], third["form"]) == ("missing", "no", "0", "")
    assert first["arrived"] == "2027-03-02T08:00:00Z"


def test_page_says_the_same_in_words_and_shapes_and_fetches_and_runs_nothing(reported: Course) -> None:
    shown, text = page(reported), (reported.report / "index.html").read_text("utf-8")
    assert "written 2027-03-02 08:00 UTC" in shown.text
    assert "6 of 6 points, 100.0" in shown.text
    cells = re.findall(r'<span class="state ([a-z-]+)">(.+?)</span>', text)
    in_table = cells[6:]  # behind the legend
    assert len(in_table) == 3
    assert in_table[0] == ("passed", "● passed")
    assert in_table[2] == ("missing", "– missing")
    for person in reported.roster():
        assert person.name in shown.text
    assert "manufacturer" in shown.text
    assert "Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\"" in text
    assert not shown.suspects
    assert "Waiting for a person" not in shown.text  # nothing is
    assert "url(" not in text
    assert "@import" not in text


def test_names_stay_text(course: Course) -> None:
    hostile = "<img src=x onerror=alert(1)>"
    course.roster_file.write_text(f'apprentice,name\n{FIRST},"{hostile}"\n{SECOND},=1+1\n', "utf-8")
    assert mark(course).ok
    assert score_sheet.report(course).ok
    shown = page(course)
    assert hostile in shown.text
    assert not shown.suspects
    assert [line["name"] for line in table(course)] == [hostile, "'=1+1"]


def test_handed_in_but_not_marked_is_told(course: Course) -> None:
    outcome = score_sheet.report(course)
    assert outcome.ok
    assert of(course, FIRST).state == "to mark"
    assert of(course, FIRST).verdict == "waiting"
    told = [finding for finding in outcome.findings if finding.severity == "warning"]
    assert [finding.place for finding in told] == [f"{MODULE} {FIRST}", f"{MODULE} {SECOND}"]
    assert {line["passed"] for line in table(course)} == {"waiting", "no"}


def test_marks_older_than_the_hand_in_are_told(marked: Course) -> None:
    course = marked
    change(course, "update grade set auto_score = 0 where auto_score > 0")
    assert of(course, FIRST).state == "to mark"
    assert mark(course).ok
    assert of(course, FIRST).state == "handed in"


def test_what_a_person_set_counts_as_in_export(marked: Course) -> None:
    change(marked, "update grade set manual_score = 0.5, extra_credit = 0.25")
    row = of(marked, FIRST)
    assert row.points == pytest.approx(3 * 0.75)
    assert len(row.overridden) == 3
    assert row.verdict == "not yet"


def _unsafe(course: Course, item: str, option: str, *, critical: bool) -> None:
    """Let an option of the first person's item be unsafe, and the item critical or not, in a form of before."""
    head, keys = kept(course.key_file(MODULE, 1))
    form = next(form for form in keys.values() if form["apprentice"] == FIRST)
    form["spoken"] = False
    form["keys"][item] |= {"right": "elsewhere", "critical": [option]}
    for planned in head["plan"]:
        planned["critical"] = critical and planned["id"] == item
    keep(course.key_file(MODULE, 1), head, keys)


def test_critical_error_bars_passing_until_a_person_judges_otherwise(course: Course) -> None:
    # The third item is worth 3 of 6, the cut is 60 per cent: with the other two right and extra credit it is reached.
    scored = score.score(course, MODULE, FIRST)
    item = next(entry.id for entry in scored.items if entry.item.kind == "choice")
    given = next(entry.response.option for entry in scored.items if entry.id == item)  # type: ignore[union-attr]
    # To an item that is not critical, the same answer costs its points and no more.
    _unsafe(course, item, given, critical=False)
    assert mark(course).ok
    change(course, "update grade set extra_credit = 3")
    assert of(course, FIRST).critical == ()
    assert of(course, FIRST).unsafe == (item,)
    assert of(course, FIRST).verdict == "passed"
    _unsafe(course, item, given, critical=True)
    assert mark(course, why="The item is a critical one.").ok
    row = of(course, FIRST)
    assert row.percent >= 60
    assert row.critical == (item,)
    assert row.verdict == "not yet"
    assert score_sheet.report(course).ok
    assert "▲ critical error" in page(course).text
    assert f"Unsafe answers: {item}; critical: {item}" in page(course).text
    worth = next(entry.mark.out_of for entry in scored.items if entry.id == item)
    change(
        course,
        "update grade set manual_score = ? where cell_id in (select id from base_cell where name = ?)",
        worth,
        item,
    )
    assert of(course, FIRST).critical == ()
    assert of(course, FIRST).verdict == "passed"


def test_lateness_shows(course: Course) -> None:
    change(course, "update assignment set duedate = '2027-03-01 20:00:00.000000'")
    assert mark(course).ok
    assert score_sheet.report(course).ok
    assert of(course, FIRST).seconds_late == 12 * 3600
    assert "12 h late" in page(course).text
    assert next(line for line in table(course) if line["apprentice"] == FIRST)["seconds_late"] == "43200"


def test_columns_are_the_documented_ones(reported: Course) -> None:
    manual = Path(__file__).parents[2] / "grading" / "docs" / "formats.md"
    part = manual.read_text("utf-8").split("## The score sheet as a table")[1].split("\n## ")[0]
    documented = re.findall(r"^\| `([a-z_]+)` \| (.+?) \|$", part, re.MULTILINE)
    assert [pair for pair in documented if pair[0] in score_sheet.COLUMNS] == list(score_sheet.COLUMNS.items())
    assert list(table(reported)[0]) == list(score_sheet.COLUMNS)


def test_a_module_that_is_not_out_is_left_out(bench: Bench) -> None:
    outcome = score_sheet.report(bench.course)
    assert outcome.ok
    assert [finding.severity for finding in outcome.findings] == ["note"]
    assert table(bench.course) == []
