"""How fast figures of a whole cohort are: 10,000 people by 84 items, beside scipy item by item and beside plain loops.

Run with ``pytest tests/bench/bench_statistics.py -s -o addopts= --import-mode=importlib -o python_files="bench_*.py"``,
on one core with ``OMP_NUM_THREADS=1 taskset -c 0`` in front. Seed 1; median of the rounds; each ratio compares with a
reference on the same answers in the same run, so that a busy machine slows both.
"""

from __future__ import annotations

import random

import numpy as np
import pytest
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture
from scipy import stats

from tests.bench.timing import report, seconds
from trainkit_grading import statistics
from trainkit_grading.statistics import Estimate, Figure

PEOPLE, ITEMS = 10_000, 84


@pytest.fixture(scope="module")
def marks() -> NDArray[np.float64]:
    """Right, wrong, and here and there half of the points."""
    rng = np.random.default_rng(1)
    able, hard = rng.normal(size=(PEOPLE, 1)), rng.normal(-0.8, 1, ITEMS)
    right = (rng.random((PEOPLE, ITEMS)) < 1 / (1 + np.exp(hard - able))).astype(float)
    return np.asarray(right * rng.choice([1, 1, 1, 0.5], right.shape))


def value(found: Figure) -> float:
    assert isinstance(found, Estimate)
    return found.value


def every_figure(marks: NDArray[np.float64]) -> list[object]:
    percents = 100 * marks.mean(axis=1)
    return [
        statistics.alpha(marks),
        statistics.alpha_without(marks),
        statistics.kr20(marks == 1),
        statistics.kr21(marks == 1),
        statistics.standard_error_of_measurement(marks),
        statistics.difficulty(marks),
        statistics.point_biserial(marks),
        statistics.discrimination(marks),
        statistics.cut_table(percents, cuts=range(101)),
        statistics.decision_consistency(marks, 70),
    ]


def test_every_figure_of_a_cohort(benchmark: BenchmarkFixture, marks: NDArray[np.float64]) -> None:
    """Bound: under 1 s on one core for 840,000 marks; the reference reads them once, one by one."""
    benchmark.pedantic(lambda: every_figure(marks), rounds=5, warmup_rounds=1)
    rows = marks.tolist()
    report(benchmark, "adding all marks up in a loop, once", seconds(lambda: sum(mark for row in rows for mark in row)))


def test_point_biserials(benchmark: BenchmarkFixture, marks: NDArray[np.float64]) -> None:
    """The reference has no intervals."""
    total = marks.sum(axis=1)
    wanted: list[float] = []
    reference = seconds(
        lambda: wanted.extend(stats.pearsonr(marks[:, at], total - marks[:, at]).statistic for at in range(ITEMS))
    )
    found = benchmark.pedantic(lambda: statistics.point_biserial(marks), rounds=5, warmup_rounds=1)
    assert [value(figure) for figure in found] == pytest.approx(wanted)
    report(benchmark, "84 corrected point-biserials with scipy", reference)


def test_pooled_over_draws(benchmark: BenchmarkFixture, marks: NDArray[np.float64]) -> None:
    """The reference takes scipy's correlation of each template, after centring in a loop over assessments."""
    template = np.tile(np.arange(ITEMS) // 2, PEOPLE)
    total = np.tile(np.arange(ITEMS) // 12, PEOPLE)
    people = np.repeat(np.arange(PEOPLE), ITEMS)
    within = np.add.reduceat(marks, np.arange(0, ITEMS, 12), axis=1).repeat(12, axis=1)
    scores, rest = marks.ravel(), ((within - marks) / 11).ravel()

    def loops() -> dict[int, float]:
        z = np.empty_like(rest)
        for name in range(7):
            of = total == name
            z[of] = (rest[of] - rest[of].mean()) / rest[of].std()
        found = {}
        for name in range(ITEMS // 2):
            pairs = []
            for one in range(7):
                of = (template == name) & (total == one)
                if of.any():
                    pairs.append((scores[of] - scores[of].mean(), z[of] - z[of].mean()))
            x, y = (np.concatenate(side) for side in zip(*pairs, strict=True))
            found[name] = float(stats.pearsonr(x, y).statistic)
        return found

    wanted: dict[int, float] = {}
    reference = seconds(lambda: wanted.update(loops()))
    found = benchmark.pedantic(
        lambda: statistics.pooled_point_biserials(template, scores, rest, total, people=people),  # type: ignore[arg-type]  # arrays of numbers will do
        rounds=5,
        warmup_rounds=1,
    )
    assert {name: value(figure) for name, figure in found.items()} == pytest.approx(wanted)
    report(benchmark, "42 templates pooled with scipy, without intervals", reference)


def test_options_of_all_answers(benchmark: BenchmarkFixture) -> None:
    rng = random.Random(1)
    labels = ("right", "inverse", "one", "mesh")
    answers = [statistics.Taken(f"t{at % 42}", labels, (rng.choice(labels),)) for at in range(PEOPLE * ITEMS)]

    def loop() -> dict[tuple[str, str], int]:
        counts: dict[tuple[str, str], int] = {}
        for answer in answers:
            for label in answer.offered:
                counts[answer.template, label] = counts.get((answer.template, label), 0) + (label in answer.taken)
        return counts

    reference = seconds(loop)
    found = benchmark.pedantic(lambda: statistics.options(answers), rounds=3)
    assert {(option.template, option.label): option.taken for option in found} == loop()
    report(benchmark, "840,000 answers counted in a loop", reference)


def test_decisions_of_a_class(benchmark: BenchmarkFixture, marks: NDArray[np.float64]) -> None:
    """The model and its interval from 300 resamples; the reference integrates one model with scipy."""
    few = marks[:40, :12]
    benchmark(lambda: statistics.decision_consistency(few, 60))
    worth = stats.beta(5, 2)
    reference = seconds(lambda: worth.expect(lambda t: stats.binom.sf(7, 12, t) ** 2 + stats.binom.cdf(7, 12, t) ** 2))
    report(benchmark, "one integral of scipy's", reference)
