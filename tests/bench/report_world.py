"""A course with so many apprentices that a report on it is worth timing: ledger and gradebook, no hand-ins in folders.

Forms and keys of a few apprentices are real; answers to them are simulated, again and again, and marked by the
product's own code. What that gives goes into the ledger and the gradebook as marking writes it, under the names of
everybody. Several of the people so have the same form, under codes of their own, and different answers.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.bench.marking_world import without_waiting_for_the_disk
from trainkit import modules as shipped
from trainkit.items.facts import met_by_chance
from trainkit.items.marking import mark, no_answer, waiting
from trainkit.items.misconceptions import all_misconceptions
from trainkit_grading.cli import simulate
from trainkit_grading.course.folder import Course, CourseModule
from trainkit_grading.forms import generation
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record import sessions
from trainkit_grading.record.marked_entry import entry_of
from trainkit_grading.record.marked_submission import MarkedItem, MarkedSubmission
from trainkit_grading.record.to_mark import ModuleToMark
from trainkit_grading.record.write import Recorder
from trainkit_grading.release import init
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build

BEGUN = datetime(2027, 3, 1, 8)
FORMS = 24  # drawn for each module; everybody has one of these
COHORTS = ("north", "south", "west")
_AT_ONCE = 500


@dataclass(frozen=True)
class World:
    """A course with marks."""

    course: Course
    people: tuple[str, ...]
    marks: int


def make(folder: Path, people: int, seed: int, more: str = "") -> World:
    """Make a course of so many apprentices in all shipped modules; ``more`` is added to its ``course.toml``."""
    course = init.create(folder, "saltmere", "Saltmere", [CourseModule(name=name) for name in shipped.names()])
    tables = "".join(f'\n[[cohorts]]\nname = "{name}"\ntitle = "{name.title()}"\n' for name in COHORTS)
    course.file.write_text(course.file.read_text("utf-8") + tables + more, "utf-8")
    names = tuple(f"p{number:05d}" for number in range(people))
    _roster(course, names[:FORMS])
    for step in (build, assign):
        done = step(Course.load(folder))
        if not done.ok:
            raise SystemExit(f"The bench could not make its course: {done.findings}")
    _roster(course, names)
    course = Course.load(folder)
    cohort = simulate.cohort(people, sorted(all_misconceptions()), random.Random(f"cohort {seed}"))
    count = 0
    for entry in course.modules:
        count += _mark(course, entry.name, names, cohort, seed)
        begin = (BEGUN - timedelta(days=1)).replace(tzinfo=UTC)
        for day in range(3):
            at = begin + timedelta(days=day)
            sessions.watch(course, sessions.Session(entry.name, "P. Tidewell", "Bay 2", at, at + timedelta(hours=11)))
    return World(course, names, count)


def _roster(course: Course, names: Sequence[str]) -> None:
    lines = (f"{name},{name},{COHORTS[place % len(COHORTS)]}\n" for place, name in enumerate(names))
    course.roster_file.write_text("apprentice,name,cohort\n" + "".join(lines), "utf-8")


def _mark(course: Course, module: str, names: Sequence[str], cohort: Sequence[simulate.Habits], seed: int) -> int:
    entries = _answered(course, module, names, cohort, seed)
    count = 0
    some: list[Marked] = []
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        recorder = Recorder(connection, ModuleToMark.of(course, module))
        for entry in entries:
            some.append(entry)
            count += len(entry.marks)
            if len(some) == _AT_ONCE:
                recorder.take([(one,) for one in some], lambda *_: True)  # all of them are the first
                some = []
        recorder.take([(one,) for one in some], lambda *_: True)  # all of them are the first
    return count


def _answered(
    course: Course, module: str, names: Sequence[str], cohort: Sequence[simulate.Habits], seed: int
) -> Iterator[Marked]:
    """Yield the marks of everybody; one in twenty has not handed in."""
    forms = generation.read_forms(course.forms_file(module, 1))
    keys = generation.read_keys(course.key_file(module, 1))
    assert forms is not None
    assert keys is not None
    planned = {item.id: item for item in keys.plan}
    shown = [(form, keys.forms[form.code].keys) for form in forms.forms]
    could = {
        (form.code, of.id): () if of.item.kind == "actions" else tuple(sorted(met_by_chance(of.item, own[of.id])))
        for form, own in shown
        for of in form.items
    }
    for place, (name, habits) in enumerate(zip(names, cohort, strict=True)):
        rng = random.Random(f"{seed}/{module}/{name}")
        if rng.random() < 0.05:
            continue
        form, own = shown[place % len(shown)]
        at = BEGUN + timedelta(seconds=rng.randint(0, 9 * 3600))
        items = []
        for of in form.items:
            if of.item.kind == "observed":
                items.append(MarkedItem(of.id, of.item, None, "", waiting(of.item, "A person watches this.")))
                continue
            given = simulate.answer(of.item, own[of.id], habits, rng)
            at += timedelta(seconds=rng.randint(20, 140))
            got = no_answer(of.item) if given is None else mark(of.item, own[of.id], given)
            plan = planned[of.id]
            items.append(
                MarkedItem(
                    of.id,
                    of.item,
                    given,
                    at.isoformat(timespec="milliseconds") + "Z",
                    got,
                    plan.critical,
                    plan.template,
                    "",
                    could[form.code, of.id],
                )
            )
        code = f"{form.code}-{place:05d}"[:16]
        scored = MarkedSubmission(module, name, 1, code, tuple(items), journal=rng.randbytes(32).hex(), arrived=at)
        yield entry_of(scored)


if __name__ == "__main__":
    with without_waiting_for_the_disk():
        world = make(Path(sys.argv[1]), int(sys.argv[2]), 20270301, sys.argv[3] if len(sys.argv) > 3 else "")
    print(f"{len(world.people)} people, {world.marks} marks in {world.course.folder}")
