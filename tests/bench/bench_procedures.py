"""How fast orders are judged and repaired, beside a graph library and brute force.

Run with ``pytest tests/bench/bench_procedures.py -s``. Each figure that matters is compared with its reference on
the same input, and the ratio is printed.
"""

from __future__ import annotations

import itertools
import random

import networkx as nx
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from tests.bench.timing import median, report, seconds
from trainkit.procedures import Procedure


def near(size: int, seed: int) -> tuple[list[tuple[int, int]], list[int]]:
    """Edges from each step to a few shortly before it, and an order by chance."""
    rng = random.Random(seed)
    edges = [(max(0, step - rng.randrange(1, 12)), step) for step in range(1, size) for _ in range(2)]
    return edges, rng.sample(range(size), size)


def with_networkx(size: int, edges: list[tuple[int, int]], order: list[int]) -> int:
    graph = nx.DiGraph(edges)
    graph.add_nodes_from(range(size))
    place = {step: at for at, step in enumerate(order)}
    wrong = [pair for pair in nx.transitive_closure_dag(graph).edges if place[pair[0]] > place[pair[1]]]
    rows = [("before", first) for first, _ in wrong]
    matched = nx.bipartite.hopcroft_karp_matching(nx.Graph([(("before", a), ("after", b)) for a, b in wrong]), rows)
    return len(matched) // 2


def test_forty_steps_judged(benchmark: BenchmarkFixture) -> None:
    """Bound: under 1 ms."""
    edges, order = near(40, 3)
    procedure = Procedure(range(40), edges)

    def judge() -> int:
        verdict = procedure.judge(order)
        return verdict.fewest_moves + len(verdict.broken) + len(verdict.to_move)

    benchmark(judge)
    assert procedure.judge(order).fewest_moves == with_networkx(40, edges, order)
    report(benchmark, "networkx, judge 40 steps", seconds(lambda: with_networkx(40, edges, order)))
    assert median(benchmark) < 1e-3


def test_two_thousand_steps_judged_and_repaired(benchmark: BenchmarkFixture) -> None:
    """Bound: under 2 s, the making of the procedure included."""
    edges, order = near(2000, 4)

    def whole() -> int:
        procedure = Procedure(range(2000), edges)
        procedure.repair(order)
        return procedure.judge(order).fewest_moves

    moves = benchmark.pedantic(whole, rounds=3)
    found: list[int] = []
    report(benchmark, "networkx, judge 2,000 steps", seconds(lambda: found.append(with_networkx(2000, edges, order))))
    assert found == [moves]
    assert median(benchmark) < 2.0


@pytest.mark.parametrize("size", [7])
def test_fewest_moves_against_all_valid_orders(benchmark: BenchmarkFixture, size: int) -> None:
    edges, order = near(size, 5)
    procedure = Procedure(range(size), edges)
    benchmark(lambda: procedure.judge(order).fewest_moves)

    def brute() -> int:
        graph = nx.DiGraph(edges)
        kept = 0
        for right in nx.all_topological_sorts(graph):
            place = {step: at for at, step in enumerate(right)}
            row = [place[step] for step in order]
            for length in range(size, kept, -1):
                if any(list(part) == sorted(part) for part in itertools.combinations(row, length)):
                    kept = length
                    break
        return size - kept

    assert brute() == procedure.judge(order).fewest_moves
    report(benchmark, f"brute force, {size} steps", seconds(brute))


def test_count_against_going_through_all(benchmark: BenchmarkFixture) -> None:
    edges = [(at, at + 3) for at in range(9)]
    procedure = Procedure(range(12), edges)
    count = benchmark(procedure.count_orders)
    graph = nx.DiGraph(edges)
    listed = seconds(lambda: sum(1 for _ in itertools.islice(nx.all_topological_sorts(graph), 20_000)))
    report(benchmark, "networkx, all orders of 12 steps (from the first 20,000)", listed * count / min(count, 20_000))


def test_share_by_chance(benchmark: BenchmarkFixture) -> None:
    from trainkit.procedures.counting import moves_by_chance

    after = Procedure(range(8), itertools.pairwise(range(8))).relation.after
    benchmark.pedantic(lambda: moves_by_chance.__wrapped__(after), rounds=3)
    procedure = Procedure(range(8), itertools.pairwise(range(8)))
    every = seconds(lambda: [procedure.judge(order).fewest_moves for order in itertools.permutations(range(8))])
    report(benchmark, "judging all 40,320 orders of 8 cards", every)
