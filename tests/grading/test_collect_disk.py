"""Hand-ins that come over a shared disk: nbgrader's own, and what somebody may plant beside them."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from trainkit_grading.intake.collect import collect

from .accounts import log_in, mine
from .makers import MODULE, PEOPLE, Bench, answered, give_out, laid, refused, set_to
from .packed import nest


@pytest.fixture
def disk(assigned: Bench) -> Bench:
    """The same course with a shared disk on which it has been given out."""
    (assigned.course.folder.parent / "exchange disk").mkdir()
    made = Bench(give_out(set_to(assigned.course, root='"../exchange disk"')))
    if os.name == "posix":
        log_in(made.course, amir=mine())
    return made


def inbound(bench: Bench) -> Path:
    assert bench.course.exchange_root is not None
    return bench.course.exchange_root / "saltmere" / "inbound"


def submit(bench: Bench, apprentice: str, work: Path) -> Path:
    """Hand in with nbgrader's own step, and return the folder it made."""
    from trainkit_grading.nbgrader_bridge import steps

    with steps.prepared():
        from nbgrader.auth import Authenticator
        from nbgrader.coursedir import CourseDirectory
        from nbgrader.exchange.default import ExchangeSubmit
        from traitlets.config import Config

        config = Config()
        config.Exchange.root = str(bench.course.exchange_root)
        config.Exchange.cache = str(work / "cache")
        before = set(inbound(bench).iterdir())
        step = ExchangeSubmit(
            coursedir=CourseDirectory(
                root=str(work), course_id="saltmere", assignment_id=MODULE, student_id=apprentice
            ),
            authenticator=Authenticator(config=config),
            config=config,
        )
        step.assignment_dir = str(work)
        step.start()
    (made,) = set(inbound(bench).iterdir()) - before
    return made


POSIX = pytest.mark.skipif(os.name != "posix", reason="nbgrader's shared disk needs POSIX")


@POSIX
def test_what_nbgrader_submitted_is_collected(disk: Bench, tmp_path: Path) -> None:
    disk.write_roster(PEOPLE)
    log_in(disk.course, **{"o'brien": mine()})
    folder = disk.unpack("o'brien", tmp_path / "work")
    written = disk.answer(folder, items=("A1",))
    first = submit(disk, "o'brien", tmp_path / "work")
    # A time of the apprentice's own making counts for nothing.
    (first / "timestamp.txt").write_text("2001-01-01 00:00:00 UTC")
    outcome = collect(disk.course)
    assert outcome.ok
    (taken,) = outcome.data["taken"]
    assert (taken["apprentice"], taken["told_by"], taken["how"]) == ("o'brien", "folder on the shared disk", "exchange")
    arrived = datetime.fromisoformat(taken["arrived"])
    assert abs(arrived - datetime.now(UTC)) < timedelta(minutes=5)
    home = laid(disk.course, "o'brien")
    secret = (first / "submission_secret.txt").read_text()
    assert (home / "submission_secret.txt").read_text() == secret
    time.sleep(1.1)  # nbgrader names its folders by the second
    written.append("A1", written.latest()["A1"].response)
    submit(disk, "o'brien", tmp_path / "work")
    outcome = collect(disk.course)
    assert outcome.ok
    assert (len(outcome.data["taken"]), outcome.data["unchanged"]) == (1, 1)
    assert answered(disk.course, "o'brien") == 2


@POSIX
def test_a_moment_on_the_disk_cannot_be_set_back(disk: Bench, tmp_path: Path) -> None:
    folder = disk.unpack("amir", tmp_path / "work")
    disk.answer(folder)
    made = submit(disk, "amir", tmp_path / "work")
    for path in (made / "answers.jsonl", made):
        os.utime(path, (1_000_000_000, 1_000_000_000))
    outcome = collect(disk.course)
    arrived = datetime.fromisoformat(outcome.data["taken"][0]["arrived"])
    assert abs(arrived - datetime.now(UTC)) < timedelta(minutes=5)


@pytest.fixture
def fake(disk: Bench, parts: dict[str, bytes]) -> Callable[..., Path]:
    """Plant a folder on the disk as if nbgrader had made it; without answers on request."""

    def made(name: str, whole: bool = True) -> Path:
        folder = inbound(disk) / name
        folder.mkdir()
        if whole:
            (folder / "answers.jsonl").write_bytes(parts["answers.jsonl"])
        return folder

    return made


OF_AMIR = f"amir+{MODULE}+2027-03-01 12:00:00 UTC+"


@POSIX
def test_links_planted_on_the_disk(disk: Bench, fake: Callable[..., Path], tmp_path: Path) -> None:
    seed = disk.course.seed_file
    real = fake(f"{OF_AMIR}real").rename(tmp_path / "real")
    (fake(f"{OF_AMIR}a") / "gradebook.db").symlink_to(disk.course.gradebook)
    (fake(f"{OF_AMIR}b", whole=False) / "answers.jsonl").symlink_to(seed)
    (inbound(disk) / f"{OF_AMIR}c").symlink_to(real)
    os.link(real / "answers.jsonl", fake(f"{OF_AMIR}d", whole=False) / "answers.jsonl")
    os.mkfifo(fake(f"{OF_AMIR}e", whole=False) / "answers.jsonl")
    (fake(f"{OF_AMIR}f") / "submission_secret.txt").symlink_to(seed)
    outcome = collect(disk.course)
    told = refused(outcome)
    for letter in "abcdef":
        assert f"+{letter}: " in told
    assert not disk.course.submitted.exists()
    assert not disk.course.arrivals.exists()


@POSIX
def test_a_folder_that_becomes_a_link_while_it_is_read(
    disk: Bench,
    fake: Callable[..., Path],
    tmp_path: Path,
    parts: dict[str, bytes],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Whoever swaps the folder after it was looked at gets what was looked at, never what the link leads to."""
    from trainkit_grading.intake.readers import folders

    victim = tmp_path / "victim"
    victim.mkdir()
    (victim / "answers.jsonl").write_bytes(parts["answers.jsonl"] * 2)
    folder = fake(f"{OF_AMIR}a")
    look = folders._look_through

    def swap(path: Path, *more: Any) -> None:
        look(path, *more)
        folder.rename(tmp_path / "moved")
        folder.symlink_to(victim)

    monkeypatch.setattr(folders, "_look_through", swap)
    collect(disk.course)
    assert (laid(disk.course, "amir") / "answers.jsonl").read_bytes() == parts["answers.jsonl"]


@POSIX
def test_names_on_the_disk(disk: Bench, fake: Callable[..., Path]) -> None:
    for name in (OF_AMIR.replace("amir", "mallory"), OF_AMIR.replace(MODULE, "no-such-module"), "rubbish"):
        fake(name)
    fake(f"{OF_AMIR}empty", whole=False)
    outcome = collect(disk.course)
    told = refused(outcome)
    assert "'mallory': Nobody on the roster" in told
    assert "no-such-module" in told
    assert "inbound/rubbish" in told
    assert "holds answers.jsonl; this one does not" in told
    assert outcome.data["taken"] == []


@POSIX
def test_too_much_on_the_disk(disk: Bench, fake: Callable[..., Path]) -> None:
    course = set_to(disk.course, hand_in_files="10", hand_in_bytes="10_000")
    many = fake(f"{OF_AMIR}many")
    for number in range(10):
        (many / str(number)).touch()
    (fake(f"{OF_AMIR}large") / "video").write_bytes(bytes(10_001))
    told = refused(collect(course))
    assert told.count("at most 10 files and 10000 bytes") == 2


@POSIX
def test_folders_nested_to_no_end_on_the_disk(disk: Bench, fake: Callable[..., Path]) -> None:
    course = set_to(disk.course, hand_in_files="10_000")
    nest(fake(f"{OF_AMIR}deep"))
    outcome = collect(course)
    # However deep the system can look: it is taken with its answers, or refused in words.
    assert outcome.data["taken"] or "+deep: " in refused(outcome)
