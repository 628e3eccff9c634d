"""How long a torque conversion takes, against pint's own; outside the timed suite.

Run with ``pytest tests/bench/bench_quantities.py -s``.
The last bench prints the ratio. The bound: a conversion after the first takes under 5 microseconds.
"""

from __future__ import annotations

import timeit

import pint
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from trainkit.quantities import dual_unit, torque

FIRST = torque("31 lbf·ft")
REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry()


@pytest.mark.benchmark(group="convert 31 lbf·ft to N·m")
def test_ours(benchmark: BenchmarkFixture) -> None:
    FIRST.to("N·m")
    result = benchmark(FIRST.to, "N·m")
    assert result.value == pytest.approx(42.0303563)


@pytest.mark.benchmark(group="convert 31 lbf·ft to N·m")
def test_pint(benchmark: BenchmarkFixture) -> None:
    quantity, target = REGISTRY.Quantity(31.0, "lbf*ft"), REGISTRY.Unit("N*m")
    result = benchmark(quantity.to, target)
    assert result.magnitude == pytest.approx(42.0303563)


@pytest.mark.benchmark(group="read 31 ft-lb")
def test_read(benchmark: BenchmarkFixture) -> None:
    assert benchmark(torque, "31 ft-lb") == FIRST


@pytest.mark.benchmark(group="read 31 ft-lb")
def test_read_pint(benchmark: BenchmarkFixture) -> None:
    """pint reads only its own notation, so it gets that."""
    assert benchmark(REGISTRY, "31 lbf*ft").magnitude == 31


@pytest.mark.benchmark(group="master of a pair")
def test_pair(benchmark: BenchmarkFixture) -> None:
    assert benchmark(dual_unit, "42 N·m", "31 lbf·ft").master == "either"


def test_ratio() -> None:
    quantity, target = REGISTRY.Quantity(31.0, "lbf*ft"), REGISTRY.Unit("N*m")
    runs = 20_000
    ours = min(timeit.repeat(lambda: FIRST.to("N·m"), number=runs, repeat=5)) / runs * 1e6
    theirs = min(timeit.repeat(lambda: quantity.to(target), number=runs, repeat=5)) / runs * 1e6
    print(f"\nconversion after the first: {ours:.2f} µs, pint {theirs:.2f} µs, ratio {theirs / ours:.1f}")
    assert ours < 5
