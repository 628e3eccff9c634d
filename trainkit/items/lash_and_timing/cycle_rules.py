"""The right way and the wrong ways about dead centres, each a function of the same inputs.

As in :mod:`.rules`, a rule takes a case and returns what somebody who thinks so answers, or None where it has nothing
to say about the case.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

from trainkit.cycle import FiringOrder, Position


@dataclass(frozen=True, slots=True)
class BetweenDeadCentres:
    """The crank is barred from one cylinder's dead centre to another's; which one is asked.

    Parameters
    ----------
    order : FiringOrder
        The engine.
    cylinder : int
        The one that stands at its top dead centre.
    on : str
        ``"compression"`` or ``"exhaust"``, where that one stands.
    asked : str
        Which dead centre the cylinder that is asked for stands at in the end.
    intervals : int
        Firing intervals that the crank is barred; negative is back.
    """

    order: FiringOrder
    cylinder: int
    on: str
    asked: str
    intervals: int

    @property
    def degrees(self) -> Fraction:
        """Crank degrees, negative being back."""
        return self.intervals * self.order.interval

    def at(self, degrees: Fraction, asked: str, order: FiringOrder | None = None) -> int:
        """Return the cylinder that stands there after so many crank degrees."""
        return _standing(order or self.order, self.cylinder, self.on, degrees, asked)

    @property
    def right(self) -> int:
        """The cylinder."""
        return self.at(self.degrees, self.asked)


@lru_cache(maxsize=4096)  # an engine has few dead centres, and the same ones are asked about again and again
def _standing(order: FiringOrder, cylinder: int, on: str, degrees: Fraction, asked: str) -> int:
    (found,) = Position.known(order, cylinder=cylinder, on=on).turned(degrees).at(asked)
    return found


@lru_cache(maxsize=64)
def _by_number(order: FiringOrder) -> FiringOrder:
    return FiringOrder(sorted(order.cylinders))


def _numbered_cylinder(case: BetweenDeadCentres) -> int | None:
    found = case.at(case.degrees, case.asked, _by_number(case.order))
    return None if found == case.right else found


def _forward_for_back(case: BetweenDeadCentres) -> int | None:
    found = case.at(-case.degrees, case.asked)
    return None if case.intervals > 0 or found == case.right else found


def _on_exhaust(case: BetweenDeadCentres) -> int | None:
    # Barred back on four cylinders this is the same as going forward; one of the two has to be left out.
    if case.intervals < 0 or case.asked != "compression" or not case.order.paired:
        return None
    return case.at(case.degrees, "exhaust")


def _cam_for_crank(case: BetweenDeadCentres) -> int | None:
    # Every so many degrees of the camshaft one fires, which are taken for degrees of the crank: twice as many.
    found = case.at(2 * case.degrees, case.asked)
    return None if case.intervals < 0 or found == case.right else found


BARRED_RULES: Mapping[str, Callable[[BetweenDeadCentres], int | None]] = MappingProxyType(
    {
        "numbered-order": _numbered_cylinder,
        "forward-for-back": _forward_for_back,
        "exhaust-for-compression": _on_exhaust,
        "cam-for-crank": _cam_for_crank,
    }
)


@dataclass(frozen=True, slots=True)
class Keyed:
    """The key of a shaft at half crank speed, in hours of the clock; where it stands at a dead centre is asked.

    Parameters
    ----------
    order : FiringOrder
        The engine.
    past : fractions.Fraction
        Crank degrees that the engine stands past the compression dead centre of a cylinder.
    after : int
        That cylinder.
    cylinder, on : int, str
        The dead centre to which the engine is barred forward.
    start : fractions.Fraction
        Where the key stands before.
    sense : int
        +1 where it goes clockwise when barred forward, seen from where the clock is read.
    """

    order: FiringOrder
    past: Fraction
    after: int
    cylinder: int
    on: str
    start: Fraction
    sense: int

    def crank(self, order: FiringOrder | None = None, on: str = "") -> Fraction:
        """Return the crank degrees to the dead centre."""
        return _until(order or self.order, self.after, self.past, self.cylinder, on or self.on)

    def at(self, shaft_degrees: Fraction) -> Fraction:
        """Return where the key stands when its shaft has turned so far."""
        return self.start + self.sense * shaft_degrees / 30

    @property
    def right(self) -> Fraction:
        """Where the key stands at the dead centre."""
        return self.at(self.crank() / 2)


@lru_cache(maxsize=4096)
def _until(order: FiringOrder, after: int, past: Fraction, cylinder: int, on: str) -> Fraction:
    return Position.known(order, cylinder=after, on="compression").turned(past).until(cylinder, on)


def _numbered_key(case: Keyed) -> Fraction | None:
    crank = case.crank(order=_by_number(case.order))
    return None if crank == case.crank() else case.at(crank / 2)


KEY_RULES: Mapping[str, Callable[[Keyed], Fraction | None]] = MappingProxyType(
    {
        "cam-for-crank": lambda case: case.at(case.crank()),
        "clock-backwards": lambda case: case.at(-case.crank() / 2),
        "numbered-order": _numbered_key,
        "exhaust-for-compression": lambda case: (
            case.at(case.crank(on="exhaust") / 2) if case.on == "compression" else None
        ),
    }
)
