"""Bolts as coordinates, and what sort of pattern they make."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from numbers import Real
from typing import Literal

from trainkit.errors import TighteningError
from trainkit.tightening import judging

Shape = Literal["few", "circle", "long", "other"]

# How far from a circle a pattern may be: radii within 15 % of their mean, no gap over 150 degrees.
_RADIUS_SPREAD = 0.15
_WIDEST_GAP = math.radians(150)
# A long joint is spread along its axis at least so many times as across it.
_SLENDER = 1.8
_MOST_BOLTS = 200


@dataclass(frozen=True, slots=True)
class Pattern:
    """The places of the bolts of one joint.

    Parameters
    ----------
    points : iterable of pairs of float
        x to the right and y up in millimetres, seen from the heads.
    names : iterable of str, optional
        One for each bolt; "1", "2", "3" if left out.

    Raises
    ------
    TighteningError
        For coordinates that are not finite, bolts in the same place, or names that do not fit.

    Examples
    --------
    >>> flange = Pattern.circle(6, 140)
    >>> flange.shape, flange.has_question
    ('circle', True)
    >>> flange.judge(["1", "4", "2", "5", "3", "6"]).is_best
    True
    >>> Pattern.circle(3, 80).has_question  # with three bolts every order is equal
    False
    """

    points: tuple[tuple[float, float], ...]
    names: tuple[str, ...]

    def __init__(self, points: Iterable[Sequence[float]], names: Iterable[str] | None = None) -> None:
        places = tuple(_point(point) for point in points)
        if not 1 <= len(places) <= _MOST_BOLTS:
            raise TighteningError(
                len(places), rule=f"A pattern has 1 to {_MOST_BOLTS} bolts.", remedy="Give the place of each bolt."
            )
        named = tuple(str(number) for number in range(1, len(places) + 1)) if names is None else tuple(names)
        if len(named) != len(places) or len(set(named)) != len(named):
            raise TighteningError(
                named, rule="Each bolt of a pattern has a name of its own.", remedy=f"Give {len(places)} names."
            )
        span = max((math.dist(one, two) for one in places for two in places[:1]), default=0.0)
        ordered = sorted(range(len(places)), key=lambda index: places[index])
        for rank, index in enumerate(ordered):
            # Sorted by x, the bolts that could coincide with this one follow close behind.
            for other in ordered[rank + 1 :]:
                if places[other][0] - places[index][0] > 1e-6 * span:
                    break
                if math.dist(places[index], places[other]) <= 1e-6 * span:
                    raise TighteningError(
                        places[index],
                        rule=f"Two bolts cannot be in one place, as {named[index]} and {named[other]} are.",
                        remedy="Mend the coordinates of one of them.",
                    )
        object.__setattr__(self, "points", places)
        object.__setattr__(self, "names", named)

    @classmethod
    def circle(cls, count: int, diameter_mm: float) -> Pattern:
        """Return bolts evenly spaced on a circle, from twelve o'clock clockwise, seen from the heads.

        Raises
        ------
        TighteningError
            For a number of bolts or a diameter that cannot be.
        """
        if type(count) is not int or not 1 <= count <= _MOST_BOLTS:
            raise TighteningError(
                count, rule=f"A pattern has 1 to {_MOST_BOLTS} bolts.", remedy="Give their whole number."
            )
        if not _is_finite(diameter_mm) or diameter_mm <= 0:
            raise TighteningError(
                diameter_mm, rule="A bolt circle is more than zero millimetres across.", remedy="Measure it again."
            )
        angles = [2 * math.pi * place / count for place in range(count)]
        radius = diameter_mm / 2
        return cls((radius * math.sin(angle), radius * math.cos(angle)) for angle in angles)

    def __len__(self) -> int:
        return len(self.points)

    @property
    def centre(self) -> tuple[float, float]:
        """The mean of all places, in millimetres."""
        return _centre(self.points)

    @property
    def about_centre(self) -> tuple[tuple[float, float], ...]:
        """The places measured from the centre."""
        return _about_centre(self.points)

    @property
    def shape(self) -> Shape:
        """The sort of pattern: few (one or two bolts), near a circle, long, or none of these."""
        return _shape(self.points)

    @property
    def along_axis(self) -> tuple[float, ...]:
        """Place of each bolt along the long axis, in millimetres from the centre."""
        return _along_axis(self.points)

    @property
    def has_question(self) -> bool:
        """Whether one order is better than another; not so with few or three even bolts, nor outside the model."""
        shape = self.shape
        if shape == "circle":
            return len(self.points) <= judging.MOST_EXACT and not judging.bounds(self.about_centre).equal
        if shape == "long":
            return len(set(judging.rings(self.along_axis))) > 1
        return False

    def judge(self, order: Sequence[str]) -> judging.MomentVerdict | judging.OutwardVerdict:
        """Judge an order of tightening at equal stage.

        Parameters
        ----------
        order : sequence of str
            Every bolt once, first to last.

        Returns
        -------
        MomentVerdict or OutwardVerdict
            By unbalanced moment near a circle, by centre-outwards for a long joint.

        Raises
        ------
        TighteningError
            If the order is not one of all bolts, if all orders are equal, or if the pattern is outside the model.
        """
        places = self._places(order)
        self._must_have_question()
        if self.shape == "circle":
            return judging.judge_moments(self.about_centre, places, tuple(order))
        return judging.judge_outwards(self.along_axis, places, self.names)

    def best_order(self) -> tuple[str, ...]:
        """Return one of the best orders; it begins with the bolt named first where that is as good as any.

        Raises
        ------
        TighteningError
            As :meth:`judge`.
        """
        self._must_have_question()
        if self.shape == "circle":
            places = judging.best_by_moments(self.about_centre)
        else:
            places = judging.best_outwards(self.along_axis)
        return tuple(self.names[place] for place in places)

    def best_next(self, tightened: Sequence[str]) -> tuple[str, ...]:
        """Return every bolt that may come next, so that the rest of the way is as good as it still can be.

        Parameters
        ----------
        tightened : sequence of str
            The bolts that are at the stage already, each once; none at the beginning.

        Raises
        ------
        TighteningError
            For a name that is not there or stands twice, and as :meth:`judge`.

        Examples
        --------
        >>> Pattern.circle(4, 120).best_next(["1"]), Pattern.circle(4, 120).best_next(["1", "3"])
        (('3',), ('2', '4'))
        """
        places = self._some(tightened)
        self._must_have_question()
        if self.shape == "circle":
            following = judging.next_by_moments(self.about_centre, places)
        else:
            following = judging.next_outwards(self.along_axis, places)
        return tuple(self.names[place] for place in following)

    def _some(self, tightened: Sequence[str]) -> list[int]:
        given = tuple(tightened)
        if isinstance(tightened, str) or len(set(given)) != len(given) or not set(given) <= set(self.names):
            raise TighteningError(
                tightened,
                rule=f"What is tightened is some of the bolts {', '.join(self.names)}, each once.",
                remedy="List them.",
            )
        return [self.names.index(name) for name in given]

    def _places(self, order: Sequence[str]) -> tuple[int, ...]:
        given = tuple(order)
        if sorted(map(str, given)) != sorted(self.names) or isinstance(order, str):
            raise TighteningError(
                given, rule=f"An order names each bolt once: {', '.join(self.names)}.", remedy="List all of them."
            )
        return tuple(self.names.index(name) for name in given)

    def _must_have_question(self) -> None:
        shape = self.shape
        if shape == "other":
            raise TighteningError(
                self.points,
                rule="Orders are judged near a circle and on long joints only.",
                remedy="Follow the sequence that the manual gives.",
            )
        if shape == "circle" and len(self.points) > judging.MOST_EXACT:
            raise TighteningError(
                len(self.points),
                rule=f"Orders on a circle are compared exactly up to {judging.MOST_EXACT} bolts.",
                remedy="Ask about a smaller pattern.",
            )
        if not self.has_question:
            raise TighteningError(
                len(self.points),
                rule="With these bolts every order is as good as any other.",
                remedy="Ask about a pattern where the order matters.",
            )


def _centre(points: judging.Places) -> tuple[float, float]:
    return math.fsum(x for x, _ in points) / len(points), math.fsum(y for _, y in points) / len(points)


# One pattern is asked about again and again, so what follows from its places is remembered.
@lru_cache(maxsize=64)
def _about_centre(points: judging.Places) -> judging.Places:
    mean_x, mean_y = _centre(points)
    return tuple((x - mean_x, y - mean_y) for x, y in points)


@lru_cache(maxsize=64)
def _shape(points: judging.Places) -> Shape:
    if len(points) < 3:
        return "few"
    places = _about_centre(points)
    radii = [math.hypot(x, y) for x, y in places]
    mean = math.fsum(radii) / len(radii)
    angles = sorted(math.atan2(y, x) for x, y in places)
    gaps = [later - earlier for earlier, later in zip(angles, [*angles[1:], angles[0] + math.tau], strict=True)]
    if all(abs(radius - mean) <= _RADIUS_SPREAD * mean for radius in radii) and max(gaps) <= _WIDEST_GAP:
        return "circle"
    along, across = _spreads(places)
    return "long" if along >= _SLENDER * across else "other"


@lru_cache(maxsize=64)
def _along_axis(points: judging.Places) -> tuple[float, ...]:
    places = _about_centre(points)
    angle = _axis(places)
    return tuple(x * math.cos(angle) + y * math.sin(angle) for x, y in places)


def _axis(places: Sequence[tuple[float, float]]) -> float:
    # Direction of the larger principal moment of the places.
    xx = math.fsum(x * x for x, _ in places)
    yy = math.fsum(y * y for _, y in places)
    xy = math.fsum(x * y for x, y in places)
    return math.atan2(2 * xy, xx - yy) / 2


def _spreads(places: Sequence[tuple[float, float]]) -> tuple[float, float]:
    angle = _axis(places)
    cos, sin = math.cos(angle), math.sin(angle)
    along = math.sqrt(math.fsum((x * cos + y * sin) ** 2 for x, y in places))
    across = math.sqrt(math.fsum((y * cos - x * sin) ** 2 for x, y in places))
    return along, across


def _point(point: Sequence[float]) -> tuple[float, float]:
    try:
        x, y = point
    except (TypeError, ValueError):
        x = y = math.nan
    if not _is_finite(x) or not _is_finite(y):
        raise TighteningError(
            point, rule="A bolt's place is two finite numbers.", remedy="Give x and y in millimetres."
        )
    return float(x), float(y)


def _is_finite(value: object) -> bool:
    return not isinstance(value, bool) and isinstance(value, Real) and math.isfinite(value)
