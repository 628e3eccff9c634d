"""How fast the lock pin's model answers, cold and warm, beside a plain search that keeps nothing.

Run with ``pytest tests/bench/bench_lockpin.py -s``. Each figure that matters is compared with its reference on the
same state, and the ratio is printed.
"""

from __future__ import annotations

import dataclasses
from collections import deque
from fractions import Fraction
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from tests.bench.timing import median, report, seconds
from trainkit import lockpin, packs
from trainkit.lockpin import Action, Consequence, Setup, State

# The fewest passings (the hole tells by itself), three (the training engine), and a train of odd tooth counts.
MARKS: dict[str, Any] = {"press_from": 6, "give_up": 4, "back_off": 15}
SETUPS = {
    "one passing": Setup(**MARKS, lash_to_pin=Fraction("0.5"), lash_to_component=Fraction("1.25")),
    "training engine": packs.load("dunlin").lock_pin,
    "48 passings": Setup(**MARKS, lash_to_component=Fraction(1), period=Fraction(465), tells="valves"),
}


def fresh(setup: Setup) -> Setup:
    """The same setup with nothing searched yet."""
    return dataclasses.replace(setup)


def missed(setup: Setup) -> State:
    return State.start(setup, before=-setup.give_up - 1)


def by_plain_search(state: State) -> tuple[Action, ...]:
    """The same question, each action tried and a safe end searched for from there."""

    def safe(start: State) -> bool:
        met, todo = {start}, deque([start])
        while todo:
            here = todo.popleft()
            if here.outcome is Consequence.SAFE:
                return True
            for action in lockpin.possible(here):
                after, _ = lockpin.step(here, action)
                if after not in met and not after.outcome.lost:
                    met.add(after)
                    todo.append(after)
        return False

    return tuple(action for action in lockpin.possible(state) if safe(lockpin.step(state, action)[0]))


@pytest.mark.parametrize("name", SETUPS)
def test_acceptable_cold(benchmark: BenchmarkFixture, name: str) -> None:
    """The first question about an engine looks into every state that can follow."""
    setup = SETUPS[name]
    found = benchmark.pedantic(lockpin.acceptable, setup=lambda: ((missed(fresh(setup)),), {}), rounds=5)
    reference = seconds(lambda: by_plain_search(missed(setup)))
    assert found == by_plain_search(missed(setup))
    report(benchmark, f"{name}, cold, against a search for each action", reference)


@pytest.mark.parametrize("name", SETUPS)
def test_acceptable_warm(benchmark: BenchmarkFixture, name: str) -> None:
    """Every further question about the same engine is a look-up."""
    setup = SETUPS[name]
    state = missed(setup)
    lockpin.acceptable(state)
    benchmark(lockpin.acceptable, state)
    report(benchmark, f"{name}, warm, against a search for each action", seconds(lambda: by_plain_search(state)))
    assert median(benchmark) < 1e-3


def test_shortest_way_warm(benchmark: BenchmarkFixture) -> None:
    state = missed(SETUPS["training engine"])
    way = benchmark(lockpin.shortest_way, state)
    assert way
    assert way[0] in (Action.FREE, Action.BACK_OFF)


def test_one_step(benchmark: BenchmarkFixture) -> None:
    """One action with the words for it."""
    state = missed(SETUPS["training engine"])
    benchmark(lambda: lockpin.step(state, Action.BACK_OFF)[1].seen)
