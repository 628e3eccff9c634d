"""What the system refuses is one sentence with the remedy: no traceback, whatever the command, and nothing is lost."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import text
from typer.testing import CliRunner

from trainkit_grading.cli import app
from trainkit_grading.course.folder import Course
from trainkit_grading.errors import PaperError, SignOffError
from trainkit_grading.intake.collect import collect
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.paper.medium import Paper, paper_of, path_of
from trainkit_grading.reports.exports.export import export
from trainkit_grading.reports.score_sheet import report
from trainkit_grading.reports.status import status
from trainkit_grading.signoff.checklists import Checklist
from trainkit_grading.support import database
from trainkit_grading.support.files import held

from . import disks
from .makers import COLLECTED, COMMAND, FIRST, MODULE, ON_BOTH, SECOND, THIRD, Bench, refused, tree
from .signing import pack_sheet

SESSION = "session bench-order --invigilator Ann --room R1 --from 2027-03-01T08:00 --to 2027-03-01T09:00"
# Every command that writes into a course, and those that only look.
WRITING = (
    *("assign", "collect", "feedback", "report", "report --for instructor", "report --for coordinator"),
    *("export", "export --as xlsx", "archive", "answers bench-order --apprentice amir --html", SESSION),
    *("forget amir --why left --yes", "checklist --pack dunlin", "appeal amir bench-order --why please"),
    *("new other --defaults", "pack-out dunlin dunlin.xlsx"),
)
LOOKING = ("status", "ledger", "ledger --open", "verify", "answers bench-order --apprentice amir")


@pytest.fixture(scope="module")
def of_two(_given_out: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("marked")
    bench = Bench(Course.load(shutil.copytree(_given_out, home / "course")))
    bench.take_in(home, FIRST, SECOND)
    assert mark(bench.course).ok
    bench.hand_in(THIRD, home / "later")
    return bench.course.folder


@pytest.fixture
def marked(of_two: Path, tmp_path: Path) -> Course:
    """A course with marks of two, and a hand-in of a third that was not collected yet."""
    return Course.load(shutil.copytree(of_two, tmp_path / "course"))


@pytest.fixture(scope="module")
def disk(of_two: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[disks.Disk]:
    """A disk of its own with this course on it."""
    if not disks.possible():
        pytest.skip("This system lets nobody have a disk of their own for a moment.")
    with disks.Disk(tmp_path_factory.mktemp("disk"), of_two) as made:
        yield made


def arrivals(disk: disks.Disk) -> list[str]:
    found: list[str] = disk.order(tree="arrivals")
    return found


@pytest.mark.parametrize("words", WRITING)
def test_a_full_disk(disk: disks.Disk, words: str) -> None:
    """Refused in a sentence, and once there is room the same command does it."""
    disk.order(afresh=True)
    before = arrivals(disk)
    status, said = disk.run(*words.split(), free=0)
    assert "Traceback" not in said
    assert (status, said.count("✗")) == (1, 1), said
    assert "The disk is full" in said
    assert "Then give the same command again." in said
    assert "ENOSPC" not in said
    assert "Errno" not in said
    # What was acknowledged is there, and nothing half written.
    assert arrivals(disk) == before
    assert disk.run("verify")[0] == 0
    status, said = disk.run(*words.split())
    assert (status, "✗" in said) == (0, False), said
    assert not [name for name in disk.order(tree=".") if ".tmp" in name or "trainkit-work" in name]


@pytest.mark.parametrize("words", [*WRITING, "build", "mark", "preview bench-order --folder", "demo --into demo"])
def test_a_disk_that_can_only_be_read(disk: disks.Disk, words: str) -> None:
    disk.order(afresh=True)
    status, said = disk.run(*words.split(), readonly=True)
    assert "Traceback" not in said
    assert (status, said.count("✗")) == (1, 1), said
    assert "can only be read" in said
    assert "Allow writing" in said


@pytest.mark.parametrize("words", LOOKING)
def test_who_only_looks_needs_no_room_and_no_right_to_write(disk: disks.Disk, words: str) -> None:
    disk.order(afresh=True)
    for how in ({"free": 0}, {"readonly": True}):
        status, said = disk.run(*words.split(), **how)
        assert (status, "✗" in said) == (0, False), said


def test_marking_on_a_disk_that_fills_up(disk: disks.Disk) -> None:
    """Each step that finds no room leaves what there was; with room it all comes to its end."""
    disk.order(afresh=True)
    for free in (0, 4096, 16_384, 65_536, 131_072):
        for words in ("collect", "mark"):
            status, said = disk.run(words, free=free)
            assert "Traceback" not in said
            assert status == ("✗" in said), said
            assert said.count("✗") <= 1, said
            assert disk.run("verify")[0] == 0
    assert disk.run("collect")[0] == disk.run("mark")[0] == 0
    assert "3 submissions marked" in disk.run("mark")[1]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="Only some systems have a disk that is always full.")
def test_output_that_cannot_be_written(marked: Course) -> None:
    with Path("/dev/full").open("w") as full:
        words = [*COMMAND, "ledger", "--course", str(marked.folder)]
        done = subprocess.run(words, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 1
    assert "The disk is full" in done.stderr
    assert "Traceback" not in done.stderr
    assert "Exception" not in done.stderr


def edited(path: str, change: Callable[[bytes], bytes]) -> Callable[[Path], None]:
    def edit(course: Path) -> None:
        for file in course.glob(path):
            before = file.read_bytes()
            file.write_bytes(change(before))
            assert file.read_bytes() != before

    return edit


def in_place_of(path: str) -> Callable[[Path], None]:
    def swap(course: Path) -> None:
        (course / path).unlink()
        (course / path).mkdir()

    return swap


def later(content: bytes) -> bytes:
    return re.sub(rb'("?format"? ?[:=] ?)\d+', rb"\g<1>9", content, count=1)


def ledger_of_a_later_release(course: Path) -> None:
    with sqlite3.connect(course / "gradebook.db") as connection:
        connection.execute("UPDATE trainkit_version SET version_num = '9999'")


NEWER = r"has format 9, and this release of trainkit reads .*Install the release"
STATES = {
    "settings in another encoding": (
        edited("course.toml", lambda was: was.replace(b"Saltmere", b"Saltm\xe8re")),
        r"course.toml line \d+: The settings are text in UTF-8, and this line is not\. Save the file again as UTF-8\.",
    ),
    "a folder for settings": (in_place_of("course.toml"), r"course.toml': Something else lies in this place.*Move it"),
    "settings of a later release": (edited("course.toml", later), f"format: The file {NEWER}"),
    "a day for a title": (
        edited("course.toml", lambda was: was.replace(b'"Saltmere"', b"2027-04-01T16:00:00Z")),
        r"title: 2027-04-01T16:00:00\+00:00: The title has 1 to 120 characters",
    ),
    "a time without a zone": (
        edited("course.toml", lambda was: was.replace(b"[[modules]]", b"[[modules]]\ndue = 2027-04-01T16:00:00")),
        r"due: 2027-04-01T16:00:00: A due date has a date, a time and a zone",
    ),
    "a roster in another encoding": (
        edited("roster.csv", lambda was: was + b"x,M\xfcller\n"),
        r"save it as “CSV UTF-8”",
    ),
    "a folder for a roster": (in_place_of("roster.csv"), r"roster.csv': Something else lies in this place"),
    "a torn seed": (edited("keys/seed", lambda _: b"\xff\xfe"), r"64 hexadecimal digits\. Fetch it from your backup"),
    "keys of a later release": (edited("keys/*/*.jsonl", later), NEWER),
    "forms of a later release": (edited("forms/*/*.jsonl", later), NEWER),
    "a ledger of a later release": (
        ledger_of_a_later_release,
        r"Install the version of trainkit-grading that has marked",
    ),
    "no gradebook": (lambda at: (at / "gradebook.db").unlink(), r"the gradebook is not there\. Put .*backup here"),
    "an empty gradebook": (edited("gradebook.db", lambda _: b""), r"the gradebook is not there\. Put .*backup here"),
    "no gradebook at all": (
        edited("gradebook.db", lambda _: b"x" * 9000),
        r"damaged.*gradebook.db of your latest backup",
    ),
    "half a gradebook": (
        edited("gradebook.db", lambda was: was[:9000]),
        r"damaged.*gradebook.db of your latest backup",
    ),
}
COMMANDS = ("feedback", "report --for instructor", "status", SESSION, "forget amir --why left --yes", "archive")


@pytest.mark.parametrize("state", STATES)
def test_a_course_that_was_damaged(marked: Course, state: str) -> None:
    damage, expected = STATES[state]
    damage(marked.folder)
    kept = tree(marked.folder)
    met = 0
    for words in COMMANDS:
        done = CliRunner().invoke(app, [*words.split(), "--course", str(marked.folder)])
        assert done.exception is None or isinstance(done.exception, SystemExit), (words, done.exception)
        assert not re.search(r"datetime\.|codec|Errno|\[type=|Input should be", done.output), (words, done.output)
        if done.exit_code:
            assert done.output.count("✗") == 1, done.output
            assert re.search(expected, done.output, re.DOTALL), (words, done.output)
            met += 1
    assert met >= 2, "What is damaged is met by nobody."
    # Nothing was made up for what is missing.
    assert tree(marked.folder).get("gradebook.db") == kept.get("gradebook.db") or "gradebook" not in state


def test_a_checklist_and_a_record_on_paper_of_a_later_release(marked: Course) -> None:
    written = pack_sheet(marked).to_text()
    assert Checklist.from_text(written, "sheet.json").to_text() == written
    with pytest.raises(SignOffError, match=NEWER):
        Checklist.from_text(later(written.encode()).decode(), "sheet.json")
    now = datetime(2027, 3, 1, 8, tzinfo=UTC)
    told = Paper(
        form="AB12",
        module=MODULE,
        apprentice=FIRST,
        attempt=1,
        begin=now,
        end=now,
        typed=("Ann", "Bo"),
        passes=("a", "b"),
        journal="c",
    )
    path = path_of(marked, told.form)
    path.parent.mkdir(exist_ok=True)
    path.write_text(told.model_dump_json(), "utf-8")
    assert paper_of(marked, told.form) == told
    path.write_bytes(later(path.read_bytes()))
    with pytest.raises(PaperError, match=NEWER):
        paper_of(marked, told.form)


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="Only an administrator can be somebody else.")
@pytest.mark.parametrize("name", ["course.toml", "roster.csv", "gradebook.db", ""])
def test_what_this_account_may_not_read_or_write(of_two: Path, name: str) -> None:
    with tempfile.TemporaryDirectory() as home:
        Path(home).chmod(0o755)
        folder = Path(shutil.copytree(of_two, Path(home) / "course"))
        for path in (folder, *folder.rglob("*")):
            path.chmod(0o755 if path.is_dir() else 0o644)
        words = ["report", "--course", str(folder)]
        for path in (folder / "keys", *folder.joinpath("keys").rglob("*")):
            path.chmod(0o700 if path.is_dir() else 0o600)
            os.chown(path, 65534, -1)
        loaded = CliRunner().invoke(app, words)  # so that all of the program is there
        assert loaded.exit_code == 0, loaded.output
        if name:
            (folder / name).chmod(0o600)
        os.seteuid(65534)
        try:
            done = CliRunner().invoke(app, words)
        finally:
            os.seteuid(0)
    assert isinstance(done.exception, SystemExit), done.exception
    assert (done.exit_code, done.output.count("✗")) == (1, 1)
    assert "Your account may not read or write this" in done.output
    assert f"course/{name}'" in done.output if name else "course'" in done.output


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> float:
    """How many seconds a database is waited for."""
    monkeypatch.setattr(database, "_WAIT_SECONDS", 1)
    return 1.0


@ON_BOTH
def test_a_locked_database_is_waited_for_once(given_out: Bench, tmp_path: Path, where: str, impatient: float) -> None:
    """However many modules are to be marked, and what was refused is told once."""
    course = given_out.take_in(tmp_path, FIRST)
    assert mark(course).ok
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        if where == "postgresql":
            connection.execute(text("LOCK TABLE trainkit_head, trainkit_entry IN ACCESS EXCLUSIVE MODE"))
        begun = time.monotonic()
        outcome = mark(course, [MODULE] * 4)
        seconds = time.monotonic() - begun
    assert "Somebody else has been using the database" in refused(outcome)
    assert "Wait until they are done" in refused(outcome)
    assert len(outcome.findings) == 1
    assert seconds < 3 * impatient
    assert mark(course, [MODULE] * 4).ok


@ON_BOTH
@pytest.mark.usefixtures("where", "impatient")
def test_who_reads_is_not_refused_while_others_mark(given_out: Bench, tmp_path: Path) -> None:
    """Marking holds the folder, and has changed more than a database keeps in memory by itself."""
    course = given_out.take_in(tmp_path, FIRST, SECOND)
    assert mark(course).ok
    with (
        held(course.folder),
        gradebook.opened(course, "BEGIN IMMEDIATE") as engine,
        engine.begin() as connection,
    ):
        connection.execute(text("CREATE TABLE much (more VARCHAR(20000))"))
        for _ in range(400):
            connection.execute(text("INSERT INTO much VALUES (:more)"), {"more": "x" * 20_000})
        assert status(course).ok
        assert report(course).ok
        assert export(course).ok
        connection.rollback()
    assert collect(course, clock=lambda: COLLECTED).ok
