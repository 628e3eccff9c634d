"""Where a mark stands on the clock: seen from the other end, and after turning."""

from __future__ import annotations

import random
from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import gears
from trainkit.items import example_engines as examples
from trainkit.items import gearwork
from trainkit.items.distinct_answers import NEAR, settings
from trainkit.items.facts import Draw
from trainkit.items.kinds import Given, NumberRule, Scale, SetItem, SetKey
from trainkit.items.template import Unshuffled, redraw_if
from trainkit.items.turning_direction.rules import (
    MARK_RULES,
    MIRROR_RULES,
    OWN_MARK_RULES,
    TurnedMark,
)

if TYPE_CHECKING:
    from trainkit.packs import Pack


# Five minutes are 2.5 degrees: as close as a mark is told; the hand goes there in steps.
STEPS = 144
STEP = 12 / STEPS
TURN = 12.0
CLOCK = Scale(low=0.0, high=TURN, step=STEP, unit="o'clock", round=True)
TOLERANCE = NEAR * STEP
NEAREST = "Set the hand to five minutes of the clock."


def five_minutes(rng: random.Random) -> Fraction:
    """Return a clock position in hours, on five minutes or a multiple of them."""
    return Fraction(12 * rng.randrange(STEPS), STEPS)


def on_five(hours: Fraction) -> bool:
    """Tell whether a position is one that the hand can be set to."""
    return (hours * STEPS / 12).denominator == 1


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def face(hours: Fraction, viewpoint: str, name: str, label: str) -> dict[str, object]:
    """Return the data of a picture of a clock face with one mark; see ``trainkit.figures``."""
    return {
        "draw": "clock",
        "seen_from": viewpoint,
        "marks": [{"at": str(gears.Clock(hours)), "label": label}],
        "name": name,
    }


def hand_set(
    name: str,
    setting: tuple[float, tuple[NumberRule, ...]],
    *,
    prompt: str,
    given: tuple[Given, ...],
    figure: dict[str, object],
    working: tuple[str, ...],
    shown: str,
    features: Mapping[str, float],
    instead: str = "",
) -> Draw:
    """Return the draw of a template that has a clock hand set; ``setting`` is the right one with the wrong ones."""
    item = SetItem(prompt=f"{prompt} {NEAREST}", given=given, figure=figure, scale=CLOCK)
    answer, rules = setting
    key = SetKey(
        template=name, working=working, answer=answer, tolerance=TOLERANCE, turn=TURN, shown=f"{shown},", rules=rules
    )
    return Draw(item, key, features, instead)


class OtherEndClock(Unshuffled):
    """A mark is read from one end; where it stands seen from the other end is asked.

    Difficulty: a mark that stands between two full hours, and one that stands left of the middle, so that it is
    taken from twelve.
    """

    name = "turning-direction/other-end-clock"
    skill = "read a mark from the other end"
    kind = "set"
    weights = MappingProxyType({"between hours": 0.5, "left": 0.25})

    def pose(self, rng: random.Random, _pack: Pack, /) -> Draw:
        """Draw once."""
        title, teeth = rng.choice(examples.DRIVEN), rng.randint(18, 90)
        mark = rng.choice(examples.MARKS)
        stated = rng.choice(gears.VIEWPOINTS)
        asked = gears.other_end(stated)
        hours = five_minutes(rng)
        clock = gears.Clock(hours)
        seen = clock.seen(stated_from=stated, seen_from=asked)
        return hand_set(
            self.name,
            settings(MIRROR_RULES, hours, seen.hours, STEP, TURN),
            prompt=f"A {mark} on the {title} stands at {clock}, {gearwork.seen_from(stated)}. "
            f"Where does it stand, {gearwork.seen_from(asked)}?",
            given=(examples.engine_row(), Given(label=_capital(title), value=f"{teeth} teeth")),
            figure=face(hours, stated, title, mark),
            working=(
                "From the other end left and right change places; top stays top.",
                f"h becomes 12 − h: {clock} becomes {seen}, {gearwork.seen_from(asked)}.",
            ),
            shown=f"{seen}, {gearwork.seen_from(asked)}",
            features={"between hours": hours % 1 > 0, "left": hours >= 6},
            instead=examples.INSTEAD,
        )


class MarkAfterTurning(Unshuffled):
    """A gear is turned so far; where a mark on it, or on another gear, then stands is asked.

    Difficulty: the links on the way to the marked gear; a mark that starts between two full hours; the quarters
    of a turn that the gear goes in degrees told.
    """

    name = "turning-direction/mark-after-turning"
    skill = "find where a mark stands after turning"
    kind = "set"
    weights = MappingProxyType({"links": 1.0, "between hours": 0.5, "quarter turns": 0.25})

    def pose(self, rng: random.Random, _pack: Pack, /) -> Draw:
        """Draw once."""
        survey = examples.example(rng).survey
        viewpoint = rng.choice(gears.VIEWPOINTS)
        own = rng.random() < 0.25
        first = survey.crank if rng.random() < 0.5 else rng.choice(survey.toothed)
        last = first if own else rng.choice([name for name in survey.toothed if name != first])
        way = survey.ways[first, last]
        # Only meshes of outside teeth, shafts apart: a chain or ring could be misjudged as well.
        clear = abs(way.ratio) != 1 and way.links("external") and not way.links("internal", "chain", "belt")
        redraw_if(not own and not clear)
        case = TurnedMark(way, five_minutes(rng), 15 * rng.randint(2, 24) * rng.choice((1, -1)))
        # The hand stands on five minutes in the end, so that the answer is read off and not rounded.
        redraw_if(not on_five(case.right))
        setting = settings(OWN_MARK_RULES if own else MARK_RULES, case, case.right, STEP, TURN)
        titles = way.first.title, way.last.title
        turned = survey.train.turn(first, case.degrees, viewpoint)
        start = gears.Clock(case.start % 12)
        after = turned.clock(last, start)
        sense = gears.sense_of(case.degrees)
        mark = rng.choice(examples.MARKS)
        return hand_set(
            self.name,
            setting,
            prompt=f"A {mark} on the {titles[1]} stands at {start}. "
            f"{'This gear' if own else f'The {titles[0]}'} is turned {abs(case.degrees)}° {sense}. "
            f"Where does the {mark} stand then? All of it is {gearwork.seen_from(viewpoint)}.",
            given=(
                examples.engine_row(),
                *(way.rows if not own else (Given(label="Gear", value=titles[1]),)),
            ),
            figure=face(case.start % 12, viewpoint, titles[1], mark),
            working=(
                *(way.lines if way.kinds else ()),
                f"The {titles[1]} turns {gearwork.degree_text(case.turned)} {turned.sense(last)}, "
                f"{gearwork.seen_from(viewpoint)}.",
                f"30° are one hour: {start} becomes {after}.",
            ),
            shown=f"{after}, {gearwork.seen_from(viewpoint)}",
            features={
                "links": len(way.kinds),
                "between hours": case.start % 1 > 0,
                "quarter turns": abs(case.degrees) / 90,
            },
            instead=examples.INSTEAD,
        )
