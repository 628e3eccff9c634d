"""Which way something turns: a shaft seen from an end, the barring tool, and both seen from the other end.

Where only two answers are possible, a wrong way of thinking could not be told from a guess. So the answer is asked
with its reason: how often the sense turns over on the way.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, ClassVar

from trainkit import gears
from trainkit.items import gearwork
from trainkit.items.apart import choices, lettered
from trainkit.items.difficulty import links
from trainkit.items.item import ChoiceItem, Given, Item
from trainkit.items.key import ChoiceKey, Key
from trainkit.items.template import Template
from trainkit.items.turning_direction.rules import (
    SENSE_RULES,
    TOOL_RULES,
    WATCH_RULES,
    Pair,
    Reading,
    Senses,
    Tool,
    Watched,
)

if TYPE_CHECKING:
    from trainkit.packs import Pack

__all__ = ["OtherEnd", "ShaftSense", "ToolSense"]

# So that a guess is not worth much, and the right sense of rotation is not the odd one out.
MOST = 6


def word(sense: int) -> gears.Sense:
    """Return a sense in words."""
    return gears.sense_of(sense)


def tool_row(pack: Pack) -> Given:
    """Return the line that says how the engine is barred."""
    bar = pack.bar
    if bar.has_mesh:
        value = f"pinion with {bar.pinion_teeth} teeth on the ring gear with {bar.ring_teeth} teeth"
    else:
        value = "socket on the crank nose"
    return Given(label="Barring tool", value=value)


class ShaftSense(Template):
    """A gear's sense is stated from one end, that of another gear is asked from an end, with the reason.

    Difficulty: the links on the way; those of them that are no outside teeth; an end that is not the one the
    sense was stated from.
    """

    name: ClassVar[str] = "turning-direction/shaft-sense"
    skill: ClassVar[str] = "say which way a shaft turns"
    kind: ClassVar[str] = "choice"
    weights: ClassVar[Mapping[str, float]] = MappingProxyType({"links": 1.0, "other links": 0.5, "other end": 1.0})

    def features(self, item: Item, key: Key) -> Mapping[str, float]:
        """Return links on the way, other links, and whether the end changes."""
        return {
            "links": links(key),
            "other links": links(key, others=True),
            "other end": item.prompt.count("seen from the front") == 1,
        }

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[ChoiceItem, ChoiceKey]:
        """Draw once."""
        survey = gearwork.survey(pack)
        first = survey.crank if rng.random() < 0.5 else rng.choice(survey.names)
        last = rng.choice([name for name in survey.names if name != first])
        start = rng.choice((1, -1))
        stated, asked = rng.choice(gears.VIEWPOINTS), rng.choice(gears.VIEWPOINTS)
        case = Senses(survey.ways[first, last], int(stated != asked))
        right = case.right
        step = -1 if right.meshes else 1
        filler = Reading(right.meshes + step, 1 - right.views)
        offered = choices(right, {code: rule(case) for code, rule in SENSE_RULES.items()}, [filler])
        wrong = [reading for reading in offered if reading not in (right, filler)]
        kept = [right, filler, *rng.sample(wrong, min(MOST - 2, len(wrong)))]
        options, letters = lettered({reading: _reading_text(reading, start, "at meshes") for reading in kept}, shuffle)
        titles = survey.title(first), survey.title(last)
        sense = survey.train.turn(first, 360 * start, stated).sense(last, asked)
        closing = f"So the {titles[1]} turns {sense}, {gearwork.seen_from(asked)}."
        shown = survey.between(first, (survey.crank, last) if len(survey.names) > gearwork.MOST_SHOWN else survey.names)
        item = ChoiceItem(
            prompt=f"The {titles[0]} is turned {word(start)}, {gearwork.seen_from(stated)}. "
            f"Which way does the {titles[1]} turn, {gearwork.seen_from(asked)}? Choose the answer with its reason.",
            given=(gearwork.engine_row(pack), *survey.mesh_rows(shown)),
            figure=survey.picture(shown, stated),
            options=options,
        )
        counts = (
            f"On this way there {'is' if right.meshes < 2 else 'are'} {gearwork.counted(right.meshes, 'change')} "
            f"at meshes, and {right.views or 'none'} for the viewpoint."
        )
        key = ChoiceKey(
            template=self.name,
            working=(
                *case.way.lines[:-1],
                f"{'One' if case.views else 'No'} change of sense for the viewpoint: stated "
                f"{gearwork.seen_from(stated)}, asked {gearwork.seen_from(asked)}.",
                closing,
            ),
            right=letters[right],
            shows={letters[reading]: offered[reading] for reading in kept if offered[reading]},
            reasons={letters[reading]: closing if reading == right else counts for reading in kept},
        )
        return item, key


def _reading_text(reading: Reading, start: int, where: str) -> str:
    sense = word(reading.sense(start)).capitalize()
    changes = gearwork.counted(reading.meshes, "change")
    return f"{sense}: {changes} {where}, {reading.views or 'none'} for the viewpoint"


class ToolSense(Template):
    """Which way the hand turns the barring tool, with the reason.

    Difficulty: an end that is not the one the sense was stated from; an engine that is barred back.
    """

    name: ClassVar[str] = "turning-direction/tool-sense"
    skill: ClassVar[str] = "say which way the barring tool turns"
    kind: ClassVar[str] = "choice"
    weights: ClassVar[Mapping[str, float]] = MappingProxyType({"other end": 1.0, "back": 0.5})

    def features(self, item: Item, key: Key) -> Mapping[str, float]:  # noqa: ARG002 - the item tells it all
        """Return whether the end changes, and whether the engine is barred back."""
        return {
            "other end": item.prompt.count("the front") == 1,
            "back": "bar it back" in item.prompt,
        }

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[ChoiceItem, ChoiceKey]:
        """Draw once."""
        bar = pack.bar
        stated = rng.choice(gears.VIEWPOINTS)
        forward = gears.signed(pack.engine.rotation) * (1 if stated == pack.engine.seen_from else -1)
        way = rng.choice((1, -1))
        case = Tool(bar, int(stated != bar.stands_at))
        right = case.right
        wrong = {code: rule(case) for code, rule in TOOL_RULES.items()}
        offered = choices(right, wrong, [Reading(1 - right.meshes, 1 - right.views)])
        where = "at pinion and ring gear" if bar.has_mesh else "at the socket"
        texts = {reading: _reading_text(reading, forward * way, where) for reading in offered}
        options, letters = lettered(texts, shuffle)
        turn = bar.tool(360 * forward * way, seen_from=stated)
        between = turn.lines[2:-2] if bar.has_mesh else ("The socket sits on the crank nose, with no mesh between.",)
        item = ChoiceItem(
            prompt=f"In service the crank turns {word(forward)}, {gearwork.seen_from(stated)}. "
            f"You stand at {gearwork.end(bar.stands_at)}, face the engine and bar it "
            f"{'forward' if way > 0 else 'back'}. "
            "Which way do you turn the tool, as you see it? Choose the answer with its reason.",
            given=(gearwork.engine_row(pack), tool_row(pack)),
            options=options,
        )
        key = ChoiceKey(
            template=self.name,
            working=(
                f"The crank is to turn {word(forward * way)}, {gearwork.seen_from(stated)}.",
                *between,
                *turn.lines[-2:],
            ),
            right=letters[right],
            shows={letters[reading]: code for reading, code in offered.items() if code},
            reasons={
                letter: turn.lines[-1]
                if reading == right
                else f"Here there is {gearwork.counted(right.meshes, 'change')} {where} and "
                f"{right.views or 'none'} for the viewpoint."
                for reading, letter in letters.items()
            },
        )
        return item, key


class OtherEnd(Template):
    """One person sees the crank or the tool turn; what the person at the other end sees of both is asked.

    Difficulty: one where the sense of the tool is told, from which that of the crank follows; one where you
    hold the bar yourself and a colleague watches.
    """

    name: ClassVar[str] = "turning-direction/other-end"
    skill: ClassVar[str] = "say what is seen from the other end"
    kind: ClassVar[str] = "choice"
    weights: ClassVar[Mapping[str, float]] = MappingProxyType({"tool told": 0.5, "you bar": 0.25})

    def features(self, item: Item, key: Key) -> Mapping[str, float]:  # noqa: ARG002 - the item tells it all
        """Return whether the tool is told, and whether you bar."""
        return {"tool told": "the tool turns" in item.prompt, "you bar": item.prompt.startswith("You stand")}

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[ChoiceItem, ChoiceKey]:
        """Draw once."""
        bar = pack.bar
        stated = rng.choice(gears.VIEWPOINTS)
        asked = gears.other_end(stated)
        case = Watched(bar, rng.choice(("crank", "tool")), rng.choice((1, -1)))
        right = case.right
        offered = choices(right, {code: rule(case) for code, rule in WATCH_RULES.items()})
        options, letters = lettered({pair: _pair_text(pair) for pair in offered}, shuffle)
        seen = f"the {case.stated} turns {word(case.sense)}"
        if stated == bar.stands_at:
            scene = (
                f"A colleague stands at {gearwork.end(stated)}, faces the engine and bars it. "
                f"There {seen}, as your colleague sees it. You watch from {gearwork.end(asked)}."
            )
        else:
            scene = (
                f"You stand at {gearwork.end(asked)}, face the engine and bar it. "
                f"A colleague watches from {gearwork.end(stated)}; there {seen}, as your colleague sees it."
            )
        between = (
            "Pinion and ring gear have outside teeth: crank and tool turn opposite ways, seen from the same end."
            if bar.has_mesh
            else "The socket sits on the crank nose: crank and tool turn the same way, seen from the same end."
        )
        there = case.pair(mesh=bar.has_mesh, stated=1, other=1)
        closing = f"From {gearwork.end(asked)} every sense is turned over: {_lower(_pair_text(right))}."
        item = ChoiceItem(
            prompt=f"{scene} Which way do crank and tool turn for you?",
            given=(gearwork.engine_row(pack), tool_row(pack)),
            options=options,
        )
        key = ChoiceKey(
            template=self.name,
            working=(between, f"From {gearwork.end(stated)}: {_lower(_pair_text(there))}.", closing),
            right=letters[right],
            shows={letters[pair]: code for pair, code in offered.items() if code},
            reasons={letter: closing if pair == right else between for pair, letter in letters.items()},
        )
        return item, key


def _pair_text(pair: Pair) -> str:
    return f"Crank {word(pair.crank)}, tool {word(pair.tool)}"


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]
