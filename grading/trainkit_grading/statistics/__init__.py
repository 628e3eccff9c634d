"""Statistics of assessments: each figure with its number of cases and its interval, or the words why there is none.

Functions take plain lists (or arrays) and return read-only values: an :class:`Estimate`, or a :class:`Withheld` where
cases are too few (:data:`LEAST`) or cannot give the figure. Numbers that cannot be points at all are a
:class:`~trainkit_grading.errors.StatisticsError`. Each module states its formulas, their sources and their limits.

numpy is loaded when a matrix is first worked on, so that commands which need no figure start without it. Speed:
``tests/bench/bench_statistics.py``; how often intervals hold the true value: ``tests/bench/statistics_coverage.py``.

Examples
--------
>>> quiz = [[1, 1, 1, 0], [1, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0], [1, 1, 1, 1]] * 6
>>> print(alpha(quiz))
alpha 0.80 (95 % interval 0.65 to 0.90; 30 people)
>>> print(alpha(quiz[:14]))
alpha: 14 people are too few; it is given from 30 on.
"""

from __future__ import annotations

from trainkit_grading.statistics.cuts import Angoff, CutRow, Judge, JudgedItem, angoff, cut_table
from trainkit_grading.statistics.decisions import Borderline, Decisions, decision_consistency
from trainkit_grading.statistics.distractors import RIGHT, OptionChosen, Taken, options
from trainkit_grading.statistics.draws import pooled_point_biserial, pooled_point_biserials
from trainkit_grading.statistics.items import difficulty, discrimination, point_biserial
from trainkit_grading.statistics.markers import Weights, agreement, kappa
from trainkit_grading.statistics.measurement import (
    binomial_error,
    error_of_estimate,
    error_of_measurement,
    error_of_prediction,
    lengthened,
    times_longer,
    true_points,
)
from trainkit_grading.statistics.reliability import (
    alpha,
    alpha_without,
    feldt,
    kr20,
    kr21,
    standard_error_of_measurement,
)
from trainkit_grading.statistics.resampling import bootstrap
from trainkit_grading.statistics.shares import difference, share, wilson
from trainkit_grading.statistics.values import CONFIDENCE, LEAST, Estimate, Figure, Interval, Withheld

__all__ = [
    "CONFIDENCE",
    "LEAST",
    "RIGHT",
    "Angoff",
    "Borderline",
    "CutRow",
    "Decisions",
    "Estimate",
    "Figure",
    "Interval",
    "Judge",
    "JudgedItem",
    "OptionChosen",
    "Taken",
    "Weights",
    "Withheld",
    "agreement",
    "alpha",
    "alpha_without",
    "angoff",
    "binomial_error",
    "bootstrap",
    "cut_table",
    "decision_consistency",
    "difference",
    "difficulty",
    "discrimination",
    "error_of_estimate",
    "error_of_measurement",
    "error_of_prediction",
    "feldt",
    "kappa",
    "kr20",
    "kr21",
    "lengthened",
    "options",
    "point_biserial",
    "pooled_point_biserial",
    "pooled_point_biserials",
    "share",
    "standard_error_of_measurement",
    "times_longer",
    "true_points",
    "wilson",
]
