"""What an apprentice does while the process is killed: tasks for a prepared parent (see ``killing``)."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from tests.trainkit.given_out import give_out, journal_in
from tests.trainkit.killing import tell
from trainkit import modules
from trainkit.items.kinds import ChoiceItem, ChoiceResponse, Option
from trainkit.widgets.control import Control
from trainkit.workbook import Book

MODULE = "lock-pin"
ITEMS = ("A1", "A2", "A3")
_ITEM = ChoiceItem(
    prompt="Which way?", options=tuple(Option(id=f"o{number}", text=f"way {number}") for number in range(6))
)


def _option(number: int) -> str:
    return f"o{number // 3 % 6}"


def release(folder: Path) -> None:
    """Write what stands beside a notebook that was given out."""
    give_out(folder, [_ITEM] * len(ITEMS), name="Amir Shah")


def by_journal(folder: str, answers: int) -> None:
    """Answer, and tell each answer once the journal has acknowledged it."""
    mine = journal_in(Path(folder))
    for number in range(answers):
        entry = mine.append(ITEMS[number % 3], ChoiceResponse(option=_option(number)))
        tell(f"saved {entry.n} {entry.item} {entry.response.option}")  # type: ignore[union-attr] # a choice


def by_control(folder: str, answers: int) -> None:
    """Answer as the screen does: a message to the control, which replies once the answer is saved."""
    book = _BOOKS.get(folder) or Book(modules.load(MODULE), Path(folder))
    controls = {name: book.ask(name) for name in ITEMS}
    for number in range(answers):
        control = controls[ITEMS[number % 3]]
        assert isinstance(control, Control)
        control.send = _acknowledge  # what goes to the browser goes to the test
        response = {"kind": "choice", "option": _option(number)}
        control._handle_custom_msg({"type": "save", "ticket": number, "response": response}, [])


def _acknowledge(reply: dict[str, Any], *_: Any) -> None:
    assert reply["type"] == "saved", reply
    saved = reply["saved"]
    name = ITEMS[reply["ticket"] % 3]
    tell(f"saved {saved['n']} {name} {saved['response']['option']}")


_BOOKS: dict[str, Book] = {}


def open_book(folder: str) -> None:
    """Open the workbook once, as its kernel does."""
    os.environ.pop("JUPYTERHUB_USER", None)
    _BOOKS[folder] = Book(modules.load(MODULE), Path(folder))
