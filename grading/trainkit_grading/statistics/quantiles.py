"""Quantiles that intervals need: of the normal, Student's, the F and the chi-squared distribution.

The distribution functions are the regularised incomplete beta function, by its continued fraction, and the regularised
incomplete gamma function, by its series (Abramowitz & Stegun 1964, 26.5.8 and 6.5.29; numbers of the equations from
memory); quantiles are found by halving. scipy has all of them, but is no dependency for the sake of four functions; the
tests hold them against it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from statistics import NormalDist

_TINY = 1e-300
_NORMAL = NormalDist()


def normal(probability: float) -> float:
    """Return the quantile of the standard normal distribution.

    Examples
    --------
    >>> round(normal(0.975), 6)
    1.959964
    """
    return _NORMAL.inv_cdf(probability)


@lru_cache(maxsize=256)
def student(probability: float, freedom: float) -> float:
    """Return the quantile of Student's t distribution.

    Examples
    --------
    >>> round(student(0.975, 2), 4)
    4.3027
    """
    if probability < 0.5:
        return -student(1 - probability, freedom)
    part = _beta_quantile(2 * (1 - probability), freedom / 2, 0.5)
    return math.sqrt(freedom * (1 / part - 1))


@lru_cache(maxsize=256)
def f(probability: float, above: float, below: float) -> float:
    """Return the quantile of the F distribution with so many degrees of freedom above and below the line.

    Examples
    --------
    >>> round(f(0.95, 10, 20), 4)
    2.3479
    """
    # The smaller tail keeps the digits: F with exchanged degrees of freedom is one over F.
    if probability > 0.5:
        return 1 / f(1 - probability, below, above)
    part = _beta_quantile(probability, above / 2, below / 2)
    return below * part / (above * (1 - part))


@lru_cache(maxsize=256)
def chi_squared(probability: float, freedom: float) -> float:
    """Return the quantile of the chi-squared distribution.

    Examples
    --------
    >>> round(chi_squared(0.95, 3), 4)
    7.8147
    """
    high = freedom + 1.0
    while _gamma_part(freedom / 2, high / 2) < probability:
        high *= 2
    return _halve(lambda x: _gamma_part(freedom / 2, x / 2), probability, 0.0, high)


def beta_part(x: float, a: float, b: float) -> float:
    """Return the regularised incomplete beta function, the part of a beta distribution that lies below ``x``.

    Examples
    --------
    >>> round(beta_part(0.5, 2, 2), 12)
    0.5
    """
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_part(1 - x, b, a)
    front = math.exp(a * math.log(x) + b * math.log1p(-x) - (math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b))) / a
    # Lentz's way through the continued fraction.
    c, d = 1.0, 1.0 / _away(1 - (a + b) * x / (a + 1))
    fraction = d
    for m in range(1, 100_000):
        for term in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 / _away(1 + term * d)
            c = _away(1 + term / c)
            fraction *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return front * fraction


def _away(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def _gamma_part(a: float, x: float) -> float:
    if x <= 0:
        return 0.0
    term = total = 1 / a
    step = a
    while abs(term) > abs(total) * 1e-17:
        step += 1
        term *= x / step
        total += term
    return total * math.exp(a * math.log(x) - x - math.lgamma(a))


def _beta_quantile(probability: float, a: float, b: float) -> float:
    return _halve(lambda x: beta_part(x, a, b), probability, 0.0, 1.0)


def _halve(below: Callable[[float], float], probability: float, low: float, high: float) -> float:
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if below(middle) < probability:
            low = middle
        else:
            high = middle
    return (low + high) / 2
