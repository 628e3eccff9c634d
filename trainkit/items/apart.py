"""Answers told apart: numbers at their step, settings of a clock hand, and options.

A draw in which two wrong rules agree with each other or with the right answer cannot say what a wrong answer shows;
nor can one whose answer lies where rounding turns over. All functions here ask for another draw in that case.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Hashable, Iterable, Mapping
from fractions import Fraction
from itertools import pairwise
from typing import TypeVar

from trainkit.items.item import Option
from trainkit.items.key import NumberRule
from trainkit.items.template import Redraw, shuffled, well_apart
from trainkit.quantities import round_to_step

__all__ = ["NEAR", "Rules", "choices", "lettered", "numbers", "on_step", "settings"]

Case = TypeVar("Case")
T = TypeVar("T", bound=Hashable)
Number = float | Fraction
# Wrong rules by their code; a rule that has nothing to say about a case returns None.
Rules = Mapping[str, Callable[[Case], Number | None]]

# An answer counts as right within this share of a step: it need not be rounded, and the next step is never right.
NEAR = 0.4
# How far a value keeps from where rounding turns over, in steps.
_CLEAR = 0.1

LETTERS = "abcdefghijkl"


def on_step(value: Number, step: float, share: float = 0.0) -> float:
    """Return the multiple of ``step`` nearest to a value that lies clear of where rounding turns over.

    Parameters
    ----------
    value : float or fractions.Fraction
        The exact value.
    step : float
        The step that is asked for.
    share : float
        Part of the value that a calculator may be off, because a factor such as π is printed with four digits.

    Raises
    ------
    Redraw
        If the last digit of a calculator would decide.

    Examples
    --------
    >>> on_step(Fraction(22, 7), 0.5)
    3.0
    """
    number = float(value)
    steps = abs(number) / step
    # Far enough from the edge for plain floats: what is passed on here is rounded exactly.
    if abs(steps % 1.0 - 0.5) < _CLEAR + steps * share:
        raise Redraw
    return round_to_step(number, step)


def numbers(
    rules: Rules[Case], case: Case, exact: Number, step: float, *, share: float = 0.0
) -> tuple[float, tuple[NumberRule, ...]]:
    """Return the right number and what each wrong rule gives, all on the step and at least one step apart.

    Parameters
    ----------
    rules : mapping
        Wrong rules by their code.
    case : object
        What they are functions of.
    exact : float or fractions.Fraction
        The right number, not rounded.
    step : float
        The step that is asked for.
    share : float
        See :func:`on_step`.

    Raises
    ------
    Redraw
        If two of them agree at the step, one of them is nought there, or lies where rounding turns over.
    """
    answer = on_step(exact, step, share)
    found = _found(rules, case, lambda value: on_step(value, step, share))
    marks = [answer, *found.values()]
    if min(marks) <= 0 or not well_apart(marks, 2 * NEAR * step):
        raise Redraw
    return answer, _as_rules(found)


def settings(
    rules: Rules[Case], case: Case, exact: Number, step: float, turn: float
) -> tuple[float, tuple[NumberRule, ...]]:
    """Return the right setting of a hand and what each wrong rule sets, on the step and apart all the way round.

    Parameters
    ----------
    rules, case : mapping, object
        As for :func:`numbers`.
    exact : float or fractions.Fraction
        The right setting; any number of turns may be added.
    step, turn : float
        The step of the scale, and where it comes round (12 hours).

    Raises
    ------
    Redraw
        If two of them agree, or one lies where rounding turns over.
    """

    def around(value: Number) -> float:
        return on_step(value % turn, step) % turn

    answer = around(exact)
    found = _found(rules, case, around)
    ring = sorted([answer, *found.values()])
    if any(later - earlier <= 2 * NEAR * step for earlier, later in pairwise([*ring, ring[0] + turn])):
        raise Redraw
    return answer, _as_rules(found)


def choices(right: T, wrong: Mapping[str, T | None], fillers: Iterable[T] = ()) -> dict[T, str]:
    """Return what is offered, each with the code that it shows: nothing for the right one and for fillers.

    Parameters
    ----------
    right : hashable
        The right answer.
    wrong : mapping
        What each wrong rule answers, by its code; None where it has nothing to say.
    fillers : iterable
        Further wrong answers that no single rule gives; left out where they are offered already.

    Raises
    ------
    Redraw
        If two rules give the same answer, or one gives the right one.

    Examples
    --------
    >>> choices("on", {"late": "back", "early": None}, ["off", "back"])
    {'on': '', 'back': 'late', 'off': ''}
    """
    offered = {right: ""}
    for code, answer in wrong.items():
        if answer is None:
            continue
        if answer in offered:
            raise Redraw
        offered[answer] = code
    for answer in fillers:
        offered.setdefault(answer, "")
    return offered


def lettered(texts: Mapping[T, str], shuffle: random.Random) -> tuple[tuple[Option, ...], dict[T, str]]:
    """Return options in shuffled order, named a, b, c … by where they stand, and the name of each thing.

    Parameters
    ----------
    texts : mapping
        What each thing says.
    shuffle : random.Random
        Stream for the order.
    """
    letters = dict(zip(shuffled(texts, shuffle), LETTERS, strict=False))
    return tuple(Option(id=letter, text=texts[thing]) for thing, letter in letters.items()), letters


def _found(rules: Rules[Case], case: Case, put: Callable[[Number], float]) -> dict[str, float]:
    values = {code: rule(case) for code, rule in rules.items()}
    return {code: put(value) for code, value in values.items() if value is not None}


def _as_rules(found: Mapping[str, float]) -> tuple[NumberRule, ...]:
    return tuple(NumberRule(misconception=code, value=value) for code, value in found.items())
