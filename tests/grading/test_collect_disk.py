"""Hand-ins that come over a shared disk: nbgrader's own, and what somebody may plant beside them."""

from __future__ import annotations

import os
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from trainkit_grading.intake.collect import collect

from .makers import MODULE, Bench, answered, give_out, laid, refused, set_to
from .packed import nest


@pytest.fixture
def disk(assigned: Bench) -> Bench:
    """The same course with a shared disk on which it has been given out."""
    (assigned.course.folder.parent / "exchange disk").mkdir()
    return Bench(give_out(set_to(assigned.course, root='"../exchange disk"')))


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


def _fake(bench: Bench, name: str, content: bytes) -> Path:
    folder = inbound(bench) / name
    folder.mkdir()
    (folder / "answers.jsonl").write_bytes(content)
    return folder


@POSIX
def test_links_planted_on_the_disk(disk: Bench, tmp_path: Path, parts: dict[str, bytes]) -> None:
    stamp = "2027-03-01 12:00:00 UTC"
    answers = parts["answers.jsonl"]
    seed = disk.course.seed_file
    _fake(disk, f"amir+{MODULE}+{stamp}+a", answers).joinpath("gradebook.db").symlink_to(disk.course.gradebook)
    direct = inbound(disk) / f"amir+{MODULE}+{stamp}+b"
    direct.mkdir()
    (direct / "answers.jsonl").symlink_to(seed)
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "answers.jsonl").write_bytes(answers)
    (inbound(disk) / f"amir+{MODULE}+{stamp}+c").symlink_to(tmp_path / "real")
    hard = inbound(disk) / f"amir+{MODULE}+{stamp}+d"
    hard.mkdir()
    os.link(tmp_path / "real" / "answers.jsonl", hard / "answers.jsonl")
    piped = inbound(disk) / f"amir+{MODULE}+{stamp}+e"
    piped.mkdir()
    os.mkfifo(piped / "answers.jsonl")
    secret = _fake(disk, f"amir+{MODULE}+{stamp}+f", answers)
    (secret / "submission_secret.txt").symlink_to(seed)
    outcome = collect(disk.course)
    told = refused(outcome)
    for letter in "abcdef":
        assert f"+{letter}: " in told
    assert not disk.course.submitted.exists()
    assert not disk.course.arrivals.exists()


@POSIX
def test_a_folder_that_becomes_a_link_while_it_is_read(
    disk: Bench, tmp_path: Path, parts: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever swaps the folder after it was looked at gets what was looked at, never what the link leads to."""
    from trainkit_grading.intake.readers import folders

    victim = tmp_path / "victim"
    victim.mkdir()
    (victim / "answers.jsonl").write_bytes(parts["answers.jsonl"] * 2)
    folder = _fake(disk, f"amir+{MODULE}+2027-03-01 12:00:00 UTC+a", parts["answers.jsonl"])
    look = folders._look_through

    def swap(path: Path, *more: Any) -> None:
        look(path, *more)
        folder.rename(tmp_path / "moved")
        folder.symlink_to(victim)

    monkeypatch.setattr(folders, "_look_through", swap)
    collect(disk.course)
    assert (laid(disk.course, "amir") / "answers.jsonl").read_bytes() == parts["answers.jsonl"]


@POSIX
def test_names_on_the_disk(disk: Bench, parts: dict[str, bytes], monkeypatch: pytest.MonkeyPatch) -> None:
    stamp = "2027-03-01 12:00:00 UTC"
    _fake(disk, f"mallory+{MODULE}+{stamp}+x", parts["answers.jsonl"])
    _fake(disk, f"amir+no-such-module+{stamp}+x", parts["answers.jsonl"])
    _fake(disk, "rubbish", parts["answers.jsonl"])
    (inbound(disk) / f"amir+{MODULE}+{stamp}+empty").mkdir()
    outcome = collect(disk.course)
    told = refused(outcome)
    assert "'mallory': Nobody on the roster" in told
    assert "no-such-module" in told
    assert "inbound/rubbish" in told
    assert "holds answers.jsonl; this one does not" in told
    assert outcome.data["taken"] == []
    # A folder named for one apprentice that another one owns.
    import pwd

    real = pwd.getpwuid(os.getuid())
    monkeypatch.setattr(pwd, "getpwuid", lambda _: type(real)(("o'brien", *real[1:])))
    _fake(disk, f"amir+{MODULE}+{stamp}+y", parts["answers.jsonl"])
    assert "belongs to o'brien" in refused(collect(disk.course))


@POSIX
def test_too_much_on_the_disk(disk: Bench, parts: dict[str, bytes]) -> None:
    course = set_to(disk.course, hand_in_files="10", hand_in_bytes="10_000")
    many = _fake(disk, f"amir+{MODULE}+t+many", parts["answers.jsonl"])
    for number in range(10):
        (many / str(number)).touch()
    large = _fake(disk, f"amir+{MODULE}+t+large", parts["answers.jsonl"])
    (large / "video").write_bytes(bytes(10_001))
    told = refused(collect(course))
    assert told.count("at most 10 files and 10000 bytes") == 2


@POSIX
def test_folders_nested_to_no_end_on_the_disk(disk: Bench, parts: dict[str, bytes]) -> None:
    course = set_to(disk.course, hand_in_files="10_000")
    folder = _fake(disk, f"amir+{MODULE}+2027-03-01 12:00:00 UTC+deep", parts["answers.jsonl"])
    nest(folder)
    outcome = collect(course)
    # However deep the system can look: it is taken with its answers, or refused in words.
    assert outcome.data["taken"] or "+deep: " in refused(outcome)
