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
from typing import NamedTuple, TypeVar

from trainkit.cycle import TimingShift, flange_degrees, moved
from trainkit.gears import Sense, backlash_degrees
from trainkit.items.distinct_answers import Finishes, Readings
from trainkit.items.lash_and_timing.mounting import Build, Mounting

HALF = Fraction(1, 2)


# The rules of one case ask for the same angle again and again.
@lru_cache(maxsize=1024)
def _crank_degrees(moved_mm: float, radius_mm: float) -> float:
    return flange_degrees(moved_mm, radius_mm, speed_ratio=HALF)


@lru_cache(maxsize=1024)
def _gear_degrees(lash_mm: float, radius_mm: float) -> float:
    return backlash_degrees(lash_mm, radius_mm)


class Take(NamedTuple):
    """How lash is taken up: the sense, +1 clockwise, and hundredths of a millimetre along the pitch circle."""

    sense: int
    hundredths: int


@dataclass(frozen=True, slots=True)
class TakingUp:
    """A loose gear that meshes with one that is held; the lash between the two is to be taken up.

    Parameters
    ----------
    drive : int
        The sense in which the loose gear turns in service, +1 clockwise.
    driven : bool
        Whether the held gear drives the loose one; else it is the loose one that drives.
    free : mapping of int to int
        How far the loose gear moves freely either way, by the sense, in hundredths of a millimetre.
    gives : int
        How far it can be forced on from there.
    short : int
        How far it stays away from its flank when somebody stops too early.
    """

    drive: int
    driven: bool
    free: Mapping[int, int]
    gives: int
    short: int

    @property
    def sense(self) -> int:
        """The way to the flank: a driven gear goes back to the tooth that pushes it, a driving one goes on."""
        return -self.drive if self.driven else self.drive

    def take(self, sense: int, more: int = 0) -> Take:
        """Return the way to one of both flanks, and further or less far."""
        return Take(sense, self.free[sense] + more)

    @property
    def right(self) -> Take:
        """To the flank on which the gears rest in service, until resistance is felt."""
        return self.take(self.sense)


TAKING_UP_RULES: Mapping[str, Callable[[TakingUp], Take | None]] = MappingProxyType(
    {
        "taken-up-with-drive": lambda case: case.take(-case.sense) if case.driven else None,
        "driver-drawn-back": lambda case: None if case.driven else case.take(-case.sense),
        "heaved": lambda case: case.take(case.sense, case.gives),
        "lash-left-over": lambda case: case.take(case.sense, -case.short),
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
class MeasuredLash:
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


def _mate_circle(case: MeasuredLash) -> float | None:
    # A gear at half speed that meshes with the crank gear itself: the same as doubling twice.
    if case.ratio == HALF and math.isclose(case.radius_mm, 2 * case.mate_mm):
        return None
    return case.right * case.radius_mm / case.mate_mm


LASH_RULES: Mapping[str, Callable[[MeasuredLash], float | None]] = MappingProxyType(
    {
        "gear-for-crank-degrees": lambda case: None if case.ratio == 1 else case.at_gear,
        "doubled-twice": lambda case: case.at_gear * 4 if case.ratio == HALF else None,
        "doubled-regardless": lambda case: None if case.ratio == HALF else case.at_gear * 2,
        "gear-crank-wrong-way": lambda case: None if case.ratio == 1 else case.at_gear * float(case.ratio),
        "wrong-circle": _mate_circle,
        "millimetre-as-degree": lambda case: case.lash_mm / float(case.ratio),
    }
)


def _on_mate_circle(case: MeasuredLash) -> MeasuredLash | None:
    return None if _mate_circle(case) is None else replace(case, radius_mm=case.mate_mm)


# The other gear's radius is read off, and what was found is carried to the crank wrongly.
LASH_READINGS: Readings[MeasuredLash] = MappingProxyType({"wrong-circle": _on_mate_circle})


@lru_cache(maxsize=1024)
def _shift(part: str, moved_mm: float, radius_mm: float, turned: Sense, drive: Sense) -> TimingShift:
    return moved(part, moved_mm, radius_mm, turned=turned, drive=drive, speed_ratio=HALF)


class Shifted(NamedTuple):
    """A shift of timing as it is offered: degrees to a hundredth, +1 early, −1 late, 0 not at all."""

    degrees: float
    effect: int = 0


NO_SHIFT = Shifted(0.0)
AT_CRANK, AT_SHAFT = "crank", "shaft"


class _Effects:
    """What is offered of an angle at half crank speed: on the crank or on the shaft, early, late or nothing.

    ``crank_degrees`` is the size on the crank, ``asked`` the one that is asked for.
    """

    __slots__ = ()
    crank_degrees: float
    asked: str

    def sized(self, effect: int, at: str = "") -> Shifted:
        """Return the shift, on the crank or on the shaft."""
        degrees = self.crank_degrees if (at or self.asked) == AT_CRANK else self.crank_degrees / 2
        return Shifted(round(degrees, 2), effect)

    def other_end(self, effect: int) -> Shifted:
        """Return the shift in degrees of the one that is not asked for."""
        return self.sized(effect, AT_SHAFT if self.asked == AT_CRANK else AT_CRANK)

    @property
    def all(self) -> tuple[Shifted, ...]:
        """Everything that is offered."""
        return (NO_SHIFT, *(size(effect) for size in (self.sized, self.other_end) for effect in (1, -1)))


E = TypeVar("E", bound="Shift | Wound")


def _if(met: Callable[[E], bool], found: Callable[[E], Shifted]) -> Callable[[E], Shifted | None]:
    return lambda case: found(case) if met(case) else None


@dataclass(frozen=True)
class Shift(_Effects):
    """Gear, shaft or housing of a timed component was moved along a circle; lash was then taken up again.

    Parameters
    ----------
    build : str
        How gear, shaft and housing hold together.
    parts : tuple of str
        What moved.
    moved_mm, radius_mm : float
        How far along which circle.
    turned, drive : str
        Which way it was moved, and which way the shaft turns in service; both seen from the same end.
    asked : str
        ``"crank"`` or ``"shaft"``: whose degrees are asked for.
    """

    build: Build
    parts: tuple[str, ...]
    moved_mm: float
    radius_mm: float
    turned: Sense
    drive: Sense
    asked: str = AT_CRANK

    @property
    def shift(self) -> TimingShift:
        """What it does to the event if the shaft, or else the housing, is the only thing that moved."""
        part = "housing" if "housing" in self.parts else "shaft"
        return _shift(part, self.moved_mm, self.radius_mm, self.turned, self.drive)

    @property
    def crank_degrees(self) -> float:  # type: ignore[override]  # worked out here
        """Crank degrees, without sign."""
        return self.shift.crank_degrees

    @property
    def stays(self) -> bool:
        """Whether anything is left once the lash was taken up again."""
        return Mounting(**dict.fromkeys(self.parts, 1.0)).taken_up(self.build).early != 0

    @property
    def counted(self) -> int:
        """The effect of the part that moved, +1 early, if nothing were taken up again."""
        return 1 if self.shift.effect == "early" else -1

    @property
    def right(self) -> Shifted:
        """The shift as it is offered."""
        return self.sized(self.counted) if self.stays else NO_SHIFT


SHIFT_RULES: Mapping[str, Callable[[Shift], Shifted | None]] = MappingProxyType(
    {
        "housing-for-shaft": _if(lambda case: case.stays, lambda case: case.sized(-case.counted)),
        "gear-for-crank-degrees": _if(
            lambda case: case.stays and case.asked == AT_CRANK, lambda case: case.other_end(case.counted)
        ),
        "crank-for-gear-degrees": _if(
            lambda case: case.stays and case.asked == AT_SHAFT, lambda case: case.other_end(case.counted)
        ),
        "no-movement-matters": _if(lambda case: case.stays, lambda _: NO_SHIFT),
        "any-movement-ruins": _if(lambda case: not case.stays, lambda case: case.sized(case.counted)),
    }
)

# How a gear stood when it was clamped to its shaft.
WOUND, SHORT, LET_GO = "wound up", "short of its flank", "let go again"


@dataclass(frozen=True)
class Wound(_Effects):
    """A gear that was clamped to its shaft while lash was being taken up.

    Parameters
    ----------
    how : str
        Pressed on against its drive after its teeth touched, short of touching, or pressed on and let go again.
    way_mm, radius_mm : float
        How far along its pitch circle, and the radius of that.
    asked : str
        ``"crank"`` or ``"shaft"``: whose degrees are asked for.
    """

    how: str
    way_mm: float
    radius_mm: float
    asked: str = AT_CRANK

    @property
    def crank_degrees(self) -> float:  # type: ignore[override]  # worked out here
        """Crank degrees, without sign."""
        return _crank_degrees(self.way_mm, self.radius_mm)

    @property
    def effect(self) -> int:
        """What is left when everything is let go: +1 early, −1 late."""
        gear = {WOUND: -1, SHORT: 1, LET_GO: 0}[self.how]
        early = Mounting(gear=gear).early
        return int(math.copysign(1, early)) if early else 0

    @property
    def right(self) -> Shifted:
        """The shift as it is offered."""
        return self.sized(self.effect) if self.effect else NO_SHIFT


def _was(how: str) -> Callable[[Wound], bool]:
    return lambda case: case.how == how


WOUND_RULES: Mapping[str, Callable[[Wound], Shifted | None]] = MappingProxyType(
    {
        "wind-up-as-lash": _if(_was(WOUND), lambda case: case.sized(-1)),
        "lash-as-wind-up": _if(_was(SHORT), lambda case: case.sized(1)),
        "gear-for-crank-degrees": _if(
            lambda case: bool(case.effect) and case.asked == AT_CRANK, lambda case: case.other_end(case.effect)
        ),
        "crank-for-gear-degrees": _if(
            lambda case: bool(case.effect) and case.asked == AT_SHAFT, lambda case: case.other_end(case.effect)
        ),
        "heaved": _if(_was(WOUND), lambda _: NO_SHIFT),  # however far
        "lash-left-over": _if(_was(SHORT), lambda _: NO_SHIFT),
        "force-let-go-counts": _if(_was(LET_GO), lambda case: case.sized(1)),
    }
)
