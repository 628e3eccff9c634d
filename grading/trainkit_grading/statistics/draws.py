"""How one template works, over all its draws: the point-biserial, pooled.

A template makes another item each time it is drawn, and each apprentice has draws of their own. So there is no column
of marks in one and the same question to correlate with the rest. What there is, is a random draw from a template,
answered by a person of whom it is known how they did in the rest.

The model
---------
The mark of person ``p`` in a draw ``d`` of a template is ``m + h_d + c·z_p + e``: a mean, how much harder or easier
this draw is, how well the person does otherwise, and chance. Which draw somebody gets hangs on nothing that they know.

- **Within totals**: ``z`` is the rest of the person's points in the same assessment, standardised among all who sat it
  (same module, same attempt). So totals of different lengths and cohorts of different strength can be put together:
  only who is better *in the same assessment* counts.
- **Within draws**: marks and ``z`` are centred among those who answered the same, given by ``draws``; then ``h_d`` is
  gone. A draw that one person alone answered says nothing then and drops out, and ``n`` says how many are left. Where
  nearly every draw is answered once, leave ``draws`` out: marks are centred within the assessment, and ``h_d`` stays in
  them as chance. It cannot make a bad template look good, for the draw hangs on nothing; it makes the figure smaller,
  by the root of the part of the marks' variance that is not ``h``.

The figure is ``Σuz / √(Σu² Σz²)`` over all that is left, the correlation within groups (a partial correlation given
the group). Its error takes the answers of one person together (cluster sandwich), so a template that is asked twice
does not count people double. The interval is on Fisher's scale; the error counts there for no less than the usual
``1 / √(n - groups - 2)``.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import TYPE_CHECKING, Any

from trainkit.sentences import counted
from trainkit_grading.errors import StatisticsError
from trainkit_grading.statistics.items import estimate_of_correlation
from trainkit_grading.statistics.matrix import column
from trainkit_grading.statistics.quantiles import student
from trainkit_grading.statistics.values import CONFIDENCE, LEAST, Figure, Withheld, check_confidence

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray


_NAME = "pooled point-biserial"
_WHAT = "How those who do well in the rest do in this template: above 0 better, below 0 worse."
# Numbers of groups are looked up in a table as long as it takes no more than so many places an answer.
_ROOM = 8


def pooled_point_biserials(
    templates: Sequence[Hashable],
    scores: ArrayLike,
    rest: ArrayLike,
    totals: Sequence[Hashable],
    *,
    people: Sequence[Hashable],
    draws: Sequence[Hashable] | None = None,
    confidence: float = CONFIDENCE,
    least: int = LEAST["discrimination"],
) -> dict[Any, Figure]:
    """Return the pooled point-biserial of each template.

    Parameters
    ----------
    templates : sequence
        Of each answer: which template it is of.
    scores : array_like
        What it earned, as a part of the item's points; None where there is no mark, and it does not count.
    rest : array_like
        What the same person earned in the other items of the same assessment, as a part of their points.
    totals : sequence
        Which assessment that is: module and attempt, say. Within it ``rest`` is standardised.
    people : sequence
        Whose answer it is.
    draws : sequence, optional
        What counts as the same question; left out, what is in the same assessment.
    confidence : float
        How sure the intervals are meant to be.
    least : int
        From how many people it is given.

    Returns
    -------
    dict of template to Estimate or Withheld
        In the order in which templates first come; ``n`` counts answers.

    Raises
    ------
    StatisticsError
        If the sequences differ in length, or something is no number.

    Examples
    --------
    >>> found = pooled_point_biserials(
    ...     ["mesh"] * 6, [1, 0, 1, 1, 0, 1], [0.9, 0.2, 0.6, 0.8, 0.4, 0.5], ["gears 1"] * 6, people=range(6), least=6)
    >>> print(found["mesh"])
    mesh: pooled point-biserial 0.80 (95 % interval −0.37 to 0.99; 6 answers)
    """
    import numpy as np

    check_confidence(confidence)
    marks, others = column(scores), column(rest)
    labels = [_coded(labels) for labels in (templates, totals, people, totals if draws is None else draws)]
    lengths = {len(marks), len(others), *(len(codes) for codes, _ in labels)}
    if len(lengths) > 1:
        raise StatisticsError(
            sorted(lengths),
            rule="Each answer has a template, points, a rest, an assessment and a person.",
            remedy="Give as many of each.",
        )
    (template, names), (total, _), (person, _), (draw, _) = labels
    kept = ~(np.isnan(marks) | np.isnan(others))
    z = _standardised(others, total, kept)
    group = _paired(template, draw)
    marks, z = marks[kept], z[kept]
    template, person, group = template[kept], person[kept], group[kept]
    group = _dense(group)
    sizes = np.bincount(group)
    several = sizes[group] > 1
    u = marks - (np.bincount(group, marks) / sizes)[group]
    v = z - (np.bincount(group, z) / sizes)[group]
    u, v, template, person = u[several], v[several], template[several], person[several]
    many = len(names)
    uu, vv, uv = (np.bincount(template, each, many) for each in (u * u, v * v, u * v))
    n = np.bincount(template, minlength=many)
    group = group[several]
    home = np.full(len(sizes), -1)
    home[group] = template
    groups = np.bincount(home[home >= 0], minlength=many)
    # Below this, what varies is rounding.
    flat_mark, flat_rest = uu <= 1e-18 * np.maximum(n, 1), vv <= 1e-18 * np.maximum(n, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        values = np.clip(uv / np.sqrt(uu * vv), -1.0, 1.0)
        influence = u * v / np.sqrt(uu * vv)[template]
        influence -= values[template] / 2 * (u * u / uu[template] + v * v / vv[template])
    of_person = _dense(_paired(template, person))
    one = np.bincount(of_person, influence)
    owner = np.zeros(len(one), dtype=np.int64)
    owner[of_person] = template
    clusters = np.bincount(owner, minlength=many)
    squares = np.bincount(owner, one * one, many)
    least = max(least, 4)

    def figure(at: int, name: str) -> Figure:
        answers, heads = int(n[at]), int(clusters[at])
        if heads < least:
            return Withheld.too_few(_NAME, _WHAT, heads, "people", least, name)
        if flat_mark[at] or flat_rest[at]:
            what = "everybody earned the same" if flat_mark[at] else "everybody did equally well in the rest"
            why = f"In {counted(answers, 'answer', grouped=True)} {what}."
            return Withheld(_NAME, _WHAT, answers, "answers", why, name)
        error = float(np.sqrt(squares[at] * heads / (heads - 1)))
        reach = student((1 + confidence) / 2, heads - 1)
        free = answers - int(groups[at]) - 2
        value = float(values[at])
        return estimate_of_correlation(_NAME, _WHAT, answers, "answers", value, error, free, reach, confidence, name)

    return {name: figure(at, str(name)) for at, name in enumerate(names)}


def pooled_point_biserial(
    scores: ArrayLike,
    rest: ArrayLike,
    totals: Sequence[Hashable],
    *,
    people: Sequence[Hashable],
    draws: Sequence[Hashable] | None = None,
    template: str = "template",
    confidence: float = CONFIDENCE,
    least: int = LEAST["discrimination"],
) -> Figure:
    """Return the pooled point-biserial of one template; see :func:`pooled_point_biserials`.

    Raises
    ------
    StatisticsError
        If the sequences differ in length, or something is no number.

    Examples
    --------
    >>> print(pooled_point_biserial([1, 0, 1], [0.9, 0.2, 0.6], ["gears 1"] * 3, people=range(3)))
    template: pooled point-biserial: 3 people are too few; it is given from 30 on.
    """
    marks = column(scores)
    names = [template] * len(marks)
    found = pooled_point_biserials(
        names, marks, rest, totals, people=people, draws=draws, confidence=confidence, least=least
    )
    return found.get(template, Withheld.too_few(_NAME, _WHAT, 0, "people", max(least, 4), template))


def _coded(labels: Sequence[Hashable]) -> tuple[NDArray[np.int64], list[Any]]:
    """Return a number for each label, and the labels in the order in which they first come."""
    import numpy as np

    if isinstance(labels, range):
        return np.arange(len(labels)), list(labels)
    kind = getattr(labels, "dtype", None)
    if kind is not None and len(labels) and np.issubdtype(kind, np.integer):
        numbers = np.asarray(labels, dtype=np.int64)
        base = numbers - numbers.min()
        if int(base.max()) < _ROOM * len(base):
            # Whole numbers near each other need no sorting.
            first = np.full(int(base.max()) + 1, -1)
            first[base[::-1]] = np.arange(len(base))[::-1]
            met = np.flatnonzero(first >= 0)
            met = met[np.argsort(first[met])]
            code = np.zeros(len(first), dtype=np.int64)
            code[met] = np.arange(len(met))
            return code[base], numbers[first[met]].tolist()
    seen: dict[Hashable, int] = {}
    plain = np.asarray(labels).tolist() if kind is not None else labels
    return np.fromiter((seen.setdefault(label, len(seen)) for label in plain), np.int64, len(labels)), list(seen)


def _paired(one: NDArray[np.int64], other: NDArray[np.int64]) -> NDArray[np.int64]:
    return one * (int(other.max(initial=0)) + 1) + other


def _dense(codes: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the same groups numbered without gaps."""
    import numpy as np

    if not len(codes) or int(codes.max()) > _ROOM * len(codes):
        return np.unique(codes, return_inverse=True)[1]
    there = np.zeros(int(codes.max()) + 1, dtype=np.int64)
    there[codes] = 1
    return (np.cumsum(there) - 1)[codes]


def _standardised(
    others: NDArray[np.float64], total: NDArray[np.int64], kept: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Return the rest with mean 0 and spread 1 within each assessment; 0 where all of it is the same there."""
    import numpy as np

    use = np.where(kept, others, 0.0)
    many = int(total.max(initial=0)) + 1
    count = np.maximum(np.bincount(total, kept, many), 1)
    mean = np.bincount(total, use, many) / count
    off = np.where(kept, use - mean[total], 0.0)
    spread = np.sqrt(np.bincount(total, off * off, many) / count)
    return np.asarray(off / np.where(spread > 1e-9, spread, np.inf)[total])
