"""How long something takes, and how many times longer something else."""

from __future__ import annotations

import time
from collections.abc import Callable

from pytest_benchmark.fixture import BenchmarkFixture


def seconds(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def median(benchmark: BenchmarkFixture) -> float:
    assert benchmark.stats is not None
    found: float = benchmark.stats.stats.median
    return found


def report(benchmark: BenchmarkFixture, name: str, reference: float) -> None:
    """Print how many times the reference takes what was measured."""
    ours = median(benchmark)
    benchmark.extra_info[name] = reference / ours
    print(f"\n{name}: {reference * 1000:.3f} ms against {ours * 1000:.4f} ms, {reference / ours:.2f} times")
