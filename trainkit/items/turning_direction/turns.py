"""How far something turns: a gear, and the barring tool."""

from __future__ import annotations

import random
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.gears import VIEWPOINTS, Barring, Gear, GearTrain, Mesh
from trainkit.items import gearwork
from trainkit.items.difficulty import digits
from trainkit.items.distinct_answers import numbers
from trainkit.items.kinds import Given
from trainkit.items.questions import NumberQuestion, NumberTemplate
from trainkit.items.template import lacking, redraw_if
from trainkit.items.turning_direction.rules import TURN_READINGS, TURN_RULES, Turned
from trainkit.items.turning_direction.senses import barring_row, tool_row
from trainkit.quantities import THIN, plain

if TYPE_CHECKING:
    from trainkit.packs import Pack


# How often a question about the tool takes another engine than the pack's.
_OTHER = 0.3
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

    def ask(self, rng: random.Random, pack: Pack) -> NumberQuestion:
        """Draw once."""
        survey = gearwork.survey(pack)
        first = survey.crank if rng.random() < 0.5 else rng.choice(survey.toothed)
        last = rng.choice([name for name in survey.toothed if name != first])
        case = Turned(survey.ways[first, last], 5 * rng.randint(4, 72))
        redraw_if(case.ratio == 1)
        found = numbers(TURN_RULES, case, case.right, DEGREE_STEP, readings=TURN_READINGS)
        titles = survey.title(first), survey.title(last)
        told, shown = f"{case.degrees}°", f"{plain(found.answer, DEGREE_STEP)}°"
        return NumberQuestion(
            prompt=f"The {titles[0]} is turned by {told}. By how many degrees does the {titles[1]} turn? "
            "Both are seen from the same end; leave the sense out.",
            given=(gearwork.engine_row(pack), *case.way.rows),
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
        )


class ToolTurns(NumberTemplate):
    """A gear is to turn so far; the turns of the barring tool are asked.

    It is a gear of the pack's engine, or one that another engine drives over two gears on one shaft: most small engines
    have none, and an idler between is no exercise in that.

    Difficulty: the links from the gear to the crank; those of them that are no outside teeth; the digits, told
    and asked.
    """

    name = "turning-direction/tool-turns"
    skill = "work out the turns of the barring tool"
    quantity = "turns"
    weights = _WEIGHTS

    def ask(self, rng: random.Random, pack: Pack) -> NumberQuestion:
        """Draw once."""
        way, bar, rows = _own_engine(rng, pack)
        if rng.random() < _OTHER:
            way, bar, rows = _other_engine(rng)
        case = Turned(way, 15 * rng.randint(2, 48), bar)
        found = numbers(TURN_RULES, case, case.right, TURN_STEP, readings=TURN_READINGS)
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
        )


Told = tuple[gearwork.Way, Barring, tuple[Given, ...]]


def _own_engine(rng: random.Random, pack: Pack) -> Told:
    """Return a way to the crank of the pack's engine, its tool, and the lines that name them."""
    survey, bar = gearwork.survey(pack), pack.bar
    # At the crank nose the crank's own turns are those of the tool: nothing to ask.
    asked = [
        way
        for name in survey.toothed
        if abs((way := survey.ways[name, survey.crank]).ratio) != 1 or (name == survey.crank and bar.has_mesh)
    ]
    if not asked:
        raise lacking(pack, "a ring gear with its pinion, or a gear at another speed than the crank", "Add one")
    crank = next((way for way in asked if not way.kinds), asked[0])
    way = crank if rng.random() < 0.4 else rng.choice(asked)
    return way, bar, (gearwork.engine_row(pack), tool_row(pack))


def _other_engine(rng: random.Random) -> Told:
    """Return the way from a pump gear to the crank over two gears on one shaft, with counts that may be met."""
    counts = {
        "crank": ("crank gear", rng.randint(14, 20) * 2),
        "large": ("large idler gear", rng.randint(24, 32) * 2),
        "small": ("small idler gear", rng.randint(11, 15) * 2),
        "pump": ("pump gear", rng.randint(20, 32) * 2),
    }
    train = GearTrain(
        [Gear(gear, teeth, name) for gear, (name, teeth) in counts.items()],
        [Mesh("crank", "large", "external"), Mesh("large", "small", "shaft"), Mesh("small", "pump", "external")],
    )
    bar = Barring(rng.choice(VIEWPOINTS), ring_teeth=rng.randint(11, 14) * 10, pinion_teeth=rng.randint(10, 12))
    rows = (Given(label="Engine", value="another one, taken for this question"), barring_row(bar))
    return gearwork.Way.along(train.path("pump", "crank")), bar, rows
