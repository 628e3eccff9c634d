"""Who may open a course folder on this computer, and what in it is somebody's alone."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from trainkit.forms import person_digest
from trainkit_grading.course.folder import Course
from trainkit_grading.course.seeds import Seed
from trainkit_grading.errors import CourseError, SeedError
from trainkit_grading.intake.collect import collect
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import steps
from trainkit_grading.release import init
from trainkit_grading.release.assign import assign
from trainkit_grading.release.check import check
from trainkit_grading.reports.status import status
from trainkit_grading.support.outcome import Finding, Outcome

from .accounts import AS_ROOT, POSIX, log_in
from .attacks.zips import zipped
from .makers import (
    ANSWERED,
    COLLECTED,
    FIRST,
    GIVEN_OUT,
    MODULE,
    Bench,
    Run,
    edited,
    entries,
    form_in,
    forms_in,
    journal_in,
    laid,
    nbgrader,
    set_to,
    some_response,
    tree,
)

pytestmark = POSIX


def permissions(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def told(outcome: Outcome, course: Course) -> list[Finding]:
    """Return what is said of the course folder itself."""
    return [finding for finding in outcome.findings if finding.place == str(course.folder)]


def test_a_new_course_is_its_owners_alone(tmp_path: Path) -> None:
    there = tmp_path / "there"
    there.mkdir()
    there.chmod(0o755)
    for folder in (tmp_path / "new", there):
        course = init.create(folder, "winter")
        assert (course.access, permissions(folder)) == ("private", 0o700)
        assert Course.load(folder).access == "private"


def test_zips_with_personal_codes_are_their_owners_alone(assigned: Bench) -> None:
    assert permissions(assigned.course.folder) == 0o700
    zips = sorted(assigned.course.zips.glob("*/*.zip"))
    assert len(zips) == 3
    assert {permissions(path) for path in zips} == {0o600}
    # A course of before: the same bytes are not written again, but they are closed.
    for path in zips:
        path.chmod(0o644)
    before = tree(assigned.course.zips)
    assert assign(assigned.course, [MODULE], clock=lambda: GIVEN_OUT).ok
    assert {permissions(path) for path in zips} == {0o600}
    assert tree(assigned.course.zips) == before


def test_an_open_course_of_before_is_told_of_with_the_command_that_closes_it(assigned: Bench, tmp_path: Path) -> None:
    assigned.take_in(tmp_path, FIRST)
    course = edited(assigned.course, ('access = "private"\n', ""))
    for path in (course.folder, *course.folder.rglob("*")):
        if not path.is_relative_to(course.keys):
            path.chmod(0o755 if path.is_dir() else 0o644)
    for outcome in (check(course.folder), status(course)):
        (finding,) = told(outcome, course)
        assert finding.severity == "warning"
        for what in ("zips with personal codes", "submitted hand-ins", "hand-ins that were kept"):
            assert what in finding.text
    command = finding.text.partition("Close it: ")[2].partition(". If")[0]
    subprocess.run(command, shell=True, check=True)  # noqa: S602 - as a person would give it
    assert permissions(course.folder) == 0o700
    for outcome in (check(course.folder), status(course)):
        assert told(outcome, course) == []
    # Of a folder in which nothing is, nothing is said but that.
    empty = init.create(tmp_path / "empty", "winter")
    empty.folder.chmod(0o711)
    (finding,) = told(check(empty.folder), empty)
    assert "can open this folder. Close it: chmod 700" in finding.text


def test_a_shared_disk_in_the_course_folder_is_told_of(assigned: Bench) -> None:
    (assigned.course.folder / "disk").mkdir()
    course = set_to(assigned.course, root='"disk"')
    assert any("which no apprentice can open" in finding.text for finding in check(course.folder).findings)


def test_who_may_open_a_course_is_one_of_two_words(tmp_path: Path) -> None:
    with pytest.raises(CourseError, match='"private" or "group"'):
        init.create(tmp_path / "c", "winter", access="everybody")


@pytest.fixture
def in_reach() -> Iterator[Path]:
    """A folder that every account can get to; those of pytest are closed."""
    with tempfile.TemporaryDirectory() as home:
        Path(home).chmod(0o755)
        yield Path(home)


def test_a_course_that_a_group_shares(command: Run, in_reach: Path) -> None:
    folder = in_reach / "course"
    command("new", folder, "--defaults", "--access", "group", "--module", "torque-units")
    course = Course.load(folder)
    assert course.access == "group"
    folder.joinpath("roster.csv").write_text("apprentice,name\namir,Amir Shah\n", "utf-8")
    command("build", "--course", folder)
    command("assign", "--course", folder)
    everything = [folder, *folder.rglob("*")]
    assert permissions(folder) == 0o2770
    assert {path for path in everything if path.is_dir() and permissions(path) & 0o2070 != 0o2070} == set()
    in_place = {folder / name for name in ("gradebook.db", "keys/seed", "course.toml", ".trainkit-lock")}
    assert in_place <= set(everything)
    assert {path for path in in_place if permissions(path) & 0o060 != 0o060} == set()
    assert told(check(folder), course) == []
    assert steps.configuration(course).CourseDirectory.groupshared is True
    # Without the group the keys are refused, and check says how the folder is opened to it again.
    folder.chmod(0o700)
    with pytest.raises(SeedError, match="the group that shares the course"):
        Seed.read(course.seed_file)
    (finding,) = told(check(folder), course)
    assert "The group cannot work in this folder" in finding.text
    command_text = finding.text.partition("to the group: ")[2]
    subprocess.run(command_text, shell=True, check=True)  # noqa: S602 - as a person would give it
    assert told(check(folder), course) == []


@AS_ROOT
def test_another_instructor_of_the_group_takes_in_and_nobody_else_can(
    assigned: Bench, in_reach: Path, tmp_path: Path
) -> None:
    """A process of its own, under another account, works in the folder; one outside the group cannot even look."""
    assigned.hand_in(FIRST, tmp_path / "amir")
    folder = shutil.copytree(assigned.course.folder, in_reach / "course")
    group = 12345
    for path in (folder, *folder.rglob("*")):
        os.chown(path, -1, group)
    course = edited(Course.load(folder), ('access = "private"', 'access = "group"'))
    (finding,) = told(check(folder), course)
    subprocess.run(finding.text.partition("to the group: ")[2], shell=True, check=True)  # noqa: S602 - see above

    def work() -> None:
        assert collect(course, clock=lambda: COLLECTED).ok
        status(course)

    assert as_account(work, 4711, 4711) == "PermissionError"
    assert as_account(work, 4712, group) == ""
    assert laid(course, FIRST).is_dir()


def test_what_nbgrader_writes_is_the_groups_too(assigned: Bench, tmp_path: Path) -> None:
    """Its own settings leave the folder of a person, and a table that it exports, to the instructor who was first."""
    course = assigned.take_in(tmp_path, FIRST)
    course.folder.chmod(0o2770)
    edited(course, ('access = "private"', 'access = "group"'))
    # As an account has it that belongs to a person.
    before = os.umask(0o022)
    try:
        nbgrader(course, "autograde", MODULE)
        nbgrader(course, "export")
    finally:
        os.umask(before)
    made = [course.folder / "autograded", *(course.folder / "autograded").rglob("*")]
    folders = {path for path in made if path.is_dir()}
    assert len(folders) == 3
    assert {path for path in folders if permissions(path) & 0o2070 != 0o2070} == set()
    assert permissions(course.folder / "grades.csv") & 0o077 == 0o060


def as_account(work: object, uid: int, gid: int) -> str:
    """Run something in a process of another account; return the name of the error that ended it."""
    reads, writes = os.pipe()
    child = os.fork()
    if child == 0:
        said = ""
        try:
            os.setgroups([])
            os.setgid(gid)
            os.setuid(uid)
            os.umask(0o007)
            work()  # type: ignore[operator]
        except BaseException as error:  # noqa: BLE001 - told to the process that waits
            said = type(error).__name__
        finally:
            os.write(writes, said.encode())
            os._exit(0)
    os.close(writes)
    os.waitpid(child, 0)
    with os.fdopen(reads) as stream:
        return stream.read()


def test_a_workbook_on_a_hub_knows_the_account(assigned: Bench) -> None:
    log_in(assigned.course, amir="shah-a")
    course = Course.load(assigned.course.folder)
    assert assign(course, [MODULE], clock=lambda: GIVEN_OUT).ok
    released = forms_in(course.release / MODULE)
    assert released.people[person_digest(course.name, "shah-a")] == released.people[person_digest(course.name, FIRST)]
    assert released.of("shah-a") == released.of(FIRST)


def test_a_journal_that_says_the_account_is_theirs(assigned: Bench, tmp_path: Path) -> None:
    """Where a workbook knows whose it is by the login alone, it writes that name."""
    folder = assigned.unpack(FIRST, tmp_path)
    written = journal_in(folder, apprentice="shah-a", clock=lambda: ANSWERED)
    first = form_in(folder).items[0]
    written.append(first.id, some_response(first.item))
    (assigned.course.inbox / "amir.zip").write_bytes(
        zipped({name: (folder / name).read_bytes() for name in ("answers.jsonl", "identity.json")})
    )
    log_in(assigned.course, amir="shah-a")
    course = Course.load(assigned.course.folder)
    assert not any("speaks of" in finding.text for finding in collect(course, clock=lambda: COLLECTED).findings)
    assert [note.kind for entry in marked(course) for note in entry.notes] == []
    # Of anybody else it is as it was.
    log_in(course, amir="somebody-else")
    assert [note.kind for entry in marked(course) for note in entry.notes] == ["name"]


def marked(course: Course) -> list[Marked]:
    """Mark, and return the newest marks."""
    assert mark(course, [MODULE]).ok
    return entries(course, Marked)[-1:]
