"""How fast gears, the cycle and tightening answer, beside brute force and linear algebra.

Run with ``pytest tests/bench/bench_mechanics.py -s``. Each figure that matters is compared with its reference on the
same input, and the ratio is printed.
"""

from __future__ import annotations

import itertools
import random
import time

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from tests.bench.timing import report, seconds
from trainkit.cycle import FiringOrder, Position
from trainkit.gears import Gear, GearTrain, Mesh
from trainkit.tightening import Pattern, judging


def long_train(size: int, seed: int) -> tuple[list[Gear], list[Mesh]]:
    rng = random.Random(seed)
    gears = [Gear(f"g{place}", rng.randrange(20, 90), module_mm=2.0) for place in range(size)]
    meshes = [
        Mesh(f"g{rng.randrange(place)}", f"g{place}", rng.choice(("external", "chain")), 0.1)
        for place in range(1, size)
    ]
    return gears, meshes


def test_train_turned(benchmark: BenchmarkFixture) -> None:
    """A train of twelve, all its turns, against numpy solving one equation a mesh."""
    gears, meshes = long_train(12, 4)
    train = GearTrain(gears, meshes)
    turns = benchmark(lambda: [train.turn("g0", 90, seen_from="front").degrees(gear.id) for gear in gears])

    def solved() -> np.ndarray:
        place = {gear.id: number for number, gear in enumerate(gears)}
        teeth = [gear.teeth or 0 for gear in gears]
        matrix, right = np.zeros((12, 12)), np.zeros(12)
        matrix[0, 0], right[0] = 1, 90
        for line, mesh in enumerate(meshes, 1):
            one, two = place[mesh.driver], place[mesh.driven]
            matrix[line, one], matrix[line, two] = teeth[one], -teeth[two] if mesh.same_sense else teeth[two]
        return np.linalg.solve(matrix, right)

    assert turns == pytest.approx(list(solved()))
    report(benchmark, "numpy.linalg.solve", min(seconds(solved) for _ in range(50)))


def test_train_built(benchmark: BenchmarkFixture) -> None:
    """Building checks every gear, mesh and loop."""
    gears, meshes = long_train(40, 5)
    assert len(benchmark(GearTrain, gears, meshes).gears) == 40


def test_lash_along_a_path(benchmark: BenchmarkFixture) -> None:
    train = GearTrain(*long_train(12, 6))
    assert benchmark(lambda: train.path("g0", "g11").lash) > 0


def test_dead_centres(benchmark: BenchmarkFixture) -> None:
    engine = Position.known(FiringOrder.parse("1-5-3-6-2-4"), cylinder=1, on="compression")
    assert benchmark(lambda: engine.turned(480).on_compression()) == (2,)


def test_best_order_of_eight_against_all_orders(benchmark: BenchmarkFixture) -> None:
    """Sets of bolts instead of orders of bolts: 256 against 40 320."""
    places = Pattern.circle(8, 120).about_centre

    def ours() -> float:
        judging._table.cache_clear()
        return judging.bounds(places).best

    def all_orders() -> float:
        return min(judging.judge_moments(places, order).cost for order in itertools.permutations(range(8)))

    best = benchmark(ours)
    elapsed: list[float] = []
    start = time.perf_counter()
    assert best == pytest.approx(all_orders())
    elapsed.append(time.perf_counter() - start)
    report(benchmark, "all orders", min(elapsed))


@pytest.mark.parametrize("count", [12, 14, 16])
def test_bounds_of_large_patterns(benchmark: BenchmarkFixture, count: int) -> None:
    places = Pattern.circle(count, 300).about_centre

    def ours() -> float:
        judging._table.cache_clear()
        return judging.bounds(places).best

    assert benchmark.pedantic(ours, rounds=2) > 0
