"""Angles taken exactly: as numbers that people write, and wrapped round a span."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

from trainkit.errors import LockPinError


def degrees(value: object, what: str = "angle") -> Fraction:
    """Return a number of degrees exactly; a decimal fraction is taken as it is written.

    Parameters
    ----------
    value : int, float, str, decimal.Decimal or fractions.Fraction
        Finite.
    what : str
        Its name, for the message.

    Raises
    ------
    LockPinError
        If it is not a finite number.

    Examples
    --------
    >>> degrees(1.1), degrees("2/3")
    (Fraction(11, 10), Fraction(2, 3))
    """
    try:
        if isinstance(value, bool):
            raise TypeError
        if isinstance(value, Fraction | int):
            return Fraction(value)
        if isinstance(value, float | Decimal | str):
            if isinstance(value, float) and not math.isfinite(value):
                raise ValueError
            return Fraction(str(value))
        raise TypeError
    except (TypeError, ValueError, ZeroDivisionError):
        raise LockPinError(
            value, rule=f"The {what} is a finite number of crank degrees.", remedy="Give a plain number, such as 7.5."
        ) from None


def wrapped(angle: Fraction, span: Fraction) -> Fraction:
    """Return the angle brought into half a span either side of zero.

    Examples
    --------
    >>> wrapped(Fraction(700), Fraction(720)), wrapped(Fraction(360), Fraction(720))
    (Fraction(-20, 1), Fraction(360, 1))
    """
    rest = angle % span
    return rest - span if rest > span / 2 else rest


def rounded_up(angle: Fraction) -> Fraction:
    """Return an angle as it is told where it is the least: to a thousandth of a degree, never less than it is.

    Examples
    --------
    >>> float(rounded_up(Fraction(22, 3))), float(rounded_up(Fraction(29, 4)))
    (7.334, 7.25)
    """
    return Fraction(math.ceil(angle * 1000), 1000)


def rounded_down(angle: Fraction) -> Fraction:
    """Return an angle as it is told where it is the most: to a thousandth of a degree, never more than it is.

    Examples
    --------
    >>> float(rounded_down(Fraction(2, 3)))
    0.666
    """
    return Fraction(math.floor(angle * 1000), 1000)
