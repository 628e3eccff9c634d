"""What is acknowledged is on the disk by then: written, forced, and its name forced, too, in this order."""

from __future__ import annotations

import errno
import os
import zipfile
from pathlib import Path

import pytest

from tests.trainkit.answering import ITEMS, open_book, release
from tests.trainkit.given_out import journal_in
from tests.trainkit.watching import Watched
from trainkit import handin, modules
from trainkit.errors import JournalError
from trainkit.items.kinds import ActionsResponse, ChoiceResponse, TextResponse
from trainkit.journal import FILE_LIMIT, LINE_LIMIT, read
from trainkit.widgets.control import Control
from trainkit.workbook import Book

CHOICE = ChoiceResponse(option="o1")


posix = pytest.mark.skipif(os.name == "nt", reason="Windows keeps names of files by itself and lets nobody ask for it")


@posix
def test_an_answer_is_written_then_forced_then_its_name_then_acknowledged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = journal_in(tmp_path)
    with monkeypatch.context() as patched:
        watched = Watched(patched, tmp_path)
        for item in ("A1", "A2"):
            mine.append(item, CHOICE)
            watched.lines.append(f"acknowledged {item}")
    assert watched.lines == [
        "create answers.jsonl",
        "write answers.jsonl",
        "force answers.jsonl",
        "force .",
        "acknowledged A1",
        "write answers.jsonl",
        "force answers.jsonl",
        "acknowledged A2",
    ]


@posix
def test_the_name_is_forced_even_if_whoever_made_the_file_never_came_to_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another process may have made the file and been killed between its write and the folder."""
    journal_in(tmp_path).append("A1", CHOICE)
    mine = journal_in(tmp_path)
    with monkeypatch.context() as patched:
        watched = Watched(patched, tmp_path)
        mine.append("A2", CHOICE)
    assert watched.lines == ["write answers.jsonl", "force answers.jsonl", "force ."]


@posix
def test_a_control_replies_after_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    release(tmp_path)
    open_book(str(tmp_path))
    control = Book(modules.load("lock-pin"), tmp_path).ask(ITEMS[0])
    assert isinstance(control, Control)
    with monkeypatch.context() as patched:
        watched = Watched(patched, tmp_path)
        patched.setattr(control, "send", lambda reply, *_: watched.lines.append(f"reply {reply['type']}"))
        message = {"type": "save", "ticket": 1, "response": {"kind": "choice", "option": "o2"}}
        control._handle_custom_msg(message, [])
    assert watched.lines == [
        "create answers.jsonl",
        "write answers.jsonl",
        "force answers.jsonl",
        "force .",
        "reply saved",
    ]


@posix
def test_the_hand_in_file_is_whole_on_the_disk_before_it_has_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal_in(tmp_path).append("A1", CHOICE)
    whole: list[str] = []
    with monkeypatch.context() as patched:
        watched = Watched(patched, tmp_path)
        forced = os.fsync

        def forces(descriptor: int) -> None:
            forced(descriptor)
            # What lies there at this moment is what a power cut would leave.
            for path in tmp_path.glob(".handin-*"):
                with zipfile.ZipFile(path) as archive:
                    whole.extend(archive.namelist())

        patched.setattr(os, "fsync", forces)
        path = handin.pack(tmp_path)
    created, force, *rest = watched.lines
    temporary = created.removeprefix("create ")
    assert temporary.startswith(".handin-")
    assert force == f"force {temporary}"
    assert rest == [f"{rest[0].split()[0]} {temporary} {path.name}", "force ."]
    assert rest[0].split()[0] in ("rename", "replace")
    assert whole == ["answers.jsonl"]


@posix
@pytest.mark.parametrize("number", [errno.EIO, errno.ENOSPC])
def test_a_disk_that_fails_to_keep_the_name_is_no_acknowledgement(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    forced = os.fsync

    def fails(descriptor: int) -> None:
        if os.path.samestat(os.fstat(descriptor), tmp_path.stat()):
            raise OSError(number, os.strerror(number))
        forced(descriptor)

    mine = journal_in(tmp_path)
    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", fails)
        with pytest.raises(JournalError, match="could not be written"):
            mine.append("A1", CHOICE)
    mine.append("A1", CHOICE)
    assert len(read(mine.path).entries) == 2  # what nobody was told may be there, too


@posix
def test_a_file_system_that_cannot_force_names_is_no_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    forced = os.fsync

    def refuses(descriptor: int) -> None:
        if os.path.samestat(os.fstat(descriptor), tmp_path.stat()):
            raise OSError(errno.EINVAL, "Invalid argument")
        forced(descriptor)

    monkeypatch.setattr(os, "fsync", refuses)
    assert journal_in(tmp_path).append("A1", CHOICE).n == 1


def test_what_would_never_be_read_again_is_not_acknowledged(tmp_path: Path) -> None:
    mine = journal_in(tmp_path)
    # Signs that JSON writes with six: more than a line may hold, though each is an action's name of honest length.
    with pytest.raises(JournalError, match=f"at most {LINE_LIMIT} bytes"):
        mine.append("A1", ActionsResponse(actions=("\x01" * 40,) * 200))
    assert mine.append("A1", CHOICE).n == 1


def test_a_full_file_takes_no_more_and_loses_nothing(tmp_path: Path) -> None:
    mine = journal_in(tmp_path)
    mine.append("A1", TextResponse(text="x" * 4000))
    line = mine.path.read_bytes()
    mine.path.write_bytes(line + b" " * (FILE_LIMIT - len(line) - 401) + b"\n")
    entry = mine.append("A2", CHOICE)
    before = mine.path.read_bytes()
    assert FILE_LIMIT - 400 < len(before) <= FILE_LIMIT
    with pytest.raises(JournalError, match="it is full"):
        mine.append("A2", CHOICE)
    assert mine.path.read_bytes() == before
    reading = read(mine.path)
    assert (reading.latest()["A1"].n, reading.latest()["A2"]) == (1, entry)
    assert "size" not in {problem.kind for problem in reading.problems}
