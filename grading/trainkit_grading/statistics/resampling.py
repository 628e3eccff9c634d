"""Intervals by resampling, where no formula stands.

People are drawn again with replacement, the figure is worked out each time, and the middle part of what comes out is
the interval (percentile bootstrap: Efron & Tibshirani 1993, *An Introduction to the Bootstrap*, chapter 13; chapter
from memory). Its limits: with few people it comes out too narrow; a figure at the edge of what can be, such as an
agreement of 1, has an interval of no width. The stream is seeded, so that a report that is made again is the same.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from trainkit_grading.errors import StatisticsError
from trainkit_grading.statistics.values import CONFIDENCE, Interval, check_confidence

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray


TIMES = 1000
SEED = 20270401
# Resamples in which the figure does not exist (nobody failed, say) are left out; with more of them than this part
# there is no interval.
_LOST = 0.05
UNSURE = "Too unsure to show: with a few other people there might be no figure at all."


def resampled(n: int, times: int, seed: int = SEED) -> NDArray[np.float64]:
    """Return how often each of ``n`` cases comes up in each resample: an array of ``times`` by ``n``.

    Examples
    --------
    >>> resampled(4, 3).sum(axis=1).tolist()
    [4.0, 4.0, 4.0]
    """
    import numpy as np

    rng = np.random.default_rng(seed)
    counts = np.empty((times, n))
    for row in counts:
        row[:] = np.bincount(rng.integers(0, n, n), minlength=n)
    return counts


def percentiles(values: ArrayLike, confidence: float = CONFIDENCE) -> Interval | None:
    """Return the middle part of resampled values; None where too many of them do not exist.

    Examples
    --------
    >>> print(percentiles(range(101), 0.9).text())
    90 % interval 5.00 to 95.00
    """
    import numpy as np

    found = np.asarray(values, dtype=np.float64)
    there = found[np.isfinite(found)]
    if not len(there) or len(there) < (1 - _LOST) * len(found):
        return None
    low, high = np.quantile(there, [(1 - confidence) / 2, (1 + confidence) / 2])
    return Interval(float(low), float(high), confidence, "percentile bootstrap")


def bootstrap(
    figure: Callable[[NDArray[np.float64]], float],
    cases: ArrayLike,
    *,
    times: int = TIMES,
    seed: int = SEED,
    confidence: float = CONFIDENCE,
) -> Interval | None:
    """Return an interval for any figure of cases, by resampling the rows.

    Parameters
    ----------
    figure : callable
        Takes an array of cases, gives a number; not a number where there is none.
    cases : array_like
        One row a case. The cases are put in order first, so that the order in which they come does not matter.
    times, seed : int
        How often to resample, and the seed of the stream.
    confidence : float
        How sure the interval is meant to be.

    Returns
    -------
    Interval or None
        None where the figure does not exist in more than a twentieth of the resamples.

    Raises
    ------
    StatisticsError
        If there are no cases.

    Examples
    --------
    >>> found = bootstrap(lambda rows: float(rows.mean()), [3, 5, 4, 8, 6, 7, 5, 4])
    >>> round(found.low, 1), round(found.high, 1)
    (4.2, 6.4)
    """
    import numpy as np

    check_confidence(confidence)
    rows = np.asarray(cases, dtype=np.float64)
    if not rows.ndim or not len(rows):
        raise StatisticsError(0, rule="Resampling needs cases.", remedy="Give one row a case.")
    rows = np.sort(rows) if rows.ndim == 1 else rows[np.lexsort(rows.T)]
    rng = np.random.default_rng(seed)
    return percentiles([figure(rows[rng.integers(0, len(rows), len(rows))]) for _ in range(times)], confidence)
