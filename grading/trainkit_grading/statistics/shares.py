"""Shares of people or answers, with Wilson's interval.

``wilson`` is the score interval of E. B. Wilson (1927, *JASA* 22, 209-212), which R. G. Newcombe (1998, *Statistics in
Medicine* 17, 857-872) recommends as his method 3: with ``p`` of ``n`` and the normal quantile ``z``::

    (p + z²/2n ± z √(p(1-p)/n + z²/4n²)) / (1 + z²/n)

It stays inside 0 and 1 and says something even of 0 out of 5, unlike ``p ± z √(p(1-p)/n)``. ``difference`` puts two of
them together (Newcombe 1998, *Statistics in Medicine* 17, 873-890, method 10; page from memory).
"""

from __future__ import annotations

import math

from trainkit_grading.errors import StatisticsError
from trainkit_grading.statistics.quantiles import normal
from trainkit_grading.statistics.values import CONFIDENCE, LEAST, Estimate, Figure, Interval, Withheld, check_confidence


def wilson(successes: float, n: int, confidence: float = CONFIDENCE) -> Interval:
    """Return Wilson's interval for a share.

    Parameters
    ----------
    successes : float
        How many of ``n``; need not be whole: part points make the interval a little too wide, never too narrow,
        because nothing between 0 and 1 with a given mean varies more than 0s and 1s do.
    n : int
        Number of cases, at least 1.
    confidence : float
        How sure the interval is meant to be.

    Returns
    -------
    Interval
        Inside 0 and 1, around ``successes / n``.

    Raises
    ------
    StatisticsError
        If ``successes`` does not lie between 0 and ``n``, or there are no cases.

    Examples
    --------
    >>> print(wilson(81, 263).text(4))
    95 % interval 0.2553 to 0.3662
    """
    check_confidence(confidence)
    if n < 1 or not 0 <= successes <= n:
        raise StatisticsError(
            f"{successes:g} of {n}", rule="A share is of at least one case.", remedy="Give 0 to n of n cases."
        )
    z = normal((1 + confidence) / 2)
    p = successes / n
    middle = p + z * z / (2 * n)
    half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    below = 1 + z * z / n
    # Rounding must not put the limits past the share itself, nor past what can be.
    low = 0.0 if successes == 0 else max(0.0, min((middle - half) / below, p))
    high = 1.0 if successes == n else min(1.0, max((middle + half) / below, p))
    return Interval(low, high, confidence, "Wilson")


def difference(first: float, of_first: int, second: float, of_second: int, confidence: float = CONFIDENCE) -> Interval:
    """Return the interval for the difference of two shares of different people.

    Examples
    --------
    >>> print(difference(9, 11, 3, 11).text())
    95 % interval 0.13 to 0.76
    """
    one, other = wilson(first, of_first, confidence), wilson(second, of_second, confidence)
    p, q = first / of_first, second / of_second
    low = p - q - math.hypot(p - one.low, other.high - q)
    high = p - q + math.hypot(one.high - p, q - other.low)
    return Interval(max(-1.0, low), min(1.0, high), confidence, "Newcombe, from Wilson's limits")


def share(
    successes: float,
    n: int,
    *,
    name: str = "share",
    what: str = "How many of them, as a part of 1.",
    of: str = "people",
    subject: str = "",
    confidence: float = CONFIDENCE,
    least: int = LEAST["share"],
) -> Figure:
    """Return a share with Wilson's interval.

    Parameters
    ----------
    successes, n, confidence
        As for :func:`wilson`, but ``n`` may be 0.
    name, what, of, subject : str
        What the figure is called, what it says, what a case is, and what it is about.
    least : int
        From how many cases it is given.

    Returns
    -------
    Estimate or Withheld
        Withheld below ``least`` cases.

    Examples
    --------
    >>> print(share(8, 10, name="passed"))
    passed 0.80 (95 % interval 0.49 to 0.94; 10 people)
    >>> print(share(2, 3, name="passed"))
    passed: 3 people are too few; it is given from 5 on.
    """
    if n < max(least, 1):
        return Withheld.too_few(name, what, n, of, max(least, 1), subject)
    return Estimate(name, what, n, of, successes / n, wilson(successes, n, confidence), subject=subject)
