"""How far something turns: a gear, and the barring tool."""

from __future__ import annotations

import random
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.gears import Barring
from trainkit.items import example_engines as examples
from trainkit.items import gearwork
from trainkit.items.difficulty import digits
from trainkit.items.distinct_answers import clear, numbers
from trainkit.items.questions import NumberQuestion, NumberTemplate
from trainkit.items.template import redraw_if
from trainkit.items.turning_direction.rules import TURN_READINGS, TURN_RULES, TurnedGear
from trainkit.quantities import THIN, plain

if TYPE_CHECKING:
    from trainkit.packs import Pack


# How often a question about the tool is about a gear behind two gears on one shaft.
_STACKED = 0.4
DEGREE_STEP = 1.0
TURN_STEP = 0.05


# What makes it hard to carry an angle along a train.
_WEIGHTS: Mapping[str, float] = MappingProxyType({"links": 1.0, "other links": 0.5, "digits": 0.25})


class ShaftTurn(NumberTemplate):
    """One gear is turned so far; how far another turns is asked.

    Difficulty: the links on the way; those of them that are no outside teeth; the digits of the degrees, told
    and asked.
    """

    name = "turning-direction/shaft-turn"
    skill = "work out how far a shaft turns"
    quantity = "angle"
    weights = _WEIGHTS

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once."""
        survey = examples.example(rng).survey
        first = survey.crank if rng.random() < 0.5 else rng.choice(survey.toothed)
        last = rng.choice([name for name in survey.toothed if name != first])
        case = TurnedGear(survey.ways[first, last], 5 * rng.randint(4, 72))
        redraw_if(case.ratio == 1)
        found = clear(numbers(TURN_RULES, case, case.right, DEGREE_STEP, readings=TURN_READINGS))
        titles = survey.title(first), survey.title(last)
        told, shown = f"{case.degrees}°", f"{plain(found.answer, DEGREE_STEP)}°"
        return NumberQuestion(
            prompt=f"The {titles[0]} is turned by {told}. By how many degrees does the {titles[1]} turn? "
            "Both are seen from the same end; leave the sense out.",
            given=(examples.engine_row(), *case.way.rows),
            to_nearest=f"to the nearest {plain(DEGREE_STEP)}°",
            numbers=found,
            unit="°",
            shown=shown,
            working=(
                *case.way.lines,
                f"{told} × {case.ratio} = {gearwork.degree_text(case.right)}, which is {shown} to the nearest "
                f"{plain(DEGREE_STEP)}°.",
            ),
            features={**case.way.features, "digits": digits(*titles, told, shown)},
            instead=examples.INSTEAD,
        )


class ToolTurns(NumberTemplate):
    """A gear is to turn so far; the turns of the barring tool are asked.

    Often it is driven over two gears on one shaft: an idler between is no exercise in that.

    Difficulty: the links from the gear to the crank; those of them that are no outside teeth; the digits, told
    and asked.
    """

    name = "turning-direction/tool-turns"
    skill = "work out the turns of the barring tool"
    quantity = "turns"
    weights = _WEIGHTS

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once."""
        way, bar = _way_to_the_crank(rng)
        rows = (examples.engine_row(), examples.barring_row(bar))
        case = TurnedGear(way, 5 * rng.randint(6, 144), bar)
        found = clear(numbers(TURN_RULES, case, case.right, TURN_STEP, readings=TURN_READINGS))
        title, told = way.first.title, f"{case.degrees}°"
        size = f"{plain(TURN_STEP)}{THIN}turns"
        shown = f"{plain(found.answer, TURN_STEP)}{THIN}turns"
        turned, turns = gearwork.degree_text(case.degrees * case.ratio), plain(float(case.right))
        return NumberQuestion(
            prompt=f"The {title} is to turn by {told}. How many turns does the barring tool make? "
            "Turns are the same seen from either end; leave the sense out.",
            given=(*rows, *(way.rows if way.kinds else ())),
            to_nearest=f"to the nearest {size}",
            numbers=found,
            unit="turns",
            shown=shown,
            working=(
                *(way.lines if way.kinds else ()),
                f"The crank turns {told} × {case.ratio} = {turned}.",
                f"Turns of the tool: {turned} ÷ 360° × {bar.ring_teeth} ÷ {bar.pinion_teeth} = {turns}."
                if bar.has_mesh
                else f"The socket turns with the crank: {turned} ÷ 360° = {turns} turns.",
                f"To the nearest {size} that is {shown}.",
            ),
            features={**way.features, "digits": digits(title, told, shown)},
            instead=examples.INSTEAD,
        )


def _way_to_the_crank(rng: random.Random) -> tuple[gearwork.Way, Barring]:
    """Return a way to the crank, often over two gears on one shaft, and the tool of that engine."""
    if rng.random() < _STACKED:
        survey = examples.example(rng, 5, stacked=True).survey
        asked = [name for name in survey.names if survey.ways[name, survey.crank].links("shaft") == 1]
    else:
        survey = examples.example(rng, plain=True).survey
        asked = list(survey.names)
    clear = [name for name in asked if name == survey.crank or abs(survey.train.ratio(name, survey.crank)) != 1]
    redraw_if(not clear)
    # The crank itself is asked seldom: there the tool alone counts.
    if survey.crank in clear and len(clear) > 1 and rng.random() < 0.7:
        clear.remove(survey.crank)
    return survey.ways[rng.choice(clear), survey.crank], examples.ring_and_pinion(rng)
