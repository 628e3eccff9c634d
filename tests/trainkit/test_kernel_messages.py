"""What the kernel tells the page round a workbook, and when."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.trainkit.given_out import CHOICE, identify, release
from trainkit import modules, workbook
from trainkit.items.kinds import NumberItem
from trainkit.widgets.control import Control
from trainkit.widgets.kernel_messages import Channel, channel

NUMBER = NumberItem(prompt="What do you set?", units=("N·m",), to_nearest="to the nearest 1 N·m")


class Page:
    """What a comm is to the channel."""

    def __init__(self) -> None:
        self.got: list[dict[str, Any]] = []

    def send(self, data: dict[str, Any]) -> None:
        self.got.append(data)

    def on_msg(self, hear: Callable[[dict[str, Any]], None]) -> None:
        self.hear = hear

    def on_close(self, closed: Callable[[object], None]) -> None:
        self.closed = closed


def released(folder: Path, module: str = "lock-pin") -> workbook.Book:
    release(folder, [NUMBER, CHOICE], module=module)
    identify(folder)
    return workbook.Book(modules.load("lock-pin"), folder)


def test_a_saved_answer_is_told_to_every_page_and_nothing_else_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(channel, "_pages", type(channel._pages)(maxlen=8))
    monkeypatch.setattr(channel, "_shown", None)
    book = released(tmp_path)
    pages = Page(), Page()
    for page in pages:
        channel.connect(page, {})
        assert page.got == [], "no workbook is open yet"
    channel.follow(book.shown, {"code": ["book.finish()"], "text": ["# Lock pin"]})
    typed, asked = book.ask("A1"), book.ask("A2")
    assert isinstance(typed, Control)
    assert isinstance(asked, Control)
    typed._heard(typed, {"type": "read", "ticket": 1, "text": "35", "unit": "N·m"}, [])
    asked._heard(asked, {"type": "save", "ticket": 2, "response": {"kind": "choice", "option": "b"}}, [])
    for page in pages:
        first, before, after = page.got
        assert first == {"type": "opened", "code": ["book.finish()"], "text": ["# Lock pin"]}
        assert (before["answered"], before["open"]) == ([], ["A1", "A2"])
        assert (after["answered"], after["open"]) == (["A2"], ["A1"])
        assert after["type"] == "state"
        assert {after[key] for key in ("person", "form", "module", "title")} == {
            *("Amir Onslow", "K7", "lock-pin", "Lock pin")
        }
        assert after["closed"] == ""


def test_a_page_that_closed_is_told_no_more_and_strange_messages_are_not_answered() -> None:
    ours, stays, leaves = Channel(), Page(), Page()
    ours.follow(lambda: {"open": []}, {})
    ours.connect(stays, {})
    ours.connect(leaves, {})
    leaves.closed({})
    leaves.closed({})
    told = len(leaves.got)
    ours.tell()
    assert len(leaves.got) == told
    assert len(stays.got) == told + 1
    odd: list[dict[str, Any]] = [{}, *({"content": each} for each in ({}, {"data": "look"}, {"data": {"type": "run"}}))]
    for strange in odd:
        stays.hear(strange)
    assert len(stays.got) == told + 1
    stays.hear({"content": {"data": {"type": "look"}}})
    assert len(stays.got) == told + 2


def test_pages_that_never_closed_do_not_pile_up() -> None:
    ours = Channel()
    ours.follow(dict, {})
    pages = [Page() for _ in range(40)]
    for page in pages:
        ours.connect(page, {})
    for page in pages:
        page.got.clear()
    ours.tell()
    assert [bool(page.got) for page in pages] == [False] * 32 + [True] * 8


def test_a_copy_without_a_form_says_why_and_one_for_practice_says_nothing(tmp_path: Path) -> None:
    practice = workbook.Book(modules.load("lock-pin"), tmp_path).shown()
    assert (practice["closed"], practice["person"], practice["form"]) == ("", None, None)
    wrong = released(tmp_path, module="sequence").shown()
    assert "belong to the module sequence" in wrong["closed"]
    assert (wrong["answered"], wrong["open"]) == ([], [])
