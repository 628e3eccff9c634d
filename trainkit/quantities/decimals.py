"""Plain numbers: read strictly from text, written for people, put on the step of a scale.

How a number is read
--------------------
- The decimal mark is a point or a comma: ``4.2`` and ``4,2`` are the same number.
- Groups of three digits are parted by a space, thin or not, as ISO 80000-1 has it: ``1 250``.
- A comma with one to three digits before it and exactly three after it could be either mark. It is refused,
  because ``1,250`` is a thousand times more to one reader than to the next. ``0,125`` can only be a decimal. A point is
  always a decimal mark, as the workbooks are in English.
- Powers of ten, fractions, underscores and digits of other scripts are refused, although Python would take some.
"""

from __future__ import annotations

import math
import re
import sys
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from trainkit.errors import QuantityError
from trainkit.sentences import THIN

if TYPE_CHECKING:
    import pint

__all__ = [
    "THIN",
    "exact",
    "exact_step",
    "from_edge",
    "millimetres",
    "number",
    "plain",
    "round_down",
    "round_to_step",
    "round_up",
    "split_number",
]

MINUSES = "-\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d"
SPACES = " \t\u00a0\u2007\u2008\u2009\u200a\u202f"
# Marks without width come along when text is copied out of a page; nobody could see what to correct.
_UNSEEN = dict.fromkeys(map(ord, "\u00ad\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"))
LONGEST = 60

_NUMBER = re.compile(
    rf"""(?P<sign>[+{re.escape(MINUSES)}][{SPACES}]*)?
    (?P<whole>[0-9]{{1,3}}(?:[{SPACES}][0-9]{{3}})+(?![0-9])|[0-9]+)?
    (?:(?P<mark>[.,])(?P<part>[0-9]+))?""",
    re.VERBOSE,
)
_NOT_FINITE = re.compile(rf"[+{re.escape(MINUSES)}]?\s*(nan|inf(inity)?|∞)(?![a-z])", re.IGNORECASE)


def clean(text: str) -> str:
    """Return the text without marks that have no width and without space round it."""
    return text.translate(_UNSEEN).strip().strip(SPACES)


def split_number(text: str) -> tuple[str, str]:
    """Part a text into the plain number it begins with and what follows.

    Parameters
    ----------
    text : str
        At most 60 characters, such as ``"4,2 kgf·m"``.

    Returns
    -------
    tuple of str
        The number with a point as decimal mark, no grouping and ``-`` as sign; then the rest, without space round it.

    Raises
    ------
    QuantityError
        If no number stands first, or if it could be read in two ways.

    Examples
    --------
    >>> split_number("4,2 kgf·m")
    ('4.2', 'kgf·m')
    >>> split_number("−1 250.50")
    ('-1250.50', '')
    """
    if not isinstance(text, str):
        raise QuantityError(text, rule="A number is read from text here.", remedy="Hand over text.")
    if len(text) > LONGEST:
        raise QuantityError(
            text, rule=f"A value has at most {LONGEST} characters.", remedy="Write the number and its unit alone."
        )
    tidy = clean(text)
    if _NOT_FINITE.match(tidy):
        raise QuantityError(text, rule="A value is a finite number.", remedy="Write digits, such as 42.")
    found = _NUMBER.match(tidy)
    if found is None or (found["whole"] is None and found["part"] is None):
        raise QuantityError(
            text,
            rule="A value begins with a number in the digits 0 to 9.",
            remedy="Write the number first, then its unit, such as 42 N·m.",
        )
    rest = tidy[found.end() :]
    _refuse_what_follows(text, rest)
    whole = re.sub(f"[{SPACES}]", "", found["whole"] or "0")
    part = found["part"]
    if found["mark"] == "," and part is not None and len(part) == 3 and 1 <= len(whole.lstrip("0")) <= 3:
        raise QuantityError(
            text,
            rule="A comma before exactly three digits could part thousands or be a decimal mark.",
            remedy=f"Write {whole}{part} for thousands or {whole}.{part} for a decimal.",
        )
    sign = "-" if found["sign"] is not None and not found["sign"].startswith("+") else ""
    return f"{sign}{whole}{'.' + part if part else ''}", rest.strip(SPACES)


def _refuse_what_follows(text: str, rest: str) -> None:
    if re.match(r"[eE][+\-−]?[0-9]|[×x*]\s*10", rest):
        raise QuantityError(text, rule="A value is a plain decimal, without a power of ten.", remedy="Write it out.")
    if re.match(rf"[{SPACES}]*[/⁄][{SPACES}]*[0-9]|[½¼¾⅓⅔⅛⅜⅝⅞]", rest):
        raise QuantityError(text, rule="A value is a decimal, not a fraction.", remedy="Write 0.5 for a half.")
    if re.match(r"[.,'’_]", rest):
        raise QuantityError(
            text,
            rule="A number has at most one decimal mark, with a digit after it.",
            remedy="Write thousands without a mark: 1250 or 1250.5.",
        )
    if re.match(rf"[{SPACES}]+[0-9]", rest):
        raise QuantityError(
            text, rule="A space may only part groups of three digits.", remedy="Write one number, such as 1250."
        )


def number(text: str) -> float:
    """Read a plain decimal number with nothing behind it.

    Parameters
    ----------
    text : str
        Digits with at most one decimal point or comma; a sign may stand first.

    Returns
    -------
    float
        The number, finite.

    Raises
    ------
    QuantityError
        If it is no plain decimal, could be read in two ways, or something follows it.

    Examples
    --------
    >>> number("22,5"), number("−3"), number("1 250")
    (22.5, -3.0, 1250.0)
    >>> number("1,250")
    Traceback (most recent call last):
    ...
    trainkit.errors.QuantityError: '1,250': A comma before exactly three digits could part thousands or be a decimal \
mark. Write 1250 for thousands or 1.250 for a decimal.
    """
    digits, rest = split_number(text)
    if rest:
        raise QuantityError(text, rule="Only a number is wanted here.", remedy=f"Leave out {rest!r}.")
    return float(digits) + 0.0  # a minus nought becomes nought


def exact(value: float) -> Fraction:
    """Return the decimal that a person reads in ``value``, exactly: 0.1 is a tenth here.

    Examples
    --------
    >>> exact(0.1)
    Fraction(1, 10)
    """
    return Fraction(*_as_ratio(float(value)))


@lru_cache(maxsize=4096)  # steps and printed values come again and again
def _as_ratio(value: float) -> tuple[int, int]:
    return Decimal(repr(value)).as_integer_ratio()


def round_to_step(value: float, step: float) -> float:
    """Return the multiple of ``step`` nearest to ``value``; a half goes up, away from nought.

    The half case is decided on the decimals as written, so 0.15 on a step of 0.1 is a half and gives 0.2
    (ISO 80000-1:2009 annex B, rule B; clause from memory).

    Raises
    ------
    QuantityError
        If the value is not finite or the step is not greater than nought.

    Examples
    --------
    >>> round_to_step(42.03, 1), round_to_step(42.5, 1), round_to_step(41.9, 0.5), round_to_step(0.15, 0.1)
    (42.0, 43.0, 42.0, 0.2)
    """
    # Whole numbers are ten times faster here than fractions, and as exact.
    over, under = _as_ratio(abs(finite(value)))
    step_over, step_under = _step_ratio(step)
    half = under * step_over
    nearest = (2 * over * step_under + half) // (2 * half)
    return math.copysign(nearest * step_over / step_under, value) + 0.0


def round_down(value: float | Fraction, step: float) -> float:
    """Return the greatest multiple of ``step`` that is not more than ``value``: so an upper limit is rounded inward.

    Raises
    ------
    QuantityError
        If the value is not finite or the step is not greater than nought.

    Examples
    --------
    >>> round_down(41.68, 0.1), round_down(41.6, 0.1), round_down(-0.5, 1)
    (41.6, 41.6, -1.0)
    """
    mark = exact_step(step)
    written = value if isinstance(value, Fraction) else exact(finite(value))
    return float(written // mark * mark)


def round_up(value: float | Fraction, step: float) -> float:
    """Return the least multiple of ``step`` that is not less than ``value``: so a lower limit is rounded inward.

    Raises
    ------
    QuantityError
        If the value is not finite or the step is not greater than nought.

    Examples
    --------
    >>> round_up(38.32, 0.1), round_up(38.4, 0.1)
    (38.4, 38.4)
    """
    return -round_down(-value, step) + 0.0


def from_edge(value: float, step: float) -> float:
    """Return how far ``value`` lies from where rounding to ``step`` turns over, in steps: 0 on the edge, 0.5 at best.

    Examples
    --------
    >>> from_edge(42.5, 1), from_edge(42.0, 1), from_edge(42.4, 1)
    (0.0, 0.5, 0.1)
    """
    over, under = _as_ratio(abs(finite(value)))
    step_over, step_under = _step_ratio(step)
    whole = under * step_over
    return abs(2 * (over * step_under % whole) - whole) / (2 * whole)


def plain(value: float, step: float | None = None) -> str:
    """Write a number for people, without a power of ten.

    Parameters
    ----------
    value : float
        The number, finite.
    step : float, optional
        Write as many decimals as this step has. Without it, a number of up to six digits is written as it is,
        a longer one, which must have been computed, to four significant digits.

    Examples
    --------
    >>> plain(31.0), plain(42.030356), plain(4.25), plain(42, 0.1), plain(0.0070615518)
    ('31', '42.03', '4.25', '42.0', '0.007062')
    """
    value = finite(value)
    if step is not None:
        return f"{value:.{_decimals(finite(step, 'step'))}f}"
    figures = f"{value:.6g}"
    if float(figures) != value:
        figures = f"{value:.4g}" if abs(value) < 1e4 else f"{value:.0f}"
    if "e" in figures:
        figures = f"{float(figures):.15f}".rstrip("0").rstrip(".") if abs(value) < 1 else f"{float(figures):.0f}"
    return figures


@lru_cache(maxsize=256)
def _decimals(step: float) -> int:
    _step_ratio(step)
    return len(f"{step:.12f}".rstrip("0").partition(".")[2])


def millimetres(length: float | pint.Quantity[float], what: str = "length", *, zero: bool = False) -> float:
    """Return a length in millimetres.

    Parameters
    ----------
    length : float or pint.Quantity
        A number of millimetres, or a pint quantity of length.
    what : str
        What is measured, for the message: ``"adapter length"``.
    zero : bool
        Whether nought is allowed.

    Raises
    ------
    QuantityError
        If it is no length, not finite, negative, or nought where that cannot be.

    Examples
    --------
    >>> millimetres(250)
    250.0
    """
    if (pint := sys.modules.get("pint")) is not None and isinstance(length, pint.Quantity):
        try:
            value = float(length.to("millimeter").magnitude)
        except (pint.DimensionalityError, TypeError, ValueError):
            raise QuantityError(
                str(length), rule=f"The {what} is a length.", remedy="Give millimetres or a pint quantity of length."
            ) from None
    else:
        value = finite(length, what)
    if not math.isfinite(value) or value < 0 or (value == 0 and not zero):
        least = "nought or more" if zero else "greater than nought"
        raise QuantityError(
            length, rule=f"The {what} is finite and {least}.", remedy="Measure it again, in millimetres."
        )
    return value


def finite(value: object, what: str = "value") -> float:
    """Return a number as a float, or refuse what is none, is text, or is not finite."""
    if isinstance(value, bool | str | bytes):
        raise QuantityError(value, rule=f"The {what} is a number.", remedy="Give a number.")
    try:
        read = float(value)  # type: ignore[arg-type]  # what has no float is refused just below
    except (TypeError, ValueError, OverflowError):
        raise QuantityError(value, rule=f"The {what} is a number.", remedy="Give a number.") from None
    if not math.isfinite(read):
        raise QuantityError(value, rule=f"The {what} is a finite number.", remedy="Give digits, such as 42.")
    return read


def exact_step(step: object) -> Fraction:
    """Return a step exactly, or refuse it: a step is a finite number greater than nought."""
    return Fraction(*_step_ratio(step))


def _step_ratio(step: object) -> tuple[int, int]:
    read = finite(step, "step")
    if read <= 0:
        raise QuantityError(step, rule="A step is greater than nought.", remedy="Give the tool's step, such as 0.5.")
    return _as_ratio(read)
