"""What moving a timed component does to its event: how many crank degrees, and early or late."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from trainkit.cycle.firing import Number, exact
from trainkit.errors import CycleError
from trainkit.gears import Sense, signed

Effect = Literal["early", "late", "unchanged"]
_HALF = Fraction(1, 2)


def flange_degrees(moved_mm: Number, radius_mm: Number, *, speed_ratio: Fraction | float = _HALF) -> float:
    """Return the crank degrees that a flange moved along its slots is worth.

    Parameters
    ----------
    moved_mm : float
        How far a point of the flange moved along its circle, millimetres, zero or more.
    radius_mm : float
        Radius of that circle about the component's shaft, millimetres.
    speed_ratio : fractions.Fraction, optional
        Turns of the component for one turn of the crank; its sign does not matter. At half crank speed every degree
        of the component is two of the crank.

    Returns
    -------
    float
        Crank degrees, without a sign.

    Raises
    ------
    CycleError
        For a negative or absurd move, a radius or ratio of zero, or a value that is not finite.

    Examples
    --------
    >>> round(flange_degrees(1, 60), 3), round(flange_degrees(1, 60, speed_ratio=1), 3)
    (1.91, 0.955)
    """
    way, radius = exact(moved_mm, "move"), exact(radius_mm, "radius")
    ratio = abs(exact(speed_ratio, "speed ratio"))
    if way < 0:
        raise CycleError(moved_mm, rule="A move is zero or more millimetres.", remedy="Say in words which way it went.")
    if radius <= 0:
        raise CycleError(
            radius_mm, rule="A radius is more than zero millimetres.", remedy="Measure from the centre of the shaft."
        )
    if ratio == 0:
        raise CycleError(
            speed_ratio, rule="A component that is timed turns with the crank.", remedy="Give its turns per crank turn."
        )
    if way > radius:
        raise CycleError(
            moved_mm,
            rule=f"A flange moves by less than its radius, here {float(radius):g} mm.",
            remedy="Give both lengths in millimetres.",
        )
    return math.degrees(way / radius) / float(ratio)


@dataclass(frozen=True, slots=True)
class TimingShift:
    """An event that comes earlier or later than before.

    Parameters
    ----------
    late : float
        Crank degrees; positive is later (retard), negative is earlier (advance).
    reason : str
        Why, one whole sentence.

    Examples
    --------
    >>> str(TimingShift(-2.5, "The housing was turned against the drive."))
    '2.5° of crank early (advance)'
    """

    late: float
    reason: str

    def __post_init__(self) -> None:
        exact(self.late, "timing shift")

    @property
    def crank_degrees(self) -> float:
        """How much, without a sign."""
        return abs(self.late)

    @property
    def effect(self) -> Effect:
        """Whether the event comes early, late, or when it did."""
        if self.late == 0:
            return "unchanged"
        return "late" if self.late > 0 else "early"

    def __str__(self) -> str:
        if self.late == 0:
            return "unchanged"
        return f"{self.crank_degrees:.3g}° of crank {'late (retard)' if self.late > 0 else 'early (advance)'}"


def moved(
    part: str,
    moved_mm: Number,
    radius_mm: Number,
    *,
    turned: Sense,
    drive: Sense,
    speed_ratio: Fraction | float = _HALF,
) -> TimingShift:
    """Return what turning the housing or the shaft of a timed component does to its event.

    Parameters
    ----------
    part : {"housing", "shaft"}
        What was turned: the housing in its slots, or the shaft (or its hub) in the clamped drive gear.
    moved_mm, radius_mm : float
        How far along which circle, millimetres.
    turned : {"clockwise", "anticlockwise"}
        Which way it was turned.
    drive : {"clockwise", "anticlockwise"}
        Which way the component's shaft turns when the engine runs, seen from the same end.
    speed_ratio : fractions.Fraction, optional
        Turns of the component for one turn of the crank.

    Returns
    -------
    TimingShift
        Housing against the drive, or shaft with the drive: early. The other way: late.

    Raises
    ------
    CycleError
        For an unknown part, or sizes that :func:`flange_degrees` refuses.
    GearError
        For a sense of rotation that is none.

    Examples
    --------
    >>> shift = moved("housing", 1.5, 60, turned="anticlockwise", drive="clockwise")
    >>> str(shift), shift.reason
    ('2.86° of crank early (advance)', 'The housing was turned against the drive: its event comes early.')
    """
    if part not in ("housing", "shaft"):
        raise CycleError(
            part, rule='What is turned is the "housing" or the "shaft".', remedy="Write one of the two words."
        )
    amount = flange_degrees(moved_mm, radius_mm, speed_ratio=speed_ratio)
    with_drive = signed(turned) == signed(drive)
    if amount == 0:
        return TimingShift(0.0, "Nothing was moved.")
    late = with_drive == (part == "housing")
    return TimingShift(
        amount if late else -amount,
        f"The {part} was turned {'with' if with_drive else 'against'} the drive: "
        f"its event comes {'late' if late else 'early'}.",
    )
