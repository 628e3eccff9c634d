"""Numbers taken as they come, exactly, and written as a person writes them."""

from __future__ import annotations

import math
from fractions import Fraction
from numbers import Rational, Real

from trainkit.errors import GearError, TrainkitError

Number = int | float | Fraction


def exact(value: object, what: str, error: type[TrainkitError] = GearError, such: str = "90 or 22.5") -> Fraction:
    """Return a finite number exactly as a fraction; a decimal fraction is taken as it is written.

    Raises
    ------
    GearError
        Or another error that is named, if it is not a finite number.

    Examples
    --------
    >>> exact(0.1, "angle")
    Fraction(1, 10)
    """
    if isinstance(value, Fraction):
        return value
    if not isinstance(value, bool):
        if isinstance(value, Rational):
            return Fraction(int(value.numerator), int(value.denominator))
        if isinstance(value, Real) and math.isfinite(value):
            # A decimal fraction is taken as it is written: 0.1 is one tenth.
            return Fraction(repr(float(value)))
    raise error(value, rule=f"This {what} is to be a finite number.", remedy=f"Give a plain number, such as {such}.")


def is_count(value: object, low: int = 1, high: int = 1_000_000) -> bool:
    """Tell whether the value is a whole number from ``low`` to ``high``.

    Examples
    --------
    >>> is_count(3), is_count(3.0), is_count(True), is_count(0)
    (True, False, False, False)
    """
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high


def written(value: Number) -> str:
    """Return a number the way it stands in a working: a whole number or a fraction, with a true minus sign.

    Examples
    --------
    >>> written(Fraction(-3, 4)), written(2)
    ('−3/4', '2')
    """
    fraction = Fraction(value)
    sign = "−" if fraction < 0 else ""
    if fraction.denominator > 10_000:
        # A fraction that came out of a decimal fraction; nobody reads 53 binary digits.
        return f"{sign}{abs(float(fraction)):.6g}"
    return f"{sign}{abs(fraction)}"
