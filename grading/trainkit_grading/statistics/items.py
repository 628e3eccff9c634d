"""How one item works: difficulty, corrected point-biserial, and discrimination between upper and lower group.

Formulas and words are those of textbooks on testing (R. L. Ebel & D. A. Frisbie 1991, *Essentials of Educational
Measurement*; L. Crocker & J. Algina 1986, *Introduction to Classical and Modern Test Theory*, chapter 14; from memory).
All take everybody's marks in the same items. For templates whose draws differ from person to person there is
:mod:`~trainkit_grading.statistics.draws`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainkit_grading.errors import StatisticsError
from trainkit_grading.statistics.matrix import matrix, most_of, names_of
from trainkit_grading.statistics.quantiles import student
from trainkit_grading.statistics.shares import difference, share
from trainkit_grading.statistics.values import CONFIDENCE, LEAST, Estimate, Figure, Interval, Withheld, check_confidence

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray


_DIFFICULTY = "The part of its points that people earned: 0 nobody anything, 1 everybody everything."
_BISERIAL = "How those who do well in the rest do in this question: above 0 better, below 0 worse."
_WITH_TOTAL = "How those who do well in all, this question counted in, do in this question."
_GROUPS = "How much more of its points the upper group earned than the lower."


def difficulty(
    scores: ArrayLike,
    *,
    most: ArrayLike = 1.0,
    items: Sequence[str] | None = None,
    confidence: float = CONFIDENCE,
    least: int = LEAST["share"],
) -> tuple[Figure, ...]:
    """Return the difficulty of each item: the mean part of its points, with Wilson's interval.

    Parameters
    ----------
    scores : array_like
        Points, one row a person, one column an item; None where there is no mark, and that person does not count there.
    most : float or array_like
        Most points of the items, one number or one for each.
    items : sequence of str, optional
        Names of the columns.
    confidence : float
        How sure the intervals are meant to be. With part points they are a little too wide.
    least : int
        From how many people it is given.

    Returns
    -------
    tuple of Estimate or Withheld
        One for each item.

    Raises
    ------
    StatisticsError
        If points are below zero or above the most.

    Examples
    --------
    >>> for found in difficulty([[1, 0], [1, 1], [1, 0], [0.5, 0], [1, None]], items=["A1", "A2"]):
    ...     print(found)
    A1: difficulty 0.90 (95 % interval 0.46 to 0.99; 5 people)
    A2: difficulty: 4 people are too few; it is given from 5 on.
    """
    import numpy as np

    found = matrix(scores)
    names = names_of(items, found.shape[1])
    parts = found / most_of(most, found.shape[1])
    there = ~np.isnan(parts)
    if found.size and (np.nanmin(parts, initial=0) < 0 or np.nanmax(parts, initial=0) > 1 + 1e-9):
        wrong = parts[there & ((parts < 0) | (parts > 1))]
        raise StatisticsError(
            float(wrong[0]), rule="Nobody earns less than none or more than all points.", remedy="Check `most`."
        )
    counts = there.sum(axis=0)
    earned = np.minimum(np.nansum(parts, axis=0), counts)
    return tuple(
        share(
            float(earned[at]),
            int(counts[at]),
            name="difficulty",
            what=_DIFFICULTY,
            subject=name,
            confidence=confidence,
            least=least,
        )
        for at, name in enumerate(names)
    )


def point_biserial(
    scores: ArrayLike,
    *,
    items: Sequence[str] | None = None,
    corrected: bool = True,
    confidence: float = CONFIDENCE,
    least: int = LEAST["discrimination"],
) -> tuple[Figure, ...]:
    """Return the correlation of each item with the total of the others.

    Corrected means that the item itself is left out of the total: with it, even an item that has nothing to do with the
    others goes along with the total. For an item with part points it is the ordinary correlation. The interval is on
    Fisher's scale ``atanh r``, with the error worked out from each person's own influence (a sandwich; the influence of
    a standardised pair ``u, v`` is ``uv - r (u² + v²) / 2``), because marks of 0 and 1 are not spread as the usual
    ``1 / √(n - 3)`` supposes. Where nearly everybody is right, a few people carry all of it and the sandwich comes out
    too small: it counts for no less than the usual one.

    Parameters
    ----------
    scores : array_like
        Points, one row a person, one column an item. Whoever lacks a mark is left out altogether.
    items : sequence of str, optional
        Names of the columns.
    corrected : bool
        Whether the item is left out of the total.
    confidence : float
        How sure the intervals are meant to be.
    least : int
        From how many people it is given.

    Returns
    -------
    tuple of Estimate or Withheld
        One for each item; withheld also where everybody earned the same in it, or in all the others together.

    Raises
    ------
    StatisticsError
        If the points are no matrix of numbers, or names and columns do not agree.

    Examples
    --------
    >>> quiz = [[1, 1, 1, 0], [1, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0], [1, 1, 1, 1], [1, 0, 1, 0]]
    >>> print(point_biserial(quiz, least=6)[1])
    item 2: corrected point-biserial 0.52 (95 % interval −0.72 to 0.97; 6 people)
    """
    import numpy as np

    found = matrix(scores)
    names = names_of(items, found.shape[1])
    check_confidence(confidence)
    name = "corrected point-biserial" if corrected else "point-biserial with the total"
    what = _BISERIAL if corrected else _WITH_TOTAL
    found = found[~np.isnan(found).any(axis=1)]
    n, k = found.shape
    least = max(least, 4)
    if n < least:
        return tuple(Withheld.too_few(name, what, n, "people", least, subject) for subject in names)
    if k < 2:
        why = "It needs other questions to compare with."
        return tuple(Withheld(name, what, n, "people", why, subject) for subject in names)
    own = found - found.mean(axis=0)
    total = own.sum(axis=1, keepdims=True)
    rest = total - own if corrected else np.broadcast_to(total, own.shape)
    u, flat_item = _standardised(own, np.abs(found).max(axis=0))
    v, flat_rest = _standardised(rest, np.abs(found).sum(axis=1).max())
    values, errors = correlated(u, v)
    flat = dict.fromkeys(np.flatnonzero(flat_rest).tolist(), "Everybody earned the same in all the others.")
    flat |= dict.fromkeys(np.flatnonzero(flat_item).tolist(), "Everybody earned the same in it.")
    reach = student((1 + confidence) / 2, n - 1)
    return tuple(
        Withheld(name, what, n, "people", flat[at], subject)
        if at in flat
        else estimate_of_correlation(
            name, what, n, "people", float(values[at]), float(errors[at]), n - 3, reach, confidence, subject
        )
        for at, subject in enumerate(names)
    )


def _standardised(
    centred: NDArray[np.float64], scale: NDArray[np.float64] | np.float64
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return columns with a mean square of 1, and which of them do not vary."""
    import numpy as np

    spread = np.sqrt(np.einsum("ij,ij->j", centred, centred) / len(centred))
    flat = spread <= 1e-9 * np.maximum(scale, 1e-300)
    return centred / np.where(flat, 1.0, spread), flat


def correlated(u: NDArray[np.float64], v: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the correlations of standardised columns and their errors, from each row's influence.

    Examples
    --------
    >>> import numpy as np
    >>> u = np.array([[-1.0], [1.0], [-1.0], [1.0]])
    >>> [float(found[0]) for found in correlated(u, u)]
    [1.0, 0.0]
    """
    import numpy as np

    n = len(u)
    values = np.einsum("ij,ij->j", u, v) / n
    influence = u * v
    influence -= (u * u + v * v) * (values / 2)
    return np.clip(values, -1.0, 1.0), np.sqrt(np.einsum("ij,ij->j", influence, influence) / (n * (n - 1)))


def estimate_of_correlation(
    name: str,
    what: str,
    n: int,
    of: str,
    value: float,
    error: float,
    free: float,
    reach: float,
    confidence: float,
    subject: str,
) -> Estimate:
    """Return a correlation with its interval on Fisher's scale, where the error is at least ``1 / √free``.

    Examples
    --------
    >>> print(estimate_of_correlation("r", "Goes along.", 30, "people", 0.5, 0.15, 27, 1.96, 0.95, ""))
    r 0.50 (95 % interval 0.16 to 0.74; 30 people)
    """
    if abs(value) >= 1 - 1e-12:
        interval = Interval(value, value, confidence, "Fisher's z")
    else:
        half = reach * max(error / (1 - value * value), 1 / math.sqrt(max(free, 1.0)))
        interval = Interval(
            math.tanh(math.atanh(value) - half), math.tanh(math.atanh(value) + half), confidence, "Fisher's z"
        )
    return Estimate(name, what, n, of, value, interval, error, subject)


def discrimination(
    scores: ArrayLike,
    *,
    most: ArrayLike = 1.0,
    items: Sequence[str] | None = None,
    part: float = 0.27,
    confidence: float = CONFIDENCE,
    least: int = LEAST["discrimination"],
) -> tuple[Figure, ...]:
    """Return how much better the upper group did in each item than the lower.

    Groups are the ``part`` of people with the highest and the lowest totals, in whole people, by default 27 in a
    hundred (T. L. Kelley 1939, *Journal of Educational Psychology* 30, 17-24).

    **The rule for ties**: who has the same total as the last one of a group shares the places that are left. Of six
    people with that total and two places each counts by a third. So the figure is the mean over all ways to choose,
    and the order in which people are listed does not matter; another rule can move it by 0.2.

    The interval is Newcombe's for a difference of shares. It takes the groups for given.

    Parameters
    ----------
    scores, most, items, confidence, least
        As for :func:`difficulty`, but whoever lacks a mark is left out altogether.
    part : float
        How many of all people are in each group, above 0 and at most 0.5.

    Returns
    -------
    tuple of Estimate or Withheld
        One for each item; withheld also where everybody has the same total.

    Raises
    ------
    StatisticsError
        If the points are no matrix of numbers, or the part is none.

    Examples
    --------
    >>> quiz = [[1, 1, 1, 0], [1, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0], [1, 1, 1, 1], [1, 0, 1, 0]]
    >>> print(discrimination(quiz, part=0.5, least=6)[2])
    item 3: discrimination 0.67 (95 % interval −0.07 to 0.88; 6 people)
    """
    import numpy as np

    found = matrix(scores)
    names = names_of(items, found.shape[1])
    check_confidence(confidence)
    if not 0 < part <= 0.5:
        raise StatisticsError(part, rule="A group is at most half of the people.", remedy="Write 0.27.")
    found = found[~np.isnan(found).any(axis=1)]
    n, _ = found.shape
    parts = found / most_of(most, found.shape[1])
    name = "discrimination"
    if n < max(least, 2):
        return tuple(Withheld.too_few(name, _GROUPS, n, "people", max(least, 2), subject) for subject in names)
    # Totals that are the same up to rounding are the same.
    totals = np.round(found.sum(axis=1), 9)
    if totals.min() == totals.max():
        why = "Everybody has the same total, so there is no upper group."
        return tuple(Withheld(name, _GROUPS, n, "people", why, subject) for subject in names)
    size = max(1, math.floor(part * n + 0.5))
    size = min(size, n // 2)
    upper = np.clip(group_weights(-totals, size) @ parts, 0, size)
    lower = np.clip(group_weights(totals, size) @ parts, 0, size)
    return tuple(
        Estimate(
            name,
            _GROUPS,
            n,
            "people",
            float(upper[at] - lower[at]) / size,
            difference(float(upper[at]), size, float(lower[at]), size, confidence),
            subject=subject,
        )
        for at, subject in enumerate(names)
    )


def group_weights(totals: NDArray[np.float64], size: int) -> NDArray[np.float64]:
    """Return by how much each person counts in the group of the lowest ``size`` totals; who is tied shares.

    Examples
    --------
    >>> import numpy as np
    >>> group_weights(np.array([1.0, 2.0, 2.0, 5.0]), 2).tolist()
    [1.0, 0.5, 0.5, 0.0]
    """
    import numpy as np

    edge = np.partition(totals, size - 1)[size - 1]
    inside, tied = totals < edge, totals == edge
    weights = inside.astype(np.float64)
    weights[tied] = (size - inside.sum()) / tied.sum()
    return np.asarray(weights)
