"""What a killed command leaves is finished or dropped by the next one; what was taken in is on the disk by then."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.trainkit.watching import Watched
from trainkit_grading.course.folder import Course
from trainkit_grading.intake import receipts
from trainkit_grading.intake.collect import collect
from trainkit_grading.intake.receipts import Receipt
from trainkit_grading.support import files

from .makers import MODULE, Bench

NOW = datetime(2027, 3, 2, 8, tzinfo=UTC)
JOURNAL = b"a journal\n"
posix = pytest.mark.skipif(os.name == "nt", reason="Windows keeps names of files by itself and lets nobody ask for it")


def a_receipt(number: int = 1) -> Receipt:
    return Receipt(
        number=number,
        apprentice="amir",
        module=MODULE,
        attempt=1,
        form="K7",
        arrived=NOW,
        collected=NOW,
        how="zip",
        told_by="personal code",
        place="inbox/a.zip",
        digest=receipts.content_digest(JOURNAL),
        answers=1,
    )


@posix
def test_a_hand_in_is_on_the_disk_whole_before_it_counts_as_kept(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    course, receipt = bench.course, a_receipt()
    with monkeypatch.context() as patched:
        watched = Watched(patched, course.folder)
        receipts.keep(course, receipt, JOURNAL)
    forced = [line for line in watched.lines if not line.startswith("mkdir")]
    (work,) = {line.split()[1] for line in forced if line.endswith("/arrival") and line.startswith("force")}
    home = f"arrivals/amir/{MODULE}"
    assert forced == [
        f"force {work}/answers.jsonl",
        f"force {work}/arrival.json",
        f"force {work}",
        f"rename {work} {home}/{receipt.folder_name}",
        f"force {home}",
        "force arrivals/amir",
        "force arrivals",
        "force .",
    ]


@posix
def test_the_list_of_arrivals_is_forced_with_its_name(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patched:
        watched = Watched(patched, bench.course.folder)
        receipts.log(bench.course, [a_receipt()], [], NOW)
    assert watched.lines == [f"force {bench.course.arrivals_log.name}", "force ."]


def test_a_list_of_arrivals_cut_off_anywhere_tells_everything_after_the_next_collecting(
    assigned: Bench, tmp_path: Path
) -> None:
    course = assigned.course
    for person in ("amir", "o'brien"):
        assigned.hand_in(person, tmp_path / person)
    assert collect(course, clock=lambda: NOW).ok
    whole = course.arrivals_log.read_bytes()
    first, last = whole.splitlines(keepends=True)
    expected = [json.loads(line) for line in (first, last)]
    for length in (0, 1, len(last) // 2, len(last) - 2, len(last) - 1):
        course.arrivals_log.write_bytes(first + last[:length])
        receipts.log(course, _all(course), [], NOW)
        told = []
        for line in course.arrivals_log.read_bytes().splitlines():
            try:
                told.append(json.loads(line))
            except ValueError:
                assert last.startswith(line)
        assert told == expected, length


def _all(course: Course) -> list[Receipt]:
    return [receipt for name in ("amir", "o'brien") for receipt in receipts.kept(course, name, MODULE)]


def test_what_was_being_written_when_a_command_was_killed_is_dropped(tmp_path: Path) -> None:
    left = (".a.ipynb.0123abcd.tmp", "autograded/amir/m/.m.ipynb.89abcdef.tmp")
    kept = (
        *("a.ipynb", ".a.ipynb.tmp", ".a.0123abcx.tmp", "autograded/x.0123abcd.tmp"),
        # Files that others have made are not looked at.
        *("inbox/.zip.0123abcd.tmp", "submitted/amir/m/.a.0123abcd.tmp", "arrivals/amir/m/1/.a.0123abcd.tmp"),
    )
    for name in (*left, *kept):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("half", "utf-8")
    with files.held(tmp_path):
        pass
    assert all((tmp_path / name).exists() for name in left), "no command was killed, so nothing is looked for"
    (tmp_path / files.WORK_FOLDER).mkdir()
    with files.held(tmp_path):
        assert not any((tmp_path / name).exists() for name in left)
    assert all((tmp_path / name).exists() for name in kept)
    assert not (tmp_path / files.WORK_FOLDER).exists()


def test_a_file_taken_away_while_it_is_written_is_written_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.txt"
    forced = os.fsync
    taken: list[Path] = []

    def takes_away(descriptor: int) -> None:
        forced(descriptor)
        if not taken:
            taken.extend(tmp_path.glob(".a.txt.*.tmp"))
            taken[0].unlink()

    monkeypatch.setattr(os, "fsync", takes_away)
    assert files.write_atomically(path, "whole")
    assert len(taken) == 1
    assert path.read_text("utf-8") == "whole"
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.txt"]


def test_a_file_whose_folder_is_missing_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        files.write_atomically(tmp_path / "nowhere" / "a.txt", "whole")


def test_a_command_that_fails_leaves_what_it_moved_aside_for_the_next(tmp_path: Path) -> None:
    target = tmp_path / "submitted" / "amir"
    target.mkdir(parents=True)
    (target / "a").write_text("old", "utf-8")

    def fail() -> None:
        aside = tmp_path / files.WORK_FOLDER / "old" / "submitted"
        aside.mkdir(parents=True)
        target.rename(aside / "amir")
        raise OSError("The disk is full.")

    with pytest.raises(OSError, match="disk"), files.held(tmp_path):
        fail()
    with files.held(tmp_path):
        assert (target / "a").read_text("utf-8") == "old"
