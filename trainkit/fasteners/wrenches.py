"""What stands between the hand and the bolt: torque wrenches, adapters, tolerance, prevailing torque."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.errors import FastenerError
from trainkit.quantities import THIN, Torque, finite, millimetres, plain, settable, torque, torque_unit

if TYPE_CHECKING:
    import pint


# Below this share of its largest value a click wrench tells nothing: common practice, no source; the calibration
# points of ISO 6789-1:2017 begin there too.
_USABLE_FROM = 0.2


def effective_lever(
    wrench_length: float | pint.Quantity[float], adapter_length: float | pint.Quantity[float], angle: float = 0
) -> float:
    """Return how much longer the lever is with the adapter, as a share: (L + A cos angle) / L.

    Parameters
    ----------
    wrench_length : float or pint.Quantity
        L, from the middle of the grip to the square drive, mm.
    adapter_length : float or pint.Quantity
        A, from the square drive to the middle of the bolt, mm. Nought for an attachment in line with the drive axis.
    angle : float
        Degrees between the adapter and the line of the wrench, -180 to 180: 0 straight on, away from the hand,
        90 square to the wrench, 180 back along the wrench.

    Raises
    ------
    FastenerError
        If the angle cannot be, or the adapter points so far back that no lever is left.
    QuantityError
        If a length is none.

    Examples
    --------
    >>> effective_lever(250, 100), effective_lever(250, 100, 90), effective_lever(250, 100, 180)
    (1.4, 1.0, 0.6)
    """
    length = millimetres(wrench_length, "wrench length")
    reach = millimetres(adapter_length, "adapter length", zero=True)
    if not -180 <= finite(angle, "angle") <= 180:
        raise FastenerError(
            angle,
            rule="The angle of an adapter lies between -180° and 180°.",
            remedy="Measure it from the line of the wrench: 0° is straight on, 90° square, 180° pointing back.",
        )
    # cos 90° is not nought in floats, and at a right angle nothing shall change.
    along = 0.0 if abs(angle) == 90 else reach * math.cos(math.radians(angle))
    if length + along <= 0:
        raise FastenerError(
            f"{plain(reach)} mm at {angle:g}°",
            rule=f"An adapter that points back is shorter than the wrench ({plain(length)} mm).",
            remedy="Use a shorter adapter, or turn it forward.",
        )
    return (length + along) / length


def wrench_setting(
    wanted: Torque | str,
    wrench_length: float | pint.Quantity[float],
    adapter_length: float | pint.Quantity[float],
    angle: float = 0,
) -> Torque:
    """Return what the wrench is set to, so that the bolt gets ``wanted``: wanted times L / (L + A cos angle).

    Source: US Army TM 1-1500-204-23-9 chapter 8 (straight), TM 9-254 figure 4-6 (at an angle).

    Parameters
    ----------
    wanted : Torque or str
        What the bolt shall get.
    wrench_length, adapter_length, angle
        As for :func:`effective_lever`.

    Returns
    -------
    Torque
        In the unit of ``wanted``, not rounded to the wrench's step.

    Examples
    --------
    >>> wrench_setting("70 N·m", 250, 100), wrench_setting("70 N·m", 250, 100, angle=90)
    (Torque(value=50.0, unit='N·m'), Torque(value=70.0, unit='N·m'))
    """
    goal = torque(wanted)
    return Torque(goal.value / effective_lever(wrench_length, adapter_length, angle), goal.unit)


def true_torque(
    setting: Torque | str,
    wrench_length: float | pint.Quantity[float],
    adapter_length: float | pint.Quantity[float],
    angle: float = 0,
) -> Torque:
    """Return what the bolt gets when the wrench clicks at ``setting``: the inverse of :func:`wrench_setting`.

    Examples
    --------
    >>> true_torque("50 N·m", 250, 100)
    Torque(value=70.0, unit='N·m')
    """
    read = torque(setting)
    return Torque(read.value * effective_lever(wrench_length, adapter_length, angle), read.unit)


def permissible_deviation(largest: Torque | str) -> float:
    """Return the permissible deviation of an adjustable click wrench with a scale, as a share of the value.

    ISO 6789 type II class A: 0.04 where the largest value is more than 10 N·m, else 0.06. It is a share of the
    value set, not of full scale.

    Examples
    --------
    >>> permissible_deviation("60 N·m"), permissible_deviation("10 N·m")
    (0.04, 0.06)
    """
    return 0.04 if torque(largest) > Torque(10.0, "N·m") else 0.06


def with_prevailing(wanted: Torque | str, prevailing: Torque | str) -> Torque:
    """Return the torque to set where a locking nut already drags: wanted plus prevailing, in the unit of ``wanted``.

    Source: FAA AC 43.13-1B paragraph 7-40d.

    Examples
    --------
    >>> with_prevailing("40 N·m", "3 N·m")
    Torque(value=43.0, unit='N·m')
    """
    goal = torque(wanted)
    return Torque(goal.value + torque(prevailing).to(goal.unit).value, goal.unit)


@dataclass(frozen=True, slots=True)
class Wrench:
    """A torque wrench with a scale.

    Parameters
    ----------
    unit : str
        Unit of the scale.
    low, high : float
        Smallest and largest value of the scale.
    step : float
        From one mark to the next.

    Raises
    ------
    FastenerError
        If such a scale cannot be.

    Examples
    --------
    >>> wrench = Wrench("lbf·ft", 10, 80, 1)
    >>> wrench.settable("42 N·m").shown(1).replace(THIN, " ")
    '31 lbf·ft'
    >>> wrench.suits("42 N·m"), wrench.suits("15 N·m"), wrench.suits("130 N·m")
    ('suits', 'too large', 'too small')
    """

    unit: str
    low: float
    high: float
    step: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "unit", torque_unit(self.unit))
        for name in ("low", "high", "step"):
            object.__setattr__(self, name, finite(getattr(self, name), f"{name} of a scale"))
        if not 0 <= self.low < self.high or not 0 < self.step <= self.high - self.low:
            raise FastenerError(
                f"{plain(self.low)} to {plain(self.high)} by {plain(self.step)} {self.unit}",
                rule="A scale goes up from nought or more, by a step that fits between its ends.",
                remedy="Read the scale again.",
            )

    @property
    def usable_from(self) -> Torque:
        """The smallest value worth setting: the end of the scale, or a fifth of the largest if that is more."""
        return Torque(max(self.low, _USABLE_FROM * self.high), self.unit)

    @property
    def permissible_deviation(self) -> float:
        """The permissible deviation as a share of the value; see :func:`permissible_deviation`."""
        return permissible_deviation(Torque(self.high, self.unit))

    def suits(self, wanted: Torque | str) -> str:
        """Tell whether the wrench ``"suits"`` a torque, or is ``"too large"`` or ``"too small"`` for it."""
        goal = torque(wanted)
        if goal < self.usable_from:
            return "too large"
        return "too small" if goal > Torque(self.high, self.unit) else "suits"

    def settable(self, wanted: Torque | str) -> Torque:
        """Return the mark nearest to a torque, a half going up.

        Raises
        ------
        FastenerError
            If the torque lies outside the usable range.
        """
        goal = torque(wanted)
        found = settable(goal, Torque(self.step, self.unit))
        if self.suits(goal) != "suits" or not self.low <= found.value <= self.high:
            raise FastenerError(
                str(goal).replace(THIN, " "),
                rule=(f"The wrench is usable from {plain(self.usable_from.value)} to {plain(self.high)} {self.unit}."),
                remedy=f"Take a wrench that is {'smaller' if self.suits(goal) == 'too large' else 'larger'}.",
            )
        return found
