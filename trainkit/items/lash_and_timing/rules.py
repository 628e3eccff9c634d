"""The right way and the wrong ways, each a function of the same inputs.

A case holds what the apprentice is told. Each rule takes a case and returns what somebody who thinks so answers, or
None where the rule has nothing to say about the case.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

from trainkit.cycle import FiringOrder, Position, TimingShift, flange_degrees, moved
from trainkit.gears import Sense, backlash_degrees
from trainkit.items.lash_and_timing.mounting import Mounting

__all__ = [
    "BARRED_RULES",
    "CIRCLE_RULES",
    "KEY_RULES",
    "LASH_RULES",
    "SHIFT_RULES",
    "TAKING_UP_RULES",
    "WOUND_RULES",
    "Barred",
    "Circle",
    "Keyed",
    "Lash",
    "Shift",
    "Shifted",
    "Take",
    "TakingUp",
    "Wound",
]

HALF = Fraction(1, 2)


# The rules of one case ask for the same angle again and again.
@lru_cache(maxsize=1024)
def _crank_degrees(moved_mm: float, radius_mm: float) -> float:
    return flange_degrees(moved_mm, radius_mm, speed_ratio=HALF)


@lru_cache(maxsize=1024)
def _gear_degrees(lash_mm: float, radius_mm: float) -> float:
    return backlash_degrees(lash_mm, radius_mm)


class Take(NamedTuple):
    """How lash is taken up: the sense, against the drive or with it, gently or with force."""

    sense: int
    against: bool = True
    gently: bool = True


@dataclass(frozen=True, slots=True)
class TakingUp:
    """A gear whose lash is to be taken up.

    Parameters
    ----------
    drive : int
        The sense in which it turns in service, +1 clockwise, seen from the end that is asked from.
    views : int
        1 where its sense is stated from the other end.
    meshes : int
        Meshes between the gear whose sense is stated and this one; 0 where its own is stated.
    """

    drive: int
    views: int
    meshes: int

    @property
    def right(self) -> Take:
        """Against the drive, gently."""
        return Take(-self.drive)


TAKING_UP_RULES: Mapping[str, Callable[[TakingUp], Take | None]] = MappingProxyType(
    {
        "taken-up-with-drive": lambda case: Take(case.drive, against=False),
        "heaved": lambda case: case.right._replace(gently=False),
        # Where both the meshes and the viewpoint could be wrong, the answer would not say which was.
        "mesh-too-few": lambda case: Take(case.drive) if case.meshes and not case.views else None,
        "viewpoint-forgotten": lambda case: Take(case.drive) if case.views and not case.meshes else None,
    }
)


@dataclass(frozen=True, slots=True)
class Circle:
    """A move along a circle about a shaft at half crank speed; the crank degrees are asked.

    Parameters
    ----------
    moved_mm, radius_mm : float
        The move, and the radius of the circle along which it was measured.
    other_mm : float
        The radius of another circle that is stated too: the pitch circle.
    """

    moved_mm: float
    radius_mm: float
    other_mm: float

    @property
    def right(self) -> float:
        """Crank degrees."""
        return _crank_degrees(self.moved_mm, self.radius_mm)


CIRCLE_RULES: Mapping[str, Callable[[Circle], float | None]] = MappingProxyType(
    {
        "gear-for-crank-degrees": lambda case: case.right / 2,
        "doubled-twice": lambda case: case.right * 2,
        "wrong-circle": lambda case: case.right * case.radius_mm / case.other_mm,
        "millimetre-as-degree": lambda case: case.moved_mm * 2,
    }
)


@dataclass(frozen=True, slots=True)
class Lash:
    """Lash that was measured at the pitch circle of a gear; the crank degrees are asked.

    Parameters
    ----------
    lash_mm, radius_mm : float
        The lash, and the pitch radius of the gear.
    mate_mm : float
        The pitch radius of the gear it meshes with.
    ratio : fractions.Fraction
        Turns of the gear for one turn of the crank, without sign.
    """

    lash_mm: float
    radius_mm: float
    mate_mm: float
    ratio: Fraction

    @property
    def at_gear(self) -> float:
        """Degrees of the gear."""
        return _gear_degrees(self.lash_mm, self.radius_mm)

    @property
    def right(self) -> float:
        """Degrees of the crank."""
        return self.at_gear / float(self.ratio)


def _mate_circle(case: Lash) -> float | None:
    # A gear at half speed that meshes with the crank gear itself: the same as doubling twice.
    if case.ratio == HALF and math.isclose(case.radius_mm, 2 * case.mate_mm):
        return None
    return case.right * case.radius_mm / case.mate_mm


LASH_RULES: Mapping[str, Callable[[Lash], float | None]] = MappingProxyType(
    {
        "gear-for-crank-degrees": lambda case: None if case.ratio == 1 else case.at_gear,
        "doubled-twice": lambda case: case.at_gear * 4 if case.ratio == HALF else None,
        "doubled-regardless": lambda case: None if case.ratio == HALF else case.at_gear * 2,
        "gear-crank-wrong-way": lambda case: None if case.ratio == 1 else case.at_gear * float(case.ratio),
        "wrong-circle": _mate_circle,
    }
)


@lru_cache(maxsize=1024)
def _shift(part: str, moved_mm: float, radius_mm: float, turned: Sense, drive: Sense) -> TimingShift:
    return moved(part, moved_mm, radius_mm, turned=turned, drive=drive, speed_ratio=HALF)


class Shifted(NamedTuple):
    """A shift of timing as it is offered: crank degrees to a hundredth, +1 early, −1 late, 0 not at all."""

    degrees: float
    effect: int = 0


NO_SHIFT = Shifted(0.0)


@dataclass(frozen=True, slots=True)
class Shift:
    """Shaft or housing of a timed component was moved along a circle.

    Parameters
    ----------
    part : str
        ``"shaft"`` or ``"housing"``.
    moved_mm, radius_mm : float
        How far along which circle.
    turned, drive : str
        Which way it was moved, and which way the shaft turns in service; both seen from the same end.
    """

    part: str
    moved_mm: float
    radius_mm: float
    turned: Sense
    drive: Sense

    @property
    def shift(self) -> TimingShift:
        """What it does to the event."""
        return self._of(self.part)

    def _of(self, part: str) -> TimingShift:
        return _shift(part, self.moved_mm, self.radius_mm, self.turned, self.drive)

    @property
    def right(self) -> Shifted:
        """The shift as it is offered."""
        return _offered(self.shift.crank_degrees, self.shift.effect)

    @property
    def mixed_up(self) -> Shifted:
        """The shift if it were the other part."""
        other = self._of("housing" if self.part == "shaft" else "shaft")
        return _offered(other.crank_degrees, other.effect)


def _offered(degrees: float, effect: str) -> Shifted:
    return Shifted(round(degrees, 2), 1 if effect == "early" else -1)


def _halved(shifted: Shifted, exact: float) -> Shifted:
    return shifted._replace(degrees=round(exact / 2, 2))


SHIFT_RULES: Mapping[str, Callable[[Shift], Shifted | None]] = MappingProxyType(
    {
        "housing-for-shaft": lambda case: case.mixed_up,
        "gear-for-crank-degrees": lambda case: _halved(case.right, case.shift.crank_degrees),
        "no-movement-matters": lambda case: NO_SHIFT,  # noqa: ARG005 - whatever was moved
    }
)


@dataclass(frozen=True, slots=True)
class Wound:
    """A gear that was pressed on against its drive after its teeth touched, and clamped to its shaft there.

    Parameters
    ----------
    pressed_mm, radius_mm : float
        How far it was pressed on along its pitch circle, and the radius of that.
    """

    pressed_mm: float
    radius_mm: float

    @property
    def degrees(self) -> float:
        """Crank degrees."""
        return _crank_degrees(self.pressed_mm, self.radius_mm)

    @property
    def right(self) -> Shifted:
        """What is left when everything is let go."""
        early = Mounting(gear=-1).early
        return Shifted(round(self.degrees, 2), int(math.copysign(1, early)))


WOUND_RULES: Mapping[str, Callable[[Wound], Shifted | None]] = MappingProxyType(
    {
        "wind-up-as-lash": lambda case: case.right._replace(effect=-case.right.effect),
        "gear-for-crank-degrees": lambda case: _halved(case.right, case.degrees),
        "heaved": lambda case: NO_SHIFT,  # noqa: ARG005 - however far
    }
)


@dataclass(frozen=True, slots=True)
class Barred:
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


def _numbered_cylinder(case: Barred) -> int | None:
    found = case.at(case.degrees, case.asked, _by_number(case.order))
    return None if found == case.right else found


def _forward_for_back(case: Barred) -> int | None:
    found = case.at(-case.degrees, case.asked)
    return None if case.intervals > 0 or found == case.right else found


def _on_exhaust(case: Barred) -> int | None:
    # Barred back on four cylinders this is the same as going forward; one of the two has to be left out.
    if case.intervals < 0 or case.asked != "compression" or not case.order.paired:
        return None
    return case.at(case.degrees, "exhaust")


def _cam_for_crank(case: Barred) -> int | None:
    # Every so many degrees of the camshaft one fires, which are taken for degrees of the crank: twice as many.
    found = case.at(2 * case.degrees, case.asked)
    return None if case.intervals < 0 or found == case.right else found


BARRED_RULES: Mapping[str, Callable[[Barred], int | None]] = MappingProxyType(
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
