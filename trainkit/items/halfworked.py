"""Half-worked examples: a question whose working is begun, and what of it can be shown without stating the answer.

The lines are those of the key's own working. A line *tells* the answer where it holds the number, the time, the
option, the place or the whole order that is asked. What is begun, and what a hint can show, ends before the first
line that tells.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.errors import ItemError
from trainkit.items.item import ChoiceItem, GridItem, InsertItem, Item, OrderItem, PointItem, SeveralItem
from trainkit.items.key import (
    ChoiceKey,
    GridKey,
    InsertKey,
    Key,
    NumberKey,
    OrderKey,
    PointKey,
    SetKey,
    SeveralKey,
)

if TYPE_CHECKING:
    from trainkit.items.template import Template
    from trainkit.packs import Pack

__all__ = ["HalfWorked", "half_worked", "quiet_lines", "tells"]

# Draws of one template that are looked at; more would only make a workbook slower to open.
_TRIES = 40
# The working of a bench is played and that of a text is a person's: neither can be begun in lines.
_KINDS = ("number", "choice", "several", "order", "insert", "grid", "point", "set")
# Each of its lines is the verdict on one option, which it does not name.
_VERDICTS = ("torque-units/which-wrench",)
# They tell no option from another.
_IDLE = frozenset(("a", "an", "and", "it", "of", "the", "then", "to"))
_PIECES = re.compile(r"\d+:\d{2}|\d+(?:\.\d+)?|[^\W\d_]+")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class HalfWorked:
    """A question whose working is begun.

    Parameters
    ----------
    item : Item
        What is asked.
    key : Key
        What is right, with the whole working.
    skill : str
        What it exercises, in words.
    begun : int
        How many lines of the working are done for the apprentice, at least 1.
    quiet : int
        How many lines can be shown in all, as hints uncover them, before one would tell the answer.
    """

    item: Item
    key: Key
    skill: str
    begun: int
    quiet: int


def half_worked(name: str, templates: Sequence[Template], pack: Pack) -> HalfWorked:
    """Return the half-worked example of a skill: the same one for everybody who works on this pack.

    Parameters
    ----------
    name : str
        Identifier of the skill.
    templates : sequence of Template
        What practises it; the first one that gives two quiet lines is taken, else one that gives one.
    pack : Pack
        The engine.

    Raises
    ------
    ItemError
        If none of them has a working that can be begun without stating the answer.

    Examples
    --------
    >>> from trainkit import packs
    >>> from trainkit.items.template import find
    >>> found = half_worked("adapter", [find("torque-units/adapter-straight")], packs.load("dunlin"))
    >>> found.key.working[0][: len("Lever from grip to bolt")], found.begun, len(found.key.working)
    ('Lever from grip to bolt', 1, 3)
    """
    short = None
    for template in templates:
        for found in _begun(name, template, pack):
            if found.quiet > 1:
                return found
            short = short or found
    if short is None:
        raise ItemError(
            name,
            rule="A half-worked example needs a working of two lines or more that does not begin with the answer.",
            remedy="Name another skill of this module.",
        )
    return short


def _begun(name: str, template: Template, pack: Pack) -> Iterator[HalfWorked]:
    if template.kind not in _KINDS or template.name in _VERDICTS:
        return
    for number in range(_TRIES):
        # Hung on names alone, so that it is the same on every computer.
        rng = random.Random(f"half-worked {pack.name} {name} {template.name} {number}")  # noqa: S311 - no secret
        try:
            item, key = template.draw(rng, pack)
        except ItemError:
            return  # the pack has nothing of this sort
        quiet = quiet_lines(item, key)
        if quiet:
            # Where it can be, a line is kept back for a hint.
            yield HalfWorked(item, key, template.skill, max(1, min(quiet - 1, len(key.working) // 2)), quiet)


def quiet_lines(item: Item, key: Key) -> int:
    """Return how many lines of the working come before the first that tells the answer; the last is never counted."""
    told = (place for place, line in enumerate(key.working) if tells(item, key, line))
    return max(0, min(next(told, len(key.working)), len(key.working) - 1))


def tells(item: Item, key: Key, line: str) -> bool:
    """Tell whether a line states what is asked; in doubt it does.

    Examples
    --------
    >>> from trainkit.items.item import ChoiceItem, Option
    >>> options = (Option(id="a", text="Cylinder 3"), Option(id="b", text="Cylinder 4"))
    >>> item = ChoiceItem(prompt="Which one?", options=options)
    >>> key = ChoiceKey(template="t/t", working=("Half of 360° is 180°.", "So it is cylinder 3."), right="a")
    >>> [tells(item, key, line) for line in key.working]
    [False, True]
    """
    match item, key:
        case _, NumberKey():
            return _number_told(line, key.answer, key.tolerance)
        case _, SetKey():
            return _setting_told(line, key)
        case ChoiceItem(), ChoiceKey():
            return _option_told(line, {option.id: option.text for option in item.options}, (key.right,))
        case SeveralItem(), SeveralKey():
            return _option_told(line, {option.id: option.text for option in item.options}, key.right)
        case PointItem(), PointKey():
            return _option_told(line, {target.id: target.text for target in item.targets}, key.right)
        case OrderItem(), OrderKey():
            return all(_holds(line, card.text) for card in item.cards)
        case InsertItem(), InsertKey():
            return any(_place_told(line, item, place) for place in key.right)
        case GridItem(), GridKey():
            return any(_holds(line, row.text) for row in item.rows)
        case _:
            return True


def _number_told(line: str, answer: float, tolerance: float) -> bool:
    # As far as would be marked right, and a hair more for numbers that were rounded to be shown.
    near = max(tolerance, 0.005 * abs(answer))
    return any(abs(float(found) - abs(answer)) <= near for found in _NUMBER.findall(line))


def _setting_told(line: str, key: SetKey) -> bool:
    if key.turn is None:
        return _number_told(line, key.answer, key.tolerance)
    times = (piece.split(":") for piece in _PIECES.findall(line) if ":" in piece)
    away = ((int(hours) + int(minutes) / 60 - key.answer) % key.turn for hours, minutes in times)
    return any(min(each, key.turn - each) <= key.tolerance for each in away)


def _option_told(line: str, options: dict[str, str], right: Iterable[str]) -> bool:
    """Tell whether all pieces of a right option stand in a line, by which it differs from some other one."""
    pieces = {name: _pieces(text) for name, text in options.items()}
    common = frozenset.intersection(*pieces.values())
    there = _pieces(line)
    for name in right:
        own = pieces[name] - common or pieces[name]
        head = _pieces(options[name].partition(":")[0])  # "Clockwise: one change of sense" is told by "clockwise"
        numbers = frozenset(piece for piece in own if _NUMBER.fullmatch(piece))
        # Two numbers are enough to know an option by, whatever words stand with them.
        for wanted in (own, head - common, numbers if len(numbers) > 1 else frozenset()):
            if wanted and all(_stands(piece, there) for piece in wanted):
                return True
    return False


def _place_told(line: str, item: InsertItem, place: int) -> bool:
    neighbours = item.written[max(0, place - 1) : place + 1]
    return all(_holds(line, card.text) for card in neighbours)


def _holds(line: str, text: str) -> bool:
    return text.rstrip(".").casefold() in line.casefold()


def _pieces(text: str) -> frozenset[str]:
    return frozenset(_PIECES.findall(text.casefold())) - _IDLE


def _stands(piece: str, there: frozenset[str]) -> bool:
    """Tell whether a piece of a text stands among others: a number also where it is one of them rounded."""
    if piece in there:
        return True
    if not _NUMBER.fullmatch(piece):
        return False
    half = 0.5 * 10.0 ** -len(piece.partition(".")[2])
    return any(abs(float(each) - float(piece)) < half for each in there if _NUMBER.fullmatch(each))
