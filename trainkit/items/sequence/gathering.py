"""Gathering a handful of steps whose order is mostly settled, at will such as show certain misconceptions."""

from __future__ import annotations

import random
from collections.abc import Collection, Iterable, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

from trainkit.items.sequence.cards import Variant
from trainkit.items.template import Redraw, redraw_if

if TYPE_CHECKING:
    from trainkit.procedures import Procedure


# Of all pairs of cards at least this part has an order; the rest may stand either way. Seven or more cards so bound
# need 2.9 moves or more on average when they lie by chance, so that luck earns little.
SETTLED = 0.8
# So many times cards are gathered from where they begin.
_TRIES = 40
# Where certain misconceptions are wished for, so many of the draws begin with steps that show them.
AIMED = 0.8


def gather(
    rng: random.Random,
    chosen: Variant,
    count: int,
    *,
    start: Sequence[str] = (),
    wanted: Iterable[str] = (),
    without: Collection[str] = (),
) -> Procedure:
    """Gather so many steps that hang together, and return their order.

    It begins with ``start``, or with a pair in order, half of the time a dangerous one. It takes in steps near by,
    oftener such as have an order with most of the steps that are there already.

    Parameters
    ----------
    rng : random.Random
        Draws the steps.
    chosen : Variant
        Whose steps.
    count : int
        How many.
    start : sequence of str, optional
        Steps to begin with.
    wanted : iterable of str, optional
        Codes of misconceptions; most of the time it begins with a pair for each of them that this variant can show.
    without : collection of str, optional
        Steps that stay away.

    Raises
    ------
    Redraw
        If too few pairs have an order, or one only by way of many steps that are not there.
    """
    first = tuple(start) or _beginning(rng, chosen, wanted)
    redraw_if(len(first) > count)
    # From where it begins it is tried again and again: else much would be asked of that part of the work alone in which
    # most steps hang together.
    for _ in range(_TRIES):
        try:
            return _from(rng, chosen, count, first, without)
        except Redraw:
            continue
    raise Redraw


def _from(rng: random.Random, chosen: Variant, count: int, first: Sequence[str], without: Collection[str]) -> Procedure:
    taken = list(first)
    near = dict.fromkeys(step for one in taken for step in chosen.around[one])
    # So many pairs may stand either way.
    slack = (1 - SETTLED) * count * (count - 1) / 2 + 1e-9
    slack -= sum(other not in chosen.kin[one] for one, other in combinations(taken, 2))
    numbers, tied = chosen.procedure.relation.numbers, chosen.tied
    there = sum(1 << numbers[step] for step in taken)
    while len(taken) < count:
        open_to = [step for step in near if not there >> numbers[step] & 1 and step not in without]
        redraw_if(not open_to)
        ties = [(tied[step] & there).bit_count() for step in open_to]
        (at,) = rng.choices(range(len(open_to)), [1 + count for count in ties])
        slack -= len(taken) - ties[at]
        redraw_if(slack < 0)
        taken.append(open_to[at])
        there |= 1 << numbers[open_to[at]]
        near |= dict.fromkeys(chosen.around[open_to[at]])
    redraw_if(slack < 0 or len({chosen.text(step) for step in taken}) < count)
    redraw_if(not chosen.hangs_together(taken))
    return chosen.procedure.among(taken)


def _beginning(rng: random.Random, chosen: Variant, wanted: Iterable[str]) -> tuple[str, ...]:
    """Return the steps to begin with: those of a pair, or of one pair for each misconception that is wished for.

    Of the pairs that show one, such are taken as have most to do with the steps that are there already.
    """
    redraw_if(not chosen.procedure.before)
    codes = [code for code in dict.fromkeys(wanted) if code in chosen.showing]
    draw = rng.random()
    if codes and draw < AIMED:
        there: set[str] = set()
        pairs = []
        for code in rng.sample(codes, len(codes)):
            new = {edge: len({edge.before, edge.after} - there) for edge in chosen.showing[code]}
            pairs.append(rng.choice([edge for edge, count in new.items() if count == min(new.values())]))
            there |= {pairs[-1].before, pairs[-1].after}
    elif chosen.dangerous and draw < 0.25:
        pairs = [rng.choice(rng.choice(chosen.telling or (chosen.dangerous,)))]
    else:
        # A variant is known by its own steps.
        own = [step for step in chosen.own if chosen.neighbours[step]] if rng.random() < 0.3 else []
        step = rng.choice(own or [step for step, near in chosen.neighbours.items() if near])
        return step, rng.choice(chosen.neighbours[step])
    return tuple(dict.fromkeys(step for pair in pairs for step in (pair.before, pair.after)))
