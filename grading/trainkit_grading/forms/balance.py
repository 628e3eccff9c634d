"""Forms that are equally hard: for each item of a blueprint a pool of draws, trimmed, and a form put together from it.

How hard a draw is, its template says, from features that it states (:attr:`trainkit.items.facts.Draw.features`).

1. Each template has a **yardstick** on each pack: mean and spread (standard deviation) of the difficulty in a fixed
   reference pool, which hangs on neither seed nor course. So a later attempt, and another course, aim at the same.
2. For each item of the blueprint a **pool** is drawn from the secret seed, the same for everybody in one attempt.
   Where the blueprint says what an item has to be able to show, only such draws count, here and for the yardstick.
   The pool is trimmed: of its different draws stay those that lie within :data:`WIDTH` spreads of the mean. Narrower,
   and whatever half of the draws has would crowd out what the other half has.
3. A **form** takes one draw from each pool, weighed by its points: from the pool that varies most a draw by chance,
   from the next the better of two, then of four, then of :data:`CHOICE` the one that brings the form as a whole nearest
   to the sum of the means. A draw that the form has already is passed over.
4. The order of options and cards is the form's own, from a stream that knows nothing of the draw.

Nothing hangs on who else is on the roster.
"""

from __future__ import annotations

import random
import statistics
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from itertools import count, islice
from typing import TYPE_CHECKING

from trainkit.items.asking import asked
from trainkit.items.facts import Draw
from trainkit.items.kept import once_a_pack
from trainkit.items.lettering import relettered
from trainkit.items.template import Template, find
from trainkit_grading.errors import DrawingError

if TYPE_CHECKING:
    from trainkit.modules import Blueprint, PlannedItem
    from trainkit.packs import Pack
    from trainkit_grading.course.seeds import Seed


# Draws that a yardstick rests on, and draws that the pool of an item begins with.
REFERENCE = 64
POOL = 120
# Where an item has to be able to show certain misconceptions, up to so many times as many draws are looked through.
RARE = 20
# and no more once so many of them have been found.
ENOUGH = 36
# How far a draw may lie from the mean, in spreads; at least so many draws stay, the nearest, where there are as many.
WIDTH = 1.25
LEAST = 12
# From so many draws by chance, at most, a form takes the one that balances it best.
CHOICE = 8


@dataclass(frozen=True, slots=True)
class Pooled:
    """One draw of a pool, what it asks in short, and how hard it is."""

    draw: Draw
    asked: str
    difficulty: float


@dataclass(frozen=True, slots=True)
class Yardstick:
    """How hard the items of a template on a pack are: mean and standard deviation, in steps of thought."""

    mean: float
    spread: float


@dataclass(frozen=True, slots=True)
class Pool:
    """The draws from which one item of a blueprint is taken.

    Parameters
    ----------
    planned : PlannedItem
        The item.
    aim : Yardstick
        How hard it should be.
    draws : tuple of Pooled
        Different draws, those nearest to the mean first.
    """

    planned: PlannedItem
    aim: Yardstick
    draws: tuple[Pooled, ...]


@dataclass(frozen=True, slots=True)
class Pools:
    """The pools of one attempt at a module, one for each item of its blueprint.

    Parameters
    ----------
    seed : Seed
        The course's secret.
    names : tuple
        Course, module and attempt, which tell these pools from all others of the course.
    pools : tuple of Pool
    """

    seed: Seed
    names: tuple[str | int, ...]
    pools: tuple[Pool, ...]

    @classmethod
    def fill(cls, seed: Seed, course: str, blueprint: Blueprint, pack: Pack, attempt: int) -> Pools:
        """Draw the pools and trim them.

        Raises
        ------
        ItemError
            If the pack has nothing that a template could ask about.
        """
        names = (course, blueprint.module, attempt)
        return cls(seed, names, tuple(_pool(seed, names, planned, pack) for planned in blueprint.items))

    def form(self, apprentice: str, shown: Collection[str] = ()) -> Iterator[tuple[PlannedItem, Draw]]:
        """Put a form together: each item of the blueprint with its draw.

        Parameters
        ----------
        apprentice : str
            Whose.
        shown : collection of str
            What stands for questions that the workbook works itself (:func:`~trainkit.items.asking.asked`); they are
            not taken.

        Raises
        ------
        DrawingError
            If an item cannot be told from one that stands in the form already.
        """
        taken: set[str] = set(shown)
        off = 0.0  # by how much what was taken is harder than it should be
        found: dict[str, Pooled] = {}
        for pool, many in self._turns:
            draws = self._choice(pool, taken, self._stream("pick", apprentice, pool), many)
            points = pool.planned.points
            offs = [off + points * (draw.difficulty - pool.aim.mean) for draw in draws]
            off = min(offs, key=abs)
            draw = draws[offs.index(off)]
            taken.add(draw.asked)
            found[pool.planned.id] = draw
        for pool in self.pools:
            drawn = found[pool.planned.id].draw
            item, key = relettered(*drawn, self._stream("shuffle", apprentice, pool))
            yield pool.planned, Draw(item, key, drawn.features, drawn.instead)

    @property
    def _turns(self) -> list[tuple[Pool, int]]:
        """The pools in the order in which a form takes from them, and of how many draws it takes the best.

        It goes from the coarse to the fine, and from free choice to the best of many.
        """
        coarse_first = sorted(self.pools, key=lambda pool: -pool.planned.points * pool.aim.spread)
        return [(pool, min(2**place, CHOICE)) for place, pool in enumerate(coarse_first)]

    def _stream(self, purpose: str, apprentice: str, pool: Pool) -> random.Random:
        return self.seed.stream(purpose, *self.names, apprentice, pool.planned.id)

    def _choice(self, pool: Pool, taken: set[str], pick: random.Random, many: int) -> list[Pooled]:
        """Return so many draws by chance that the form does not have yet, or all that there are."""
        open_to = [draw for draw in pool.draws if draw.asked not in taken]
        if not open_to:
            module = self.names[1]
            raise DrawingError(
                pool.planned.template,
                place=f"{module} {pool.planned.id}",
                rule=f"The items of a form differ; {POOL} draws of this template gave only the same ones again.",
                remedy="Name it less often in the blueprint, or give the pack more values of this sort.",
            )
        return pick.sample(open_to, min(many, len(open_to)))


def _pool(seed: Seed, names: tuple[str | int, ...], planned: PlannedItem, pack: Pack) -> Pool:
    template = find(planned.template)
    streams = (seed.stream("draw", *names, planned.id, number) for number in count())
    found: dict[str, Pooled] = {}
    for drawn in _draws(template, pack, planned.shows, streams, POOL):
        question = asked(drawn.item)
        if question not in found:
            shown = drawn.item.model_copy(update={"points": planned.points})
            draw = Draw(shown, drawn.key, drawn.features, drawn.instead)
            found[question] = Pooled(draw, question, template.difficulty(drawn.features))
    aim = yardstick(template, pack, planned.shows)
    nearest = sorted(found.values(), key=lambda draw: abs(draw.difficulty - aim.mean))
    # A hair more, so that equal sums of weights in another order count as equal.
    width = WIDTH * aim.spread + 1e-9
    near = sum(abs(draw.difficulty - aim.mean) <= width for draw in nearest)
    return Pool(planned, aim, tuple(nearest[: max(LEAST, near)]))


def yardstick(template: Template, pack: Pack, shows: tuple[str, ...] = ()) -> Yardstick:
    """Return how hard the items of a template on a pack are, by a fixed reference pool.

    Parameters
    ----------
    template : Template
        What draws.
    pack : Pack
        What it asks about.
    shows : tuple of str
        Codes of misconceptions that every item has to be able to show.

    Raises
    ------
    ItemError
        If the pack has nothing that the template could ask about.
    DrawingError
        If no draw can show the misconceptions.

    Examples
    --------
    >>> from trainkit import packs
    >>> found = yardstick(find("torque-units/convert"), packs.load("dunlin"))
    >>> found.mean > 0, found.spread > 0
    (True, True)
    """
    known = _yardsticks(pack)
    name = (template.name, *sorted(shows))
    if name not in known:
        streams = (random.Random(f"{template.name} {number}") for number in count())  # noqa: S311 - no secret, a yardstick
        drawn = _draws(template, pack, shows, streams, REFERENCE)
        found = [template.difficulty(each.features) for each in drawn]
        known[name] = Yardstick(statistics.fmean(found), statistics.pstdev(found))
    return known[name]


@once_a_pack
def _yardsticks(pack: Pack) -> dict[tuple[str, ...], Yardstick]:  # noqa: ARG001 - what is kept is kept for each pack
    return {}


def _draws(
    template: Template, pack: Pack, shows: tuple[str, ...], streams: Iterable[random.Random], wanted: int
) -> list[Draw]:
    """Return so many draws that can show certain misconceptions; fewer where such draws are rare, yet :data:`ENOUGH`.

    Raises
    ------
    DrawingError
        If there is none.
    """
    tries = wanted * RARE if shows else wanted
    template = template.aimed(shows)
    found: list[Draw] = []
    for number, stream in enumerate(islice(streams, tries)):
        if number >= wanted and len(found) >= ENOUGH:
            break
        drawn = template.draw(stream, pack)
        if not shows or set(shows) <= drawn.could_show.keys():
            found.append(drawn)
            if len(found) == wanted:
                break
    if not found:
        raise DrawingError(
            template.name,
            rule=f"None of {tries} draws of {template.name} can show {' and '.join(shows)}.",
            remedy="Take this out of `shows` in the blueprint, or name another template.",
        )
    return found
