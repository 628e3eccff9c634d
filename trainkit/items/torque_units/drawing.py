"""What all templates of the module share: scales of wrenches, values for them, rules told apart."""

from __future__ import annotations

import math
import random
from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar

from trainkit.fasteners import Wrench
from trainkit.items.distinct_answers import NONE, Finishes, Number, Numbers, Readings, Rules, paired
from trainkit.items.kinds import Given, NumberPair, NumberRule
from trainkit.items.template import lacking, redraw_if, well_apart
from trainkit.quantities import THIN, from_edge, plain, round_to_step

if TYPE_CHECKING:
    from trainkit.packs import Pack, Tool


Case = TypeVar("Case")

# An answer counts as right within this share of a step: the exact value need not be put on its mark, the next mark
# is never right.
NEAR = 0.4
# How far an exact value keeps from where rounding turns over, in steps. The printed factors have four digits.
_CLEAR = 0.1
_HALF = 1e-6
_FACTOR_SHARE = 2e-4

# The step at which a job sheet prints a value, by unit; the finer one where a scale ends early.
_PRINTED = {
    "N·m": (1.0, 0.1),
    "lbf·ft": (1.0,),
    "lbf·in": (1.0,),
    "ozf·in": (1.0,),
    "kgf·m": (0.1,),
    "kgf·cm": (1.0,),
    "dyn·cm": (),
}
_FEWEST = 15  # values that a printed column must have to choose from

_FACTS = {
    frozenset(("lbf·ft", "N·m")): "1 lbf·ft = 1.356\u2009N·m",
    frozenset(("lbf·in", "lbf·ft")): "1 lbf·ft = 12\u2009lbf·in",
    frozenset(("ozf·in", "lbf·in")): "1 lbf·in = 16\u2009ozf·in",
    frozenset(("kgf·m", "N·m")): "1 kgf·m = 9.807\u2009N·m",
    frozenset(("kgf·cm", "kgf·m")): "1 kgf·m = 100\u2009kgf·cm",
}
# Each unit's next one on the way to the newton metre.
_WAY = {"ozf·in": "lbf·in", "lbf·in": "lbf·ft", "lbf·ft": "N·m", "kgf·cm": "kgf·m", "kgf·m": "N·m"}


def _wrenches(pack: Pack) -> tuple[Tool, ...]:
    """Return the pack's torque wrenches with a whole scale."""
    return tuple(
        tool for tool in pack.tools if tool.kind == "torque-wrench" and None not in (tool.low, tool.high, tool.step)
    )


def adapters(pack: Pack) -> tuple[tuple[Tool, Tool], ...]:
    """Return the pairs of a torque wrench and an adapter whose lengths are known, adapters no longer than the wrench.

    Raises
    ------
    ItemError
        If there is none.
    """
    found = tuple(
        (wrench, adapter)
        for wrench in _wrenches(pack)
        for adapter in pack.tools
        if adapter.adapter_length and wrench.length and adapter.adapter_length < wrench.length
    )
    if not found:
        raise lacking(
            pack, "an adapter with adapter_length and a longer torque wrench with length", "Add them under [[tools]]"
        )
    return found


def scale(tool: Tool) -> Wrench:
    """Return the scale of a torque wrench of the pack."""
    return _scale(tool.unit, tool.low or 0.0, tool.high or 0.0, tool.step or 0.0)


@lru_cache(maxsize=256)
def _scale(unit: str, low: float, high: float, step: float) -> Wrench:
    return Wrench(unit, low, high, step)


def wrench_rows(tool: Tool, wrench: Wrench) -> tuple[Given, ...]:
    """Return the lines of the data table that describe a wrench."""
    return (Given(label="Wrench", value=tool.name), *scale_rows(wrench))


def scale_rows(wrench: Wrench) -> tuple[Given, ...]:
    """Return the lines of the data table that describe the scale of a wrench."""
    return (
        Given(label="Its scale", value=scale_text(wrench)),
        Given(label="From mark to mark", value=step_text(wrench)),
    )


def scale_text(wrench: Wrench) -> str:
    """Write the ends of a scale with their unit."""
    return f"{plain(wrench.low)} to {plain(wrench.high)}{THIN}{wrench.unit}"


def step_text(wrench: Wrench) -> str:
    """Write the step of a wrench with its unit."""
    return f"{plain(wrench.step, wrench.step)}{THIN}{wrench.unit}"


def millimetre_text(length: float) -> str:
    """Write a length in millimetres."""
    return f"{plain(length)}{THIN}mm"


def print_step(unit: str, low: float, high: float) -> float | None:
    """Return the coarsest step at which a column from ``low`` to ``high`` still has enough values, or None."""
    return next((step for step in _PRINTED[unit] if (high - low) / step >= _FEWEST), None)


def draw_value(rng: random.Random, low: float, high: float, step: float) -> float:
    """Return a multiple of ``step`` from ``low`` to ``high``."""
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return round_to_step(rng.randint(first, last) * step, step)


def off_edge(exact: float, step: float, clear: float = _CLEAR) -> bool:
    """Tell whether a value keeps so far from a rounding edge that the last digit of a printed factor cannot matter."""
    return from_edge(exact, step) >= clear + abs(exact) / step * _FACTOR_SHARE


def keep_off_edge(exact: float, step: float) -> None:
    """Ask for another draw where the last digit of a factor would decide."""
    redraw_if(not off_edge(exact, step))


def rules_apart(
    rules: Rules[Case],
    case: Case,
    answer: float,
    step: float,
    *,
    small: Iterable[str] = (),
    rounded: bool = True,
) -> tuple[NumberRule, ...]:
    """Return what each wrong rule gives, every two of them and the answer told apart by the scale.

    Parameters
    ----------
    rules : mapping
        Wrong rules by their code.
    case : object
        What they are functions of.
    answer, step : float
        The right mark and the step of the scale.
    small : iterable of str
        Codes whose difference from the answer may be too small to show: they are left out where it is.
    rounded : bool
        Whether the values are put on the step.

    Raises
    ------
    Redraw
        If two rules agree at the step, or one of them with the answer.
    """
    apart = 2 * NEAR * step
    found: dict[str, float] = {}
    for code, rule in rules.items():
        value = rule(case)
        if value is None or (rounded and from_edge(float(value), step) < _HALF):
            continue  # half way between two marks nobody can say which one is taken
        mark = round_to_step(float(value), step) if rounded else float(value)
        if code in small and abs(mark - answer) <= apart:
            continue
        found[code] = mark
    redraw_if(not well_apart([answer, *found.values()], apart))
    return tuple(NumberRule(misconception=code, value=value) for code, value in found.items())


def pairs_apart(
    rules: Rules[Case],
    case: Case,
    answer: float,
    known: Iterable[NumberRule],
    step: float,
    *,
    readings: Readings[Case] = NONE,
    finishes: Finishes[Case] = NONE,
) -> tuple[NumberPair, ...]:
    """Return what every two wrong rules give together, on the step, where the scale can tell it.

    See :func:`trainkit.items.distinct_answers.paired`; ``known`` are the single rules as they stand in the key.
    """

    def put(value: Number) -> float:
        keep_off_edge(float(value), step)
        return round_to_step(float(value), step)

    values = [answer, *(rule.value for rule in known)]
    return paired(rules, case, values, put, 2 * NEAR * step, readings=readings, finishes=finishes)


def on_scale(
    rules: Rules[Case],
    case: Case,
    exact: float,
    step: float,
    *,
    small: Iterable[str] = (),
    readings: Readings[Case] = NONE,
) -> Numbers:
    """Return the mark nearest to a value and what wrong rules give, one at a time and two at once.

    See :func:`rules_apart` and :func:`trainkit.items.distinct_answers.paired`.

    Raises
    ------
    Redraw
        If the value lies where rounding turns over, or two of them agree at the step.
    """
    keep_off_edge(exact, step)
    answer = round_to_step(exact, step)
    found = rules_apart(rules, case, answer, step, small=small)
    return Numbers(answer, NEAR * step, found, pairs_apart(rules, case, answer, found, step, readings=readings))


def factor_row(*units: str) -> Given:
    """Return the factors between these units, in one direction only: which way to use them is the question."""
    return Given(label="Factors", value="; ".join(_FACTS[link].replace(" ", THIN, 1) for link in _links(*units)))


def unit_changes(*units: str) -> int:
    """Return how many factors stand between these units: the conversions that have to be made."""
    return len(_links(*units))


def _links(*units: str) -> tuple[frozenset[str], ...]:
    links: dict[frozenset[str], None] = {}
    ways = [_way(unit) for unit in units]
    shared = set.intersection(*(set(way) for way in ways))
    for way in ways:
        for here, there in pairwise(way):
            if here in shared:
                break
            links[frozenset((here, there))] = None
    return tuple(links)


def _way(unit: str) -> list[str]:
    way = [unit]
    while way[-1] in _WAY:
        way.append(_WAY[way[-1]])
    return way
