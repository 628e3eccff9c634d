"""How sure the decision to pass somebody is: whether another form would have decided the same.

The method is that of S. A. Livingston & C. Lewis (1995, *Journal of Educational Measurement* 32, 179-197), in its plain
form. It takes points of any kind, part points and unequal weights too:

1. From mean ``m`` and variance ``s²`` of the part of all points that people earned, and from the reliability ``r``
   (alpha), comes the *effective length*: how many right-or-wrong items, all alike and independent, would measure as
   sharply, ``(m (1 - m) - r s²) / (s² (1 - r))``.
2. What people are worth follows a beta distribution with the mean ``m`` and the variance ``r s²`` (two parameters).
3. Somebody who is worth ``t`` reaches the cut with the probability ``P(t)``, a binomial tail of that length; the
   incomplete beta function gives it for lengths that are no whole number.
4. Two forms decide the same with ``∫ P² + (1 - P)²``, over what people are worth. By chance alone, with as many
   passing, it would be ``q² + (1 - q)²``; kappa is how far above that it lies.

With right-or-wrong items and KR-21 for ``r`` it is the method of H. Huynh (1976, *Journal of Educational Measurement*
13, 253-264): pages of both papers from memory. M. J. Subkoviak's (1976) takes each person's own estimate instead of a
distribution, and needs marks of 0 and 1; the bivariate normal one of Peng & Subkoviak (1980) fits badly where many are
near full points, as here.

Its limits
----------
It is a model: the share that it says would pass stands beside the one that did, and where they differ by much it does
not fit. It says nothing of whether the cut is right, nor of what else decides (a critical error, a sign-off). It
supposes that another form would be as hard. The interval comes from resampling people, alpha and all.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit_grading.errors import StatisticsError
from trainkit_grading.statistics.matrix import matrix, most_of
from trainkit_grading.statistics.mixture import Mixture
from trainkit_grading.statistics.reliability import alpha, resampled_alpha, standard_error_of_measurement
from trainkit_grading.statistics.resampling import UNSURE, percentiles
from trainkit_grading.statistics.shares import share
from trainkit_grading.statistics.values import CONFIDENCE, LEAST, Estimate, Figure, Withheld

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray


_SAME = "How many people another form would have decided in the same way."
_KAPPA = "The same beyond chance: 0 is what drawing lots would reach, 1 is always."
_AGAIN = "How likely another form would decide the same for somebody with these points."
_NEAR = "The part of people within one error of measurement of the cut."
_NAMES = ("decision consistency", "decision kappa", "near the cut")
# Resamples for the interval: it takes a model each.
_TIMES = 300
# Nodes of each of them: what lies between resamples is far more than what lies between these and more nodes.
_FEWER = 20
# Of more different points than this near the cut, those of one per cent are told together.
_MANY = 40


@dataclass(frozen=True, slots=True)
class Borderline:
    """What the decision about people with these points is worth.

    Parameters
    ----------
    percent : float
        What they reached.
    people : int
        How many have as much.
    passed : bool
        What was decided.
    again : Estimate or Withheld
        How likely another form would decide the same.
    """

    percent: float
    people: int
    passed: bool
    again: Figure


@dataclass(frozen=True, slots=True)
class Decisions:
    """How sure the decisions at a cut score are.

    Parameters
    ----------
    cut : float
        The cut score, in per cent.
    passing : Estimate or Withheld
        The part of people who reached it.
    modelled : float or None
        The part that the model says would; beside ``passing`` it shows whether the model fits.
    consistency, kappa : Estimate or Withheld
        How many another form would have decided in the same way, plainly and beyond chance.
    near : Estimate or Withheld
        The part of people whose points lie within one error of measurement of the cut.
    borderline : tuple of Borderline
        These points, from the lowest; where there are many different ones, in steps of one per cent from the cut.
    effective_length : float or None
        How many right-or-wrong items would measure as sharply.
    """

    cut: float
    passing: Figure
    modelled: float | None
    consistency: Figure
    kappa: Figure
    near: Figure
    borderline: tuple[Borderline, ...] = ()
    effective_length: float | None = None


def decision_consistency(
    scores: ArrayLike,
    cut: float,
    *,
    most: ArrayLike = 1.0,
    forms: Sequence[Hashable] | None = None,
    over_draws: bool = False,
    confidence: float = CONFIDENCE,
    least: int | None = None,
) -> Decisions:
    """Return how sure the decisions at a cut score are, by Livingston and Lewis.

    Parameters
    ----------
    scores : array_like
        Points, one row a person, one column an item.
    cut : float
        The cut score in per cent of all points, above 0 and at most 100.
    most : float or array_like
        Most points of the items.
    forms, over_draws
        As for :func:`~trainkit_grading.statistics.reliability.alpha`.
    confidence : float
        How sure the intervals are meant to be.
    least : int, optional
        From how many people it is given.

    Returns
    -------
    Decisions
        Read-only; figures are withheld where alpha is, where it is not above zero, and where resampling shows that it
        might well not be.

    Raises
    ------
    StatisticsError
        If the points are no matrix of numbers, or the cut is none.

    Examples
    --------
    >>> import random
    >>> rng = random.Random(7)
    >>> people = [rng.betavariate(6, 2) for _ in range(200)]
    >>> found = decision_consistency([[rng.random() < able for _ in range(20)] for able in people], 70)
    >>> print(found.consistency)
    decision consistency 0.82 (95 % interval 0.79 to 0.84; 200 people)
    """
    import numpy as np

    if not 0 < cut <= 100:
        raise StatisticsError(cut, rule="A cut score is above 0 and at most 100 per cent.", remedy="Write 70.")
    found = matrix(scores)
    n, k = found.shape
    points = most_of(most, k)
    if found.size and (np.nanmin(found, initial=0) < 0 or (found > points * (1 + 1e-9)).any()):
        raise StatisticsError("points", rule="Nobody earns less than none or more than all.", remedy="Check `most`.")
    reliability = alpha(found, forms=forms, over_draws=over_draws, confidence=confidence, least=least)
    whole = float(points.sum()) if k else 1.0
    parts = found.sum(axis=1) / whole
    percents = np.round(100 * parts, 6)
    known = ~np.isnan(percents)
    passed = percents >= cut
    passing = share(
        int(passed[known].sum()),
        int(known.sum()),
        name="passing",
        what="The part of people who reached the cut.",
        confidence=confidence,
        least=LEAST["share"] if least is None else min(least, LEAST["share"]),
    )
    if isinstance(reliability, Withheld):
        return _none(cut, passing, n, reliability.why)
    if reliability.value <= 0:
        return _none(cut, passing, n, "Alpha is not above zero: these questions cannot tell people apart.")
    boundary = _boundary(found, points, cut)
    mixture = Mixture.of(np.array([parts.mean()]), np.array([parts.var(ddof=1)]), np.array([reliability.value]))
    drawn = _resampled(found, parts)
    said, drawn_said = mixture.decided(boundary), drawn.decided(boundary)
    if not np.isfinite(said.same[0]):
        return _none(cut, passing, n, "All questions gave each person the same: nothing varies in them.")
    error = standard_error_of_measurement(found, forms=forms, over_draws=over_draws, least=least)
    within = 100 * error.value / whole if isinstance(error, Estimate) else 0.0
    close = np.abs(percents - cut) <= within
    near = share(int(close.sum()), n, name=_NAMES[2], what=_NEAR, confidence=confidence, least=min(n, LEAST["share"]))
    around, beyond_chance = percentiles(drawn_said.same, confidence), percentiles(drawn_said.kappa, confidence)
    if around is None:
        return _none(cut, passing, n, UNSURE)
    same = Estimate(_NAMES[0], _SAME, n, "people", float(said.same[0]), around)
    beyond: Figure = Withheld(_NAMES[1], _KAPPA, n, "people", "By the model nearly everybody is decided alike anyway.")
    if np.isfinite(said.kappa[0]) and beyond_chance is not None:
        beyond = Estimate(_NAMES[1], _KAPPA, n, "people", float(said.kappa[0]), beyond_chance)
    border = _borderline(percents[close], cut, boundary, (mixture, drawn), n, confidence)
    return Decisions(cut, passing, float(said.passing[0]), same, beyond, near, border, float(mixture.length[0]))


def _none(cut: float, passing: Figure, n: int, why: str) -> Decisions:
    same, beyond, near = (
        Withheld(name, what, n, "people", why) for name, what in zip(_NAMES, (_SAME, _KAPPA, _NEAR), strict=True)
    )
    return Decisions(cut, passing, None, same, beyond, near)


def _borderline(
    percents: NDArray[np.float64],
    cut: float,
    boundary: float,
    models: tuple[Mixture, Mixture],
    n: int,
    confidence: float,
) -> tuple[Borderline, ...]:
    """Return what decisions near the cut are worth, in steps of one per cent where many different points are."""
    import numpy as np

    values, counts = np.unique(percents, return_counts=True)
    reached = values / 100
    if len(values) > _MANY:
        values, counts = np.unique(cut + np.floor(percents - cut), return_counts=True)
        reached = np.clip(values + 0.5, 0, 100) / 100
    again, drawn = (model.again(boundary, reached) for model in models)
    found = []
    for at, (percent, people) in enumerate(zip(values.tolist(), counts.tolist(), strict=True)):
        up = percent >= cut
        likely, many = (again[0, at], drawn[:, at]) if up else (1 - again[0, at], 1 - drawn[:, at])
        name, about, interval = "same decision", f"{percent:.4g} %", percentiles(many, confidence)
        figure: Figure = Withheld(name, _AGAIN, n, "people", UNSURE, about)
        if interval is not None:
            figure = Estimate(name, _AGAIN, n, "people", float(likely), interval, subject=about)
        found.append(Borderline(percent, people, up, figure))
    return tuple(found)


def _boundary(found: NDArray[np.float64], points: NDArray[np.float64], cut: float) -> float:
    """Return the part of all points between the highest that fails and the lowest that passes.

    With items of one weight that are right or wrong there are few possible totals, and the middle between two of them
    is the boundary; else it is the cut itself.
    """
    import numpy as np

    k = len(points)
    one = float(points[0])
    if not (points == one).all() or not ((found == 0) | (found == one)).all():
        return cut / 100
    lowest = int(np.argmax(np.round(100 * np.arange(k + 1) / k, 6) >= cut))
    return (lowest - 0.5) / k


def _resampled(found: NDArray[np.float64], parts: NDArray[np.float64]) -> Mixture:
    """Return the model in resamples of the people."""
    import numpy as np

    n = len(found)
    # In an order of its own, so that the one in which people are listed changes nothing.
    order = np.argsort(found @ np.sqrt(np.arange(2, found.shape[1] + 2)), kind="stable")
    found, parts = found[order], parts[order]
    values, counts = resampled_alpha(found, _TIMES)
    mean = counts @ parts / n
    variance = np.maximum(counts @ (parts - parts.mean()) ** 2 / n - (mean - parts.mean()) ** 2, 0) * n / (n - 1)
    return Mixture.of(mean, variance, values, _FEWER)
