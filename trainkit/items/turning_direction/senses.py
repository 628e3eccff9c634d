"""Which way something turns: a shaft seen from an end, the barring tool, and both seen from the other end.

Where only two answers are possible, a wrong way of thinking could not be told from a guess. So the answer is asked
with its reason: how often the sense turns over on the way.
"""

from __future__ import annotations

import random
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import gears
from trainkit.items import example_engines as examples
from trainkit.items import gearwork
from trainkit.items.distinct_answers import choices
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import Redraw
from trainkit.items.turning_direction import rules

if TYPE_CHECKING:
    from trainkit.packs import Pack


# How often so many meshes of outside teeth lie on the way, so that none of these counts is hardly ever right.
_MESHES = MappingProxyType({0: 26, 1: 25, 2: 31, 3: 18})
# So many trains are drawn for it.
_TRIES = 40
# Three counts of meshes stand next to each other as options; where the right one stands among them, lowest first, by
# how many meshes there are. Over all draws together it stands in each place equally often.
_PLACES = MappingProxyType({0: (1, 0, 0), 1: (5, 95, 0), 2: (22, 17, 61)})


def word(sense: int) -> gears.Sense:
    """Return a sense in words."""
    return gears.sense_of(sense)


class ShaftSense(ChoiceTemplate):
    """A gear's sense is stated from one end, that of another gear is asked from an end, with the reason.

    Difficulty: the links on the way; those of them that are no outside teeth; an end that is not the one the
    sense was stated from.
    """

    name = "turning-direction/shaft-sense"
    skill = "say which way a shaft turns"
    weights = MappingProxyType({"links": 1.0, "other links": 0.5, "other end": 1.0})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[rules.SenseReading]:
        """Draw once."""
        survey, first, last = _ends(rng)
        start = rng.choice((1, -1))
        stated, asked = rng.choice(gears.VIEWPOINTS), rng.choice(gears.VIEWPOINTS)
        case = rules.Senses(survey.ways[first, last], int(stated != asked))
        right = case.right
        offered = choices(right, {code: rule(case) for code, rule in rules.SENSE_RULES.items()})
        kept = _about(rng, right)
        titles = survey.title(first), survey.title(last)
        sense = survey.train.turn(first, 360 * start, stated).sense(last, asked)
        closing = f"So the {titles[1]} turns {sense}, {gearwork.seen_from(asked)}."
        counts = (
            f"On this way there {'is' if right.meshes < 2 else 'are'} {gearwork.counted(right.meshes, 'change')} "
            f"at meshes, and {right.views or 'none'} for the viewpoint."
        )
        return ChoiceQuestion(
            prompt=f"The {titles[0]} is turned {word(start)}, {gearwork.seen_from(stated)}. "
            f"Which way does the {titles[1]} turn, {gearwork.seen_from(asked)}? Choose the answer with its reason.",
            given=(examples.engine_row(), *survey.mesh_rows(survey.names)),
            figure=survey.picture(survey.names, stated),
            texts={reading: _reading_text(reading, start, "at meshes") for reading in kept},
            right=right,
            shows={reading: offered.get(reading, "") for reading in kept},
            reasons={reading: closing if reading == right else counts for reading in kept},
            working=(
                *case.way.lines[:-1],
                f"{'One' if case.views else 'No'} change of sense for the viewpoint: stated "
                f"{gearwork.seen_from(stated)}, asked {gearwork.seen_from(asked)}.",
                closing,
            ),
            features={**case.way.features, "other end": stated != asked},
            instead=examples.INSTEAD,
        )


def _ends(rng: random.Random) -> tuple[gearwork.Survey, str, str]:
    """Return a train and two of its gears with a drawn number of meshes of outside teeth between them."""
    meshes = rng.choices(tuple(_MESHES), tuple(_MESHES.values()))[0]
    for _ in range(_TRIES):
        survey = examples.example(rng, rng.choice((5, 6, 6))).survey
        pairs = [pair for pair, way in survey.ways.items() if len(set(pair)) > 1 and way.links("external") == meshes]
        if pairs:
            return survey, *rng.choice(pairs)
    raise Redraw


def _about(rng: random.Random, right: rules.SenseReading) -> list[rules.SenseReading]:
    """Return what is offered: three counts of meshes, each with and without a change for the viewpoint.

    Six, so that a guess is not worth much and the right sense of rotation is not the odd one out.
    """
    lowest = right.meshes - rng.choices((0, 1, 2), _PLACES[min(right.meshes, 2)])[0]
    return [rules.SenseReading(meshes, views) for meshes in range(lowest, lowest + 3) for views in (0, 1)]


def _reading_text(reading: rules.SenseReading, start: int, where: str) -> str:
    sense = word(reading.sense(start)).capitalize()
    changes = gearwork.counted(reading.meshes, "change")
    return f"{sense}: {changes} {where}, {reading.views or 'none'} for the viewpoint"


class ToolSense(ChoiceTemplate):
    """Which way the hand turns the barring tool, with the reason.

    Difficulty: an end that is not the one the sense was stated from; an engine that is barred back.
    """

    name = "turning-direction/tool-sense"
    skill = "say which way the barring tool turns"
    weights = MappingProxyType({"other end": 1.0, "back": 0.5})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[rules.SenseReading]:
        """Draw once."""
        engine = examples.barred(rng)
        bar = engine.bar
        stated = rng.choice(gears.VIEWPOINTS)
        forward = engine.running * (1 if stated == "front" else -1)
        way = rng.choice((1, -1))
        case = rules.BarringTool(bar, int(stated != bar.stands_at))
        right = case.right
        wrong = {code: rule(case) for code, rule in rules.TOOL_RULES.items()}
        offered = choices(right, wrong, [rules.SenseReading(1 - right.meshes, 1 - right.views)])
        where = "between tool and crank"
        turn = bar.tool(360 * forward * way, seen_from=stated)
        between = turn.lines[2:-2] if bar.has_mesh else ("The socket sits on the crank nose, with no mesh between.",)
        angle = 5 * rng.randint(2, 72)
        told = rng.choice((True, False))  # whether the sense in service is told, or the one that is wanted
        wanted = (
            f"In service the crank turns {word(forward)}, {gearwork.seen_from(stated)}. "
            f"It is to be barred {angle}° {'forward' if way > 0 else 'back'}."
            if told
            else f"The crank is to go {angle}° {word(forward * way)}, {gearwork.seen_from(stated)}."
        )
        counts = (
            f"Here there is {gearwork.counted(right.meshes, 'change')} {where} and "
            f"{right.views or 'none'} for the viewpoint."
        )
        return ChoiceQuestion(
            prompt=f"{wanted} You stand at {gearwork.end(bar.stands_at)} and face the engine. "
            "Which way do you turn the tool, as you see it? Choose the answer with its reason.",
            given=engine.rows,
            texts={reading: _reading_text(reading, forward * way, where) for reading in offered},
            right=right,
            shows=offered,
            reasons={reading: turn.lines[-1] if reading == right else counts for reading in offered},
            working=(
                f"The crank is to turn {word(forward * way)}, {gearwork.seen_from(stated)}.",
                *between,
                *turn.lines[-2:],
            ),
            features={"other end": stated != bar.stands_at, "back": told and way < 0},
            instead=examples.INSTEAD,
        )


class OtherEnd(ChoiceTemplate):
    """One person sees the crank or the tool turn; what the person at the other end sees of both is asked.

    Difficulty: one where the sense of the tool is told, from which that of the crank follows; one where it is asked
    what somebody else sees.
    """

    name = "turning-direction/other-end"
    skill = "say what is seen from the other end"
    weights = MappingProxyType({"tool told": 0.5, "for another": 0.25})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[rules.SensePair]:
        """Draw once."""
        engine = examples.barred(rng)
        bar = engine.bar
        stated = rng.choice(gears.VIEWPOINTS)
        asked = gears.other_end(stated)
        case = rules.WatchedSense(bar, rng.choice(("crank", "tool")), rng.choice((1, -1)))
        right = case.right
        offered = choices(right, {code: rule(case) for code, rule in rules.WATCH_RULES.items()})
        yours = rng.random() < 0.5  # whether it is asked what you see, or what your colleague sees
        scene = _scene(
            bar.stands_at, stated, yours, f"the {case.stated} turns {5 * rng.randint(2, 72)}° {word(case.sense)}"
        )
        between = (
            "Pinion and ring gear have outside teeth: crank and tool turn opposite ways, seen from the same end."
            if bar.has_mesh
            else "The socket sits on the crank nose: crank and tool turn the same way, seen from the same end."
        )
        there = case.pair(mesh=bar.has_mesh, stated=1, other=1)
        closing = f"From {gearwork.end(asked)} every sense is turned over: {_lower(_pair_text(right))}."
        return ChoiceQuestion(
            prompt=f"{scene} Which way do crank and tool turn for {'you' if yours else 'your colleague'}?",
            given=engine.rows,
            texts={pair: _pair_text(pair) for pair in offered},
            right=right,
            shows=offered,
            reasons={pair: closing if pair == right else between for pair in offered},
            working=(between, f"From {gearwork.end(stated)}: {_lower(_pair_text(there))}.", closing),
            features={"tool told": case.stated == "tool", "for another": not yours},
            instead=examples.INSTEAD,
        )


def _scene(stands: str, stated: str, yours: bool, seen: str) -> str:
    """Say who bars, who watches, and what the one who does not have to answer sees."""
    there, here = gearwork.end(stands), gearwork.end(gears.other_end(stands))
    you_bar = yours == (stated != stands)
    bars = (
        f"You stand at {there}, face the engine and bar it. A colleague watches from {here}."
        if you_bar
        else f"A colleague stands at {there}, faces the engine and bars it. You watch from {here}."
    )
    return f"{bars} At {gearwork.end(stated)} {seen}, as {'your colleague sees' if yours else 'you see'} it."


def _pair_text(pair: rules.SensePair) -> str:
    return f"Crank {word(pair.crank)}, tool {word(pair.tool)}"


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]
