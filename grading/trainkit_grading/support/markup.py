"""Text for pages: everything that anybody wrote becomes plain text in HTML, and marks become words and shapes.

Pages show what apprentices typed, names from a roster and words from a pack. All of it goes through :func:`text`,
so that none of it can become markup, a script, or mathematics that a viewer would set.
"""

from __future__ import annotations

import html
from collections.abc import Iterable
from functools import lru_cache

from trainkit.items.item import Card, InsertItem, Item, Option, SetItem
from trainkit.items.marking import Mark
from trainkit.items.responses import (
    ActionsResponse,
    ChoiceResponse,
    GridResponse,
    InsertResponse,
    NumberResponse,
    ObservedResponse,
    OrderResponse,
    PointResponse,
    Response,
    SetResponse,
    SeveralResponse,
    TextResponse,
)
from trainkit.widgets.paper import answer_words
from trainkit_grading.support.plaintext import plain

__all__ = ["SHAPES", "attribute", "lines", "number", "paragraphs", "plain", "said", "text", "verdict"]

THIN_SPACE = "\u2009"
# A shape beside the word, for those who see no colour and for print in black.
SHAPES = {"right": "●", "in part": "◐", "not yet": "○", "no answer": "–", "waiting": "…"}

# Viewers of notebooks look for mathematics between these and would set it, links included. Each stands in an
# element of its own, so that no pair of them is ever found in one run of text.
_BREAKERS = {"$": "<span>$</span>", "\\": "<span>\\</span>"}


def text(value: object) -> str:
    """Return ``value`` as HTML that shows exactly its characters.

    Examples
    --------
    >>> text("<b>31 & $x$</b>")
    '&lt;b&gt;31 &amp; <span>$</span>x<span>$</span>&lt;/b&gt;'
    """
    return _escaped(str(value))


@lru_cache(maxsize=8192)  # the same labels and units stand beside item after item
def _escaped(value: str) -> str:
    escaped = html.escape(plain(value), quote=True)
    for character, instead in _BREAKERS.items():
        escaped = escaped.replace(character, instead)
    return escaped


def attribute(value: object) -> str:
    """Return ``value`` for use between the double quotes of an attribute."""
    return html.escape(plain(value), quote=True)


def paragraphs(value: str) -> str:
    r"""Return the paragraphs of a plain text, which are separated by an empty line, as HTML.

    Examples
    --------
    >>> paragraphs("One.\n\nTwo.")
    '<p>One.</p><p>Two.</p>'
    """
    return "".join(f"<p>{text(part.strip())}</p>" for part in value.split("\n\n") if part.strip())


def number(value: float) -> str:
    """Return a number of points or per cent as people write it.

    Examples
    --------
    >>> number(2.0), number(1.25), number(33.333)
    ('2', '1.25', '33.33')
    """
    return f"{value:.2f}".rstrip("0").rstrip(".")


def said(item: Item, response: Response | None) -> tuple[str, ...]:
    """Return what was answered, in the words of the item, one line for each part; plain text, not HTML.

    An option, card or place that the item never offered is named as such.

    Examples
    --------
    >>> from trainkit.items.item import NumberItem
    >>> from trainkit.items.responses import NumberResponse
    >>> item = NumberItem(prompt="How much?", units=("N·m",), to_nearest="to the nearest 1 N·m")
    >>> said(item, NumberResponse(text="31", unit="N·m"))
    ('31\u2009N·m',)
    """
    if response is None:
        return ()
    words = _words(item)
    match response:
        case NumberResponse():
            typed = response.text.strip()
            # A unit that was typed goes before the one that was picked, as in marking.
            own = any(character.isalpha() or character in "°%" for character in typed)
            return (typed if own else f"{typed}{THIN_SPACE}{response.unit}".strip(),)
        case SetResponse():
            # A clock hand is told as people tell it: 2:45.
            return (answer_words(item, response) if isinstance(item, SetItem) else f"{response.value:g}",)
        case ChoiceResponse():
            return (_named(words, response.option),)
        case PointResponse():
            return (_named(words, response.target),)
        case SeveralResponse():
            return tuple(_named(words, option) for option in response.options) or ("none of them",)
        case OrderResponse():
            return _numbered(words, response.cards)
        case InsertResponse():
            return (_inserted(item, response.place),)
        case GridResponse():
            return tuple(f"{_named(words, row)}: {_named(words, column)}" for row, column in response.rows.items())
        case ActionsResponse():
            stopped = ("Stopped there.",) if response.gave_up else ()
            return (*_numbered(words, response.actions), *stopped) or ("Nothing was done.",)
        case TextResponse():
            return tuple(response.text.splitlines())
        case ObservedResponse():
            steps = (f"{_named(words, step)}: {how}" for step, how in response.steps.items())
            return (*steps, f"Observed by {response.observer}.")


def _words(item: Item) -> dict[str, str]:
    """Return the words of everything in an item that an answer can name."""
    named: list[Option | Card] = []
    # Asking the class costs far less than asking the item for what it has not.
    fields = type(item).model_fields
    for part in ("options", "cards", "rows", "columns", "targets", "actions", "steps"):
        if part in fields:
            named.extend(getattr(item, part))
    return {entry.id: entry.text for entry in named}


def _inserted(item: Item, place: int) -> str:
    if not isinstance(item, InsertItem):
        return f"place {place}"
    if place == 0:
        return f"before “{item.written[0].text}”"
    return f"after “{item.written[min(place, len(item.written)) - 1].text}”"


def _numbered(words: dict[str, str], names: Iterable[str]) -> tuple[str, ...]:
    return tuple(f"{place}. {_named(words, name)}" for place, name in enumerate(names, start=1))


def _named(words: dict[str, str], name: str) -> str:
    return words.get(name) or f"“{name}”, which was not offered"


def verdict(mark: Mark) -> str:
    """Return the verdict as a shape and a word."""
    shape = SHAPES.get(mark.verdict, "○")
    harm = " ▲ would do harm" if mark.critical else ""
    return f"{shape} {mark.verdict}{harm}"


def lines(parts: Iterable[str]) -> str:
    """Return plain lines as HTML, one below the other."""
    return "<br>".join(text(part) for part in parts)
