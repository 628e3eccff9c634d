"""Any number of several options: boxes to tick, and one for none of them."""

from __future__ import annotations

from trainkit.items.kinds import SeveralItem, SeveralResponse
from trainkit_grading.paper.bench import LETTERS
from trainkit_grading.paper.kinds.blank import Blank, letter_of, lettered, marks, say, ticked, ticks

_NONE = "NONE"


def _html(item: SeveralItem, _: str) -> str:
    to_do = say(f"Tick all that belong. If none does, tick {_NONE}.")
    return to_do + ticks([*lettered(item.options), (_NONE, "none of them")])


def _read(item: SeveralItem, typed: str) -> SeveralResponse:
    found = [] if typed.upper() == _NONE else ticked(typed, marks(item.options))
    return SeveralResponse(options=tuple(option.id for option in item.options if option.id in found))


def _write(item: SeveralItem, response: SeveralResponse) -> str:
    return " ".join(letter_of(item.options, option) for option in response.options) or _NONE


BLANK: Blank[SeveralItem, SeveralResponse] = Blank(
    "several",
    html=_html,
    hint=lambda item: f"all ticked letters, A to {LETTERS[len(item.options) - 1]}, or {_NONE}",
    read=_read,
    write=_write,
)
