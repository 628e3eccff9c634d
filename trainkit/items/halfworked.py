"""Half-worked examples: a question whose working is begun, and what of it can be shown without stating the answer.

The lines are those of the key's own working. A line *tells* the answer where it holds the number, the time, the
option, the place or the whole order that is asked. What is begun, and what a hint can show, ends before the first
line that tells.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.errors import DrawFault, ItemError
from trainkit.items.asking import asked
from trainkit.items.kinds import KINDS, kind_of

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Key
    from trainkit.items.template import Template
    from trainkit.packs import Pack


# Draws of one template that are looked at; more would only make a workbook slower to open.
_TRIES = 40
# Each of its lines is the verdict on one option, which it does not name.
_VERDICTS = ("torque-units/which-wrench",)


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


def half_worked(name: str, templates: Sequence[Template], pack: Pack, avoid: Collection[str] = ()) -> HalfWorked:
    """Return the half-worked example of a skill: the same one for everybody who works on this pack.

    Only where it is a question of somebody's own assessment that person has the next one.

    Parameters
    ----------
    name : str
        Identifier of the skill.
    templates : sequence of Template
        What practises it; the first one that gives two quiet lines is taken, else one that gives one.
    pack : Pack
        The engine.
    avoid : collection of str
        What stands for questions that it must not be (:func:`~trainkit.items.asking.asked`).

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
            if avoid and asked(found.item) in avoid:
                continue
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
    # The working of a bench is played and that of a text is a person's: neither can be begun in lines.
    if KINDS[template.kind].tells is None or template.name in _VERDICTS:
        return
    for number in range(_TRIES):
        # Hung on names alone, so that it is the same on every computer.
        rng = random.Random(f"half-worked {pack.name} {name} {template.name} {number}")  # noqa: S311 - no secret
        try:
            item, key = template.draw(rng, pack)
        except ItemError:
            return  # the pack has nothing of this sort
        except DrawFault:
            continue  # another draw may do
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
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> from trainkit.items.kinds import ChoiceKey
    >>> options = (Option(id="a", text="Cylinder 3"), Option(id="b", text="Cylinder 4"))
    >>> item = ChoiceItem(prompt="Which one?", options=options)
    >>> key = ChoiceKey(template="t/t", working=("Half of 360° is 180°.", "So it is cylinder 3."), right="a")
    >>> [tells(item, key, line) for line in key.working]
    [False, True]
    """
    told = kind_of(key.kind).tells
    return told is None or told(item, key, line)
