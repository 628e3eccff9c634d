"""How evenly an order of tightening spreads the load.

Near a circle. All bolts of a set carry the same preload and the others none. The set pulls the flange over by its
unbalanced moment, the sum of the places of its bolts, and bends it like a saddle by the second harmonic, the sum of
the unit vectors at twice their angles. An order costs the sum, over its steps, of the moment squared plus one
sixteenth of the second harmonic squared, in units of the mean radius. The small weight (our choice; common practice
gives no value) lets the moment decide and the second harmonic tell apart orders whose moments agree: a spread star
from pairs that march round.

A long joint is tightened from the centre outwards; it is judged by the pairs of bolts of which the outer one came
first. Bolts about as far from the centre form one ring and have no order among themselves.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

Places = tuple[tuple[float, float], ...]

MOST_EXACT = 16  # bolts; the search runs over all sets of bolts, 65 536 of them
SECOND_WEIGHT = 1 / 16
# Costs are sums of some dozens of doubles near one; closer than this they are the same.
_SAME = 1e-9
# Bolts whose distance from the centre differs by less than this share of the half length form one ring.
_RING = 0.08


@dataclass(frozen=True, slots=True)
class Bounds:
    """What the orders of one pattern can cost.

    Parameters
    ----------
    best, worst : float
        The least and the greatest over all orders, both exact but for rounding.
    """

    best: float
    worst: float

    @property
    def equal(self) -> bool:
        """Whether all orders cost the same."""
        return self.worst - self.best <= _SAME * max(1.0, self.worst)


@dataclass(frozen=True, slots=True)
class MomentVerdict:
    """How evenly an order spreads the load round a near-circular pattern.

    Parameters
    ----------
    order : tuple of str
        The bolts, first to last; workbooks print them.
    moments : tuple of float
        Unbalanced moment after each bolt, in units of one preload times the mean radius.
    cost : float
        The measure of the module's docstring.
    bounds : Bounds
        What all orders of this pattern can cost.
    """

    order: tuple[str, ...]
    moments: tuple[float, ...]
    cost: float
    bounds: Bounds

    @property
    def is_best(self) -> bool:
        """Whether no order is better."""
        return self.cost - self.bounds.best <= _SAME * max(1.0, self.bounds.worst)


@dataclass(frozen=True, slots=True)
class OutwardVerdict:
    """How far an order of a long joint works from the centre outwards.

    Parameters
    ----------
    broken : tuple of pairs of str
        Pairs (inner, outer) of which the outer bolt was tightened first.
    """

    broken: tuple[tuple[str, str], ...]

    @property
    def is_best(self) -> bool:
        """Whether every bolt came after all those nearer to the centre."""
        return not self.broken


@dataclass(frozen=True, slots=True)
class _Table:
    bounds: Bounds
    # For each set of bolts already tightened, as bits: the least cost of going on from it, and its own cost.
    onward: tuple[float, ...]
    own: tuple[float, ...]


def _vectors(places: Places) -> tuple[list[complex], list[complex]]:
    mean = math.fsum(math.hypot(x, y) for x, y in places) / len(places)
    first = [complex(x, y) / mean for x, y in places]
    return first, [cmath.exp(2j * cmath.phase(vector)) for vector in first]


def _weigh(first: complex, second: complex) -> float:
    return abs(first) ** 2 + SECOND_WEIGHT * abs(second) ** 2


@lru_cache(maxsize=32)
def _table(places: Places) -> _Table:
    count = len(places)
    first, second = _vectors(places)
    size = 1 << count
    sums, doubles, own = [0j] * size, [0j] * size, [0.0] * size
    for tightened in range(1, size):
        rest = tightened & (tightened - 1)
        lowest = (tightened ^ rest).bit_length() - 1
        sums[tightened] = sums[rest] + first[lowest]
        doubles[tightened] = doubles[rest] + second[lowest]
        own[tightened] = _weigh(sums[tightened], doubles[tightened])
    # What is left to pay depends only on the set already tightened, not on the order it was tightened in.
    least, most = [0.0] * size, [0.0] * size
    bits = [1 << place for place in range(count)]
    for tightened in range(size - 2, -1, -1):
        following = [tightened | bit for bit in bits if not tightened & bit]
        least[tightened] = min([own[after] + least[after] for after in following])
        most[tightened] = max([own[after] + most[after] for after in following])
    return _Table(Bounds(least[0], most[0]), tuple(least), tuple(own))


def bounds(places: Places) -> Bounds:
    """Return what the orders of a near-circular pattern can cost, places measured from its centre."""
    return _table(places).bounds


def judge_moments(places: Places, order: Sequence[int], names: tuple[str, ...] = ()) -> MomentVerdict:
    """Judge an order of a near-circular pattern; ``names`` are the bolts in that order."""
    first, second = _vectors(places)
    moment = double = 0j
    moments = []
    cost = 0.0
    for place in order:
        moment += first[place]
        double += second[place]
        moments.append(abs(moment))
        cost += _weigh(moment, double)
    return MomentVerdict(names, tuple(moments), cost, _table(places).bounds)


def next_by_moments(places: Places, tightened: Sequence[int]) -> tuple[int, ...]:
    """Return the bolts of a near-circular pattern that may come next on a best way on; () when none is left."""
    table = _table(places)
    taken = sum(1 << place for place in tightened)
    onward = {
        place: table.own[after] + table.onward[after]
        for place in range(len(places))
        if not taken & (1 << place)
        for after in [taken | (1 << place)]
    }
    least = min(onward.values(), default=0.0)
    return tuple(place for place, cost in onward.items() if cost <= least + _SAME)


def best_by_moments(places: Places) -> tuple[int, ...]:
    """Return one best order of a near-circular pattern; of equal bolts the one that is listed first goes first."""
    order: list[int] = []
    for _ in places:
        order.append(next_by_moments(places, order)[0])
    return tuple(order)


def rings(along: Sequence[float]) -> tuple[int, ...]:
    """Return for each bolt the ring it lies in, 0 for the one nearest to the centre.

    Examples
    --------
    >>> rings([-60, -20, 20, 60])
    (1, 0, 0, 1)
    """
    distances = [abs(place) for place in along]
    step = _RING * max(distances)
    found, ring = [0] * len(distances), 0
    ordered = sorted(range(len(distances)), key=distances.__getitem__)
    for before, here in pairwise(ordered):
        if distances[here] - distances[before] > step:
            ring += 1
        found[here] = ring
    return tuple(found)


def judge_outwards(along: Sequence[float], order: Sequence[int], names: Sequence[str]) -> OutwardVerdict:
    """Judge an order of a long joint; ``names`` are the bolts in the order of the pattern."""
    ring = rings(along)
    return OutwardVerdict(
        tuple(
            (names[later], names[earlier])
            for rank, earlier in enumerate(order)
            for later in order[rank + 1 :]
            if ring[later] < ring[earlier]
        )
    )


def next_outwards(along: Sequence[float], tightened: Sequence[int]) -> tuple[int, ...]:
    """Return the bolts of a long joint that may come next: those of the innermost ring that is left."""
    ring = rings(along)
    waiting = [place for place in range(len(along)) if place not in tightened]
    innermost = min((ring[place] for place in waiting), default=0)
    return tuple(place for place in waiting if ring[place] == innermost)


def best_outwards(along: Sequence[float]) -> tuple[int, ...]:
    """Return an order from the centre outwards that changes sides where it can."""
    ring = rings(along)
    order: list[int] = []
    for level in range(max(ring) + 1):
        waiting = [place for place in range(len(along)) if ring[place] == level]
        while waiting:
            side = along[order[-1]] if order else 0.0
            chosen = next((place for place in waiting if along[place] * side < 0), waiting[0])
            waiting.remove(chosen)
            order.append(chosen)
    return tuple(order)
