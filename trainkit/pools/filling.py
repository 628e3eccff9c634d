"""Forms that are equally hard: for each item of a blueprint a pool of draws, trimmed, and a form put together from it.

How hard a draw is, its template says, from features that it states (:attr:`trainkit.items.facts.Draw.features`).

1. Each template has a **yardstick** on each pack: mean and spread (standard deviation) of the difficulty in a fixed
   reference pool, which hangs on neither seed nor course. So a later attempt, and another course, aim at the same.
2. For each item of the blueprint a **pool** is drawn from the secret seed, the same for everybody in one attempt.
   What the blueprint wishes an item to be able to show, and this pack can show (:func:`.reference.askable`), every
   draw of the pool can show, and every draw of the yardstick.
   The pool is trimmed: of its different draws stay those that lie within :data:`WIDTH` spreads of the mean. Narrower,
   and whatever half of the draws has would crowd out what the other half has.
3. A **form** takes one draw from each pool, weighed by its points: from the pool that varies most a draw by chance,
   from the next the better of two, then of four, then of :data:`CHOICE` the one that brings the form as a whole nearest
   to the sum of the means. A draw that the form has already is passed over.
4. The order of options and cards is the form's own, from a stream that knows nothing of the draw.

Nothing hangs on who else is on the roster. A draw that fails costs this draw alone, and is told of.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import count, islice
from types import MappingProxyType
from typing import TYPE_CHECKING, Protocol

from trainkit.errors import DrawFault, ItemError, NotReadyError
from trainkit.items.asking import asked
from trainkit.items.facts import Draw
from trainkit.items.lettering import relettered
from trainkit.items.template import Template, find
from trainkit.pools.reference import (
    ENOUGH,
    FAILURES,
    RARE,
    Yardstick,
    askable,
    none_shows,
    shown_by,
    yardstick,
)

if TYPE_CHECKING:
    from trainkit.modules import Blueprint, PlannedItem
    from trainkit.packs import Pack


# Draws that the pool of an item begins with.
POOL = 120
# How far a draw may lie from the mean, in spreads; at least so many draws stay, the nearest, where there are as many.
WIDTH = 1.25
LEAST = 12
# From so many draws by chance, at most, a form takes the one that balances it best.
CHOICE = 8
# How rules begin that say what a template needs.
_NEEDS = re.compile(r"^(This template|The template \S+ found no draw: it) needs ")
# A pool that holds too little is drawn on from further streams, so often.
_ROUNDS = 4
# So many draws of a round may fail; what fails oftener costs more time than it gives draws.
_FAILED = 24


class Streams(Protocol):
    """Gives generators of random numbers by name: the same names give the same one."""

    def stream(self, *labels: str | int) -> random.Random:
        """Return a generator of its own for these labels."""


@dataclass(frozen=True, slots=True)
class Size:
    """How large pools are.

    Parameters
    ----------
    pool : int
        Draws that the pool of an item begins with.
    enough : int
        Where few draws can show what they have to, no more are looked through once so many of them have been found.
    """

    pool: int = POOL
    enough: int = ENOUGH


FULL = Size()
"""Of an assessment."""
TRIAL = Size(pool=16, enough=3)
"""To see whether pools can be filled at all: harder to fill than whole ones, because less is drawn for them."""


@dataclass(frozen=True, slots=True)
class Pooled:
    """One draw of a pool, what it asks in short, and how hard it is."""

    draw: Draw
    asked: str
    difficulty: float


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
    not_askable : tuple of str
        Codes that the blueprint wishes for and that this pack cannot show.
    faults : tuple of str
        What went wrong in draws that failed unexpectedly, each once, in one line.
    """

    planned: PlannedItem
    aim: Yardstick
    draws: tuple[Pooled, ...]
    not_askable: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Missing:
    """What keeps the pool of an item from being filled.

    Parameters
    ----------
    item, template : str
        The item of the blueprint, and what would draw it.
    needs : str
        What the pack lacks, in the instructor's words.
    remedy : str
        What to do about it, a whole sentence.
    """

    item: str
    template: str
    needs: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Pools:
    """The pools of one attempt at a module, one for each item of its blueprint.

    Parameters
    ----------
    seed : Streams
        The secret of a course, or a seed of one's own.
    names : tuple
        Course, module and attempt, which tell these pools from all others of the seed.
    pools : tuple of Pool
    """

    seed: Streams
    names: tuple[str | int, ...]
    pools: tuple[Pool, ...]

    @classmethod
    def fill(
        cls,
        seed: Streams,
        course: str,
        blueprint: Blueprint,
        pack: Pack,
        attempt: int,
        *,
        not_askable: Mapping[str, tuple[str, ...]] | None = None,
        size: Size = FULL,
    ) -> Pools:
        """Draw the pools and trim them.

        Parameters
        ----------
        seed : Streams
            Where chance comes from.
        course : str
            Its name.
        blueprint : Blueprint
            What a form consists of.
        pack : Pack
            What it is about.
        attempt : int
            From 1.
        not_askable : mapping of str to tuple of str, optional
            By item, the wished codes that were left out when the first forms of this attempt were drawn; without it
            that is found out.
        size : Size
            How large they are.

        Raises
        ------
        NotReadyError
            If the pack cannot fill the pools of all items; ``missing`` says what is missing for each.
        """
        names = (course, blueprint.module, attempt)
        alike = Counter(planned.template for planned in blueprint.items)
        pools: list[Pool] = []
        missing: list[Missing] = []
        for planned in blueprint.items:
            left_out = None if not_askable is None else not_askable.get(planned.id, ())
            filler = _Filler(seed, names, planned, pack, size, alike[planned.template])
            try:
                pools.append(filler.pool(left_out))
            except (ItemError, DrawFault) as error:
                missing.append(Missing(planned.id, planned.template, needs_of(error), error.remedy))
        if missing:
            raise _not_ready(blueprint, pack, missing)
        return cls(seed, names, tuple(pools))

    @property
    def not_askable(self) -> Mapping[str, tuple[str, ...]]:
        """By item, the codes that the blueprint wishes for and that the pack cannot show."""
        return MappingProxyType({pool.planned.id: pool.not_askable for pool in self.pools if pool.not_askable})

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
        ItemError
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
            raise _only_the_same(pool.planned, f"{self.names[1]} {pool.planned.id}")
        return pick.sample(open_to, min(many, len(open_to)))


def needs_of(error: ItemError | DrawFault) -> str:
    """Return what an error says is needed, to stand in a list."""
    needs = error.needs if isinstance(error, ItemError) else ""
    return needs or _NEEDS.sub("", error.rule.rstrip("."))


def _only_the_same(planned: PlannedItem, place: str = "") -> ItemError:
    error = ItemError(
        planned.template,
        place=place,
        rule=f"The items of a form differ; {POOL} draws of this template gave only the same ones again.",
        remedy="Name it less often in the blueprint, or give the pack more values of this sort.",
    )
    error.needs = f"more different values for the question “{find(planned.template).skill}”"
    return error


def _not_ready(blueprint: Blueprint, pack: Pack, missing: list[Missing]) -> NotReadyError:
    said = "; ".join(dict.fromkeys(f"{each.item}: {each.needs}" for each in missing))
    error = NotReadyError(
        pack.name,
        place=blueprint.module,
        rule=f"This pack cannot fill the module “{blueprint.title}”. What is missing: {said}.",
        remedy="Add it to the pack, or take these items out of the blueprint.",
    )
    error.missing = tuple(missing)
    return error


@dataclass(frozen=True, slots=True)
class _Filler:
    """Fills the pool of one item; ``least`` different draws are needed, for as many items of its template."""

    seed: Streams
    names: tuple[str | int, ...]
    planned: PlannedItem
    pack: Pack
    size: Size
    least: int

    def pool(self, left_out: tuple[str, ...] | None) -> Pool:
        """Return the pool; ``left_out`` are wishes known to be left out, None where that is to be found out."""
        wished, template = self.planned.shows, find(self.planned.template)
        if left_out is None:
            shows = askable(template, self.pack, wished)
        else:
            shows = tuple(code for code in wished if code not in left_out)
            # With another release the templates may have changed: better less than nothing.
            shows = askable(template, self.pack, shows)
        aim = yardstick(template, self.pack, shows)
        faults: dict[str, None] = {}
        found = self._different(template, shows, faults)
        nearest = sorted(found.values(), key=lambda draw: abs(draw.difficulty - aim.mean))
        # A hair more, so that equal sums of weights in another order count as equal.
        width = WIDTH * aim.spread + 1e-9
        near = sum(abs(draw.difficulty - aim.mean) <= width for draw in nearest)
        draws = tuple(nearest[: max(LEAST, near)])
        return Pool(self.planned, aim, draws, tuple(code for code in wished if code not in shows), tuple(faults))

    def _different(self, template: Template, shows: tuple[str, ...], faults: dict[str, None]) -> dict[str, Pooled]:
        """Return the different draws by what they ask, from as many rounds of streams as it takes."""
        names, planned = self.names, self.planned
        streams = (self.seed.stream("draw", *names, planned.id, number) for number in count())
        found: dict[str, Pooled] = {}
        error: ItemError | DrawFault | None = None
        for _ in range(_ROUNDS):
            try:
                for drawn in self._draws(template, shows, streams, faults):
                    question = asked(drawn.item)
                    if question not in found:
                        shown = drawn.item.model_copy(update={"points": planned.points})
                        draw = Draw(shown, drawn.key, drawn.features, drawn.instead)
                        found[question] = Pooled(draw, question, template.difficulty(drawn.features))
            except (ItemError, DrawFault) as met:
                error = met
            if len(found) >= self.least:
                return found
        raise error or _only_the_same(planned)

    def _draws(
        self, template: Template, shows: tuple[str, ...], streams: Iterable[random.Random], faults: dict[str, None]
    ) -> list[Draw]:
        """Return draws that can show what they have to; fewer where such draws are rare, or where draws fail.

        Raises
        ------
        ItemError, DrawFault
            If there is none.
        """
        wanted, wish = self.size.pool, frozenset(shows)
        aimed = template.aimed(shows)
        found: list[Draw] = []
        failed: list[ItemError | DrawFault] = []
        for number, stream in enumerate(islice(streams, POOL * RARE if shows else wanted + _FAILED)):
            if number >= wanted and shows and len(found) >= self.size.enough:
                break
            try:
                drawn = aimed.draw(stream, self.pack)
                fits = not shows or wish <= shown_by(template, self.pack, drawn)
            except (ItemError, DrawFault) as error:
                if isinstance(error, DrawFault):
                    faults[f"{error.value}: {error.rule} {error.remedy}"] = None
                failed.append(error)
                if len(failed) >= (_FAILED if found else FAILURES):
                    break
                continue
            if fits:
                found.append(drawn)
                if len(found) == wanted:
                    break
        if not found:
            raise failed[0] if failed else none_shows(template, shows, POOL * RARE)
        return found
