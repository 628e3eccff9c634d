"""The journal: acknowledged means on disk, and one bad line costs nothing else."""

from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import textwrap
import threading
import time
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.trainkit import given_out
from trainkit import journal as journals
from trainkit.errors import JournalError, ResponseError
from trainkit.items.kinds import ActionsResponse, ChoiceResponse, NumberResponse, OrderResponse
from trainkit.journal import FILE_LIMIT, LINE_LIMIT, Journal, JournalLine, read

NAMES = given_out.NAMES | {"apprentice": "zoë o'neill"}


def journal_in(folder: Path, **changes: object) -> Journal:
    return given_out.journal_in(folder, **{**NAMES, **changes})


def choice(option: str) -> ChoiceResponse:
    return ChoiceResponse(option=option)


def test_a_line_holds_exactly_what_the_format_says(tmp_path: Path) -> None:
    clock = lambda: datetime(2027, 3, 1, 9, 15, 30, 123_456, timezone(timedelta(hours=1)))  # noqa: E731 - a fixed clock
    mine = journal_in(tmp_path, clock=clock)
    mine.append("A1", choice("b"))
    mine.append("A2", NumberResponse(text="12,5", unit="N·m"))
    first, second, rest = (tmp_path / "answers.jsonl").read_bytes().split(b"\n")
    assert rest == b""
    data = json.loads(first)
    name = data.pop("journal")
    assert len(bytes.fromhex(name)) == 16
    assert data == {
        "format": 1,
        "n": 1,
        "at": "2027-03-01T08:15:30.123Z",
        **NAMES,
        "item": "A1",
        "response": {"kind": "choice", "option": "b"},
        "before": "",
    }
    assert json.loads(second)["journal"] == name
    assert json.loads(second)["before"] == hashlib.sha256(first).hexdigest()[:16]
    assert json.loads(second)["n"] == 2
    assert list(json.loads(first)) == list(JournalLine.model_fields)


@pytest.mark.parametrize(
    "response",
    [
        choice("b"),
        NumberResponse(text="31 lbf·ft"),
        OrderResponse(cards=("c", "a", "b")),
        ActionsResponse(actions=("press", "bar-on"), gave_up=True),
        ActionsResponse(actions=("a" * 40,) * 200),
    ],
)
def test_every_kind_of_response_comes_back_as_it_was(tmp_path: Path, response: ChoiceResponse) -> None:
    entry = journal_in(tmp_path).append("A1", response)
    assert read(tmp_path / "answers.jsonl").entries == (entry,)
    assert read(tmp_path / "answers.jsonl").problems == ()
    assert journal_in(tmp_path).latest()["A1"].response == response


def test_it_is_written_then_forced_to_disk_then_acknowledged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    happened: list[str] = []
    path = tmp_path / "answers.jsonl"
    real_write, real_fsync = os.write, os.fsync

    def write(descriptor: int, data: bytes) -> int:
        happened.append("write")
        return real_write(descriptor, data)

    def fsync(descriptor: int) -> None:
        whole = path.read_bytes().endswith(b"\n")
        same = os.path.samestat(os.fstat(descriptor), path.stat())
        happened.append("fsync of a whole line" if whole and same else "fsync of the folder")
        real_fsync(descriptor)

    monkeypatch.setattr(os, "write", write)
    monkeypatch.setattr(os, "fsync", fsync)
    mine = journal_in(tmp_path)
    mine.append("A1", choice("a"))
    happened.append("acknowledged")
    assert happened[0] == "write"
    assert happened[1] == "fsync of a whole line"
    assert happened[-1] == "acknowledged"


def test_what_the_disk_refuses_is_not_acknowledged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        with pytest.raises(JournalError, match="No space left on device"):
            journal_in(tmp_path).append("A1", choice("a"))
    # The person saves again once there is room: nothing is torn by the failed attempt.
    journal_in(tmp_path).append("A1", choice("b"))
    assert read(tmp_path / "answers.jsonl").latest()["A1"].response == choice("b")


def test_a_write_in_small_pieces_still_makes_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real_write = os.write
    monkeypatch.setattr(os, "write", lambda descriptor, data: real_write(descriptor, data[:7]))
    journal_in(tmp_path).append("A1", choice("a"))
    assert read(tmp_path / "answers.jsonl").problems == ()


@pytest.mark.parametrize("kept", [0, 1, 40, -1])
def test_a_torn_last_line_costs_nothing_else(tmp_path: Path, kept: int) -> None:
    mine = journal_in(tmp_path)
    mine.append("A1", choice("a"))
    whole = mine.path.read_bytes()
    mine.append("A2", choice("b"))
    torn = mine.path.read_bytes()[len(whole) :][:-1][:kept]
    mine.path.write_bytes(whole + torn)
    assert set(read(mine.path).latest()) == {"A1"}
    assert [problem.kind for problem in read(mine.path).problems] == (["torn"] if torn else [])
    mine.append("A2", choice("c"))
    after = read(mine.path)
    assert {name: entry.response for name, entry in after.latest().items()} == {"A1": choice("a"), "A2": choice("c")}
    # The fresh line follows the torn one, so the chain is whole.
    assert [problem.kind for problem in after.problems] == (["unreadable"] if torn else [])
    assert [entry.n for entry in after.entries] == [1, 2]


def test_a_whole_last_line_without_its_line_end_still_counts(tmp_path: Path) -> None:
    mine = journal_in(tmp_path)
    mine.append("A1", choice("a"))
    mine.path.write_bytes(mine.path.read_bytes().rstrip(b"\n"))
    assert mine.latest()["A1"].response == choice("a")
    mine.append("A2", choice("b"))
    assert read(mine.path).problems == ()
    assert len(read(mine.path).entries) == 2


def test_a_tail_of_zeros_after_a_power_cut_costs_nothing_else(tmp_path: Path) -> None:
    mine = journal_in(tmp_path)
    mine.append("A1", choice("a"))
    with mine.path.open("ab") as stream:
        stream.write(b"\0" * 300)
    mine.append("A1", choice("b"))
    assert mine.latest()["A1"].response == choice("b")
    assert [problem.line for problem in read(mine.path).problems] == [2]


def test_parallel_threads_lose_nothing_and_keep_the_chain(tmp_path: Path) -> None:
    def answer(worker: int) -> None:
        mine = journal_in(tmp_path)
        for number in range(10):
            mine.append(f"A{worker}", choice(str(number)))

    threads = [threading.Thread(target=answer, args=(worker,)) for worker in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    reading = read(tmp_path / "answers.jsonl")
    assert reading.problems == ()
    assert [entry.n for entry in reading.entries] == list(range(1, 81))
    assert {item: entry.response for item, entry in reading.latest().items()} == {
        f"A{worker}": choice("9") for worker in range(8)
    }


CHILD = textwrap.dedent("""
    import sys
    from pathlib import Path
    from trainkit.items.kinds import ChoiceResponse
    from trainkit.journal import Journal
    mine = Journal(Path(sys.argv[1]), course="c", module="m", form="f", apprentice="a")
    number = 0
    while True:
        number += 1
        mine.append(sys.argv[2], ChoiceResponse(option=str(number)))
        print(number, flush=True)
""")


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is a POSIX signal")
def test_killing_processes_while_they_answer_loses_no_acknowledged_answer(tmp_path: Path) -> None:
    path = tmp_path / "a folder" / "answers.jsonl"
    path.parent.mkdir()
    acknowledged = {}
    for round_number, pause in enumerate((0.0, 0.003, 0.02)):
        children = {
            name: subprocess.Popen([sys.executable, "-c", CHILD, str(path), name], stdout=subprocess.PIPE, text=True)
            for name in (f"A{round_number}", f"B{round_number}")
        }
        outputs = {}
        for name, child in children.items():
            assert child.stdout is not None
            outputs[name] = [child.stdout.readline()]  # it has answered at least once
        time.sleep(pause)
        for name, child in children.items():
            child.send_signal(signal.SIGKILL)
            rest, _ = child.communicate()
            outputs[name] += rest.splitlines()
            # The last line may have been cut while the child was telling it.
            acknowledged[name] = max(int(text) for text in outputs[name][:-1] or outputs[name])
    latest = read(path).latest()
    for name, number in acknowledged.items():
        assert int(latest[name].response.option) >= number  # type: ignore[union-attr] # only choices were written
    assert [problem for problem in read(path).problems if problem.kind in ("chain", "mixed", "number")] == []


def test_another_form_or_person_in_the_same_file_is_not_taken_for_ones_own(tmp_path: Path) -> None:
    journal_in(tmp_path).append("A1", choice("a"))
    assert journal_in(tmp_path, form="K8").latest() == {}
    assert journal_in(tmp_path, apprentice="amir").latest() == {}
    assert set(journal_in(tmp_path).latest()) == {"A1"}


def test_lines_taken_out_changed_or_mixed_show(tmp_path: Path) -> None:
    mine = journal_in(tmp_path)
    for option in "abc":
        mine.append("A1", choice(option))
    lines = mine.path.read_bytes().splitlines(keepends=True)
    taken_out = read(lines[0] + lines[2])
    assert {problem.kind for problem in taken_out.problems} == {"chain", "number"}
    assert len(taken_out.entries) == 2
    changed = read(lines[0].replace(b'"option":"a"', b'"option":"b"') + lines[1])
    assert [problem.kind for problem in changed.problems] == ["chain"]
    (tmp_path / "other").mkdir()
    other = journal_in(tmp_path / "other")
    other.append("A2", choice("z"))
    assert "mixed" in {problem.kind for problem in read(lines[0] + other.path.read_bytes()).problems}


def _line(**changes: object) -> bytes:
    data: dict[str, object] = {
        "format": 1,
        "n": 1,
        "at": "2027-03-01T08:15:30.123Z",
        "journal": "0" * 32,
        **NAMES,
        "item": "A1",
        "response": {"kind": "choice", "option": "b"},
        "before": "",
    }
    return json.dumps(data | changes).encode()


def test_the_line_that_the_next_test_spoils_is_a_good_one() -> None:
    assert len(read(_line()).entries) == 1


@pytest.mark.parametrize(
    "line",
    [
        b"{",
        b"[]",
        b"null",
        b"\xff\xfe",
        b'"' * 100,
        b"[" * 20_000,
        b'{"a":' * 5_000,
        _line(format=2),
        _line(n=0),
        _line(n=1.5),
        _line(n=True),
        _line(n=10**30),
        _line(at="2027-13-01T08:15:30.123Z"),
        _line(at="2027-02-30T08:15:30.123Z"),
        _line(at="yesterday"),
        _line(journal="g" * 32),
        _line(course=3),
        _line(apprentice="a" * 81),
        _line(item=""),
        _line(item=None),
        _line(extra=1),
        _line(response={"kind": "number", "text": float("nan")}),
        _line(response={"kind": "choice", "option": "x" * 41}),
        _line(response={"kind": "magic"}),
        _line(response="b"),
        _line(before="zz"),
        _line(response={"kind": "number", "text": "1", "unit": "x" * LINE_LIMIT}),
    ],
)
def test_a_line_that_is_no_answer_is_named_and_the_others_stand(line: bytes) -> None:
    reading = read(_line() + b"\n" + line + b"\n" + _line(item="A2") + b"\n")
    assert [entry.item for entry in reading.entries] == ["A1", "A2"]
    assert [problem.kind for problem in reading.problems if problem.line == 2] == ["unreadable"]


def test_an_answer_of_a_newer_format_says_which_release_reads_it() -> None:
    (problem,) = read(_line(format=2, of_a_later_release=True) + b"\n").problems
    assert problem.text == (
        "The file has format 2, and this release of trainkit reads 1. "
        "Install the release of trainkit that wrote it, or a later one."
    )


def test_a_file_without_end_is_read_up_to_the_limit() -> None:
    reading = read(_line() + b"\n" + b"x" * FILE_LIMIT)
    assert [entry.item for entry in reading.entries] == ["A1"]
    assert reading.problems[0].kind == "size"


def test_an_absent_file_holds_no_answers(tmp_path: Path) -> None:
    assert read(tmp_path / "answers.jsonl") == journals.read(b"")


def test_what_is_no_regular_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "answers.jsonl").mkdir()
    with pytest.raises(JournalError, match="regular file"):
        read(tmp_path / "answers.jsonl")
    with pytest.raises(JournalError):
        journal_in(tmp_path).append("A1", choice("a"))


@pytest.mark.skipif(not hasattr(os, "O_NOFOLLOW"), reason="links are made without special rights only elsewhere")
def test_a_link_in_the_place_of_the_journal_is_never_followed(tmp_path: Path) -> None:
    target = tmp_path / "elsewhere"
    target.write_bytes(_line() + b"\n")
    (tmp_path / "answers.jsonl").symlink_to(target)
    with pytest.raises(JournalError, match="no link"):
        read(tmp_path / "answers.jsonl")
    with pytest.raises(JournalError):
        journal_in(tmp_path).append("A1", choice("a"))
    assert target.read_bytes() == _line() + b"\n"


def test_bad_names_times_and_responses_are_refused(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="at most 80"):
        journal_in(tmp_path, form="x" * 81)
    with pytest.raises(JournalError, match="time zone"):
        journal_in(tmp_path, clock=lambda: datetime(2027, 3, 1)).append("A1", choice("a"))
    with pytest.raises(JournalError, match="1 to 40"):
        journal_in(tmp_path).append("", choice("a"))
    with pytest.raises(ResponseError):
        journal_in(tmp_path).append("A1", ChoiceResponse.model_construct(option="x" * 50))
    assert not (tmp_path / "answers.jsonl").exists()


def test_the_usual_clock_knows_its_time_zone() -> None:
    assert journals.now().tzinfo is UTC


@given(st.binary(max_size=400))
def test_no_bytes_make_reading_fail(content: bytes) -> None:
    reading = read(content)
    assert len(reading.entries) + len(reading.problems) <= 3 * (content.count(b"\n") + 1)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32), st.integers(1, 30))
def test_a_journal_spoiled_anywhere_is_still_read(seed: int, changes: int) -> None:
    rng = random.Random(seed)
    lines = [_line(n=number, item=f"A{number}") for number in range(1, 9)]
    content = bytearray(b"\n".join(lines) + b"\n")
    for _ in range(changes):
        place = rng.randrange(len(content))
        if rng.random() < 0.5:
            content[place] = rng.randrange(256)
        else:
            del content[place : place + rng.randrange(1, 60)]
            content[place:place] = rng.randbytes(rng.randrange(20))
    reading = read(bytes(content))
    untouched = [line for line in lines if line in bytes(content).split(b"\n")]
    assert {json.loads(line)["item"] for line in untouched} <= set(reading.latest())


_SHORT_LINES = (b"\n", b"x\n", b"{}\n", b'{"format":1' + b" " * 150 + b"}\n")
_LONG_LINES = (
    b'{"response":{"kind":"actions","actions":[' + b"0," * 14_000 + b"0]}}\n",
    b'{"response":{"kind":"actions","actions":[' + b'"a",' * 7_500 + b'"b"]}}\n',
    b"{" + b'"a":1,' * 4_000 + b'"b":2}\n',
)


@pytest.mark.parametrize("line", [*_SHORT_LINES, *_LONG_LINES], ids=lambda line: f"{line[:24]!r}")
def test_a_file_that_keeps_the_reader_busy_is_not_read_to_its_end(tmp_path: Path, line: bytes) -> None:
    mine = journal_in(tmp_path)
    mine.append("A1", ChoiceResponse(option="b"))
    honest = mine.path.read_bytes()
    content = honest + line * ((FILE_LIMIT - len(honest)) // len(line))
    reading = read(content)
    assert [entry.item for entry in reading.entries] == ["A1"]
    assert reading.problems[-1].kind == "size"
    assert len(reading.problems) < 25_000
    # What stands before the mistakes counts, and so does what stands behind as many as a disk makes.
    assert [entry.item for entry in read(b"x\n" * 1000 + honest).entries] == ["A1"]
