"""Distinct answers: numbers at their step, settings of a clock hand, and options.

A draw in which two wrong rules agree with each other or with the right answer cannot say what a wrong answer shows;
nor can one whose answer lies where rounding turns over. All functions here ask for another draw in that case.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Hashable, Iterable, Mapping
from fractions import Fraction
from itertools import pairwise
from types import MappingProxyType
from typing import NamedTuple, TypeVar

from trainkit.items.kinds import NumberPair, NumberRule, Option
from trainkit.items.template import Redraw, redraw_if, shuffled, well_apart
from trainkit.quantities import round_to_step

Case = TypeVar("Case")
T = TypeVar("T", bound=Hashable)
Number = float | Fraction
# Wrong rules by their code; a rule that has nothing to say about a case returns None.
Rules = Mapping[str, Callable[[Case], Number | None]]
# Wrong readings of what is told, and wrong last steps, by their code; see :func:`paired`.
Readings = Mapping[str, Callable[[Case], Case | None]]
Finishes = Mapping[str, Callable[[Case, Number], Number | None]]
NONE: Mapping[str, Callable[..., None]] = MappingProxyType({})

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


class Numbers(NamedTuple):
    """The right number and what wrong rules give, singly and two at once, all told apart within the tolerance."""

    answer: float
    tolerance: float
    rules: tuple[NumberRule, ...]
    pairs: tuple[NumberPair, ...] = ()


def numbers(
    rules: Rules[Case],
    case: Case,
    exact: Number,
    step: float,
    *,
    share: float = 0.0,
    readings: Readings[Case] = NONE,
    finishes: Finishes[Case] = NONE,
) -> Numbers:
    """Return the right number and what wrong rules give, all on the step and at least one step apart.

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
    readings, finishes : mapping
        How two rules meet; see :func:`paired`.

    Raises
    ------
    Redraw
        If two of them agree at the step, one of them is nought there, or lies where rounding turns over.
    """

    def positive(value: Number) -> float:
        mark = on_step(value, step, share)
        if mark <= 0:
            raise Redraw
        return mark

    return told_apart(rules, case, exact, positive, NEAR * step, readings=readings, finishes=finishes)


def told_apart(
    rules: Rules[Case],
    case: Case,
    exact: Number,
    put: Callable[[Number], float],
    tolerance: float,
    *,
    readings: Readings[Case] = NONE,
    finishes: Finishes[Case] = NONE,
) -> Numbers:
    """Return the right number and what wrong rules give, one at a time and two at once; see :func:`paired`.

    Raises
    ------
    Redraw
        If two rules cannot be told apart within the tolerance, or one of them from the answer.
    """
    answer, found = put(exact), _found(rules, case, put)
    marks = [answer, *found.values()]
    redraw_if(not well_apart(marks, 2 * tolerance))
    pairs = paired(rules, case, marks, put, 2 * tolerance, readings=readings, finishes=finishes)
    return Numbers(answer, tolerance, _as_rules(found), pairs)


def clear(found: Numbers) -> Numbers:
    """Return the numbers where the tolerance is at most a third of the gap between the answer and a wrong rule.

    Raises
    ------
    Redraw
        If a wrong rule comes nearer.
    """
    redraw_if(any(abs(rule.value - found.answer) < 3 * found.tolerance for rule in found.rules))
    return found


def paired(
    rules: Rules[Case],
    case: Case,
    known: Iterable[float],
    put: Callable[[Number], float],
    distance: float,
    *,
    readings: Readings[Case] = NONE,
    finishes: Finishes[Case] = NONE,
) -> tuple[NumberPair, ...]:
    """Return what every two wrong rules give together, where that can be told from everything else.

    Two rules meet in one of two ways: what is told is misread, and another rule then works on what was read; or a
    rule gives a number, and that is finished wrongly. What comes near to the answer, to a single rule or to another
    pair is left out, and so is what lies where rounding turns over; no pair is worth another draw.

    Parameters
    ----------
    rules : mapping
        Wrong rules by their code.
    case : object
        What they are functions of.
    known : iterable of float
        The answer and what each single rule gives.
    put : callable
        Puts a number on the step that is asked for, or raises :class:`Redraw`.
    distance : float
        How far apart two numbers have to be, to be told apart.
    readings : mapping
        Wrong readings by their code: each returns the case as it is read, or None where it has nothing to say.
    finishes : mapping
        Wrong last steps by their code: each takes the case and a number, and returns what is made of it, or None.

    Examples
    --------
    >>> rules = {"doubled": lambda case: case * 2, "as-tens": lambda case: case * 10}
    >>> paired(rules, 7, [7, 14, 70], float, 0.8, readings={"as-tens": lambda case: case * 10})
    (NumberPair(first='as-tens', second='doubled', value=140.0),)
    """
    found: dict[tuple[str, str], float] = {}
    for first, misread in readings.items():
        seen = misread(case)
        if seen is not None:
            for second, rule in rules.items():
                _note(found, first, second, rule(seen), put)
    for second, finish in finishes.items():
        for first, rule in rules.items():
            # Two last steps exclude each other.
            value = None if first in finishes else rule(case)
            _note(found, first, second, None if value is None else finish(case, value), put)
    taken = sorted(known)
    apart = {
        pair: value
        for pair, value in found.items()
        if all(abs(value - other) > distance for other in taken)
        and all(abs(value - other) > distance for both, other in found.items() if set(both) != set(pair))
    }
    # The same two, whichever comes first, need to be known once for each number.
    once = {(frozenset(pair), value): pair for pair, value in reversed(apart.items())}
    return tuple(
        NumberPair(first=first, second=second, value=value)
        for (first, second), value in apart.items()
        if once[frozenset((first, second)), value] == (first, second)
    )


def _note(
    found: dict[tuple[str, str], float], first: str, second: str, value: Number | None, put: Callable[[Number], float]
) -> None:
    """Put down what two different rules give together, if anything."""
    if value is None or first == second:
        return
    try:
        found[first, second] = put(value)
    except Redraw:
        return


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


def lettered_texts(texts: Iterable[str], shuffle: random.Random) -> tuple[tuple[Option, ...], dict[str, str]]:
    """Return options as :func:`lettered` does, and the name of each text."""
    return lettered({text: text for text in texts}, shuffle)


def _found(rules: Rules[Case], case: Case, put: Callable[[Number], float]) -> dict[str, float]:
    values = {code: rule(case) for code, rule in rules.items()}
    return {code: put(value) for code, value in values.items() if value is not None}


def _as_rules(found: Mapping[str, float]) -> tuple[NumberRule, ...]:
    return tuple(NumberRule(misconception=code, value=value) for code, value in found.items())
