"""One question open twice: whatever is recorded in one window is never silently another truth in the other."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.trainkit.answers import right_answer
from tests.trainkit.asked import NUMBER, say
from tests.trainkit.draws import drawn
from tests.trainkit.given_out import CHOICE, identify, journal_in, release
from trainkit import modules, workbook
from trainkit.handin import pack
from trainkit.items.kinds import ActionsResponse, ChoiceResponse
from trainkit.journal import DRAFTS_FILE, Journal, NewerAnswerError, Reading, read
from trainkit.widgets.assessed import Assessed
from trainkit.widgets.control import Control
from trainkit.widgets.kernel_messages import channel

BENCH, _KEY = drawn("lock-pin/pin-the-engine", seed=3)
WAY: list[str] = right_answer(BENCH, _KEY)["actions"]
A, B = ({"kind": "choice", "option": option} for option in "ab")


def recorded(folder: Path) -> list[Any]:
    return [entry.response.model_dump(mode="json") for entry in read(folder / "answers.jsonl").entries]


def test_the_journal_refuses_to_follow_an_answer_that_was_not_seen(tmp_path: Path) -> None:
    one, other = journal_in(tmp_path), journal_in(tmp_path)
    first = one.append("A1", ChoiceResponse(option="a"), seen=0)
    with pytest.raises(NewerAnswerError) as refused:
        other.append("A1", ChoiceResponse(option="b"), seen=0)
    assert refused.value.entry == first
    other.append("A2", ChoiceResponse(option="b"), seen=0)
    second = other.append("A1", ChoiceResponse(option="b"), seen=first.n)
    assert one.latest()["A1"] == other.latest()["A1"] == second
    assert len(recorded(tmp_path)) == 3


def test_a_journal_that_is_looked_at_again_is_read_only_where_it_has_changed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal, other = journal_in(tmp_path), journal_in(tmp_path)
    journal.append("A1", ChoiceResponse(option="a"), seen=0)
    looked: list[Path] = []

    def noted(path: Path) -> Reading:
        looked.append(path)
        return read(path)

    monkeypatch.setattr("trainkit.journal.appending.read", noted)
    assert journal.latest()["A1"].n == 1
    journal.append("A2", ChoiceResponse(option="a"), seen=0)
    assert set(journal.latest()) == {"A1", "A2"}
    assert looked == []
    other.append("A1", ChoiceResponse(option="b"))
    assert journal.latest()["A1"].n == 3
    assert len(looked) == 1
    # Changed in place to the same length, as an editor could.
    path = tmp_path / "answers.jsonl"
    path.write_bytes(path.read_bytes().replace(b'"option":"b"', b'"option":"c"'))
    os.utime(path, ns=(1, 1))
    assert journal.latest()["A1"].response == ChoiceResponse(option="c")


def test_an_answer_on_top_of_one_that_was_not_seen_is_not_recorded_until_it_is_asked_for_again(tmp_path: Path) -> None:
    here, there = (Assessed("A1", CHOICE, journal_in(tmp_path)) for _ in range(2))
    assert say(there, type="save", response=B, base=0)["type"] == "saved"
    reply = say(here, type="save", response=A, base=0)
    assert (reply["type"], reply["saved"]["response"], reply["saved"]["n"]) == ("elsewhere", B, 1)
    assert recorded(tmp_path) == [B]
    assert say(here, type="save", response=A, base=1)["saved"]["n"] == 2
    assert recorded(tmp_path) == [B, A]
    # A letter that is sent again, as its answer was lost, is recorded once.
    assert say(here, type="save", response=A, base=1)["saved"]["n"] == 2
    assert recorded(tmp_path) == [B, A]
    assert there.look()
    assert not there.look()
    assert there.shown()["saved"]["response"] == A


def test_a_scenario_that_went_on_in_another_window_is_shown_and_no_action_is_lost(tmp_path: Path) -> None:
    here, there = (Assessed("A1", BENCH, journal_in(tmp_path)) for _ in range(2))
    first, second, third = WAY[:3]
    assert "elsewhere" not in say(there, type="act", action=first, so_far=0)
    reply = say(here, type="act", action=second, so_far=0)
    assert reply["elsewhere"] is True
    assert (reply["play"]["count"], reply["saved"]["n"]) == (1, 1)
    assert say(here, type="act", action=second, so_far=1)["play"]["count"] == 2
    assert there.look()
    told = there.elsewhere()
    assert (told["type"], told["play"]["count"]) == ("elsewhere", 2)
    assert say(there, type="act", action=third, so_far=2)["play"]["count"] == 3
    last = read(tmp_path / "answers.jsonl").latest()["A1"].response
    assert last == ActionsResponse(actions=(first, second, third), gave_up=False)


def test_an_action_in_the_same_moment_elsewhere_is_taken_over_not_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here, there = (Assessed("A1", BENCH, journal_in(tmp_path)) for _ in range(2))
    first, second = WAY[:2]
    append = Journal.append

    def meanwhile(journal: Journal, *given: Any, **seen: Any) -> Any:
        if journal is here.journal and there.entry is None:
            say(there, type="act", action=first, so_far=0)
        return append(journal, *given, **seen)

    monkeypatch.setattr(Journal, "append", meanwhile)
    reply = say(here, type="act", action=second, so_far=0)
    assert (reply["elsewhere"], reply["play"]["count"]) == (True, 1)
    assert [entry["actions"] for entry in recorded(tmp_path)] == [[first]]


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], workbook.Book]:
    """Return what opens the same copy, each time as another window does."""
    monkeypatch.setattr(channel, "_questions", type(channel._questions)(maxlen=8))
    release(tmp_path, [CHOICE])
    identify(tmp_path)
    return lambda: workbook.Book(modules.load("lock-pin"), tmp_path)


def test_the_other_window_is_told_at_once_and_another_kernel_when_it_looks(
    book: Callable[[], workbook.Book], monkeypatch: pytest.MonkeyPatch
) -> None:
    here, there = (opened.ask("A1") for opened in (book(), book()))
    assert isinstance(here, Control)
    assert isinstance(there, Control)
    got: list[dict[str, Any]] = []
    for control in (here, there):
        monkeypatch.setattr(control, "send", lambda said, whose=control: got.append({**said, "whose": whose}))
    here._heard(here, {"type": "save", "ticket": "t", "response": B, "base": 0}, [])
    assert [(said["type"], said["whose"]) for said in got] == [("saved", here), ("elsewhere", there)]
    assert got[1]["saved"]["response"] == there.shown["saved"]["response"] == B
    # Another program writes; nobody here hears of it until a page looks.
    state = here.state
    assert isinstance(state, Assessed)
    journal = state.journal
    other = Journal(
        journal.path, course=journal.course, module=journal.module, form=journal.form, apprentice=journal.apprentice
    )
    other.append("A1", ChoiceResponse(option="a"))
    got.clear()
    channel.tell()
    assert [(said["type"], said["saved"]["n"]) for said in got] == [("elsewhere", 2)] * 2
    channel.tell()
    assert len(got) == 2


def test_what_is_typed_lies_in_the_folder_and_no_mark_or_hand_in_sees_it(tmp_path: Path) -> None:
    question = Assessed("A1", NUMBER, journal_in(tmp_path))
    half = {"kind": "number", "text": "35 N", "unit": "N·m"}
    assert say(question, type="draft", response=half, base=0)["kept"] is True
    assert Assessed("A1", NUMBER, journal_in(tmp_path)).shown()["kept"] == {"response": half, "base": 0}
    assert Assessed("A2", NUMBER, journal_in(tmp_path)).shown()["kept"] is None
    assert question.shown()["saved"] is None
    assert recorded(tmp_path) == []
    assert say(question, type="draft", response=B, base=0)["type"] == "refused"
    whole = {**half, "text": "35"}
    assert say(question, type="save", response=whole, base=0)["type"] == "saved"
    assert not (tmp_path / DRAFTS_FILE).exists()
    say(question, type="draft", response=half, base=1)
    handed = pack(tmp_path)
    assert DRAFTS_FILE.encode() not in handed.read_bytes()
    assert say(question, type="draft", response=None)["kept"] is True
    assert not (tmp_path / DRAFTS_FILE).exists()


def test_a_file_of_drafts_that_cannot_be_used_costs_nothing(tmp_path: Path) -> None:
    path = tmp_path / DRAFTS_FILE
    question = Assessed("A1", CHOICE, journal_in(tmp_path))
    for strange in (b"{", b"[]", b'{"a": {"response": {"kind": "choice"}}}', b"\xff", b" " * 600_000):
        path.write_bytes(strange)
        assert question.shown()["kept"] is None
    assert say(question, type="draft", response=A, base=0)["kept"] is True
    assert question.shown()["kept"] == {"response": A, "base": 0}
    for number in range(80):
        say(Assessed(f"Q{number}", CHOICE, journal_in(tmp_path)), type="draft", response=B, base=0)
    assert path.stat().st_size < 20_000
    assert question.shown()["kept"] is None, "the oldest goes where there are too many"
    path.unlink()
    path.mkdir()
    assert say(question, type="draft", response=A, base=0)["kept"] is False
    assert say(question, type="save", response=A, base=0)["type"] == "saved"
