"""Firing orders, and which cylinder stands at which dead centre."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from trainkit.errors import CycleError
from trainkit.gears.exact import exact as exactly
from trainkit.gears.exact import is_count

CYCLE = 720  # crank degrees of the four strokes

DeadCentre = Literal["compression", "exhaust"]
Stroke = Literal["power", "exhaust", "intake", "compression"]
Number = int | float | Fraction

DEAD_CENTRES: tuple[DeadCentre, ...] = ("compression", "exhaust")
# In the order in which they follow the compression dead centre, half a crank turn each.
_STROKES: tuple[Stroke, ...] = ("power", "exhaust", "intake", "compression")
_MOST = 24  # cylinders
_WRITTEN = re.compile(r"\s*\d+(?:(?:\s*[,\-–]\s*|\s+)\d+)*\s*", re.ASCII)


def exact(value: object, what: str) -> Fraction:
    """Return a finite number exactly; a decimal fraction is taken as it is written.

    Raises
    ------
    CycleError
        If it is not a finite number.
    """
    return exactly(value, what, CycleError, "180")


def valves_at(dead_centre: str) -> str:
    """Say what the valves of a cylinder show at one of its top dead centres.

    Examples
    --------
    >>> valves_at("compression")
    'both valves shut'
    """
    if dead_centre == "compression":
        return "both valves shut"
    if dead_centre == "exhaust":
        return "valves overlapping: exhaust closing, inlet opening"
    raise _no_dead_centre(dead_centre)


@dataclass(frozen=True, slots=True)
class FiringOrder:
    """The order in which the cylinders of a four-stroke engine fire, and how far apart.

    Parameters
    ----------
    cylinders : iterable of int
        Each number from 1 to n once.
    intervals : iterable of number, optional
        Crank degrees from each firing to the next, the last one back to the first; 720 in all. Left out, the engine
        fires evenly.

    Raises
    ------
    CycleError
        If a number is missing, stands twice, or is no cylinder, or if the intervals cannot be.

    Examples
    --------
    >>> order = FiringOrder([1, 2, 4, 5, 3])
    >>> str(order), order.interval, order.paired
    ('1-2-4-5-3', Fraction(144, 1), False)
    >>> two = FiringOrder([1, 2], [450, 270])
    >>> two.even, two.after(1, 2), two.after(2, 1), two.paired
    (False, Fraction(450, 1), Fraction(270, 1), False)
    """

    cylinders: tuple[int, ...]
    intervals: tuple[Fraction, ...]

    def __init__(self, cylinders: Iterable[int], intervals: Iterable[Number] = ()) -> None:
        try:
            given = tuple(cylinders)
        except TypeError:
            given = ()
        if not given:
            raise CycleError(
                cylinders, rule="A firing order lists the cylinders.", remedy="List each cylinder once, as in 1-3-4-2."
            )
        count = len(given)
        if count > _MOST or not all(is_count(each, 1, count) for each in given) or len(set(given)) != count:
            raise CycleError(
                given,
                rule=f"A firing order holds each cylinder from 1 to {min(count, _MOST)} once.",
                remedy="Check it for a number that is missing or stands twice.",
            )
        object.__setattr__(self, "cylinders", given)
        object.__setattr__(self, "intervals", _apart(intervals, count))

    @classmethod
    def parse(cls, text: object) -> FiringOrder:
        """Read ``"1-3-4-2"``; commas and spaces between the numbers will do as well."""
        if isinstance(text, str) and len(text) < 200 and _WRITTEN.fullmatch(text):
            return cls(int(part) for part in re.findall(r"\d+", text))
        raise CycleError(
            text, rule="A firing order is numbers with hyphens between.", remedy='Write it like "1-3-4-2".'
        )

    def __str__(self) -> str:
        return "-".join(str(cylinder) for cylinder in self.cylinders)

    def __len__(self) -> int:
        return len(self.cylinders)

    @property
    def even(self) -> bool:
        """Whether the cylinders fire equally far apart."""
        return len(set(self.intervals)) == 1

    @property
    def interval(self) -> Fraction:
        """Crank degrees from one firing to the next where the engine fires evenly: 720 / n.

        Raises
        ------
        CycleError
            If it does not.
        """
        if not self.even:
            raise CycleError(
                str(self),
                rule="One interval holds on an evenly firing engine only.",
                remedy="Ask for the degrees from one cylinder to another.",
            )
        return self.intervals[0]

    @property
    def paired(self) -> bool:
        """Whether each cylinder has a companion a crank turn away: where firing is even, those of an even number."""
        return all(
            any(self.after(each, other) == Fraction(CYCLE, 2) for other in self.cylinders) for each in self.cylinders
        )

    def place(self, cylinder: int) -> int:
        """Return how many firings after the first one in the list this cylinder fires.

        Raises
        ------
        CycleError
            If the engine has no such cylinder.
        """
        if not is_count(cylinder, 1, len(self.cylinders)):
            raise CycleError(
                cylinder,
                rule=f"The cylinders of this engine are 1 to {len(self.cylinders)}.",
                remedy="Name one of them.",
            )
        return self.cylinders.index(cylinder)

    def after(self, cylinder: int, other: int) -> Fraction:
        """Return the crank degrees from one cylinder's firing to the next firing of another, 0 to just under 720."""
        return (self.fires_at(other) - self.fires_at(cylinder)) % CYCLE

    def fires_at(self, cylinder: int) -> Fraction:
        """Return how many crank degrees after the first one in the list this cylinder fires."""
        return sum(self.intervals[: self.place(cylinder)], Fraction(0))

    def reversed(self) -> FiringOrder:
        """Return the order when the engine is turned the other way: the list backwards, from the same cylinder.

        Examples
        --------
        >>> str(FiringOrder.parse("1-5-3-6-2-4").reversed())
        '1-4-2-6-3-5'
        """
        first, *rest = self.cylinders
        return FiringOrder((first, *reversed(rest)), reversed(self.intervals))


def _apart(given: Iterable[Number], count: int) -> tuple[Fraction, ...]:
    """Return the intervals between the firings of so many cylinders, equal ones where none are given."""
    found = tuple(exact(each, "firing interval") for each in given) or (Fraction(CYCLE, count),) * count
    if len(found) != count or sum(found) != CYCLE or min(found) <= 0:
        raise CycleError(
            ", ".join(f"{float(each):g}" for each in found),
            rule=f"{count} cylinders fire {count} intervals apart that make {CYCLE} crank degrees.",
            remedy="Give the degrees from each firing to the next, the last one back to the first.",
        )
    return found


@dataclass(frozen=True, slots=True)
class Position:
    """Where the crank stands in the cycle.

    Parameters
    ----------
    order : FiringOrder
        The engine.
    past_first : fractions.Fraction
        Crank degrees past the compression dead centre of the first cylinder in the order, 0 to just under 720.

    Examples
    --------
    >>> engine = Position.known(FiringOrder.parse("1-5-3-6-2-4"), cylinder=6, on="exhaust")
    >>> engine.on_compression(), engine.stroke(5), engine.until(5, "compression")
    ((1,), 'compression', Fraction(120, 1))
    """

    order: FiringOrder
    past_first: Fraction

    def __post_init__(self) -> None:
        object.__setattr__(self, "past_first", exact(self.past_first, "crank angle") % CYCLE)

    @classmethod
    def known(cls, order: FiringOrder, *, cylinder: int, on: str) -> Position:
        """Return the position in which a cylinder stands at its top dead centre on compression or on exhaust.

        Raises
        ------
        CycleError
            For an unknown cylinder or dead centre.
        """
        return cls(order, order.fires_at(cylinder) + _at(on))

    def turned(self, degrees: Number) -> Position:
        """Return the position after barring so far: positive forward, negative backward."""
        return Position(self.order, self.past_first + exact(degrees, "crank angle"))

    def past(self, cylinder: int) -> Fraction:
        """Return the crank degrees past the compression dead centre of a cylinder, 0 to just under 720."""
        return (self.past_first - self.order.fires_at(cylinder)) % CYCLE

    def stroke(self, cylinder: int) -> Stroke:
        """Return the stroke that a cylinder makes when the crank moves on from here."""
        return _STROKES[int(self.past(cylinder) // 180)]

    def at(self, dead_centre: str) -> tuple[int, ...]:
        """Return the cylinders that stand at their top dead centre on compression or on exhaust.

        Parameters
        ----------
        dead_centre : {"compression", "exhaust"}
            Which of the two.

        Returns
        -------
        tuple of int
            In firing order; empty where no piston stands there.
        """
        wanted = _at(dead_centre)
        return tuple(cylinder for cylinder in self.order.cylinders if self.past(cylinder) == wanted)

    def on_compression(self) -> tuple[int, ...]:
        """Return the cylinders at top dead centre on compression."""
        return self.at("compression")

    def on_exhaust(self) -> tuple[int, ...]:
        """Return the cylinders at top dead centre on exhaust."""
        return self.at("exhaust")

    def until(self, cylinder: int, dead_centre: str) -> Fraction:
        """Return the crank degrees forward to the next such dead centre of a cylinder, 0 to just under 720."""
        return (_at(dead_centre) - self.past(cylinder)) % CYCLE

    @property
    def lines(self) -> tuple[str, ...]:
        """Where every cylinder stands, in words, in firing order."""
        said = []
        for cylinder in self.order.cylinders:
            past = self.past(cylinder)
            if past in (0, 360):
                which = "compression" if past == 0 else "exhaust"
                said.append(f"Cylinder {cylinder}: top dead centre on {which}, {valves_at(which)}.")
            else:
                where = f"{float(past):g}° past compression dead centre"
                said.append(f"Cylinder {cylinder}: {where}, {self.stroke(cylinder)} stroke.")
        return tuple(said)


def _at(dead_centre: object) -> int:
    if dead_centre == "compression":
        return 0
    if dead_centre == "exhaust":
        return 360
    raise _no_dead_centre(dead_centre)


def _no_dead_centre(value: object) -> CycleError:
    return CycleError(
        value,
        rule='A cylinder meets top dead centre on "compression" and on "exhaust".',
        remedy="Write one of the two words.",
    )
