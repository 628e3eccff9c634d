"""How far an assessment ranks people alike each time: alpha, KR-20, KR-21, and the error of measurement.

``alpha`` (L. J. Cronbach 1951, *Psychometrika* 16, 297-334) for ``k`` items with variances ``v`` and the variance ``V``
of totals is::

    k / (k - 1) · (1 - Σv / V)

with one and the same divisor in all variances. ``kr20`` (G. F. Kuder & M. W. Richardson 1937, *Psychometrika* 2,
151-160) is the same for marks of 0 and 1, where ``v = p (1 - p)``; to take the other divisor for ``V`` is a common slip
and gives another number. ``kr21`` of the same paper takes all items for equally hard.

The interval is that of L. S. Feldt (1965, *Psychometrika* 30, 357-370): ``(1 - alpha) / (1 - â)`` follows an F
distribution with ``n - 1`` and ``(n - 1)(k - 1)`` degrees of freedom. It supposes that people answer independently of
each other and that what is left beside person and item varies alike everywhere; `tests/bench/statistics_coverage.py`
of the repository says how it fares with marks of 0 and 1.

Forms that differ
-----------------
Alpha compares how the same people answered the same questions. Where everybody had other questions, it is withheld:
columns hold different things then. ``over_draws`` states another model, in which it stands again: a column is a place
in the blueprint, each person has a draw of their own from that place's pool, and how hard the draw happened to be
counts as error. That is the reliability of "a form by chance", the one that matters to whoever is passed or failed by
it. It is lower than that of one fixed form, and it needs more people. Forms here are put together so that their totals
come out even; the figure does not know it and comes out a little too low.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from typing import TYPE_CHECKING

from trainkit.sentences import counted, noun
from trainkit_grading.errors import StatisticsError
from trainkit_grading.statistics.matrix import matrix, names_of, same_form
from trainkit_grading.statistics.quantiles import f, normal
from trainkit_grading.statistics.resampling import TIMES, UNSURE, percentiles, resampled
from trainkit_grading.statistics.values import (
    CONFIDENCE,
    LEAST,
    Estimate,
    Figure,
    Interval,
    Withheld,
    check_confidence,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray


_ALPHA = "How alike the questions rank people: 0 is chance, 1 would be the same order each time."
_OVER = "How alike forms by chance would rank people: 0 is chance, 1 would be the same order each time."
_SEM = "How far a person's points lie, by chance, from what they are worth: a standard deviation, in points."


def feldt(value: float, people: int, items: int, confidence: float = CONFIDENCE) -> Interval:
    """Return Feldt's interval for an alpha.

    Raises
    ------
    StatisticsError
        If there are fewer than two people or items, or alpha is above 1.

    Examples
    --------
    >>> print(feldt(0.295, 1000, 5).text())
    95 % interval 0.22 to 0.36
    """
    check_confidence(confidence)
    if people < 2 or items < 2 or value > 1:
        raise StatisticsError(
            f"alpha {value:g} of {people} by {items}",
            rule="An alpha is at most 1 and comes from two people and two items or more.",
            remedy="Check what it was worked out from.",
        )
    low, high = (
        1 - (1 - value) * f(tail, people - 1, (people - 1) * (items - 1))
        for tail in ((1 + confidence) / 2, (1 - confidence) / 2)
    )
    return Interval(low, high, confidence, "Feldt")


def alpha(
    scores: ArrayLike,
    *,
    forms: Sequence[Hashable] | None = None,
    over_draws: bool = False,
    confidence: float = CONFIDENCE,
    least: int | None = None,
) -> Figure:
    """Return Cronbach's alpha.

    Parameters
    ----------
    scores : array_like
        Points, one row a person, one column an item (with ``over_draws`` a place in the blueprint).
    forms : sequence, optional
        Which form each person sat; everybody the same where it is left out.
    over_draws : bool
        Whether forms may differ because everybody has draws of their own; see the module.
    confidence : float
        How sure the interval is meant to be.
    least : int, optional
        From how many people it is given; lower it only to repeat a published example.

    Returns
    -------
    Estimate or Withheld
        Withheld where people are too few or sat different forms, marks are missing, items fewer than two, or all totals
        the same.

    Raises
    ------
    StatisticsError
        If the points are no matrix of numbers.

    Examples
    --------
    >>> quiz = [[1, 1, 1, 0], [1, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0], [1, 1, 1, 1]]
    >>> print(alpha(quiz))
    alpha: 5 people are too few; it is given from 30 on.
    >>> print(alpha(quiz, least=5))
    alpha 0.80 (95 % interval 0.18 to 0.98; 5 people)
    >>> print(alpha(quiz, forms=[1, 2, 3, 4, 5], least=5))
    alpha: 5 people sat 5 different forms. It compares answers to the same questions.
    """
    found = matrix(scores)
    name, what = ("alpha over draws", _OVER) if over_draws else ("alpha", _ALPHA)
    check_confidence(confidence)
    if (none := _why_none(name, what, found, forms, over_draws, least)) is not None:
        return none
    value = _alpha(found)
    return Estimate(name, what, len(found), "people", value, feldt(value, found.shape[0], found.shape[1], confidence))


def kr20(
    scores: ArrayLike,
    *,
    forms: Sequence[Hashable] | None = None,
    confidence: float = CONFIDENCE,
    least: int | None = None,
) -> Figure:
    """Return the Kuder-Richardson formula 20, which is alpha for marks of 0 and 1.

    Parameters, returned value and errors are those of :func:`alpha`; marks other than 0 and 1 are an error.

    Examples
    --------
    >>> print(kr20([[1, 1, 1, 0], [1, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0], [1, 1, 1, 1]], least=5))
    KR-20 0.80 (95 % interval 0.18 to 0.98; 5 people)
    """
    found = matrix(scores)
    _only_right_and_wrong(found, "KR-20")
    check_confidence(confidence)
    if (none := _why_none("KR-20", _ALPHA, found, forms, False, least)) is not None:
        return none
    n, k = found.shape
    right = found.mean(axis=0)
    value = min(1.0, float(k / (k - 1) * (1 - (right * (1 - right)).sum() / found.sum(axis=1).var())))
    return Estimate("KR-20", _ALPHA, n, "people", value, feldt(value, n, k, confidence))


def kr21(
    scores: ArrayLike,
    *,
    forms: Sequence[Hashable] | None = None,
    confidence: float = CONFIDENCE,
    least: int | None = None,
) -> Figure:
    """Return the Kuder-Richardson formula 21, which takes all items for equally hard: ``KR-20`` or less.

    Its interval comes from resampling people. Parameters, returned value and errors are those of :func:`kr20`.

    Examples
    --------
    >>> found = kr21([[1, 1, 1, 0], [1, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0], [1, 1, 1, 1]], least=5)
    >>> round(found.value, 6)
    0.666667
    """
    import numpy as np

    found = matrix(scores)
    _only_right_and_wrong(found, "KR-21")
    check_confidence(confidence)
    what = "KR-20 as it would be if all questions were equally hard."
    if (none := _why_none("KR-21", what, found, forms, False, least)) is not None:
        return none
    n, k = found.shape
    # It hangs on the totals alone: resampling their counts does.
    totals, times = np.unique(found.sum(axis=1), return_counts=True)
    value = float(_kr21(totals, times[None, :].astype(np.float64), n, k)[0])
    drawn = np.random.default_rng(TIMES).multinomial(n, times / n, TIMES)
    interval = percentiles(_kr21(totals, drawn.astype(np.float64), n, k), confidence)
    if interval is None:
        return Withheld("KR-21", what, n, "people", UNSURE)
    return Estimate("KR-21", what, n, "people", value, interval)


def _kr21(totals: NDArray[np.float64], times: NDArray[np.float64], n: int, k: int) -> NDArray[np.float64]:
    import numpy as np

    mean = times @ totals / n
    variance = times @ totals**2 / n - mean**2
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(variance > 0, k / (k - 1) * (1 - mean * (k - mean) / (k * variance)), np.nan)


def alpha_without(
    scores: ArrayLike,
    *,
    items: Sequence[str] | None = None,
    forms: Sequence[Hashable] | None = None,
    over_draws: bool = False,
    confidence: float = CONFIDENCE,
    least: int | None = None,
) -> tuple[Figure, ...]:
    """Return what alpha would be without each of the items; where it rises, the item does not go with the others.

    Parameters
    ----------
    scores, forms, over_draws, confidence, least
        As for :func:`alpha`.
    items : sequence of str, optional
        Names of the columns.

    Returns
    -------
    tuple of Estimate or Withheld
        One for each item.

    Raises
    ------
    StatisticsError
        If the points are no matrix of numbers, or names and columns do not agree.

    Examples
    --------
    >>> quiz = [[1, 1, 1, 0], [1, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0], [1, 1, 1, 1]]
    >>> [round(found.value, 3) for found in alpha_without(quiz, least=5)]
    [0.794, 0.692, 0.692, 0.794]
    """
    import numpy as np

    found = matrix(scores)
    names = names_of(items, found.shape[1])
    check_confidence(confidence)
    about, what = "alpha without it", "What alpha would be without this question."
    if (none := _why_none(about, what, found, forms, over_draws, least, needs=3)) is not None:
        return tuple(Withheld(about, what, none.n, none.of, none.why, name) for name in names)
    n, k = found.shape
    centred = found - found.mean(axis=0)
    total = centred.sum(axis=1)
    own = np.einsum("ij,ij->j", centred, centred)
    left = total @ total - 2 * (total @ centred) + own
    with np.errstate(divide="ignore", invalid="ignore"):
        values = np.minimum((k - 1) / (k - 2) * (1 - (own.sum() - own) / left), 1.0)
    flat = left <= 1e-12 * max(1.0, float(total @ total))
    return tuple(
        Withheld(about, what, n, "people", "Without it everybody has the same total.", name)
        if flat[at]
        else Estimate(
            about, what, n, "people", float(values[at]), feldt(float(values[at]), n, k - 1, confidence), subject=name
        )
        for at, name in enumerate(names)
    )


def standard_error_of_measurement(
    scores: ArrayLike,
    *,
    forms: Sequence[Hashable] | None = None,
    over_draws: bool = False,
    confidence: float = CONFIDENCE,
    least: int | None = None,
) -> Figure:
    """Return the standard error of measurement, ``s √(1 - alpha)``, in points.

    It is also the root of ``k`` times the mean square that is left beside person and item (C. Hoyt 1941,
    *Psychometrika* 6, 153-160). That mean square is a mean over people, each with a sum of squares of their own, so its
    interval comes from how much these differ: on the logarithm, by the normal distribution. Nothing is supposed about
    how points are spread.

    Parameters
    ----------
    scores, forms, over_draws, confidence, least
        As for :func:`alpha`.

    Returns
    -------
    Estimate or Withheld
        Withheld where alpha is.

    Raises
    ------
    StatisticsError
        If the points are no matrix of numbers.

    Examples
    --------
    >>> quiz = [[1, 1, 1, 0], [1, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0], [1, 1, 1, 1]]
    >>> print(standard_error_of_measurement(quiz, least=5))
    standard error of measurement 0.71 (95 % interval 0.62 to 0.81; 5 people)
    """
    found = matrix(scores)
    name = "standard error of measurement"
    check_confidence(confidence)
    if (none := _why_none(name, _SEM, found, forms, over_draws, least)) is not None:
        return none
    n, k = found.shape
    left = found - found.mean(axis=0)
    left -= left.mean(axis=1, keepdims=True)
    squares = (left**2).sum(axis=1)
    value = math.sqrt(k * squares.sum() / ((n - 1) * (k - 1)))
    if not value:
        return Withheld(name, _SEM, n, "people", "All questions gave each person the same: nothing varies in them.")
    # The error of a mean, as a part of it; the root halves it.
    relative = float(squares.std(ddof=1)) / math.sqrt(n) / float(squares.mean()) / 2
    reach = math.exp(normal((1 + confidence) / 2) * relative)
    interval = Interval(value / reach, value * reach, confidence, "normal, on the logarithm")
    return Estimate(name, _SEM, n, "people", value, interval, value * relative)


def resampled_alpha(scores: NDArray[np.float64], times: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return alpha in resamples of the people, and how often each person came up in each: for what rests on alpha.

    Examples
    --------
    >>> import numpy as np
    >>> values, counts = resampled_alpha(np.array([[1.0, 1.0], [0.0, 1.0], [0.0, 0.0]]), 4)
    >>> values.shape, counts.shape
    ((4,), (4, 3))
    """
    import numpy as np

    n, k = scores.shape
    counts = resampled(n, times)
    total = scores.sum(axis=1)
    mean_square = counts @ np.einsum("ij,ij->i", scores, scores) / n
    items = mean_square - ((counts @ scores / n) ** 2).sum(axis=1)
    whole = counts @ total**2 / n - (counts @ total / n) ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(whole > 1e-12, k / (k - 1) * (1 - items / whole), np.nan), counts


def _alpha(found: NDArray[np.float64]) -> float:
    k = found.shape[1]
    # Rounding must not lead past what can be.
    return min(1.0, float(k / (k - 1) * (1 - found.var(axis=0).sum() / found.sum(axis=1).var())))


def _only_right_and_wrong(found: NDArray[np.float64], name: str) -> None:
    import numpy as np

    there = found[~np.isnan(found)]
    others = there[(there != 0) & (there != 1)]
    if len(others):
        raise StatisticsError(
            float(others[0]), rule=f"{name} is for marks of 0 and 1.", remedy="Use alpha where there are part points."
        )


def _why_none(
    name: str,
    what: str,
    found: NDArray[np.float64],
    forms: Sequence[Hashable] | None,
    over_draws: bool,
    least: int | None,
    needs: int = 2,
) -> Withheld | None:
    """Say why there is no figure of this family, or nothing where there is one."""
    import numpy as np

    n, k = found.shape
    different = same_form(forms, n)
    if least is None:
        least = LEAST["reliability over draws" if over_draws else "reliability"]
    if n < max(least, 2):
        return Withheld.too_few(name, what, n, "people", max(least, 2))
    why = ""
    if k < needs:
        why = f"{counted(k, 'question is', 'questions are', grouped=True)} too few; it needs {needs}."
    elif different > 1 and not over_draws:
        sat = f"{counted(n, 'person', 'people', grouped=True)} sat {different:,} different forms."
        why = f"{sat} It compares answers to the same questions."
    elif missing := int(np.isnan(found).sum()):
        why = f"{counted(missing, 'mark', grouped=True)} of {found.size:,} {noun(missing, 'is', 'are')} missing."
    elif np.ptp(total := found.sum(axis=1)) <= 1e-9 * max(1.0, float(np.abs(total).max())):
        why = "Everybody has the same total, so it cannot tell people apart."
    return Withheld(name, what, n, "people", why) if why else None
