"""How often the intervals of ``trainkit_grading.statistics`` hold the true value, with people who are simulated.

Run with ``python tests/bench/statistics_coverage.py [REPETITIONS]``. Each line: figure, number of cases, what it is
really (from a million people, or worked out), the mean of the estimates, how often of a hundred the 95 per cent
interval held the true value and by how much that may be off by chance, how wide it was (median), and in how many
repetitions there was a figure. The seed is fixed.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from trainkit_grading import statistics
from trainkit_grading.statistics import Estimate, Figure

SEED = 20270401
MANY = 1_000_000
Matrix = NDArray[np.float64]


class World:
    """People whose ability is normal, and items that they get right with the odds that both together give."""

    def __init__(self, rng: np.random.Generator, items: int = 12, *, spread: float = 1.0, easy: float = 0.8) -> None:
        self.rng = rng
        self.items = items
        self.spread = spread
        self.hard = np.linspace(-1.6, 1.4, items) - easy

    def able(self, people: int) -> Matrix:
        return self.rng.normal(0, self.spread, (people, 1))

    def form(self, able: Matrix) -> Matrix:
        """Everybody the same questions."""
        return (self.rng.random((len(able), self.items)) < 1 / (1 + np.exp(self.hard - able))).astype(float)

    def draws(self, able: Matrix, vary: float = 0.7) -> Matrix:
        """The same places, and a draw of their own for everybody."""
        hard = self.hard + self.rng.normal(0, vary, (len(able), self.items))
        return (self.rng.random(hard.shape) < 1 / (1 + np.exp(hard - able))).astype(float)


def alpha_of(rows: Matrix) -> float:
    k = rows.shape[1]
    return float(k / (k - 1) * (1 - rows.var(0).sum() / rows.sum(1).var()))


def held(name: str, n: int, truth: float, figures: Iterator[Figure]) -> None:
    """Print one line: how often the interval holds the truth, among those that have one."""
    found = [one for one in figures if isinstance(one, Estimate)]
    inside = sum(truth in one.interval for one in found)
    part = inside / len(found)
    noise = 196 * math.sqrt(part * (1 - part) / len(found))
    width = float(np.median([one.interval.width for one in found]))
    mean = float(np.mean([one.value for one in found]))
    print(f"{name:44s}{n:6d}{truth:9.3f}{mean:9.3f}{100 * part:9.1f} ±{noise:4.1f}{width:8.3f}{len(found):7d}")


def wilson_exactly() -> None:
    for n in (5, 14, 30, 100):
        grid = np.linspace(0.01, 0.99, 981)
        inside = np.zeros_like(grid)
        for successes in range(n + 1):
            interval = statistics.wilson(successes, n)
            here = (grid >= interval.low) & (grid <= interval.high)
            inside += here * stats.binom.pmf(successes, n, grid)
        name = "Wilson, mean and worst over all shares"
        print(f"{name:44s}{n:6d}{'':18s}{100 * inside.mean():9.1f}, {100 * inside.min():.1f}")


def reliability(rng: np.random.Generator, times: int) -> None:
    world = World(rng)
    truth = alpha_of(world.form(world.able(MANY)))
    error = math.sqrt(1 - truth) * float(world.form(world.able(MANY)).sum(1).std())
    for n in (30, 100, 400):
        held("alpha, right or wrong", n, truth, (statistics.alpha(world.form(world.able(n))) for _ in range(times)))
        held(
            "standard error of measurement",
            n,
            error,
            (statistics.standard_error_of_measurement(world.form(world.able(n))) for _ in range(times)),
        )  # fmt: skip - one call a line reads as a table
    able = world.able(MANY)
    two = [world.draws(able).sum(1) for _ in range(2)]
    truth = float(np.corrcoef(*two)[0, 1])
    for n in (60, 200):
        held("alpha over draws, against a second form", n, truth, (
            statistics.alpha(world.draws(world.able(n)), over_draws=True) for _ in range(times)
        ))  # fmt: skip


def of_items(rng: np.random.Generator, times: int) -> None:
    world = World(rng)
    big = world.form(world.able(MANY))
    rest = big.sum(1, keepdims=True) - big
    total = big.sum(1)
    size = round(0.27 * MANY)
    order = np.lexsort((rng.random(MANY), total))
    for at in (int(np.argmin(world.hard)), int(np.argsort(world.hard)[6]), int(np.argmax(world.hard))):
        right = f"{100 * big[:, at].mean():.0f} % right"
        truth = float(np.corrcoef(big[:, at], rest[:, at])[0, 1])
        apart = float(big[order[-size:], at].mean() - big[order[:size], at].mean())
        for n in (30, 100, 400):
            forms = [world.form(world.able(n)) for _ in range(times)]
            held(
                f"corrected point-biserial, {right}", n, truth, (statistics.point_biserial(rows)[at] for rows in forms)
            )
            held(f"discrimination, {right}", n, apart, (statistics.discrimination(rows)[at] for rows in forms))


def pooled(rng: np.random.Generator, times: int) -> None:
    """Two questions of one template a person, in two assessments; draws from a pool of eight, or all different."""

    def world(people: int, pool: int | None) -> Callable[[], Figure]:
        def figure() -> Figure:
            able = rng.normal(0, 1, people)
            pools = rng.normal(0, 0.8, (2, pool)) if pool else None
            marks, rest, totals, who, draws = [], [], [], [], []
            for total in (0, 1):
                draw = rng.integers(0, pool, people) if pool else np.arange(people)
                hard = pools[total][draw] if pools is not None else rng.normal(0, 0.8, people)
                marks.append(rng.random(people) < 1 / (1 + np.exp(hard - able + 0.3 * total)))
                rest.append(rng.binomial(11, 1 / (1 + np.exp(0.4 * total - able))) / 11)
                totals.append(np.full(people, total))
                who.append(np.arange(people))
                draws.append(draw + total * 1_000_000)
            columns = [np.concatenate(each) for each in (marks, rest, totals, who, draws)]
            return statistics.pooled_point_biserial(
                columns[0].astype(float), columns[1], columns[2].tolist(), people=columns[3].tolist(),
                draws=columns[4].tolist() if pool else None,
            )  # fmt: skip

        return figure

    for pool, name in ((8, "pooled point-biserial, eight draws"), (None, "pooled point-biserial, draws of one's own")):
        truths = [one.value for one in (world(100_000, pool)() for _ in range(3)) if isinstance(one, Estimate)]
        for n in (30, 100, 300):
            draw = world(n, pool)
            held(name, n, float(np.mean(truths)), (draw() for _ in range(times)))


def decisions(rng: np.random.Generator, times: int) -> None:
    for easy, cut in ((0.8, 70), (1.6, 80)):
        world = World(rng, easy=easy)
        able = world.able(MANY)
        up = [100 * world.form(able).mean(1) >= cut for _ in range(2)]
        truth = float((up[0] == up[1]).mean())
        for n in (30, 100, 400):
            held(f"decision consistency, {100 * up[0].mean():.0f} % pass", n, truth, (
                statistics.decision_consistency(world.form(world.able(n)), cut).consistency for _ in range(times)
            ))  # fmt: skip


def markers(rng: np.random.Generator, times: int) -> None:
    scale = np.arange(4)
    for agree in (0.6, 0.85):
        marginal = np.array([0.1, 0.2, 0.3, 0.4])

        def pairs(
            n: int, agree: float = agree, marginal: NDArray[np.float64] = marginal
        ) -> tuple[list[int], list[int]]:
            first = rng.choice(scale, n, p=marginal)
            other = np.clip(first + rng.choice([-1, 1], n), 0, 3)
            return first.tolist(), np.where(rng.random(n) < agree, first, other).tolist()

        for weights in ("none", "quadratic"):
            big = statistics.kappa(*pairs(MANY), weights=weights, categories=range(4))
            assert isinstance(big, Estimate)
            for n in (20, 50, 200):
                held(f"{big.name}, {100 * agree:.0f} % alike", n, big.value, (
                    statistics.kappa(*pairs(n), weights=weights, categories=range(4)) for _ in range(times)
                ))  # fmt: skip


def judges(rng: np.random.Generator, times: int) -> None:
    for n in (3, 5, 10):

        def ratings(n: int = n) -> Matrix:
            strict = rng.normal(0, 0.08, (n, 1))
            return np.clip(np.linspace(0.4, 0.9, 12) + strict + rng.normal(0, 0.1, (n, 12)), 0, 1)

        truth = float(np.mean([ratings().sum(1).mean() for _ in range(20_000)]))
        held("Angoff cut score", n, truth, (statistics.angoff(ratings()).cut for _ in range(times)))


def main() -> None:
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    rng = np.random.default_rng(SEED)
    print(f"{'figure':44s}{'n':>6s}{'true':>9s}{'mean':>9s}{'held, %':>15s}{'width':>8s}{'times':>7s}")
    wilson_exactly()
    reliability(rng, times)
    of_items(rng, times)
    pooled(rng, times)
    markers(rng, times)
    judges(rng, times)
    decisions(rng, max(50, times // 5))


if __name__ == "__main__":
    main()
