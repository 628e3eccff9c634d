"""Whether two who mark the same work agree: their agreement, and Cohen's kappa.

``kappa`` (J. Cohen 1960, *Educational and Psychological Measurement* 20, 37-46) is how far they agree beyond what two
would who know nothing of each other's marks, ``(po - pe) / (1 - pe)``. Weighted (Cohen 1968, *Psychological Bulletin*
70, 213-220), a near miss counts in part: in steps of the scale with ``linear``, ``1 - |i - j| / (c - 1)``, or their
square with ``quadratic``. Its error is that of J. L. Fleiss, J. Cohen & B. S. Everitt (1969, *Psychological Bulletin*
72, 323-327)::

    (1 - pe)⁻² n⁻¹ · { Σ p_ij [w_ij - (w_i. + w_.j)(1 - κ)]² - [κ - pe (1 - κ)]² }

Kappa hangs on how common each mark is: where nearly everything is a pass, it comes out low though both nearly always
agree. So it never stands without the plain agreement beside it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Sequence
from typing import Any, Literal

from trainkit_grading.errors import StatisticsError
from trainkit_grading.statistics.quantiles import normal
from trainkit_grading.statistics.shares import share, wilson
from trainkit_grading.statistics.values import CONFIDENCE, LEAST, Estimate, Figure, Interval, Withheld, check_confidence

Weights = Literal["none", "linear", "quadratic"]

_KAPPA = "How far two markers agree beyond chance: 0 is chance, 1 is always."


def agreement(
    first: Sequence[Hashable],
    second: Sequence[Hashable],
    *,
    confidence: float = CONFIDENCE,
    least: int = LEAST["share"],
) -> Figure:
    """Return the part of pieces of work to which both gave the same.

    Raises
    ------
    StatisticsError
        If they did not mark as many.

    Examples
    --------
    >>> print(agreement("PPFPPFPP", "PPFPPPPP"))
    agreement 0.88 (95 % interval 0.53 to 0.98; 8 pieces of work)
    """
    _same_length(first, second)
    same = sum(one == other for one, other in zip(first, second, strict=True))
    what = "The part of the work to which both gave the same."
    return share(same, len(first), name="agreement", what=what, of="pieces of work", confidence=confidence, least=least)


def kappa(
    first: Sequence[Hashable],
    second: Sequence[Hashable],
    *,
    categories: Sequence[Hashable] | None = None,
    weights: Weights = "none",
    confidence: float = CONFIDENCE,
    least: int = LEAST["kappa"],
) -> Figure:
    """Return Cohen's kappa with its error and interval.

    The interval is ``κ ± z · error``, cut at 1 and -1. Where both always agree the error is nought and says nothing:
    then the lower limit comes from Wilson's for the agreement, ``(p - pe) / (1 - pe)``.

    Parameters
    ----------
    first, second : sequence
        What each gave to the same pieces of work, in the same order.
    categories : sequence, optional
        The scale in its order; needed with weights. Without them the marks that were given will do.
    weights : str
        ``"none"``, ``"linear"`` or ``"quadratic"``.
    confidence : float
        How sure the interval is meant to be.
    least : int
        From how many pieces of work it is given.

    Returns
    -------
    Estimate or Withheld
        Withheld below ``least``, and where both gave everything one and the same mark.

    Raises
    ------
    StatisticsError
        If they did not mark as many, a mark is not on the scale, or a weighted kappa has no scale.

    Examples
    --------
    >>> first = ["yes"] * 25 + ["no"] * 25
    >>> second = ["yes"] * 20 + ["no"] * 5 + ["yes"] * 10 + ["no"] * 15
    >>> print(kappa(first, second))
    kappa 0.40 (95 % interval 0.15 to 0.65; 50 pieces of work)
    """
    check_confidence(confidence)
    _same_length(first, second)
    scale = _scale(first, second, categories, weights)
    name = "kappa" if weights == "none" else f"{weights} weighted kappa"
    n, of = len(first), "pieces of work"
    if n < max(least, 2):
        return Withheld.too_few(name, _KAPPA, n, of, max(least, 2))
    place = {category: at for at, category in enumerate(scale)}
    pairs = Counter(zip(first, second, strict=True))
    cells = {(place[one], place[other]): count / n for (one, other), count in pairs.items()}
    rows, columns = [0.0] * len(scale), [0.0] * len(scale)
    for (i, j), part in cells.items():
        rows[i] += part
        columns[j] += part
    w = [[_weight(i, j, len(scale), weights) for j in range(len(scale))] for i in range(len(scale))]
    by_row = [math.fsum(w[i][j] * columns[j] for j in range(len(scale))) for i in range(len(scale))]
    by_column = [math.fsum(w[i][j] * rows[i] for i in range(len(scale))) for j in range(len(scale))]
    observed = math.fsum(w[i][j] * part for (i, j), part in cells.items())
    expected = math.fsum(rows[i] * by_row[i] for i in range(len(scale)))
    if 1 - expected <= 1e-12:
        why = "Both gave everything the same mark, so nothing shows whether they tell good work from poor."
        return Withheld(name, _KAPPA, n, of, why)
    value = (observed - expected) / (1 - expected)
    spread = math.fsum(
        part * (w[i][j] - (by_row[i] + by_column[j]) * (1 - value)) ** 2 for (i, j), part in cells.items()
    )
    variance = (spread - (value - expected * (1 - value)) ** 2) / (n * (1 - expected) ** 2)
    error = math.sqrt(max(0.0, variance))
    if all(i == j for i, j in cells):
        low = max(-1.0, (wilson(n, n, confidence).low - expected) / (1 - expected))
        return Estimate(name, _KAPPA, n, of, 1.0, Interval(low, 1.0, confidence, "from Wilson's for the agreement"))
    half = normal((1 + confidence) / 2) * error
    interval = Interval(max(-1.0, value - half), min(1.0, value + half), confidence, "Fleiss, Cohen and Everitt")
    return Estimate(name, _KAPPA, n, of, value, interval, error)


def _same_length(first: Sequence[Hashable], second: Sequence[Hashable]) -> None:
    if len(first) != len(second):
        raise StatisticsError(
            f"{len(first)} and {len(second)}",
            rule="Two who are compared marked the same work.",
            remedy="Give both marks of each piece of work, in the same order.",
        )


def _scale(
    first: Sequence[Hashable], second: Sequence[Hashable], categories: Sequence[Hashable] | None, weights: Weights
) -> list[Any]:
    met = dict.fromkeys([*first, *second])
    if categories is not None:
        scale = list(dict.fromkeys(categories))
        if strange := [category for category in met if category not in scale]:
            raise StatisticsError(
                strange[0], rule="Every mark is one of the scale.", remedy=f"The scale is {', '.join(map(str, scale))}."
            )
        return scale
    if weights == "none":
        return list(met)
    raise StatisticsError(
        weights,
        rule="A weighted kappa needs to know which marks are near each other.",
        remedy="Give the scale in its order as `categories`.",
    )


def _weight(i: int, j: int, many: int, weights: Weights) -> float:
    if weights == "none" or many < 2:
        return float(i == j)
    away = abs(i - j) / (many - 1)
    return 1 - (away if weights == "linear" else away * away)
