"""A submission is only data: everything in ``attacks`` is handed in at once, and marked as if nothing had been tried.

One course takes all of it in. It is marked twice, by ``nbgrader autograde`` and by ``trainkit-course mark``, each in a
copy of its own; what both left behind is looked through for secrets, changes, links, programs and processes.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import shutil
import sqlite3
import stat
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from trainkit.items.marking import mark as mark_item
from trainkit_grading.cli import simulate
from trainkit_grading.course.folder import Course
from trainkit_grading.intake.collect import collect
from trainkit_grading.support.files import LOCKS
from trainkit_grading.support.outcome import Outcome

from .attacks import ATTACKS, Attack, Given, Scene
from .attacks.zips import zipped
from .makers import COLLECTED, COMMAND, MODULE, Bench, beside_nbgrader, form_of, found, keys_of, marks_of

pytestmark = pytest.mark.skipif(os.name == "nt", reason="links and pipes need special rights on Windows")

# First, amid and last among all names.
HONEST = ("a-honest-one", "honest-b", "zz-honest-one")
EVERYBODY = (*HONEST, *(attack.name for attack in ATTACKS))
BY_NAME = pytest.mark.parametrize("attack", ATTACKS, ids=lambda attack: attack.name)
WAYS = pytest.mark.parametrize("way", ["nbgrader", "trainkit"])


@dataclass(frozen=True)
class Marked:
    """One copy of the course after it was marked."""

    course: Course
    said: str
    status: int
    before: dict[str, str]
    after: dict[str, str]
    marks: dict[str, dict[str, float | None]]
    expected: dict[str, dict[str, float]]
    told: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Tried:
    """Everything that came of it."""

    outcome: Outcome
    token: str
    nbgrader: Marked
    trainkit: Marked
    left_running: tuple[str, ...]
    log: tuple[dict[str, Any], ...]


def files(folder: Path) -> Iterator[Path]:
    """Yield everything under a folder, however deep, without following a link."""
    left = [folder]
    while left:
        here = left.pop()
        yield here
        if stat.S_ISDIR(here.lstat().st_mode):
            left += [Path(here, name) for name in os.listdir(here)]  # noqa: PTH208 - of bytes that are no text, too


def tree(*folders: Path) -> dict[str, str]:
    """Return what everything under the folders is and holds."""
    held = {}
    for path in (path for folder in folders for path in files(folder)):
        met = path.lstat()
        what = f"{met.st_mode:o} {met.st_size if stat.S_ISREG(met.st_mode) else ''} "
        if stat.S_ISLNK(met.st_mode):
            what += os.readlink(path)  # noqa: PTH115 - it may be no text
        elif stat.S_ISREG(met.st_mode) and met.st_size < 50_000_000:
            what += hashlib.sha256(path.read_bytes()).hexdigest()
        held[str(path)] = what
    return held


def expected(course: Course, given: Mapping[str, Given]) -> dict[str, dict[str, float]]:
    """Return the marks of each person that follow from item, key and response alone."""
    due = {}
    for person, answers in given.items():
        form = form_of(course, person)
        known = keys_of(course, form.code)
        due[person] = {
            entry.id: mark_item(entry.item, known[entry.id], answers[entry.id]).points if entry.id in answers else 0.0
            for entry in form.items
        }
    return due


class Stage:
    """The course before anything is handed in, and where each thing lies in a copy of it."""

    def __init__(self, home: Path, token: str) -> None:
        self.home = home
        self.outside = home / "outside"
        self.outside.mkdir()
        self.secret = self.outside / "secret.txt"
        self.secret.write_text(f"{token}\n", "utf-8")
        made = found(home / "first" / "the course")
        made.write_roster(tuple((name, name) for name in EVERYBODY))
        made.give_out()
        # Secrets of the course itself; whatever shows one of these has read what it may not.
        (made.course.keys / "canary.txt").write_text(token, "utf-8")
        self.bench = made
        self.parts = self._parts(made)

    def _parts(self, made: Bench) -> dict[str, dict[str, bytes]]:
        parts = {}
        for person in EVERYBODY:
            folder = made.simulate(person, self.home / "homes" / person, simulate.Habits(skill=0.6))
            parts[person] = {name: (folder / name).read_bytes() for name in ("answers.jsonl", "identity.json")}
        return parts

    def scene(self, course: Course, person: str) -> Scene:
        lines = tuple(json.loads(line) for line in self.parts[person]["answers.jsonl"].splitlines())
        return Scene(
            apprentice=person,
            course=course.name,
            module=MODULE,
            form=lines[0]["form"],
            folder=course.submitted / person / MODULE,
            parts=self.parts[person],
            lines=lines,
            secret=self.secret,
            outside=self.outside,
            victim=course.submitted / HONEST[1] / MODULE,
            theirs=self.parts[HONEST[1]]["answers.jsonl"],
            gradebook=course.gradebook,
        )

    def hand_in(self) -> None:
        """Drop everybody's zip into the inbox."""
        course = self.bench.course
        for person in HONEST:
            (course.inbox / f"{person}.zip").write_bytes(zipped(self.parts[person]))
        for attack in ATTACKS:
            scene = self.scene(course, attack.name)
            parts = dict(scene.parts)
            if attack.write is not None:
                parts["answers.jsonl"] = attack.write(scene)
            content = attack.pack(scene) if attack.pack is not None else zipped(parts)
            (course.inbox / f"{attack.name}.zip").write_bytes(content)

    def copy(self, name: str) -> tuple[Course, dict[str, Scene]]:
        """Copy the course, and do to what lies under ``submitted/`` what nobody should be able to."""
        course = Course.load(shutil.copytree(self.bench.course.folder, self.home / name / "the course"))
        scenes = {attack.name: self.scene(course, attack.name) for attack in ATTACKS}
        for attack in ATTACKS:
            scene = scenes[attack.name]
            if attack.write is not None and not scene.folder.exists():
                # The collector refused it; this is what marking does to it where it came in another way.
                shutil.copytree(scene.victim, scene.folder)
                (scene.folder / "answers.jsonl").write_bytes(attack.write(scene))
            if attack.lay is not None:
                attack.lay(scene)
        return course, scenes


def running(trace: str) -> tuple[str, ...]:
    """Return the commands of all processes that still carry a mark, where the system can tell."""
    found = []
    for path in Path("/proc").glob("[0-9]*"):
        try:
            if trace.encode() in (path / "environ").read_bytes():
                found.append((path / "cmdline").read_text(errors="replace"))
        except OSError:
            continue
    return tuple(found)


def marked(stage: Stage, way: str, trace: str) -> Marked:
    course, scenes = stage.copy(way)
    home = stage.home / "instructor"
    everything = [stage.outside, home, course.folder]
    given = {attack.name: attack.counts(scenes[attack.name]) for attack in ATTACKS}
    given |= {person: stage.scene(course, person).honest for person in HONEST}
    wanted = expected(course, given)
    before = tree(*everything)
    told = {}
    # As an instructor does it; the trace marks everything that is started.
    as_instructor = partial(beside_nbgrader, course, HOME=str(home), TRAINKIT_TRACE=trace)
    if way == "nbgrader":
        done = as_instructor("nbgrader", "autograde", MODULE)
    else:
        done = as_instructor(*COMMAND, "mark", "--json")
        told = json.loads(done.stdout or "{}")
        sheet = as_instructor(*COMMAND, "report")
        done.stderr += sheet.stdout + sheet.stderr
    said = done.stdout + done.stderr
    return Marked(course, said, done.returncode, before, tree(*everything), marks_of(course), wanted, told)


@pytest.fixture(scope="module")
def tried(tmp_path_factory: pytest.TempPathFactory) -> Tried:
    """Everything handed in, collected once, and marked in both ways."""
    home = tmp_path_factory.mktemp("attacks")
    token, trace = f"canary-{secrets.token_hex(16)}", f"trace-{secrets.token_hex(16)}"
    (home / "instructor" / ".ssh").mkdir(parents=True)
    (home / "instructor" / ".ssh" / "id").write_text(token, "utf-8")
    stage = Stage(home, token)
    stage.hand_in()
    outcome = collect(stage.bench.course, clock=lambda: COLLECTED)
    log = [json.loads(line) for line in stage.bench.course.arrivals_log.read_text("utf-8").splitlines()]
    theirs, ours = (marked(stage, way, trace) for way in ("nbgrader", "trainkit"))
    time.sleep(0.2)
    return Tried(outcome, token, theirs, ours, running(trace), tuple(log))


def of(tried: Tried, way: str) -> Marked:
    return tried.nbgrader if way == "nbgrader" else tried.trainkit


# ---- on the way in


@BY_NAME
def test_the_collector_takes_it_or_says_why_not(tried: Tried, attack: Attack) -> None:
    place = f"inbox/{attack.name}.zip"
    said = [f.text for f in tried.outcome.findings if f.severity == "refused" and f.place.startswith(place)]
    taken = [entry for entry in tried.outcome.data["taken"] if entry["apprentice"] == attack.name]
    if attack.refused:
        assert any(attack.refused in text for text in said), said
        assert not taken
    else:
        assert not said
        assert len(taken) == 1
    # Who, when and what stands in the course's own record, too.
    kept = [e for e in tried.log if e.get("apprentice") == attack.name or e.get("refused", "").startswith(place)]
    assert kept
    assert all(entry.get("at") or entry.get("collected") for entry in kept)
    assert {entry["reason"] for entry in kept if "refused" in entry} == set(said)


def test_everybody_honest_is_taken(tried: Tried) -> None:
    taken = {entry["apprentice"] for entry in tried.outcome.data["taken"]}
    assert taken >= set(HONEST)
    assert taken == {*HONEST, *(attack.name for attack in ATTACKS if not attack.refused)}


# ---- marks


@WAYS
@BY_NAME
def test_the_mark_is_that_of_the_journal(tried: Tried, attack: Attack, way: str) -> None:
    done = of(tried, way)
    if attack.refused and attack.write is None:
        assert attack.name not in done.marks
    else:
        assert done.marks[attack.name] == done.expected[attack.name]


@WAYS
def test_everybody_honest_is_marked_as_ever(tried: Tried, way: str) -> None:
    done = of(tried, way)
    for person in HONEST:
        assert done.marks[person] == done.expected[person]
    assert sum(sum(points.values()) for points in done.expected.values()) > 0
    assert done.status == 0, done.said[-3000:]


@BY_NAME
def test_what_a_person_should_look_at_is_flagged(tried: Tried, attack: Attack) -> None:
    if attack.flagged:
        (entry,) = (one for one in tried.trainkit.told["submissions"] if one["apprentice"] == attack.name)
        assert attack.flagged in {flag["kind"] for flag in entry["flags"]}


def test_an_attack_that_needs_no_flag_raises_none(tried: Tried) -> None:
    """What is flagged is what the data above says, and no honest hand-in is."""
    for entry in tried.trainkit.told["submissions"]:
        if entry["apprentice"] in HONEST:
            # Whoever is copied is asked, too; nothing else is said of them.
            copied = entry["apprentice"] == HONEST[1]
            assert [flag for flag in entry["flags"] if not (copied and flag["kind"] == "history")] == []


# ---- what is left behind


@WAYS
def test_nothing_outside_changes(tried: Tried, way: str) -> None:
    done = of(tried, way)
    allowed = tuple(
        str(done.course.folder / name)
        for name in ("autograded", "gradebook.db", "report", "keys/proven.json", *LOCKS, ".trainkit-work")
    )
    touched = {
        path
        for path in {*done.before, *done.after}
        if done.before.get(path) != done.after.get(path) and not path.startswith(allowed)
    }
    assert touched == set()


@WAYS
def test_nothing_outside_is_read(tried: Tried, way: str) -> None:
    done = of(tried, way)
    word = tried.token.encode()
    seed = done.course.seed().secret.hex().encode()
    fresh = [path for path in files(done.course.folder) if not path.is_relative_to(done.course.submitted)]
    for path in fresh:
        if path.is_file() and not path.is_symlink() and not path.is_relative_to(done.course.keys):
            content = path.read_bytes()
            assert word not in content, path
            assert seed not in content, path
    assert tried.token not in done.said
    with sqlite3.connect(done.course.gradebook) as connection:
        assert tried.token not in "\n".join(connection.iterdump())


@WAYS
def test_nothing_is_left_but_plain_notebooks(tried: Tried, way: str) -> None:
    done = of(tried, way)
    for path in files(done.course.autograded):
        assert path.is_dir() or (stat.S_ISREG(path.lstat().st_mode) and path.lstat().st_nlink == 1), path
        assert path.name in {"autograded", MODULE, f"{MODULE}.ipynb", *done.marks} | {
            *("timestamp.txt", "submission_secret.txt", "answers.jsonl", "forms.json")
        }, path


def test_no_process_is_left(tried: Tried) -> None:
    assert tried.left_running == ()


@WAYS
def test_no_terminal_is_steered(tried: Tried, way: str) -> None:
    said = of(tried, way).said
    assert not {sign for sign in said if sign in "\x07\x08\x1b\x9b\u202e" or "\ud800" <= sign <= "\udfff"}


def test_both_ways_say_the_same(tried: Tried) -> None:
    assert tried.nbgrader.marks == tried.trainkit.marks


def test_there_are_attacks_of_every_class() -> None:
    assert len(ATTACKS) >= 200
    assert len({attack.name for attack in ATTACKS}) == len(ATTACKS)
    assert all(attack.tries.endswith((".", "!")) for attack in ATTACKS)
    for way in ("lay", "write", "pack"):
        assert sum(getattr(attack, way) is not None for attack in ATTACKS) > 30
