"""Numbers at the gears of a picture, as a workshop drawing has them: on what is seen of a gear, else beside it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from trainkit.figures.svg import around, element, text

# Half the width of a sign and half the height of a line, and what stays free around them.
_SIGN, _LINE, _FREE = 5.0, 7.0, 2.0
# Where a number is tried: inside at these shares of the radius, outside at these distances; clockwise from twelve.
_INSIDE, _INSIDE_AT = (0.45, 0.6, 0.3, 0.75), (135, 225, 45, 315, 180, 90, 270, 0)
_OUTSIDE, _OUTSIDE_AT = (12.0, 22.0, 34.0, 48.0, 66.0, 90.0, 120.0, 160.0, 200.0), range(0, 360, 15)


@dataclass(frozen=True, slots=True)
class Disc:
    """What a gear covers: its middle and how far it reaches; numbers stand between ``bore`` and ``inside``."""

    x: float
    y: float
    reach: float
    bore: float
    inside: float


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle: its middle, and half of its width and of its height."""

    x: float
    y: float
    wide: float
    high: float

    def crosses(self, other: Box) -> bool:
        """Say whether the two have a point in common."""
        return abs(self.x - other.x) < self.wide + other.wide and abs(self.y - other.y) < self.high + other.high

    def nearest(self, x: float, y: float) -> float:
        """Return how near it comes to a point."""
        return math.hypot(max(0.0, abs(x - self.x) - self.wide), max(0.0, abs(y - self.y) - self.high))

    def farthest(self, x: float, y: float) -> float:
        """Return how far it goes from a point."""
        return math.hypot(abs(x - self.x) + self.wide, abs(y - self.y) + self.high)


@dataclass(frozen=True, slots=True)
class Label:
    """Where the number of a gear stands, whether its teeth are told below it, and where its leader begins."""

    box: Box
    told: bool
    leader: tuple[float, float] | None = None


def labels(
    discs: Sequence[Disc], words: Sequence[str], row: Sequence[int], taken: Iterable[Box], width: float, height: float
) -> list[Label]:
    """Return where the number of each gear stands, so that none covers another, a mark or an edge.

    Parameters
    ----------
    discs : sequence of Disc
        The gears in the order in which they are drawn: what comes later covers what came before.
    words : sequence of str
        What stands below each number where there is room, or nothing.
    row : sequence of int
        Their places in the list of the gears, from 0: the number is one more.
    taken : iterable of Box
        Where something is drawn on the gears.
    width, height : float
        The field.

    Examples
    --------
    >>> [label.leader for label in labels([Disc(50, 50, 40, 5, 35)], [""], [0], (), 100, 100)]
    [None]
    """
    boxes = list(taken)
    found: dict[int, Label] = {}
    # What has the least room is placed first.
    for number in sorted(range(len(discs)), key=lambda number: discs[number].reach):
        tried = _tried(discs, number, len(str(row[number] + 1)) * _SIGN, words[number], width, height)
        free = (label for label in tried if not any(label.box.crosses(box) for box in boxes))
        found[number] = next(free, Label(Box(discs[number].x, discs[number].y, _SIGN, _LINE), told=False))
        boxes.append(found[number].box)
    return [found[number] for number in range(len(discs))]


def drawn(number: int, label: Label, words: str) -> list[str]:
    """Return a number at its place, with its leader and the words below it."""
    box = label.box
    leader = []
    if label.leader is not None:
        x, y = label.leader
        leader = [
            element("line", x1=x, y1=y, x2=box.x, y2=box.y, class_="thin"),
            element("circle", cx=x, cy=y, r=2, class_="filled"),
        ]
    back = element(
        "rect", x=box.x - box.wide, y=box.y - box.high, width=2 * box.wide, height=2 * box.high, class_="back"
    )
    if label.told:
        below = text(box.x, box.y + 15, words, "", size=14)
        return [*leader, back, text(box.x, box.y - 2, str(number), "strong"), below]
    return [*leader, back, text(box.x, box.y + 5, str(number), "strong")]


def _tried(discs: Sequence[Disc], number: int, sign: float, words: str, width: float, height: float) -> Iterator[Label]:
    """Yield the places for a number, the best first: on its gear with words, on it, beside it on a leader."""
    own, later = discs[number], discs[number + 1 :]
    sizes = [(sign, _LINE, False)]
    if words:
        sizes.insert(0, (len(words) * 4.0, 2 * _LINE + 2, True))
    for wide, high, told in sizes:
        for share in _INSIDE:
            for at in (180, *_INSIDE_AT) if told else _INSIDE_AT:
                box = Box(*around(own.x, own.y, share * own.reach, at), wide, high)
                fits = box.farthest(own.x, own.y) < own.inside
                clear = box.nearest(own.x, own.y) > own.bore + _FREE
                if fits and clear and all(box.nearest(d.x, d.y) > d.reach + _FREE for d in later):
                    yield Label(box, told)
    # Of a gear as large as the one before it on its shaft nothing is seen: its leader goes to where it is.
    hidden = any((d.x, d.y) == (own.x, own.y) and d.reach >= own.reach for d in later)
    for away in _OUTSIDE:
        for at in _OUTSIDE_AT:
            box = Box(*around(own.x, own.y, own.reach + away, at), sign, _LINE)
            inside = sign + _FREE < box.x < width - sign - _FREE and _LINE + _FREE < box.y < height - _LINE - _FREE
            if inside and all(box.nearest(d.x, d.y) > d.reach + _FREE for d in discs):
                feet = [foot for foot in _feet(own, at) if all(math.dist(foot, (d.x, d.y)) > d.reach for d in later)]
                if feet or hidden:
                    yield Label(box, told=False, leader=next(iter(feet or _feet(own, at))))


def _feet(own: Disc, at: float) -> Iterator[tuple[float, float]]:
    """Yield where a leader may begin: on the rim towards its number, else on what is seen of the gear."""
    for share in (0.92, 0.75):
        for lean in (0, 15, -15, 30, -30):
            yield around(own.x, own.y, share * own.reach, at + lean)
