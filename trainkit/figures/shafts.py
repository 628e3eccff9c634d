"""Where shafts sit: a place for each gear of a picture, so that what meshes touches and nothing else does.

What meshes with what gives the distance of two shafts, not the direction. The directions are searched: the best
layouts so far are kept while gear after gear is added, then each gear is swung a little as long as that helps. The
same train gets the same layout, whatever is asked about it. All lengths are in pitch units, in which the pitch radius
of a gear is the number of its teeth: one module is 2, one tooth 2π.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations

Spot = tuple[float, float]

MODULE = 2.0
"""One module in pitch units."""
APART = 4 * math.pi
"""What does not mesh stays two teeth apart, from tip to tip."""

# So many layouts go on to the next gear, with a gear in so many directions. The last swings are finer.
_KEPT, _DIRECTIONS, _SWINGS = 12, 24, (5.0, 1.0)
# The field in which trains are drawn is so much wider than high.
_WIDE = 1.5
# A chain is drawn as long as it takes to keep its sprockets clear of what turns beside them.
_CHAINS = (1.3, 1.6, 2.0, 2.6)
# In shares of all radii together: what a gear costs that lies over another in one plane, in another, or over a shaft.
_SAME_PLANE, _OTHER_PLANE, _OVER_SHAFT, _LOW_CRANK = 20.0, 0.5, 0.7, 0.4


@dataclass(frozen=True, slots=True)
class Joint:
    """What joins two gears: their numbers in the row of gears, and how, as in a mesh."""

    one: int
    other: int
    kind: str


@dataclass(frozen=True, slots=True)
class _Way:
    """How a gear stands to one that has its place: which, at what distance and in which direction, in degrees.

    A gear that meshes with two others stands where both distances are kept, on one ``side`` of the line between them.
    """

    beside: int | None = None
    distance: float = 0.0
    degrees: float = 0.0
    also: int | None = None
    further: float = 0.0
    side: int = 1

    def spot(self, spots: Mapping[int, Spot]) -> Spot | None:
        if self.beside is None:
            return self.distance, 0.0
        x, y = spots[self.beside]
        if self.also is None:
            angle = math.radians(self.degrees)
            return x + self.distance * math.cos(angle), y + self.distance * math.sin(angle)
        a, b = spots[self.also]
        apart = math.hypot(a - x, b - y)
        if not abs(self.distance - self.further) <= apart <= self.distance + self.further or not apart:
            return None
        along = (apart**2 + self.distance**2 - self.further**2) / (2 * apart)
        off = self.side * math.sqrt(max(0.0, self.distance**2 - along**2))
        u, v = (a - x) / apart, (b - y) / apart
        return x + along * u - off * v, y + along * v + off * u


# What it costs that gears cross, how each gear stands, and where that is.
_Layout = tuple[float, dict[int, _Way], dict[int, Spot]]


@lru_cache(maxsize=512)
def placed(teeth: tuple[int, ...], joints: tuple[Joint, ...]) -> tuple[Spot, ...]:
    """Return where the shaft of each gear sits, to the right and down, in pitch units.

    Parameters
    ----------
    teeth : tuple of int
        Their numbers of teeth; the first gear is the crank's where there is one.
    joints : tuple of Joint
        What joins them.

    Examples
    --------
    >>> (x, y), (a, b) = placed((34, 51), (Joint(0, 1, "external"),))
    >>> round(math.hypot(a - x, b - y), 9)
    85.0
    """
    train = _Train.of(teeth, joints)
    layouts = train.layouts(_KEPT)
    if layouts[0][0] > 0:  # something crosses: look at more
        layouts = train.layouts(4 * _KEPT)
    turned = (ways for layout in layouts[:_KEPT] for ways in _turned(layout[1]))
    best = train.swung(min(turned, key=lambda ways: train.cost(train.laid(ways) or {})))
    return tuple(best[number] for number in range(len(teeth)))


@dataclass(frozen=True, slots=True)
class _Train:
    teeth: tuple[int, ...]
    joints: tuple[Joint, ...]
    levels: tuple[int, ...]
    shaft: tuple[int, ...]
    tips: tuple[float, ...]
    joined: frozenset[tuple[int, int]]

    @classmethod
    def of(cls, teeth: tuple[int, ...], joints: tuple[Joint, ...]) -> _Train:
        ring = rings(teeth, joints)
        return cls(
            teeth,
            joints,
            planes(teeth, joints),
            _together(len(teeth), joints, lambda kind: kind == "shaft"),
            tuple(outer(each, ring=number in ring) for number, each in enumerate(teeth)),
            frozenset(pair for joint in joints for pair in ((joint.one, joint.other), (joint.other, joint.one))),
        )

    def layouts(self, kept: int) -> list[_Layout]:
        """Return the best layouts, the very best first, of those that come from so many at each gear."""
        layouts: list[_Layout] = [(0.0, {}, {})]
        for number in self.order():
            grown = []
            for crossed, ways, spots in layouts:
                for way in self.ways(number, spots):
                    spot = way.spot(spots)
                    if spot is not None:
                        now = {**spots, number: spot}
                        grown.append((crossed + self.crossed(number, now), {**ways, number: way}, now))
            layouts = sorted(grown, key=lambda one: one[0] + self.size(one[2]))[:kept]
        return layouts

    def order(self) -> Iterator[int]:
        """Yield the gears so that each comes after one that it is joined to, where there is one."""
        waiting, seen = list(range(len(self.teeth))), set[int]()
        while waiting:
            number = next((n for n in waiting if any(self.mates(n, seen))), waiting[0])
            waiting.remove(number)
            seen.add(number)
            yield number

    def mates(self, number: int, among: Mapping[int, Spot] | set[int]) -> Iterator[tuple[int, str]]:
        for joint in self.joints:
            other = {joint.one: joint.other, joint.other: joint.one}.get(number)
            if other is not None and other in among:
                yield other, joint.kind

    def ways(self, number: int, spots: Mapping[int, Spot]) -> list[_Way]:
        """Return every way in which a gear may stand to those that have their places."""
        mates = list(self.mates(number, spots))
        if not mates:
            edge = max((x + self.tips[n] for n, (x, _) in spots.items()), default=None)
            return [_Way(distance=0.0 if edge is None else edge + 2 * APART + self.tips[number])]
        shared = next((other for other, kind in mates if kind == "shaft"), None)
        if shared is not None:
            return [_Way(shared)]
        meshed = [(other, kind) for other, kind in mates if kind in ("external", "internal")]
        fixed = [(other, self.distance(number, other, kind)) for other, kind in meshed]
        if len(fixed) > 1:
            (one, distance), (two, further) = fixed[:2]
            both = [_Way(one, distance, also=two, further=further, side=side) for side in (1, -1)]
            if both[0].spot(spots) is not None:
                return both
        other, kind = (meshed or mates)[0]
        length = self.distance(number, other, kind)
        lengths = [length * share for share in _CHAINS] if kind in ("chain", "belt") else [length]
        return [_Way(other, far, 360 / _DIRECTIONS * turn) for far in lengths for turn in range(_DIRECTIONS)]

    def distance(self, one: int, other: int, kind: str) -> float:
        a, b = self.teeth[one], self.teeth[other]
        return float(abs(a - b) if kind == "internal" else a + b)

    def crossed(self, number: int, spots: Mapping[int, Spot]) -> float:
        """Return what it costs that a gear lies over others, or too near them."""
        levels, whole = self.levels, float(sum(self.teeth))
        x, y = spots[number]
        cost = 0.0
        for other, (a, b) in spots.items():
            if self.shaft[other] == self.shaft[number] or (number, other) in self.joined:
                continue
            away = math.hypot(x - a, y - b)
            gap = away - self.tips[number] - self.tips[other]
            if gap >= APART:
                continue
            if levels[number] == levels[other]:
                cost += _SAME_PLANE * whole + APART - gap
            elif gap < 0:
                larger = max(self.tips[number], self.tips[other])
                cost += (_OTHER_PLANE + (_OVER_SHAFT if away < larger + APART else 0.0)) * whole - gap
            else:
                cost += APART - gap
        return cost

    def size(self, spots: Mapping[int, Spot]) -> float:
        """Return how large the field has to be, and a little for a crank that is not low."""
        left = min(x - self.tips[n] for n, (x, _) in spots.items())
        right = max(x + self.tips[n] for n, (x, _) in spots.items())
        top = min(y - self.tips[n] for n, (_, y) in spots.items())
        bottom = max(y + self.tips[n] for n, (_, y) in spots.items())
        return max((right - left) / _WIDE, bottom - top) + _LOW_CRANK * (bottom - spots.get(0, (0.0, bottom))[1])

    def swung(self, ways: Mapping[int, _Way]) -> dict[int, Spot]:
        """Return the places after each gear, with all that hangs on it, was swung to where it fits best."""
        now = dict(ways)
        best = self.laid(now) or {}
        least = self.cost(best)
        for step in _SWINGS:
            better = True
            while better:
                better = False
                for number, way in list(now.items()):
                    if way.beside is None or way.also is not None or not way.distance:
                        continue
                    for turn in (step, -step):
                        tried = {**now, number: replace(way, degrees=way.degrees + turn)}
                        spots = self.laid(tried)
                        if spots is not None and (cost := self.cost(spots)) < least - 1e-9:
                            best, least, now, better = spots, cost, tried, True
                            break
        return best

    def laid(self, ways: Mapping[int, _Way]) -> dict[int, Spot] | None:
        spots: dict[int, Spot] = {}
        for number, way in ways.items():
            spot = way.spot(spots)
            if spot is None:
                return None
            spots[number] = spot
        return spots

    def cost(self, spots: Mapping[int, Spot]) -> float:
        return sum(self.crossed(number, spots) for number in spots) / 2 + self.size(spots)


def _turned(ways: Mapping[int, _Way]) -> Iterator[dict[int, _Way]]:
    """Yield a layout as a whole in every direction, and mirrored."""
    if sum(way.beside is None for way in ways.values()) > 1:
        yield dict(ways)  # trains that do not mesh stand side by side
        return
    for mirrored in (1, -1):
        for turn in range(_DIRECTIONS):
            by = 360 / _DIRECTIONS * turn
            yield {
                number: replace(way, degrees=mirrored * way.degrees + by, side=mirrored * way.side)
                for number, way in ways.items()
            }


def outer(teeth: float, *, ring: bool) -> float:
    """Return how far a gear reaches from its middle: to the tips of its teeth, or to the outside of a ring."""
    return teeth + (2.5 * MODULE if ring else MODULE)


@lru_cache(maxsize=512)
def rings(teeth: tuple[int, ...], joints: tuple[Joint, ...]) -> frozenset[int]:
    """Return the gears with inside teeth: the larger of two that mesh inside each other."""
    inside = (joint for joint in joints if joint.kind == "internal")
    return frozenset(max((joint.one, joint.other), key=lambda number: teeth[number]) for joint in inside)


@lru_cache(maxsize=512)
def planes(teeth: tuple[int, ...], joints: tuple[Joint, ...]) -> tuple[int, ...]:
    """Return for each gear how near to the reader its plane is, 0 the farthest.

    What meshes lies in one plane. Of two gears on one shaft the smaller is drawn before the larger, so that both are
    seen.

    Examples
    --------
    >>> planes((40, 60, 45, 60), (Joint(0, 1, "external"), Joint(1, 2, "shaft"), Joint(2, 3, "external")))
    (0, 0, 1, 1)
    """
    plane = _together(len(teeth), joints, lambda kind: kind != "shaft")
    level = [0] * len(teeth)
    # Each round lifts a plane over one more; planes that would have to lie over each other stop rising.
    shaft = _together(len(teeth), joints, lambda kind: kind == "shaft")
    stacked = [
        sorted(pair, key=lambda number: (teeth[number], number))
        for pair in combinations(range(len(teeth)), 2)
        if shaft[pair[0]] == shaft[pair[1]] and plane[pair[0]] != plane[pair[1]]
    ]
    for _ in range(len(teeth)):
        for small, large in stacked:
            if level[small] <= level[large]:
                over = level[large] + 1
                level = [over if one == plane[small] else at for at, one in zip(level, plane, strict=True)]
    # No two planes are as near: where they cross, one covers the other.
    order = sorted(range(len(teeth)), key=lambda number: (level[number], plane[number]))
    ranks = {one: rank for rank, one in enumerate(dict.fromkeys(plane[number] for number in order))}
    return tuple(ranks[one] for one in plane)


def _together(count: int, joints: Sequence[Joint], joins: Callable[[str], bool]) -> tuple[int, ...]:
    """Return for each gear a number that those share which joints of some kinds bring together."""
    group = list(range(count))
    for joint in joints:
        if joins(joint.kind):
            old, new = group[joint.one], group[joint.other]
            group = [new if one == old else one for one in group]
    return tuple(group)
