"""The bench on paper: what the apprentice writes is answered out of a book that only the invigilator holds.

On the screen an action is recorded first, then the bench says what eye and hand get. Paper does not answer by itself.
So the apprentice writes one action, the invigilator looks it up in the bench book of that form, reads the sentence
aloud and writes its number beside the action. The book has one row for everything that can be the case. It says
nothing of right and wrong, and it comes from what the form shows alone; whoever had it could look ahead, which the
screen does not allow either. When the sheet is typed in, the actions are played again by the code that plays them on
the screen, and the numbers of the sentences prove that the book was read rightly.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from trainkit.items import scenarios
from trainkit.items.kinds import ActionsResponse
from trainkit.items.reading import read_item
from trainkit_grading.errors import PaperError
from trainkit_grading.support.plaintext import one_line

if TYPE_CHECKING:
    from trainkit.items.kinds import ActionsItem
    from trainkit.items.scenarios import Play


LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ"
"""What options, cards and actions are called on paper, by their place; I, L and O are too much like 1 and 0."""


@dataclass(frozen=True, slots=True)
class BenchRow:
    """One state of the bench.

    Parameters
    ----------
    number : int
        Of the row; 1 is where the play begins.
    seen : tuple of str
        What the picture on the screen would show: where the mark stands, the pin, the barring tool.
    cells : tuple of (int, int) or None
        For each action the number of its sentence and that of the next row, 0 where the play is over; None for what
        cannot be done as things stand.
    """

    number: int
    seen: tuple[str, ...]
    cells: tuple[tuple[int, int] | None, ...]


@dataclass(frozen=True, slots=True)
class BenchBook:
    """What the invigilator holds for one form: the sentences, by their numbers from 1, and the rows."""

    actions: tuple[tuple[str, str], ...]
    sentences: tuple[str, ...]
    rows: tuple[BenchRow, ...]


def book(item: ActionsItem) -> BenchBook:
    """Return the bench book of a scenario, by trying out everything that can be done.

    Raises
    ------
    ItemError
        If the scenario cannot be played.
    """
    return _book(item.model_dump_json())


@lru_cache(maxsize=32)
def _book(data: str) -> BenchBook:
    import json

    item = read_item(json.loads(data))
    if item.kind != "actions":  # pragma: no cover - called with nothing else
        raise TypeError(item.kind)
    offered = [option.id for option in item.actions]
    first = scenarios.begin(item.model, item.scene)
    numbers: dict[tuple[object, ...], int] = {_what_is(first): 1}
    plays: list[Play] = [first]
    said: dict[str, int] = {}
    rows: list[BenchRow] = []
    for place, play in enumerate(plays, start=1):  # grows while it is walked: breadth first
        cells: list[tuple[int, int] | None] = []
        for action in offered:
            if action not in play.actions:
                cells.append(None)
                continue
            after, seen = play.act(action)
            sentence = said.setdefault(seen, len(said) + 1)
            if after.finished:
                cells.append((sentence, 0))
                continue
            what = _what_is(after)
            if what not in numbers:
                numbers[what] = len(numbers) + 1
                plays.append(after)
            cells.append((sentence, numbers[what]))
        rows.append(BenchRow(place, _seen(play), tuple(cells)))
    letters = tuple((LETTERS[place], option.text) for place, option in enumerate(item.actions))
    return BenchBook(letters, tuple(said), tuple(rows))


def _what_is(play: Play) -> tuple[object, ...]:
    """Return what decides what follows; how many detours were made decides nothing but the mark."""
    view = play.view
    return (getattr(play, "state", play), view.get("turned", ""))


def _seen(play: Play) -> tuple[str, ...]:
    view = play.view
    bar = "fitted" if view.get("bar") == "fitted" else "off"
    return (str(view.get("tooth", "")), str(view.get("pin", "")), bar)


def read_actions(item: ActionsItem, typed: str) -> ActionsResponse:
    """Read the rows of a sheet: letters of actions, each with the number of its sentence where one was written.

    Parameters
    ----------
    item : ActionsItem
        The scenario.
    typed : str
        ``"C12 F3 H"``; ``STOP`` at the end where the box *I stop here* is ticked.

    Raises
    ------
    PaperError
        If a letter is none of the actions, something cannot be done at that point, or a number is not that of the
        sentence which the book has there.
    """
    words = re.sub(r"[\s,;.]+", " ", typed.upper()).strip()
    gave_up = words == "STOP" or words.endswith(" STOP")
    words = words.removesuffix("STOP").strip()
    rows = re.findall(r"([A-Z])(\d{0,3})", words.replace(" ", ""))
    if "".join(letter + number for letter, number in rows) != words.replace(" ", ""):
        raise PaperError(
            one_line(typed)[:60],
            rule="A row has the letter of an action, and may have the number of a sentence after it.",
            remedy="Type them in turn, like C12 F3 H7; STOP at the end where that box is ticked.",
        )
    if len(rows) > item.limit:
        raise PaperError(
            len(rows), rule=f"The sheet has {item.limit} rows for actions.", remedy="Leave out what is struck out."
        )
    return ActionsResponse(actions=_played(item, rows), gave_up=gave_up and not _over(item, rows))


def _over(item: ActionsItem, rows: list[tuple[str, str]]) -> bool:
    letters = dict(zip(LETTERS, (option.id for option in item.actions), strict=False))
    play, _ = scenarios.replay(item.model, item.scene, tuple(letters[letter] for letter, _ in rows))
    return play.finished


def _played(item: ActionsItem, rows: list[tuple[str, str]]) -> tuple[str, ...]:
    letters = {LETTERS[place]: option for place, option in enumerate(item.actions)}
    sentences = book(item).sentences if any(number for _, number in rows) else ()
    play = scenarios.begin(item.model, item.scene)
    done: list[str] = []
    for row, (letter, number) in enumerate(rows, start=1):
        if letter not in letters:
            raise PaperError(
                f"row {row}: {letter}",
                rule=f"The actions on the sheet are {', '.join(letters)}.",
                remedy="Look at the row again.",
            )
        if play.finished:
            raise PaperError(
                f"row {row}: {letter}",
                rule=f"The attempt was over after row {row - 1}.",
                remedy="Look at the rows again; what was written after the end does not count, leave it out.",
            )
        action = letters[letter]
        if action.id not in play.actions:
            raise PaperError(
                f"row {row}: {letter}",
                rule=f"“{action.text}” cannot be done at that point; it changes nothing.",
                remedy="Look at the row again. If it is struck out, or really stands there, leave it out.",
            )
        play, seen = play.act(action.id)
        if number and (not 1 <= int(number) <= len(sentences) or sentences[int(number) - 1] != seen):
            raise PaperError(
                f"row {row}: {letter}{number}",
                rule=f"After {letter} the book has sentence {sentences.index(seen) + 1}: “{seen}”",
                remedy="Look at the rows up to here again. If the sheet says so, the book was misread: what was read "
                "out wrongly is not the apprentice's fault. Type the rows before it, and decide what follows.",
            )
        done.append(action.id)
    return tuple(done)


def spelt(item: ActionsItem, response: ActionsResponse) -> str:
    """Return an answer as it is typed, with the numbers of its sentences."""
    letters = {option.id: LETTERS[place] for place, option in enumerate(item.actions)}
    _, log = scenarios.replay(item.model, item.scene, response.actions)
    sentences = {text: number for number, text in enumerate(book(item).sentences, start=1)}
    rows = [f"{letters[a]}{sentences[seen]}" for a, seen in zip(response.actions, log, strict=False)]
    return " ".join([*rows, *(["STOP"] if response.gave_up else [])])
