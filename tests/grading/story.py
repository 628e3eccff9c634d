"""The story of a course, from roster to record, told once for all who look at its reports.

Two cohorts take all seven modules. Somebody joins late, somebody moves, two leave; one tries a module twice; a key was
wrong; points are changed by hand; texts are read; practical work is watched, once with a critical step left out and
shown again; a second marker disagrees; there are appeals. What everybody knows and gets wrong is simulated.
"""

from __future__ import annotations

import hashlib
import html
import random
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from trainkit import modules as shipped
from trainkit.items.kinds import TextResponse
from trainkit_grading.cli import simulate
from trainkit_grading.cli.demo import people
from trainkit_grading.course.folder import Course, CourseModule
from trainkit_grading.decisions import appeals
from trainkit_grading.decisions.double_marking.entering import enter, sample
from trainkit_grading.decisions.pending import pending_decisions
from trainkit_grading.intake.collect import collect
from trainkit_grading.ledger.kinds import Marked, SampleLine
from trainkit_grading.marking.mark import mark
from trainkit_grading.paper import codes, notation
from trainkit_grading.paper.entering import enter as enter_sheet
from trainkit_grading.record.sessions import Session, watch
from trainkit_grading.release import init
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build
from trainkit_grading.signoff.observing import observe

from .makers import Bench, form_in, form_of, give_each, give_out, journal_in, keys_of, ledger_of, sow
from .papers import table
from .signing import item_sheet, pack_sheet, second_marks, watched
from .tries import correct

OUT = datetime(2027, 3, 1, 8, tzinfo=UTC)
DUE = datetime(2027, 3, 19, 16, tzinfo=UTC)
FIRST_COLLECTED = datetime(2027, 3, 16, 8, tzinfo=UTC)
SECOND_COLLECTED = datetime(2027, 3, 23, 9, tzinfo=UTC)
THIRD_COLLECTED = datetime(2027, 4, 1, 9, tzinfo=UTC)
NOW = datetime(2027, 4, 20, 9, tzinfo=UTC)

# Who has which part in the story; everybody else is simulated as people come.
FORWARD, MISSED, PROMPTED, SAME = "amir", "lena", "giorgos", "olena"
JOINER, MOVER, TWICE, PAPER = "mingxia", "søren", "yusra", "kacper"
LEAVER, FORGOTTEN, LATE, APPEALS = "hoa", "tesfaye", "ruth", "a13"
SURE = simulate.Habits(skill=1.0, slip=0.0, guess=1.0, second_thoughts=0.0)
QUALIFICATION = """
qualification = "Overhaul of standby sets, first year"
"""
TABLES = f"""
[[criteria]]
number = "1.1"
text = "Reads, converts and sets torques"
modules = ["torque-units", "tightening"]

[[criteria]]
number = "1.2"
text = "Says which way everything turns"
modules = ["turning-direction"]

[[criteria]]
number = "2.1"
text = "Brings the engine to the right dead centre and pins it"
modules = ["lock-pin"]
steps = ["dunlin:isolate"]

[[criteria]]
number = "2.2"
text = "Takes up the play and keeps the order of the work"
modules = ["lash-and-timing", "sequence"]

[[criteria]]
number = "3.1"
text = "Explains and shows work on another engine"
modules = ["capstone"]
steps = ["capstone/A12"]

[[criteria]]
number = "3.2"
text = "Does the whole job"
steps = ["dunlin", "any"]

[[cohorts]]
name = "pumping"
title = "Pumping stations"

[[cohorts]]
name = "power"
title = "Power house"
due.lock-pin = {DUE + timedelta(days=7):%Y-%m-%dT%H:%M:%SZ}
"""


@dataclass(frozen=True)
class Story:
    """The course, and what the tests have to know of how it came to be."""

    course: Course
    corrected: tuple[str, str, str]  # module, form and item whose key was wrong
    overridden: tuple[str, str, str]  # person, module, item


def tell(home: Path, count: int = 34) -> Story:
    """Make the course of the story in ``home / "course"``; whoever has a part in it is among the first 20."""
    names = shipped.names()
    entries = [CourseModule(name=name, opens=OUT, due=DUE) for name in names]
    # The same seed, forms, answers and marks each time.
    seed = hashlib.sha256(b"the story").hexdigest()
    course = init.create(sow(home / "course", seed), "saltmere", "Saltmere drainage board", entries)
    text = course.file.read_text("utf-8").replace("percent_a_day = 0", "percent_a_day = 10")
    first, rest = text.split("[[modules]]", 1)
    course.file.write_text(first + QUALIFICATION + "\n[[modules]]" + rest + TABLES, "utf-8")
    write_roster(course, count)
    course = Course.load(course.folder)
    give_out(course, OUT)
    story = _Told(course, home / "apprentices", count)
    story.answer_first()
    story.enter_paper()
    assert collect(course, clock=lambda: FIRST_COLLECTED).ok
    story.watch_sittings()
    assert mark(course, clock=lambda: FIRST_COLLECTED).ok
    course = story.go_on()
    corrected = story.correct_a_key()
    assert mark(course, why=f"The key of {corrected[2]} was wrong.", clock=lambda: NOW).ok
    story.observe_work()
    overridden = story.give_points()
    story.second_marks()
    story.appeal()
    assert mark(course, clock=lambda: NOW).ok
    return Story(course, corrected, overridden)


def write_roster(course: Course, count: int, *, later: bool = False) -> None:
    """Write the roster as it is at first, or once people have come, moved and left."""
    rows = ["apprentice,name,cohort,joined,left,extra_percent"]
    for place, person in enumerate(people(count)):
        cohort = "pumping" if place % 2 == 0 else "power"
        joined = left = extra = ""
        if person.id == JOINER:
            if not later:
                continue
            joined = "2027-03-20"
        if person.id == MOVER and later:
            cohort = "pumping" if cohort == "power" else "power"
        if person.id == LEAVER and later:
            left = "2027-04-01"
        if person.id == TWICE:
            extra = "25"
        if place == 14:
            cohort = ""
        rows.append(f'{person.id},"{person.name}",{cohort},{joined},{left},{extra}')
    course.roster_file.write_text("\n".join(rows) + "\n", "utf-8")


def sitting(place: int) -> datetime:
    """When a module is sat, by its place in the course."""
    return datetime(2027, 3, 2, 9, tzinfo=UTC) + timedelta(days=2 * place)


class _Told:
    """The course while its story is told."""

    def __init__(self, course: Course, home: Path, count: int) -> None:
        self.course = course
        self.home = home
        self.habits = _habits(count)
        self.names = [module.name for module in course.modules]

    def _hand_in(self, person: str, module: str, attempt: int, start: datetime) -> None:
        home, habits = self.home / person / str(attempt), self.habits[person]
        folder = Bench(self.course).simulate(person, home, habits, start, module, "story")
        for entry in form_in(folder).items:
            if entry.item.kind == "text" and person != "a15":
                journal = journal_in(folder, clock=lambda: start + timedelta(minutes=50))
                journal.append(entry.id, TextResponse(text="Because the teeth then bear on the loaded flank."))
        Bench(self.course).send(folder, f"{attempt}-")

    def answer_first(self) -> None:
        """Everybody who is there answers, but for a few who leave something out."""
        for number, person in enumerate(self.habits):
            if person == JOINER:
                continue
            for place, module in enumerate(self.names):
                if (person, module) in {*_LEFT_OUT, (LATE, "capstone"), (PAPER, self.names[0])}:
                    continue
                self._hand_in(person, module, 1, sitting(place) + timedelta(minutes=number))

    def enter_paper(self) -> None:
        """One has written on paper; it is typed twice, differs in one place, and is typed there once more."""
        module = self.names[0]
        form = form_of(self.course, PAPER, module)
        keys = keys_of(self.course, form.code, module=module)
        begun = sitting(0).astimezone()
        texts = {"date": f"{begun:%Y-%m-%d}", "began": f"{begun:%H:%M}", "ended": f"{begun + timedelta(hours=1):%H:%M}"}
        for of in form.items:
            rng = random.Random(f"paper {of.id}")
            given = simulate.answer(of.item, keys[of.id], self.habits[PAPER], rng)
            texts[of.id] = notation.write(of.item, given)
        differs = next(of.id for of in form.items if texts[of.id])
        home = self.home / "paper"
        home.mkdir(parents=True)
        files = {
            1: table(home / "1.csv", form, "P. Tidewell", texts),
            2: table(home / "2.csv", form, "M. Orrin", texts | {differs: ""}),
        }
        code = codes.on_paper(form.code)
        assert enter_sheet(self.course, code, files=files, clock=lambda: FIRST_COLLECTED).data["differ"] == [differs]
        third = {3: table(home / "3.csv", form, "P. Tidewell", {differs: texts[differs]})}
        assert enter_sheet(self.course, code, files=third, clock=lambda: FIRST_COLLECTED).ok

    def watch_sittings(self) -> None:
        """Somebody watched; one module nobody, and of another it is said by name who sat it."""
        for place, module in enumerate(self.names):
            begin = sitting(place) - timedelta(minutes=5)
            sat: tuple[str, ...] = ()
            if module == "tightening":
                sat = (FORWARD, MISSED, PROMPTED, APPEALS, FORGOTTEN)
            if module == "sequence":
                begin += timedelta(minutes=4)
            sat = tuple(name for name in sat if name in self.habits)
            made = Session(module, "P. Tidewell", f"Bay {place}", begin, begin + timedelta(hours=2), "calculator", sat)
            assert watch(self.course, made).ok

    def go_on(self) -> Course:
        """Somebody joins and somebody moves; a second attempt is given out; the rest is handed in."""
        write_roster(self.course, len(self.habits), later=True)
        text = self.course.file.read_text("utf-8")
        text = re.sub(r'(name = "lock-pin"\n(?:.+\n)*?attempt = )1', r"\g<1>2", text)
        self.course.file.write_text(text, "utf-8")
        self.course = Course.load(self.course.folder)
        assert self.course.module("lock-pin").attempt == 2
        at = datetime(2027, 3, 20, 8, tzinfo=UTC)
        joined = (*self.names[:2], "lock-pin")
        assert build(self.course, joined).ok
        assert assign(self.course, joined, clock=lambda: at).ok
        self._hand_in(LATE, "capstone", 1, datetime(2027, 3, 21, 9, tzinfo=UTC))
        for place, module in enumerate(joined):
            start = datetime(2027, 3, 21, 9, tzinfo=UTC) + timedelta(hours=2 * place)
            self._hand_in(JOINER, module, self.course.module(module).attempt, start)
        assert collect(self.course, clock=lambda: SECOND_COLLECTED).ok
        self.habits[TWICE] = SURE
        self._hand_in(TWICE, "lock-pin", 2, datetime(2027, 3, 29, 9, tzinfo=UTC))
        assert collect(self.course, clock=lambda: THIRD_COLLECTED).ok
        return self.course

    def correct_a_key(self) -> tuple[str, str, str]:
        """Make another option the right one, where somebody had all points for the wrong one."""
        module = "turning-direction"
        with ledger_of(self.course) as ledger:
            (entry,) = ledger.entries(Marked, module=module, apprentice="a14")
        item = next(row.item for row in entry.marks if row.kind == "choice" and row.verdict == "right")
        correct(self.course, 1, entry.form, item, module)
        return module, entry.form, item

    def _observe(self, person: str, changes: Mapping[int, str], at: int, module: str = "", **more: Any) -> None:
        sheet = item_sheet(self.course, person, module) if module else pack_sheet(self.course)
        seen = watched(sheet, changes, apprentice=person, at=datetime(2027, 4, at, 9, 30, tzinfo=UTC), **more)
        assert observe(self.course, seen, clock=lambda: NOW).ok

    def observe_work(self) -> None:
        """Practical work is watched and signed for."""
        steps = dict(enumerate(pack_sheet(self.course).steps, start=1))
        critical = [place for place, step in steps.items() if step.critical]
        lock = next(place for place, step in steps.items() if step.id == "isolate")
        for person in (FORWARD, APPEALS, PAPER, FORGOTTEN):
            self._observe(person, {}, 5)
        self._observe(MISSED, {critical[-1]: "not done"}, 5, remark="Left out.")
        self._observe(MISSED, {}, 12)  # the whole work, shown again unprompted
        self._observe(PROMPTED, {lock: "prompted"}, 5)
        self._observe(PROMPTED, {lock: "unprompted"}, 7, again=True)
        self._observe(SAME, {}, 5, observer="M. Orrin", medium="tablet")
        self._observe("yusra", {lock: "prompted"}, 6)
        self._observe("a16", {critical[0]: "stopped for safety"}, 6)
        for person in (FORWARD, MISSED, APPEALS, FORGOTTEN, LATE):
            self._observe(person, {}, 6, "capstone")
        self._observe(PROMPTED, {2: "prompted"}, 6, "capstone")
        self._observe("a14", {1: "not done"}, 6, "capstone")

    def give_points(self) -> tuple[str, str, str]:
        """Texts are read in formgrader; some are left. One answer to a question with a key is judged otherwise."""
        texts = {FORWARD: 4, MISSED: 4, PROMPTED: 2, SAME: 1, LATE: 3, APPEALS: 4, FORGOTTEN: 3, "a14": 0, "a17": 2}
        given = {("capstone", "A11", person): float(points) for person, points in texts.items()}
        give_each(self.course, given | {("torque-units", "A1", "kacper"): 1.5})
        return "kacper", "torque-units", "A1"

    def second_marks(self) -> None:
        """A second marker reads everything again; two pieces differ far, and one of them is decided."""
        sheet = sample(self.course, percent=100, seed=3).data["sheet"]

        def points(line: SampleLine) -> str:
            far = (line.apprentice, line.item) in ((PROMPTED, "A11"), ("a14", "A11"))
            return f"{line.out_of if far else line.points:g}"

        assert enter(self.course, second_marks(self.course, sheet, points), "M. Orrin").ok
        open_ = [each for each in self.waiting() if each.kind == "disagreement"]
        assert {each.apprentice for each in open_} == {PROMPTED, "a14"}
        number = next(each.entry for each in open_ if each.apprentice == PROMPTED)
        assert appeals.decide(self.course, number, "settled", 3.0, "Between the two.").ok

    def appeal(self) -> None:
        """One appeal is upheld, one waits; what was flagged of one person is settled."""
        made = appeals.appeal(self.course, MISSED, "sequence", "A3", "The reason is the other one.")
        assert appeals.decide(self.course, made.data["entry"], "upheld", 0.5, "Half of it is right.").ok
        assert appeals.appeal(self.course, APPEALS, "lock-pin", "A4", "I had the right number.").ok

    def waiting(self) -> Iterable[Any]:
        with ledger_of(self.course) as ledger:
            return pending_decisions(ledger)


_LEFT_OUT = {("a14", "tightening"), ("a15", "sequence"), ("a15", "capstone"), ("ruth", "lock-pin"), ("hoa", "capstone")}


def _habits(count: int) -> dict[str, simulate.Habits]:
    """Four know everything; the others know most, and a few wrong rules are held by several."""
    from trainkit.items.misconceptions import all_misconceptions

    rng = random.Random("story")
    cohort = simulate.cohort(count, sorted(all_misconceptions()), rng)
    found = dict(zip((person.id for person in people(count)), cohort, strict=True))
    for person in (FORWARD, MISSED, APPEALS, FORGOTTEN):
        if person in found:
            found[person] = SURE
    return found


# Looking at it.


def clock() -> datetime:
    return NOW


def close(value: float) -> Any:
    return pytest.approx(value, abs=1e-9)


def page_of(story: Story, name: str) -> str:
    return (story.course.report / name).read_text("utf-8")


def tables(page: str, section: str) -> list[list[list[str]]]:
    """Return the tables of a section as rows of texts."""
    part = page[page.index(f'<section id="{section}"') :]
    part = part[: part.index("</section>")]
    return [
        [
            [
                " ".join(html.unescape(re.sub(r"<[^>]+>", " ", cell)).split())
                for cell in re.findall(r"<t[hd][ >].*?</t[hd]>", row, re.S)
            ]
            for row in re.findall(r"<tr>.*?</tr>", table, re.S)
        ]
        for table in re.findall(r"<table.*?</table>", part, re.S)
    ]
