"""What a reliability means for one person's points: errors, true points, and how long a test has to be.

All of these are formulas of classical test theory (Lord & Novick 1968, *Statistical Theories of Mental Test Scores*,
chapters 3 and 5; chapters from memory). They take numbers and give numbers: how sure a reliability is stands in
:mod:`~trainkit_grading.statistics.reliability`.
"""

from __future__ import annotations

import math

from trainkit_grading.errors import StatisticsError


def error_of_measurement(spread: float, reliability: float) -> float:
    """Return how far observed points lie from true ones, ``s √(1 - r)``.

    Parameters
    ----------
    spread : float
        Standard deviation of the observed points.
    reliability : float
        At most 1.

    Raises
    ------
    StatisticsError
        If the spread is negative, or the reliability above 1.

    Examples
    --------
    >>> round(error_of_measurement(15, 0.96), 9)
    3.0
    """
    _check(spread, reliability)
    return spread * math.sqrt(1 - reliability)


def error_of_estimate(spread: float, reliability: float) -> float:
    """Return how far true points lie from those estimated by :func:`true_points`, ``s √(r (1 - r))``.

    Raises
    ------
    StatisticsError
        If the spread is negative, or the reliability not between 0 and 1.

    Examples
    --------
    >>> round(error_of_estimate(100, 0.9), 9)
    30.0
    """
    _check(spread, reliability, 0.0)
    return spread * math.sqrt(reliability * (1 - reliability))


def error_of_prediction(spread: float, reliability: float) -> float:
    """Return how far the points of another form lie from those predicted by this one, ``s √(1 - r²)``.

    Raises
    ------
    StatisticsError
        If the spread is negative, or the reliability not between 0 and 1.

    Examples
    --------
    >>> round(error_of_prediction(100, 0.9), 3)
    43.589
    """
    _check(spread, reliability, 0.0)
    return spread * math.sqrt(1 - reliability * reliability)


def true_points(observed: float, mean: float, reliability: float) -> float:
    """Return the points that a person is most likely worth, drawn towards the mean (Kelley's formula).

    Raises
    ------
    StatisticsError
        If the reliability does not lie between 0 and 1.

    Examples
    --------
    >>> round(true_points(700, 500, 0.9), 9)
    680.0
    """
    _check(0.0, reliability, 0.0)
    return mean + reliability * (observed - mean)


def lengthened(reliability: float, times: float) -> float:
    """Return the reliability of a test that is so many times longer (Spearman 1910, Brown 1910).

    Raises
    ------
    StatisticsError
        If the reliability does not lie between 0 and 1, or the length is not above zero.

    Examples
    --------
    >>> round(lengthened(0.6, 2), 12)
    0.75
    """
    _check(0.0, reliability, 0.0)
    if not times > 0:
        raise StatisticsError(times, rule="A length is above zero.", remedy="Write 2 for twice as long.")
    return times * reliability / (1 + (times - 1) * reliability)


def times_longer(reliability: float, wanted: float) -> float:
    """Return how many times longer a test has to be for a wanted reliability: :func:`lengthened` solved for it.

    Raises
    ------
    StatisticsError
        If one of them does not lie between 0 and 1, both left out.

    Examples
    --------
    >>> round(10 * times_longer(0.7, 0.9), 3)  # ten items become 39
    38.571
    """
    for value in (reliability, wanted):
        if not 0 < value < 1:
            raise StatisticsError(
                value,
                rule="No length changes a reliability of 0 or 1, and none leads there.",
                remedy="Give reliabilities between 0 and 1.",
            )
    return wanted * (1 - reliability) / (reliability * (1 - wanted))


def binomial_error(points: float, items: int) -> float:
    """Return the error of measurement at these points, if all items were equally hard, ``√(x (k - x) / (k - 1))``.

    F. M. Lord (1955, *Educational and Psychological Measurement* 15, 325-336). It is largest in the middle and nought
    at both ends; as items differ, it is a little too large.

    Raises
    ------
    StatisticsError
        If there are fewer than two items, or more points than items.

    Examples
    --------
    >>> round(binomial_error(8, 10), 4)
    1.3333
    """
    if items < 2 or not 0 <= points <= items:
        raise StatisticsError(
            f"{points:g} of {items}", rule="Points lie between 0 and two items or more.", remedy="Check both numbers."
        )
    return math.sqrt(points * (items - points) / (items - 1))


def _check(spread: float, reliability: float, lowest: float = -math.inf) -> None:
    if not spread >= 0:
        raise StatisticsError(spread, rule="A standard deviation is not negative.", remedy="Give the spread of points.")
    if not lowest <= reliability <= 1:
        least = "between 0 and 1" if lowest == 0 else "at most 1"
        raise StatisticsError(reliability, rule=f"A reliability is {least}.", remedy="Work it out again from points.")
