"""Cut scores: what judges say it should be, and what each possible one would decide.

``angoff`` is the method that a footnote of W. H. Angoff (1971, in *Educational Measurement*, 2nd ed., pp. 514-515; page
from memory) gave its name: judges think of somebody who is only just competent and say of each item how likely that
person is to get it right. The sum over items is a judge's cut score, the mean over judges the cut score. Its standard
error is that of a mean, ``s / √J``, over judges as if they had been drawn from all who could have judged; with few of
them the interval is Student's with ``J - 1`` degrees of freedom, and wide.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.sentences import counted
from trainkit_grading.errors import StatisticsError
from trainkit_grading.statistics.matrix import column, matrix, most_of, names_of
from trainkit_grading.statistics.quantiles import chi_squared, student
from trainkit_grading.statistics.shares import share
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
    from numpy.typing import ArrayLike


_CUT = "What somebody who is only just competent would earn, as the judges see it, in points."
_SPREAD = "How far the judges' own cut scores lie apart: a standard deviation, in points."


@dataclass(frozen=True, slots=True)
class Judge:
    """What one judge's ratings come to: a cut score of their own, and how far it is from the mean, in points."""

    name: str
    cut: float
    away: float


@dataclass(frozen=True, slots=True)
class JudgedItem:
    """How hard the judges take one item for: mean rating, standard deviation between them, lowest and highest."""

    name: str
    mean: float
    spread: float
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True)
class Angoff:
    """A cut score from judges' ratings.

    Parameters
    ----------
    cut : Estimate or Withheld
        The cut score in points, with its standard error and interval.
    percent : Estimate or Withheld
        The same as a percentage of all points.
    spread : Estimate or Withheld
        How far the judges lie apart, in points.
    judges : tuple of Judge
        One for each row.
    items : tuple of JudgedItem
        The one about which judges differ most first: talk about these.
    """

    cut: Figure
    percent: Figure
    spread: Figure
    judges: tuple[Judge, ...]
    items: tuple[JudgedItem, ...]


def angoff(
    ratings: ArrayLike,
    *,
    most: ArrayLike = 1.0,
    judges: Sequence[str] | None = None,
    items: Sequence[str] | None = None,
    confidence: float = CONFIDENCE,
    least: int = LEAST["judges"],
) -> Angoff:
    """Return the cut score that judges' ratings come to.

    Parameters
    ----------
    ratings : array_like
        One row a judge, one column an item: how likely somebody who is only just competent is to get it right, 0 to 1;
        for an item with part points the part that they would earn.
    most : float or array_like
        Most points of the items.
    judges, items : sequence of str, optional
        Names of rows and columns.
    confidence : float
        How sure the intervals are meant to be.
    least : int
        From how many judges it is given.

    Returns
    -------
    Angoff
        Read-only; its figures are withheld with too few judges.

    Raises
    ------
    StatisticsError
        If a rating is missing or does not lie between 0 and 1, or names do not agree with rows and columns.

    Examples
    --------
    >>> found = angoff([[0.9, 0.8, 0.5, 0.6], [0.9, 0.9, 0.45, 0.6], [0.95, 0.9, 0.5, 0.55]], items=list("ABCD"))
    >>> print(found.cut)
    cut score 2.85 (95 % interval 2.73 to 2.97; 3 judges)
    >>> round(found.cut.error, 4), found.items[0].name
    (0.0289, 'B')
    """
    import numpy as np

    found = matrix(ratings)
    people, many = found.shape
    check_confidence(confidence)
    of_judge = names_of(judges, people) if judges is not None else tuple(f"judge {at}" for at in range(1, people + 1))
    of_item = names_of(items, many)
    wrong = np.argwhere(~((found >= 0) & (found <= 1)))
    if len(wrong):
        row, at = (int(number) for number in wrong[0])
        raise StatisticsError(
            None if np.isnan(found[row, at]) else float(found[row, at]),
            rule="A rating is how likely a right answer is, from 0 to 1.",
            remedy="Ask the judge again; write 0.7 for seven in ten.",
            place=f"{of_judge[row]}, {of_item[at]}",
        )
    points = most_of(most, many)
    all_points = float(points.sum())
    sums = found @ points
    mean = float(sums.mean()) if people else 0.0
    told = tuple(Judge(name, float(cut), float(cut) - mean) for name, cut in zip(of_judge, sums, strict=True))
    between = found.std(axis=0, ddof=1) if people > 1 else np.zeros(many)
    judged = [
        JudgedItem(
            name,
            float(found[:, at].mean()),
            float(between[at]),
            float(found[:, at].min()),
            float(found[:, at].max()),
        )
        for at, name in enumerate(of_item)
        if people
    ]
    judged.sort(key=lambda item: -round(item.spread, 12))
    cut, percent, spread = _of_judges(sums.tolist(), all_points, confidence, max(least, 2))
    return Angoff(cut, percent, spread, told, tuple(judged))


def _of_judges(sums: list[float], most: float, confidence: float, least: int) -> tuple[Figure, Figure, Figure]:
    n = len(sums)
    named = (("cut score", _CUT), ("cut score in per cent", _CUT.replace("points", "per cent")), ("spread", _SPREAD))
    if n < least:
        cut, percent, spread = (Withheld.too_few(name, what, n, "judges", least) for name, what in named)
        return cut, percent, spread
    mean = math.fsum(sums) / n
    apart = math.sqrt(math.fsum((one - mean) ** 2 for one in sums) / (n - 1))
    error = apart / math.sqrt(n)
    half = student((1 + confidence) / 2, n - 1) * error
    # No judge can say less than none or more than all points.
    low, high = max(0.0, mean - half), min(most, mean + half)
    scaled = 100 / most if most else 0.0
    limits = [
        apart * math.sqrt((n - 1) / chi_squared(tail, n - 1)) for tail in ((1 + confidence) / 2, (1 - confidence) / 2)
    ]
    interval = Interval(low, high, confidence, "Student's t")
    in_percent = Interval(low * scaled, high * scaled, confidence, "Student's t")
    around = Interval(limits[0], limits[1], confidence, "chi-squared")
    (first, first_what), (second, second_what), (third, third_what) = named
    return (
        Estimate(first, first_what, n, "judges", mean, interval, error),
        Estimate(second, second_what, n, "judges", mean * scaled, in_percent, error * scaled),
        Estimate(third, third_what, n, "judges", apart, around),
    )


@dataclass(frozen=True, slots=True)
class CutRow:
    """What one cut score would decide.

    Parameters
    ----------
    cut : float
        The cut score, in per cent of all points.
    passing, n : int
        How many would pass, of how many.
    share : Estimate or Withheld
        The same as a part of 1, with Wilson's interval.
    barred : int
        How many reach it but do not pass, because something else stands in the way.
    """

    cut: float
    passing: int
    n: int
    share: Figure
    barred: int = 0

    def __str__(self) -> str:
        return f"{self.cut:g} %: {self.passing:,} of {counted(self.n, 'person', 'people', grouped=True)} would pass"


def cut_table(
    percents: ArrayLike,
    *,
    cuts: Iterable[float] = range(0, 101, 5),
    barred: Sequence[bool] | None = None,
    confidence: float = CONFIDENCE,
    least: int = LEAST["share"],
) -> tuple[CutRow, ...]:
    """Return what each possible cut score would decide.

    A person passes who reaches the cut score and is not barred. As in the score sheet, a percentage counts by its first
    six decimals.

    Parameters
    ----------
    percents : array_like
        What each person reached, in per cent of all points; None where nothing is settled yet, and it does not count.
    cuts : iterable of float
        The cut scores to be tried.
    barred : sequence of bool, optional
        Whether something else stands in the way, such as a critical error.
    confidence : float
        How sure the intervals are meant to be.
    least : int
        From how many people a share is given; the counts always are.

    Returns
    -------
    tuple of CutRow
        By cut score.

    Raises
    ------
    StatisticsError
        If something is no number, or there are not as many ``barred`` as people.

    Examples
    --------
    >>> for row in cut_table([85, 70, 69.9, 40, 92], cuts=[70, 80], barred=[False, False, False, False, True]):
    ...     print(row, "-", row.share)
    70 %: 2 of 5 people would pass - passing 0.40 (95 % interval 0.12 to 0.77; 5 people)
    80 %: 1 of 5 people would pass - passing 0.20 (95 % interval 0.04 to 0.62; 5 people)
    """
    import numpy as np

    found = column(percents)
    stopped = np.zeros(len(found), dtype=bool) if barred is None else np.asarray(barred, dtype=bool)
    if len(stopped) != len(found):
        raise StatisticsError(
            len(stopped), rule=f"There are {len(found)} people.", remedy="Say of each whether they are barred."
        )
    there = ~np.isnan(found)
    reached = np.round(found, 6)
    free, held = np.sort(reached[there & ~stopped]), np.sort(reached[there & stopped])
    n = int(there.sum())
    rows = []
    for cut in sorted(set(cuts)):
        passing = len(free) - int(np.searchsorted(free, cut, "left"))
        also = len(held) - int(np.searchsorted(held, cut, "left"))
        part = share(
            passing,
            n,
            name="passing",
            what="The part of all that would pass.",
            subject="",
            confidence=confidence,
            least=least,
        )
        rows.append(CutRow(float(cut), passing, n, part, also))
    return tuple(rows)
