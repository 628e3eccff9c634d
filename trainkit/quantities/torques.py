"""A torque: read from text, converted, compared, written, and put on the step of a tool."""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from fractions import Fraction
from functools import total_ordering
from typing import TYPE_CHECKING

from trainkit.errors import QuantityError
from trainkit.quantities.decimals import THIN, exact, plain, split_number
from trainkit.quantities.units import PINT_NAMES, UNITS, factor, ratio, torque_unit

if TYPE_CHECKING:
    import pint


# Above these a value is a slip of the keyboard: no workshop tightens anything to a meganewton metre.
_MOST = 1e6
_MOST_DYN_CM = 1e13


@total_ordering
@dataclass(frozen=True, slots=True, eq=False)
class Torque:
    """A torque: how much, and in which unit.

    Torques of different units compare by what they are worth: 1 kgf·m equals 100 kgf·cm. A float stands for the
    decimal that it is written as, so the comparison is exact.

    Parameters
    ----------
    value : float
        Finite, nought or more.
    unit : str
        One of :data:`~trainkit.quantities.UNITS`. Other spellings are for :func:`torque` to read.

    Examples
    --------
    >>> first = torque("31 lb ft")
    >>> first.value, first.unit
    (31.0, 'lbf·ft')
    >>> first.to("N·m").shown(1).replace(THIN, " ")
    '42 N·m'
    >>> first > torque("42 N·m"), torque("1 kgf·m") == torque("100 kgf·cm")
    (True, True)
    >>> f"{first.to('Nm'):.3f}".replace(THIN, " ")
    '42.030 N·m'
    """

    value: float
    unit: str

    def __post_init__(self) -> None:
        if self.unit not in PINT_NAMES:
            raise QuantityError(
                self.unit, rule=f"The torque units are {', '.join(UNITS)}.", remedy="Read it with torque()."
            )
        if type(self.value) is not float:
            object.__setattr__(self, "value", _value(self.value))
        if not math.isfinite(self.value):
            raise QuantityError(self.value, rule="A torque is a finite number.", remedy="Give digits, such as 42 N·m.")
        if self.value < 0:
            raise _negative(self.value)

    def to(self, unit: str) -> Torque:
        """Return the same torque in another unit, not rounded.

        Parameters
        ----------
        unit : str
            Any notation that :func:`~trainkit.quantities.torque_unit` reads.
        """
        target = unit if unit in PINT_NAMES else torque_unit(unit)
        return self if target == self.unit else Torque(self.value * ratio(self.unit, target), target)

    @property
    def newton_metres(self) -> Fraction:
        """The torque in newton metres, exactly."""
        return exact(self.value) * factor(self.unit)

    @property
    def quantity(self) -> pint.Quantity[float]:
        """The torque as a quantity of pint's application registry; pint loads at the first call."""
        import pint

        registry = pint.get_application_registry()
        force, length = PINT_NAMES[self.unit]
        found: pint.Quantity[float] = registry.Quantity(self.value, f"{force} * {length}")
        return found

    def shown(self, step: float | None = None) -> str:
        """Write the torque for people: the number, a thin space, the unit.

        Parameters
        ----------
        step : float, optional
            Write as many decimals as this step has; see :func:`~trainkit.quantities.plain`.
        """
        return f"{plain(self.value, step)}{THIN}{self.unit}"

    def __str__(self) -> str:
        return self.shown()

    def __format__(self, spec: str) -> str:
        return f"{self.value:{spec}}{THIN}{self.unit}" if spec else self.shown()

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Torque):
            return NotImplemented
        if self.unit == other.unit:
            return self.value == other.value
        return self.newton_metres == other.newton_metres

    def __lt__(self, other: Torque) -> bool:
        if not isinstance(other, Torque):
            return NotImplemented
        if self.unit == other.unit:
            return self.value < other.value
        return self.newton_metres < other.newton_metres

    def __hash__(self) -> int:
        return hash(self.newton_metres)


def torque(given: str | float | Torque | pint.Quantity[float], unit: str = "") -> Torque:
    """Read a torque.

    Parameters
    ----------
    given : str, float, Torque or pint.Quantity
        Text with its unit in any notation of the workshop, a number, a torque, or a pint quantity that is a force
        times a length.
    unit : str, optional
        The unit of a number or of a text that names none. A unit in the text goes before it.

    Returns
    -------
    Torque
        In the unit that was written.

    Raises
    ------
    QuantityError
        If it is no torque, is negative or not finite, could be read in two ways, or is more than a million
        (of dyn·cm: ten million million).

    Examples
    --------
    >>> [torque(text) == torque("42 N·m") for text in ("42 Nm", "42 N-m", "42,0 N.m", "42 newton metres")]
    [True, True, True, True]
    >>> torque("4,2 kgf·m"), torque(96, "in-lb")
    (Torque(value=4.2, unit='kgf·m'), Torque(value=96.0, unit='lbf·in'))
    >>> torque("−5 N·m")
    Traceback (most recent call last):
    ...
    trainkit.errors.QuantityError: '−5 N·m': A torque has no sign; which way it turns is said in words. Write it \
without a sign.
    """
    if isinstance(given, Torque):
        return given
    if isinstance(given, str):
        digits, rest = split_number(given)
        if digits.startswith("-"):
            raise _negative(given)
        return _sensible(given, float(digits), _unit(given, rest or unit))
    if (library := sys.modules.get("pint")) is not None and isinstance(given, library.Quantity):
        return _from_pint(given)
    value = _value(given)
    return _sensible(given, value, _unit(given, unit))


def _unit(given: object, unit: object) -> str:
    if not isinstance(unit, str) or not unit.strip():
        raise QuantityError(
            given, rule="A number alone is no torque.", remedy=f"Add its unit, one of {', '.join(UNITS)}."
        )
    try:
        return torque_unit(unit)
    except QuantityError as error:
        raise QuantityError(given, rule=error.rule, remedy=error.remedy) from None


def _sensible(given: object, value: float, unit: str) -> Torque:
    most = _MOST_DYN_CM if unit == "dyn·cm" else _MOST
    if value > most and math.isfinite(value):
        raise QuantityError(
            given, rule=f"A torque of the workshop is at most {plain(most)} {unit}.", remedy="Check the digits."
        )
    try:
        return Torque(value, unit)
    except QuantityError as error:
        raise QuantityError(given, rule=error.rule, remedy=error.remedy) from None


def _value(given: object) -> float:
    if not isinstance(given, bool | bytes | str):
        try:
            return float(given) + 0.0  # type: ignore[arg-type]  # whatever has no float is refused just below
        except (TypeError, ValueError, OverflowError):
            pass
    raise QuantityError(given, rule="A torque is text or a number with its unit.", remedy="Write it as 42 N·m.")


def _negative(given: object) -> QuantityError:
    return QuantityError(
        given,
        rule="A torque has no sign; which way it turns is said in words.",
        remedy="Write it without a sign.",
    )


def _from_pint(given: pint.Quantity[float]) -> Torque:
    parts = dict(given.unit_items())
    for unit, names in PINT_NAMES.items():
        if parts == dict.fromkeys(names, 1):
            return _sensible(given, _value(given.magnitude), unit)
    raise QuantityError(
        str(given),
        rule="A pint quantity of torque is a force times a length of the workshop's list; energy and mass are not.",
        remedy=f"Give it in one of {', '.join(UNITS)}.",
    )


def settable(wanted: Torque | str, step: Torque | str) -> Torque:
    """Return the torque nearest to ``wanted`` that a tool with this step can be set to, in the tool's unit.

    The conversion and the rounding are exact; a half goes up.

    Parameters
    ----------
    wanted : Torque or str
        What the joint shall get.
    step : Torque or str
        From one mark of the scale to the next, in the tool's unit: ``"2 lbf·ft"``.

    Examples
    --------
    >>> settable("42 N·m", "1 lbf·ft").shown(1).replace(THIN, " ")
    '31 lbf·ft'
    >>> settable("31 lbf·ft", "5 N·m").shown(5).replace(THIN, " ")
    '40 N·m'
    """
    mark = torque(step)
    if mark.value == 0:
        raise QuantityError(step, rule="A step is greater than nought.", remedy="Give the tool's step, such as 1 N·m.")
    steps = torque(wanted).newton_metres / mark.newton_metres
    return Torque(float(math.floor(steps + Fraction(1, 2)) * exact(mark.value)), mark.unit)
