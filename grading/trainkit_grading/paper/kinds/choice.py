"""One out of several options: one box to tick."""

from __future__ import annotations

from trainkit.items.kinds import ChoiceItem, ChoiceResponse
from trainkit_grading.paper.bench import LETTERS
from trainkit_grading.paper.kinds.blank import (
    UNANSWERED,
    Blank,
    letter_of,
    lettered,
    marks,
    refused,
    say,
    ticked,
    ticks,
)


def _read(item: ChoiceItem, typed: str) -> ChoiceResponse:
    found = ticked(typed, marks(item.options))
    if len(found) != 1:
        none = f"Where two are ticked and none is struck out, no answer was given: type {UNANSWERED}."
        raise refused(typed, "One box is ticked.", none)
    return ChoiceResponse(option=found[0])


BLANK: Blank[ChoiceItem, ChoiceResponse] = Blank(
    "choice",
    html=lambda item, _: say("Tick one box.") + ticks(lettered(item.options)),
    hint=lambda item: f"one letter, A to {LETTERS[len(item.options) - 1]}",
    read=_read,
    write=lambda item, response: letter_of(item.options, response.option),
)
