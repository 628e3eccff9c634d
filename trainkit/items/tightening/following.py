"""Which bolt of a pattern comes next."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from trainkit.items import examples
from trainkit.items.facts import Draw
from trainkit.items.kinds import Given, Option, PointItem, PointKey
from trainkit.items.template import Unshuffled, redraw_if
from trainkit.items.tightening.joints import Bolts
from trainkit.sentences import opening
from trainkit.tightening import Pattern

if TYPE_CHECKING:
    from trainkit.packs import Fastener, Pack


# Joints of a question: so many bolts round a circle or in a row, how far apart two of them sit, mm, and the stages.
_ROUND, _IN_A_ROW = (4, 5, 6, 7, 8, 10), (4, 5, 6, 7, 8, 9)
_APART = 60.0
_STAGES = (("finger-tight", "first", "final"), ("snug", "first", "final"), ("first", "final"))
# Where a pack prints an order of bolts, so often a question is about that joint, and so often about an example that
# has a printed order too. The pack's own joint has but as many questions as bolts and stages: asked oftener, people
# would meet the same one.
_OWN, _PRINTED = 0.03, 0.47
_MOST_SHOWN = 24  # bolts that can be pointed at
# How far a circle is turned in the picture, in parts of the way from one bolt to the next.
_TURNED = (0.0, 0.25, 0.5, 0.75)


@dataclass(frozen=True, slots=True)
class Started:
    """A pattern on its way to a stage: the bolts that have reached it, in their order, and whether it is the last."""

    pattern: Pattern
    done: tuple[str, ...]
    last_stage: bool

    @property
    def left(self) -> tuple[str, ...]:
        """The bolts that are not at the stage yet."""
        return tuple(bolt for bolt in self.pattern.names if bolt not in self.done)

    @property
    def round(self) -> bool:
        """Whether the bolts sit round a centre; else they sit along a line."""
        return self.pattern.shape != "long"


def _neighbours(case: Started) -> tuple[str, ...]:
    """Return the bolts beside the last one that are still to come: clockwise and back, or along the part."""
    if not case.done:
        return ()
    pattern, last = case.pattern, case.done[-1]
    if case.round:
        places = dict(zip(pattern.names, pattern.about_centre, strict=True))
        row = sorted(pattern.names, key=lambda bolt: math.atan2(*places[bolt]))
        row.append(row[0])
    else:
        along = dict(zip(pattern.names, pattern.along_axis, strict=True))
        row = sorted(pattern.names, key=along.__getitem__)
    beside = {other for pair in pairwise(row) if last in pair for other in pair}
    return tuple(bolt for bolt in case.left if bolt in beside)


def _ends(case: Started) -> tuple[str, ...]:
    """Return the bolts furthest from the centre among those still to come."""
    along = dict(zip(case.pattern.names, map(abs, case.pattern.along_axis), strict=True))
    furthest = max(along[bolt] for bolt in case.left)
    return tuple(bolt for bolt in case.left if math.isclose(along[bolt], furthest, rel_tol=1e-6))


# Each gives the bolts that somebody who thinks so takes next.
NEXT_RULES: Mapping[str, Callable[[Started], tuple[str, ...]]] = MappingProxyType(
    {
        "round-in-a-circle": lambda case: _neighbours(case) if case.round else (),
        "end-to-end": lambda case: () if case.round else _neighbours(case),
        "ends-first": lambda case: () if case.round else _ends(case),
        "one-to-final-first": lambda case: () if case.last_stage else case.done[-1:],
    }
)


class NextBolt(Unshuffled):
    """Some bolts of a pattern are at a stage; the next one is to be pointed at.

    Difficulty: the bolts of the pattern, and those that are at the stage already.
    """

    name = "tightening/next-bolt"
    skill = "find the next bolt of a pattern"
    kind = "point"
    weights = MappingProxyType({"bolts": 0.25, "done": 0.25})

    def pose(self, rng: random.Random, pack: Pack) -> Draw:
        """Draw once."""
        own = [each for each in pack.fasteners if _has_printed_order(each)]
        taken = rng.random() if own else 1.0
        if taken < _OWN:
            fastener = rng.choice(own)
            pattern, around = Pattern(fastener.positions), None
        else:
            around = rng.random() < 0.5
            fastener = examples.joint(
                rng, examples.systems(pack), rng.choice(_STAGES), counts=_ROUND if around else _IN_A_ROW
            )
            pattern = _numbered(rng, around, fastener.count)
        words = Bolts(fastener)
        stages = [stage.name for stage in fastener.stages]
        # Nobody needs a pattern for what the fingers do.
        stage = rng.choice([name for name in stages if name != "finger-tight"])
        printed = tuple(map(str, fastener.order)) if around is None else ()
        if _OWN <= taken < _OWN + _PRINTED:
            printed = _one_of_the_best(rng, pattern, len(pattern))
        many = rng.randrange(words.count - 1)
        done = printed[:many] if printed else _one_of_the_best(rng, pattern, many)
        case = Started(pattern, done, stage == stages[-1])
        right = printed[many : many + 1] or pattern.best_next(done)
        redraw_if(len(right) == len(case.left))
        shows = _told_apart(case, right)
        before = stages[stages.index(stage) - 1] if stages.index(stage) else "loose"
        how = "in the printed order" if printed else "so that the part is drawn down evenly"
        several = "" if printed else " Where several will do, show one of them."
        item = PointItem(
            prompt=f"{opening(words.all)} are to be brought to the next stage {how}. "
            f"Which {words.noun} comes next?{several}",
            given=(
                words.title if around is None else _title(words, around),
                Given(label="Reached by all", value=words.stage_words(before)),
                Given(label="Next stage", value=words.stage_words(stage)),
                *((Given(label="Printed order", value=", ".join(printed)),) if printed else ()),
                Given(label="At the next stage already", value=", ".join(done) or "none"),
            ),
            figure=_figure(words, pattern, done, rng.choice(_TURNED) if around else None),
            targets=tuple(Option(id=bolt, text=f"{opening(words.noun)} {bolt}") for bolt in _by_number(pattern)),
        )
        reason = _printed_reason if printed else _reason
        key = PointKey(
            template=self.name,
            working=_printed_working(words, printed, done, right) if printed else _working(words, case, right),
            right=right,
            shows=shows,
            reasons={bolt: reason(words, case, right, bolt) for bolt in pattern.names},
        )
        features = {"bolts": words.count, "done": len(done)}
        return Draw(item, key, features, "" if around is None else examples.JOINT)


def _has_printed_order(fastener: Fastener) -> bool:
    """Tell whether a joint's printed order can be asked about: its bolts have places, and there are enough of them."""
    return (
        len(fastener.order) == fastener.count == len(fastener.positions)
        and 3 < fastener.count <= _MOST_SHOWN
        and any(stage.name != "finger-tight" for stage in fastener.stages)
    )


def _one_of_the_best(rng: random.Random, pattern: Pattern, many: int) -> tuple[str, ...]:
    """Return so many bolts in an order that draws the part down as evenly as can be."""
    done: list[str] = []
    for _ in range(many):
        done.append(rng.choice(pattern.best_next(done)))
    return tuple(done)


def _numbered(rng: random.Random, around: bool, count: int) -> Pattern:
    """Return bolts round a circle or in a row whose numbers stand anywhere: no number tells what lies across."""
    names = [str(number) for number in range(1, count + 1)]
    return Pattern(_places(around, count), rng.sample(names, count))


@lru_cache(maxsize=32)
def _places(around: bool, count: int) -> tuple[tuple[float, float], ...]:
    if around:
        return Pattern.circle(count, _APART / math.sin(math.pi / count)).points
    return tuple(((at - (count - 1) / 2) * _APART, 0.0) for at in range(count))


def _by_number(pattern: Pattern) -> list[str]:
    return sorted(pattern.names, key=int)


def _title(words: Bolts, around: bool) -> Given:
    where = "round a circle" if around else "in a row"
    return Given(label="Joint", value=f"{words.fastener.name}, {words.count} {where}, {examples.EXAMPLE}")


def _told_apart(case: Started, right: tuple[str, ...]) -> dict[str, str]:
    """Return what pointing at a bolt shows.

    Raises
    ------
    Redraw
        If two rules of thought lead to the same bolt, or none to a bolt that is not right.
    """
    shows: dict[str, str] = {}
    for code, rule in NEXT_RULES.items():
        for bolt in rule(case):
            redraw_if(bolt in shows)
            if bolt not in right:
                shows[bolt] = code
    redraw_if(not set(shows.values()) - {"one-to-final-first"})
    return shows


def _figure(words: Bolts, pattern: Pattern, done: tuple[str, ...], turned: float | None) -> dict[str, Any]:
    """Return the picture; a circle is turned by a part of the way from bolt to bolt."""
    angle = -2 * math.pi * (turned or 0.0) / len(pattern)
    places = dict(zip(pattern.names, pattern.points, strict=True))
    bolts = []
    for bolt in _by_number(pattern):
        at = complex(*places[bolt]) * complex(math.cos(angle), math.sin(angle))
        reached = {"done": done.index(bolt) + 1} if bolt in done else {}
        bolts.append({"id": bolt, "x": round(at.real, 2) + 0.0, "y": round(at.imag, 2) + 0.0, **reached})
    figure: dict[str, Any] = {"draw": "bolts", "noun": words.noun, "nouns": words.nouns, "bolts": bolts}
    if words.fastener.pattern == "circle":
        figure["circle"] = words.fastener.spread_mm
    elif turned is not None:
        figure["circle"] = round(2 * math.hypot(*pattern.points[0]), 2)
    return figure


def _pull(case: Started, more: str = "") -> float:
    """Return the unbalanced moment of the bolts at the stage, in units of one preload times the mean radius."""
    places = _unit_places(case.pattern)
    taken = [places[bolt] for bolt in (*case.done, *((more,) if more else ()))]
    return math.hypot(math.fsum(x for x, _ in taken), math.fsum(y for _, y in taken))


@lru_cache(maxsize=64)
def _unit_places(pattern: Pattern) -> dict[str, tuple[float, float]]:
    """Return where each bolt sits, measured from the centre in mean radii."""
    mean = math.fsum(math.hypot(x, y) for x, y in pattern.about_centre) / len(pattern)
    return {bolt: (x / mean, y / mean) for bolt, (x, y) in zip(pattern.names, pattern.about_centre, strict=True)}


def _reason(words: Bolts, case: Started, right: tuple[str, ...], bolt: str) -> str:
    name = f"{opening(words.noun)} {bolt}"
    if bolt in case.done:
        return f"{name} is at this stage already."
    if not case.round:
        nearest = "nearest to the centre of those that are left"
        return f"{name} is {nearest}." if bolt in right else f"{name} is not {nearest}."
    here, there = _pull(case, bolt), _pull(case, right[0])
    if bolt in right:
        return f"With {words.noun} {bolt} the load is spread as evenly as it can be."
    if here > there + 0.005:
        less = f"with {words.noun} {right[0]} only {there:.2f}"
        return f"With {words.noun} {bolt} the pull to one side is {here:.2f}, {less}."
    return f"With {words.noun} {bolt} the load gathers on one side on the way that is left."


def _printed_reason(words: Bolts, case: Started, right: tuple[str, ...], bolt: str) -> str:
    name = f"{opening(words.noun)} {bolt}"
    if bolt in case.done:
        return f"{name} is at this stage already."
    return f"{name} comes next in the printed order." if bolt in right else f"{name} comes later in the printed order."


def _printed_working(
    words: Bolts, printed: tuple[str, ...], done: tuple[str, ...], right: tuple[str, ...]
) -> tuple[str, ...]:
    return (
        "Where the manual prints an order, that order counts. At each stage it starts again at its first place.",
        f"Printed order: {', '.join(printed)}.",
        f"At the stage already: {', '.join(done) or 'none'}.",
        f"So {words.noun} {right[0]} comes next.",
    )


def _working(words: Bolts, case: Started, right: tuple[str, ...]) -> tuple[str, ...]:
    closing = f"So {words.noun} {' or '.join(right)} comes next."
    if not case.round:
        return ("A long part is drawn down from its centre outwards, in turn on either side.", closing)
    pulls = [_pull(replace(case, done=case.done[: at + 1])) for at in range(len(case.done))]
    lines = [
        f"After {words.noun} {bolt}: pull to one side {pull + 0.0:.2f}."
        for bolt, pull in zip(case.done, pulls, strict=True)
    ]
    return (
        "A load that is spread evenly pulls the part to no side. Across the circle the pulls cancel.",
        *lines,
        *(f"Then {words.noun} {bolt}: {_pull(case, bolt) + 0.0:.2f}." for bolt in case.left),
        "Each pull is counted in preloads of one times the radius. The next bolts are looked at too.",
        closing,
    )
