"""What paper needs to know of one kind of answer: its form on the sheet, and how what is written there is typed."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from trainkit.items.kinds.values import Card, Option, Value
from trainkit.widgets.understanding import fit
from trainkit_grading.errors import PaperError
from trainkit_grading.paper.bench import LETTERS
from trainkit_grading.support.plaintext import one_line

if TYPE_CHECKING:
    from trainkit.items.kinds import Name


I = TypeVar("I")  # noqa: E741 - item and response of one kind
R = TypeVar("R", bound=Value)

UNANSWERED = "-"
BOX = '<i class="box"></i>'
LOOK = f"Look at the sheet again; where nothing that can be an answer stands there, type {UNANSWERED}."


def as_on_screen(item: Any, response: R) -> R:
    """Hold an answer against the rules of the screen."""
    fitting: Any = fit(item, response.model_dump(mode="json"))
    kept: R = fitting
    return kept


@dataclass(frozen=True, slots=True)
class Blank(Generic[I, R]):
    """One kind of answer on paper.

    Parameters
    ----------
    name : str
        The ``kind`` of its item and response.
    html : callable
        What is written or ticked, as HTML; its second parameter is the code of the checklist, for practical work.
    hint : callable
        In a few words how an answer is typed.
    read : callable
        The answer that was typed; raises what is wrong with it.
    write : callable
        An answer as it would be typed.
    fit : callable
        Returns an answer that can stand on the sheet, or raises what is wrong with it.
    long : str
        What the place for a long answer is called; empty where the answer is short.
    """

    name: Name
    html: Callable[[I, str], str]
    hint: Callable[[I], str]
    read: Callable[[I, str], R]
    write: Callable[[I, R], str]
    fit: Callable[[I, R], R] = as_on_screen
    long: str = ""


def refused(typed: str, rule: str, remedy: str = LOOK) -> PaperError:
    """Return the error for what was typed and can be no answer."""
    return PaperError(one_line(typed)[:60], rule=rule, remedy=remedy)


def say(text: str) -> str:
    """Return what to do, as HTML."""
    return f'<p class="do">{escape(text)}</p>'


def ticks(options: Iterable[tuple[str, str]], kind: str = "") -> str:
    """Return a list of boxes to tick, as HTML."""
    rows = "".join(f"<li>{BOX}<b>{escape(mark)}</b><span>{escape(text)}</span></li>" for mark, text in options)
    return f'<ul class="ticks {kind}">{rows}</ul>'


def lettered(things: Iterable[Option | Card]) -> list[tuple[str, str]]:
    """Return the letter of each option, card or action on paper, and its words."""
    return [(LETTERS[place], thing.text) for place, thing in enumerate(things)]


def marks(things: Sequence[Option | Card]) -> dict[str, str]:
    """Return the letter of each option, card or action on paper, and its identifier."""
    return {LETTERS[place]: thing.id for place, thing in enumerate(things)}


def letter_of(things: Sequence[Option | Card], name: str) -> str:
    """Return the letter of an identifier."""
    return next(letter for letter, of in marks(things).items() if of == name)


def ticked(typed: str, known: Mapping[str, str]) -> list[str]:
    """Return the identifiers of letters, parted or not."""
    letters = re.sub(r"[\s,;.+&]+", "", typed.upper())
    unknown = sorted(set(letters) - set(known))
    if unknown:
        there = f"The letters on the sheet are {', '.join(known)}; {', '.join(unknown)[:40]} is not among them."
        raise refused(typed, there)
    twice = [letter for letter, count in Counter(letters).items() if count > 1]
    if twice:
        raise refused(typed, f"{', '.join(twice)} stands there twice.", "Type each letter once.")
    return [known[letter] for letter in letters]


def whole(typed: str, least: int, most: int, what: str) -> int:
    """Return a number of the sheet."""
    if not re.fullmatch(r"\d{1,3}", typed) or not least <= int(typed) <= most:
        raise refused(typed, f"The {what} on the sheet are numbered {least} to {most}.")
    return int(typed)
