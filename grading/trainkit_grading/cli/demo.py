"""A whole invented course, from pack to score sheet, in one command.

The Saltmere drainage board, its engines and everybody in this course are invented. The course is made, built and
given out; simulated apprentices open their zips, answer, and hand in; what they hand in is collected, marked and
reported by the same commands that a real course uses. Doing it again goes on where it stopped, and changes nothing
where it was done.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import os
import random
import shlex
import shutil
import subprocess
import sysconfig
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit import handin, journal, modules
from trainkit.sentences import counted
from trainkit_grading.cli import simulate
from trainkit_grading.cli.simulate import staff
from trainkit_grading.course.folder import COURSE_FILE, Course, CourseModule
from trainkit_grading.course.roster import Apprentice
from trainkit_grading.course.settings import Cohort
from trainkit_grading.errors import CourseError
from trainkit_grading.forms import generation
from trainkit_grading.support.files import write_atomically
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet
from trainkit_grading.support.refusals import refusal

if TYPE_CHECKING:
    from trainkit_grading.cli.simulate import Habits


_MARKER = "demo.json"
_SATURDAY = 5
# Two of the first twelve know all of it, so that the reports have somebody who may be put forward.
_FLUENT = (0, 2)
_TITLE = "Saltmere drainage board: standby sets, first year"
# Invented people; names of several scripts, an apostrophe, and one read from right to left, as rosters have them.
PEOPLE = (
    Apprentice("amir", "Amir Dashtvan"),
    Apprentice("o'carragher", "Siobhán O'Carragher"),
    Apprentice("lena", "Lena Vossbeck"),
    Apprentice("giorgos", "Γιώργος Λιθαρής"),
    Apprentice("olena", "Олена Тихобор"),
    Apprentice("mingxia", "林鸣夏"),
    Apprentice("søren", "Søren Ågaardsvik"),
    Apprentice("yusra", "يسرى الحدّادي"),
    Apprentice("kacper", "Kacper Młynek"),
    Apprentice("hoa", "Hoa Thị Lành"),
    Apprentice("tesfaye", "ተስፋዬ መርከብ"),
    Apprentice("ruth", "Ruth Pellworth-Ames"),
)
_COHORTS = (Cohort(name="pumping", title="Pumping stations"), Cohort(name="power", title="Power house"))
_GIVEN = ("Ada", "Bo", "Cleo", "Dov", "Edda", "Finn", "Gül", "Hana", "Ilse", "Jory", "Kofi", "Lior", "Mira", "Nils")
_FAMILY = ("Quillbeam", "Rastermoor", "Skellow", "Tarnwick", "Umberleigh", "Varrowby", "Wexholm", "Yarnstead")


@dataclass(frozen=True, slots=True)
class _Plan:
    """What a demo folder is about; kept in it, so that it is done again in the same way."""

    seed: int
    apprentices: int
    begun: datetime

    @classmethod
    def of(cls, folder: Path, seed: int, apprentices: int, now: datetime) -> _Plan:
        """Read the plan of a folder, or make it."""
        path = folder / _MARKER
        if path.is_file():
            plan = cls._read(path)
            if (plan.seed, plan.apprentices) != (seed, apprentices):
                raise CourseError(
                    str(folder),
                    rule=f"This folder holds a demo with --seed {plan.seed} --apprentices {plan.apprentices}.",
                    remedy="Name another folder with --into, or delete this one.",
                )
            return plan
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise CourseError(
                str(folder), rule="A demo goes into a new or empty folder.", remedy="Name another with --into."
            )
        plan = cls(seed, apprentices, now.replace(microsecond=0))
        try:
            folder.mkdir(parents=True, exist_ok=True)
            text = {"format": 1, "seed": seed, "apprentices": apprentices, "begun": plan.begun.isoformat()}
            write_atomically(path, json.dumps(text) + "\n")
        except OSError as error:
            raise refusal(error, folder) from None
        return plan

    @classmethod
    def _read(cls, path: Path) -> _Plan:
        try:
            said = json.loads(path.read_text("utf-8"))
            begun = datetime.fromisoformat(said["begun"]).astimezone(UTC)
            return cls(int(said["seed"]), int(said["apprentices"]), begun)
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise CourseError(
                str(path),
                rule=f"The note of what this demo is about cannot be read ({type(error).__name__}).",
                remedy="Name another folder with --into, or delete this one.",
            ) from None

    def morning(self, before: int) -> datetime:
        """Return eight in the morning of a working day, so many working days before the last one that is over."""
        day = self.begun.replace(hour=8, minute=0, second=0)
        while before >= 0:
            day -= timedelta(days=1)
            before -= day.weekday() < _SATURDAY
        return day

    @property
    def due(self) -> datetime:
        """When the first module is due: between the two times at which hand-ins are collected."""
        return self.morning(0) + timedelta(hours=9)


def people(count: int) -> tuple[Apprentice, ...]:
    """Return so many invented apprentices.

    Examples
    --------
    >>> [person.id for person in people(2)], people(14)[-1].name
    (['amir', "o'carragher"], 'Nils Rastermoor')
    """
    more = (
        Apprentice(f"a{number + 1}", f"{_GIVEN[number % len(_GIVEN)]} {_FAMILY[number * 5 % len(_FAMILY)]}")
        for number in range(len(PEOPLE), count)
    )
    return (*PEOPLE[:count], *more)


def demo(
    into: Path,
    apprentices: int = len(PEOPLE),
    seed: int = 1,
    progress: Progress = quiet,
    clock: Callable[[], datetime] = journal.now,
) -> Outcome:
    """Run an invented course in ``into`` from pack to score sheet.

    Parameters
    ----------
    into : Path
        The folder; ``course/`` in it becomes the course folder, ``apprentices/`` holds everybody's workbooks.
    apprentices : int, optional
        How many.
    seed : int, optional
        The same seed gives the same forms, answers and marks. Forms whose seed is known are no assessment: a real
        course draws a secret one.
    progress : callable, optional
        Told of each step.
    clock : callable, optional
        Returns the time with its time zone.

    Returns
    -------
    Outcome
        ``data`` says where the report is, and holds the results and the command that opens a workbook.

    Raises
    ------
    CourseError
        If the folder holds something else.
    """
    from trainkit_grading.intake.collect import collect
    from trainkit_grading.marking.mark import mark
    from trainkit_grading.release.assign import assign
    from trainkit_grading.release.build import build
    from trainkit_grading.reports.coordinator.report import write_coordinator_report as for_coordinator
    from trainkit_grading.reports.feedback import feedback
    from trainkit_grading.reports.instructor.report import write_instructor_report as for_instructor
    from trainkit_grading.reports.score_sheet import report

    folder = into.expanduser().absolute()
    plan = _Plan.of(folder, seed, apprentices, clock().astimezone(UTC))
    course = _course(folder / "course", plan)
    within = _steps(progress, (4 * len(course.modules) + 1) * apprentices)
    done: list[str] = []
    findings: list[Finding] = []
    told: dict[str, Any] = {}
    count, every = len(course.modules), counted(apprentices, "apprentice")
    # Of every third module nobody has said who watched.
    sittings = {entry.name: _sat(course, plan, at) for at, entry in enumerate(course.modules) if at % 3 != 1}
    fluent = frozenset(person.id for person in course.roster().apprentices if _is_fluent(person))
    rng = _stream(plan, "prompted")
    # What is done, and what is said of it where its own words are a line for each module.
    parts: tuple[tuple[Callable[[], Outcome], str | None], ...] = (
        (lambda: build(course, progress=within("drawing forms")), f"Forms of {count} modules are drawn for {every}."),
        # Before the first sitting, so that every simulated apprentice has the workbooks by then.
        (
            lambda: assign(course, progress=within("giving out"), clock=lambda: plan.morning(count + 5)),
            f"Workbooks are given out: a zip for each module and apprentice, in {course.zips}",
        ),
        (lambda: _answer(folder, course, plan, within("answering")), None),
        (lambda: _hand_in(folder, course, plan, late=False), None),
        (lambda: collect(course, clock=lambda: plan.morning(0) + timedelta(hours=8)), ""),
        (lambda: _hand_in(folder, course, plan, late=True), None),
        (lambda: collect(course, clock=lambda: plan.begun), ""),
        (lambda: staff.watch_sittings(course, sittings, plan.apprentices), None),
        (lambda: mark(course, progress=within("marking")), "What was handed in is collected and marked."),
        (lambda: staff.read_texts(course, fluent), None),
        (lambda: staff.observe_work(course, fluent, plan.morning(0) + timedelta(hours=4), rng), None),
        (
            lambda: feedback(course, zipped=True, progress=within("writing feedback"), clock=clock),
            f"Feedback is written: a page for each result, in {course.feedback}",
        ),
        (lambda: report(course, clock=clock), None),
        (lambda: for_instructor(course, clock=clock), None),
        (lambda: for_coordinator(course, clock=clock), None),
    )
    for part, words in parts:
        outcome = part()
        # Each report tells the same of what is to be looked at.
        findings += [finding for finding in outcome.findings if finding not in findings]
        done += outcome.done if words is None or not outcome.ok else filter(None, [words])
        told |= {} if "results" in told else outcome.data
        if not outcome.ok:
            return Outcome("demo", tuple(done), tuple(findings), "Mend what was refused, then give the command again.")
    opened = folder / "apprentices" / _last(course).id / course.modules[0].name
    command = f"{_program('trainkit')} open {_quoted(opened)}"
    return Outcome(
        "demo",
        tuple(done),
        tuple(findings),
        f"Open the score sheet in a browser: {course.report / 'index.html'}\n"
        f"Who is ready: {course.report / 'readiness.html'}  The class: {course.report / 'class.html'}\n"
        f"Open a workbook as {_last(course).name} does: {command}",
        {**told, "course": str(course.folder), "open": command},
    )


def _steps(progress: Progress, total: int) -> Callable[[str], Progress]:
    """Return what names a part and gives what it reports to: its progress becomes that of the whole."""
    done = itertools.count(1)
    return lambda what: lambda _, __, which: progress(min(total, next(done)), total, f"{what}: {which}")


def _course(folder: Path, plan: _Plan) -> Course:
    from trainkit_grading.release.init import create

    if not (folder / COURSE_FILE).exists():
        first, *others = modules.names()
        entries = [CourseModule(name=first, due=plan.due), *(CourseModule(name=name) for name in others)]
        (folder / "keys").mkdir(mode=0o700, parents=True, exist_ok=True)
        known = hashlib.sha256(f"saltmere demo {plan.seed}".encode()).hexdigest()
        write_atomically(folder / "keys" / "seed", known + "\n", mode=0o600)
        create(folder, "saltmere", _TITLE, entries, cohorts=_COHORTS)
    course = Course.load(folder)
    known_people = people(plan.apprentices)
    half = (len(known_people) + 1) // 2
    lines = ["apprentice,name,cohort"]
    lines += [f"{p.id},{p.name},{_COHORTS[place >= half].name}" for place, p in enumerate(known_people)]
    write_atomically(course.roster_file, "\n".join(lines) + "\n")
    return course


def _last(course: Course) -> Apprentice:
    return course.roster().apprentices[-1]


def _answer(folder: Path, course: Course, plan: _Plan, progress: Progress) -> Outcome:
    """Let everybody open their zips and answer."""
    cohort = _habits(plan)
    written = 0
    for number, person in enumerate(people(plan.apprentices), start=1):
        for place, entry in enumerate(course.modules):
            home = _unpacked(folder, course, entry, person)
            if _leaves_out(course, plan, person, entry):
                continue
            keys = generation.read_keys(course.key_file(entry.name, entry.attempt))
            forms = generation.read_forms(course.forms_file(entry.name, entry.attempt))
            if keys is None or forms is None:  # pragma: no cover - built a moment ago
                continue
            form = forms.of(person.id)
            sat = _sat(course, plan, place)
            if _is_late(course, plan, person, entry):
                sat = plan.due + timedelta(minutes=30)
            written += simulate.answer_form(
                home,
                form,
                keys.forms[form.code].keys,
                cohort[number - 1],
                f"saltmere/{plan.seed}",
                course=course.name,
                module=entry.name,
                apprentice=person.id,
                start=sat + timedelta(minutes=number % 240),
            )
        progress(number, plan.apprentices, person.name)
    return Outcome("answer", (f"{plan.apprentices} simulated apprentices have given {counted(written, 'answer')}.",))


def _sat(course: Course, plan: _Plan, place: int) -> datetime:
    """Return when a module was sat, by its place in the course: each on a working day of its own, in the morning."""
    return plan.morning(len(course.modules) - 1 - place)


def _habits(plan: _Plan) -> tuple[Habits, ...]:
    from trainkit.items.misconceptions import all_misconceptions

    drawn = simulate.cohort(plan.apprentices, sorted(all_misconceptions()), _stream(plan, "cohort"))
    fluent = simulate.Habits(skill=1.0, slip=0.0)
    return tuple(fluent if place in _FLUENT else habits for place, habits in enumerate(drawn))


def _stream(plan: _Plan, *labels: str) -> random.Random:
    return random.Random("/".join(("saltmere", str(plan.seed), *labels)))  # noqa: S311 - invented people, no secret


def _leaves_out(course: Course, plan: _Plan, person: Apprentice, entry: CourseModule) -> bool:
    """Tell whether somebody has not begun a module: a few, and the last one on the roster with the first module."""
    if person.id == _last(course).id and entry == course.modules[0]:
        return True
    if _is_fluent(person):
        return False
    return _stream(plan, "begins", person.id, entry.name).random() < 0.06


def _is_late(course: Course, plan: _Plan, person: Apprentice, entry: CourseModule) -> bool:
    late = _stream(plan, "late", person.id).random() < 0.15
    return entry == course.modules[0] and late and not _is_fluent(person)


def _is_fluent(person: Apprentice) -> bool:
    return person.id in {PEOPLE[place].id for place in _FLUENT}


def _unpacked(folder: Path, course: Course, entry: CourseModule, person: Apprentice) -> Path:
    """Unpack somebody's zip, as they would, unless it has been unpacked."""
    home = folder / "apprentices" / person.id
    target = home / entry.name
    if not target.is_dir():
        half = home / f".{entry.name}"
        shutil.rmtree(half, ignore_errors=True)
        with zipfile.ZipFile(course.zips / entry.name / f"{person.id}.zip") as archive:
            archive.extractall(half)  # made by this course a moment ago
        (half / entry.name).rename(target)
        half.rmdir()
    return target


def _hand_in(folder: Path, course: Course, plan: _Plan, *, late: bool) -> Outcome:
    """Let everybody make the hand-in file and drop it into the inbox: those in time, or those who are late."""
    for person in people(plan.apprentices):
        for entry in course.modules:
            home = folder / "apprentices" / person.id / entry.name
            if _is_late(course, plan, person, entry) == late and (home / journal.JOURNAL_FILE).is_file():
                made = handin.pack(home)
                write_atomically(course.inbox / made.name, made.read_bytes())
    return Outcome("hand-in")


def _program(name: str) -> str:
    """Return how a program of this environment is called from the user's shell."""
    own = Path(sysconfig.get_path("scripts")) / (f"{name}.exe" if os.name == "nt" else name)
    found = shutil.which(name)
    return name if found is not None and Path(found).resolve() == own.resolve() else _quoted(own)


def _quoted(path: Path) -> str:
    return subprocess.list2cmdline([str(path)]) if os.name == "nt" else shlex.quote(str(path))
