"""The right way and the wrong ways about lash and movements, each a function of the same inputs.

A case holds what the apprentice is told. Each rule takes a case and returns what somebody who thinks so answers, or
None where the rule has nothing to say about the case.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

from trainkit.cycle import TimingShift, flange_degrees, moved
from trainkit.gears import Sense, backlash_degrees
from trainkit.items.distinct_answers import Finishes, Readings
from trainkit.items.lash_and_timing.mounting import Mounting

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

# The radius of the other circle is read off, and another rule works on it; or what was found is not doubled in the
# end, or doubled once more.
CIRCLE_READINGS: Readings[Circle] = MappingProxyType(
    {"wrong-circle": lambda case: replace(case, radius_mm=case.other_mm)}
)
CIRCLE_FINISHES: Finishes[Circle] = MappingProxyType(
    {
        "gear-for-crank-degrees": lambda _, value: value / 2,
        "doubled-twice": lambda _, value: value * 2,
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
        "millimetre-as-degree": lambda case: case.lash_mm / float(case.ratio),
    }
)


def _on_mate_circle(case: Lash) -> Lash | None:
    return None if _mate_circle(case) is None else replace(case, radius_mm=case.mate_mm)


# The other gear's radius is read off, and what was found is carried to the crank wrongly.
LASH_READINGS: Readings[Lash] = MappingProxyType({"wrong-circle": _on_mate_circle})


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
        "no-movement-matters": lambda _: NO_SHIFT,  # whatever was moved
        "doubled-twice": lambda case: case.right._replace(degrees=round(case.shift.crank_degrees * 2, 2)),
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
        "heaved": lambda _: NO_SHIFT,  # however far
    }
)
