"""Procedures against brute force over all orders, and against a graph library."""

from __future__ import annotations

import copy
import itertools
import math
import pickle
import random
import time
from collections import deque
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainkit.errors import ProcedureError, TrainkitError
from trainkit.procedures import Edge, Procedure, find_cycle
from trainkit.procedures.counting import moves_by_chance
from trainkit.procedures.judgement import Pairs

Drawn = tuple[list[int], list[tuple[int, int]]]


@st.composite
def procedures(draw: st.DrawFn, most: int = 7) -> Drawn:
    """Steps listed in any order, with edges that lead up a hidden valid one."""
    size = draw(st.integers(1, most))
    hidden = draw(st.permutations(range(size)))
    pairs = [pair for pair in itertools.combinations(hidden, 2) if draw(st.booleans())]
    return draw(st.permutations(range(size))), draw(st.permutations(pairs))


@st.composite
def judged(draw: st.DrawFn, most: int = 7) -> tuple[list[int], list[tuple[int, int]], list[int]]:
    steps, edges = draw(procedures(most))
    return steps, edges, draw(st.permutations(steps))


def valid_orders(steps: Iterable[int], edges: Sequence[tuple[int, int]]) -> list[tuple[int, ...]]:
    return [
        order
        for order in itertools.permutations(steps)
        if all(order.index(first) < order.index(second) for first, second in edges)
    ]


def common(one: Sequence[int], other: Sequence[int]) -> int:
    """Length of the longest common subsequence of two orders of the same steps: the textbook table."""
    table = [[0] * (len(other) + 1) for _ in range(len(one) + 1)]
    for i, left in enumerate(one, 1):
        for j, right in enumerate(other, 1):
            table[i][j] = table[i - 1][j - 1] + 1 if left == right else max(table[i - 1][j], table[i][j - 1])
    return table[-1][-1]


def moves_by_search(order: tuple[int, ...], goals: set[tuple[int, ...]]) -> int:
    """Breadth-first search over single moves, which knows nothing of antichains."""
    seen = {order}
    queue = deque([(order, 0)])
    while queue:
        now, moves = queue.popleft()
        if now in goals:
            return moves
        for start in range(len(now)):
            rest = now[:start] + now[start + 1 :]
            for end in range(len(now)):
                then = (*rest[:end], now[start], *rest[end:])
                if then not in seen:
                    seen.add(then)
                    queue.append((then, moves + 1))
    raise AssertionError("no valid order can be reached")


@settings(deadline=None, max_examples=100)
@given(judged())
def test_fewest_moves_are_those_of_brute_force(case: tuple[list[int], list[tuple[int, int]], list[int]]) -> None:
    steps, edges, order = case
    verdict = Procedure(steps, edges).judge(order)
    nearest = max(common(order, right) for right in valid_orders(steps, edges))
    assert verdict.fewest_moves == len(steps) - nearest
    assert len(verdict.to_move) == verdict.fewest_moves


@settings(deadline=None, max_examples=60)
@given(judged(most=5))
def test_fewest_moves_are_those_of_a_search_over_moves(
    case: tuple[list[int], list[tuple[int, int]], list[int]],
) -> None:
    steps, edges, order = case
    goals = set(valid_orders(steps, edges))
    assert Procedure(steps, edges).judge(order).fewest_moves == moves_by_search(tuple(order), goals)


@settings(deadline=None, max_examples=60)
@given(procedures(most=6))
def test_perfect_orders_are_exactly_the_valid_ones(case: Drawn) -> None:
    steps, edges = case
    procedure = Procedure(steps, edges)
    valid = set(valid_orders(steps, edges))
    for order in itertools.permutations(steps):
        verdict = procedure.judge(order)
        assert verdict.valid == (order in valid) == (not verdict.broken) == (verdict.fewest_moves == 0)
    assert procedure.count_orders() == len(valid)


@settings(deadline=None, max_examples=120)
@given(judged())
def test_repair_is_valid_and_no_longer_than_needed(case: tuple[list[int], list[tuple[int, int]], list[int]]) -> None:
    steps, edges, order = case
    procedure = Procedure(steps, edges)
    repair = procedure.repair(order)
    assert procedure.judge(repair.order).valid
    assert len(repair.moves) == procedure.judge(order).fewest_moves
    now = list(order)
    for move in repair.moves:
        assert now.pop(move.start) == move.step
        now.insert(move.end, move.step)
    assert tuple(now) == repair.order


@settings(deadline=None, max_examples=100)
@given(judged())
def test_broken_pairs_agree_with_networkx(case: tuple[list[int], list[tuple[int, int]], list[int]]) -> None:
    steps, edges, order = case
    graph = nx.DiGraph()
    graph.add_nodes_from(steps)
    graph.add_edges_from(edges)
    closed = nx.transitive_closure_dag(graph)
    procedure = Procedure(steps, edges)
    verdict = procedure.judge(order)
    wrong = {(first, second) for first, second in closed.edges if order.index(first) > order.index(second)}
    assert set(verdict.broken) == wrong
    assert len(verdict.broken) == len(wrong)
    assert set(procedure.pairs) == set(closed.edges)
    assert set(Pairs(procedure.relation, procedure.relation.covers)) == set(nx.transitive_reduction(graph).edges)
    broken = nx.DiGraph()
    broken.add_nodes_from(steps)
    broken.add_edges_from(wrong)
    widest = max(len(chain) for chain in nx.antichains(broken))
    assert verdict.fewest_moves == len(steps) - widest
    matched = nx.bipartite.hopcroft_karp_matching(
        nx.Graph([(("before", first), ("after", second)) for first, second in wrong]),
        [("before", first) for first, _ in wrong],
    )
    assert verdict.fewest_moves == len(matched) // 2


@settings(deadline=None, max_examples=100)
@given(procedures())
def test_count_agrees_with_networkx(case: Drawn) -> None:
    steps, edges = case
    graph = nx.DiGraph(edges)
    graph.add_nodes_from(steps)
    assert Procedure(steps, edges).count_orders() == sum(1 for _ in nx.all_topological_sorts(graph))


@settings(deadline=None, max_examples=100)
@given(procedures(), st.data())
def test_dropped_steps_keep_what_they_held_in_order(case: Drawn, data: st.DataObject) -> None:
    steps, edges = case
    whole = Procedure(steps, edges)
    dropped = data.draw(st.lists(st.sampled_from(steps), unique=True))
    part = whole.without(dropped)
    assert part.steps == tuple(step for step in steps if step not in dropped)
    assert set(part.pairs) == {pair for pair in whole.pairs if not set(pair) & set(dropped)}
    # What the part accepts is what can be filled up to a valid order of all steps, no more and no less.
    shortened = {tuple(s for s in order if s not in dropped) for order in valid_orders(steps, edges)}
    assert shortened == set(valid_orders(part.steps, list(part.pairs)))


@settings(deadline=None, max_examples=100)
@given(procedures(), st.data())
def test_danger_of_a_derived_pair_is_certain(case: Drawn, data: st.DataObject) -> None:
    """A pair is dangerous when no way of placing the steps between spares every dangerous edge."""
    steps, edges = case
    harmful = set(data.draw(st.lists(st.sampled_from(edges), unique=True))) if edges else set()
    whole = Procedure(steps, [Edge(*edge, dangerous=edge in harmful) for edge in edges])
    spared = valid_orders(steps, sorted(harmful))
    for pair in whole.pairs:
        certain = not any(order.index(pair.after) < order.index(pair.before) for order in spared)
        assert pair.dangerous == certain
        if certain:
            assert all(edge.dangerous for edge in pair.chain)
    kept = data.draw(st.lists(st.sampled_from(steps), unique=True))
    part = whole.among(kept)
    for pair in part.pairs:
        assert pair.dangerous == whole.is_dangerous(*pair)


@settings(deadline=None, max_examples=100)
@given(procedures())
def test_why_gives_a_shortest_chain(case: Drawn) -> None:
    steps, edges = case
    graph = nx.DiGraph(edges)
    procedure = Procedure(steps, [Edge(*edge, reason=f"{edge[0]} opens the way to {edge[1]}.") for edge in edges])
    for pair in procedure.pairs:
        chain = pair.chain
        assert (chain[0].before, chain[-1].after) == pair
        assert all(first.after == second.before for first, second in itertools.pairwise(chain))
        assert len(chain) == nx.shortest_path_length(graph, *pair)
        assert pair.reason == " ".join(edge.reason for edge in chain)


@settings(deadline=None, max_examples=100)
@given(judged())
def test_culprits_are_all_steps_that_alone_repair(case: tuple[list[int], list[tuple[int, int]], list[int]]) -> None:
    steps, edges, order = case
    procedure = Procedure(steps, edges)
    verdict = procedure.judge(order)
    alone = []
    for step in order:
        rest = [other for other in order if other != step]
        tried = [[*rest[:at], step, *rest[at:]] for at in range(len(order))]
        if verdict.broken and any(procedure.judge(one).valid for one in tried):
            alone.append(step)
    assert list(verdict.culprits) == alone


@settings(deadline=None, max_examples=100)
@given(procedures(), st.data())
def test_places_are_all_right_places(case: Drawn, data: st.DataObject) -> None:
    steps, edges = case
    procedure = Procedure(steps, edges)
    missing = data.draw(st.sampled_from(steps))
    rng = random.Random(data.draw(st.integers(0, 999)))
    order = [step for step in procedure.random_valid_order(rng) if step != missing]
    right = [at for at in range(len(steps)) if procedure.judge([*order[:at], missing, *order[at:]]).valid]
    assert procedure.places(order, missing) == tuple(right)
    assert right


def test_places_in_an_order_that_leaves_none() -> None:
    assert Procedure("abc", ["ab", "bc"]).places("ca", "b") == ()


@settings(deadline=None, max_examples=80)
@given(procedures(most=6))
def test_score_has_mean_nothing_before_the_floor(case: Drawn) -> None:
    steps, edges = case
    procedure = Procedure(steps, edges)
    moves = [procedure.judge(order).fewest_moves for order in itertools.permutations(steps)]
    counts = moves_by_chance(procedure.relation.after)
    assert counts == tuple(moves.count(number) for number in range(max(moves) + 1))
    if not edges:
        with pytest.raises(ProcedureError, match="in any order"):
            procedure.score(steps)
        return
    mean = Fraction(sum(moves), math.factorial(len(steps)))
    assert procedure.expected_moves() == pytest.approx(float(mean))
    assert sum(1 - Fraction(number) / mean for number in moves) == 0
    for order, number in zip(itertools.permutations(steps), moves, strict=True):
        share = procedure.score(order)
        assert share == pytest.approx(max(0.0, float(1 - number / mean)))
        assert (share == 1) == (number == 0)


def test_eight_cards_by_chance_agree_with_the_hook_lengths() -> None:
    """For a fixed order the moves are 8 less the longest increasing part; Robinson and Schensted count those."""

    def shapes(left: int, most: int) -> Iterable[tuple[int, ...]]:
        if not left:
            yield ()
        for row in range(min(left, most), 0, -1):
            for rest in shapes(left - row, row):
                yield (row, *rest)

    def tableaux(shape: tuple[int, ...]) -> int:
        hooks = 1
        for i, row in enumerate(shape):
            for j in range(row):
                hooks *= row - j + sum(1 for below in shape[i + 1 :] if below > j)
        return math.factorial(sum(shape)) // hooks

    wanted = [0] * 8
    for shape in shapes(8, 8):
        wanted[8 - shape[0]] += tableaux(shape) ** 2
    chain = Procedure("abcdefgh", itertools.pairwise("abcdefgh"))
    assert moves_by_chance(chain.relation.after) == tuple(wanted)


@settings(deadline=None, max_examples=100)
@given(procedures(), st.integers(0, 9999))
def test_orders_by_chance(case: Drawn, seed: int) -> None:
    procedure = Procedure(*case)
    assert procedure.judge(procedure.random_valid_order(random.Random(seed))).valid


def test_every_valid_order_comes_out_by_chance() -> None:
    procedure = Procedure("abcd", ["ab", "cd"])
    rng = random.Random(5)
    assert len({procedure.random_valid_order(rng) for _ in range(400)}) == procedure.count_orders() == 6


@settings(deadline=None, max_examples=100)
@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), max_size=20))
def test_ring_is_named_where_there_is_one(edges: list[tuple[int, int]]) -> None:
    graph = nx.DiGraph(edges)
    graph.add_nodes_from(range(7))
    ring = find_cycle(range(7), edges)
    assert bool(ring) == (not nx.is_directed_acyclic_graph(graph))
    if ring:
        assert ring[0] == ring[-1]
        assert all(pair in edges for pair in itertools.pairwise(ring))
        assert len(set(ring)) == len(ring) - 1
        with pytest.raises(ProcedureError) as caught:
            Procedure(range(7), edges)
        assert caught.value.value == " → ".join(map(str, ring))


def test_configuration_keeps_reasons_and_danger_through_a_dropped_step() -> None:
    job = Procedure(
        ["drain", "unscrew", "lift", "clean"],
        [
            Edge("drain", "unscrew", "Hot coolant runs out.", dangerous=True, shows="opened-full"),
            Edge("unscrew", "lift", "It is still held.", dangerous=True),
            Edge("lift", "clean", "The face is covered."),
        ],
    )
    short = job.without(["unscrew"])
    (derived,) = [edge for edge in short.before if edge.before == "drain"]
    assert derived == Edge(
        "drain",
        "lift",
        reason="Hot coolant runs out. It is still held.",
        dangerous=True,
        shows="opened-full",
        via=("unscrew",),
    )
    assert short.without(["lift"]).before[0].via == ("unscrew", "lift")
    assert not short.without(["lift"]).before[0].dangerous


def test_edges_are_read_from_anything_that_has_both_ends() -> None:
    class Written:
        before, after, reason, dangerous = "a", "b", "So that it holds.", True

    job = Procedure("ab", [("a", "b"), Written(), Edge("a", "b", shows="x")])
    assert job.before == (Edge("a", "b", "So that it holds.", dangerous=True, shows="x"),)


def test_values_are_plain_pairs_and_can_be_copied() -> None:
    job = Procedure("abc", [Edge("a", "b", "First."), Edge("b", "c", "Then.", dangerous=True)])
    verdict = job.judge("cba")
    first, second = verdict.broken[0]
    assert (first, second) == verdict.broken[0] == ("a", "b")
    assert verdict.broken == [("a", "b"), ("a", "c"), ("b", "c")] == list(verdict.broken)
    assert verdict.broken[-1] == ("b", "c")
    assert verdict.broken[1:] == (("a", "c"), ("b", "c"))
    assert ("c", "a") not in verdict.broken
    assert "ab" in verdict.broken  # type: ignore[comparison-overlap]  # the point of the test
    assert 3 not in verdict.broken  # type: ignore[comparison-overlap]  # the point of the test
    assert verdict.dangerous == (("b", "c"),)
    assert repr(verdict.dangerous) == "(('b', 'c'),)"
    assert hash(verdict.broken) == hash(job.judge("cba").broken)
    assert verdict == job.judge("cba")
    for copied in (copy.deepcopy(verdict), pickle.loads(pickle.dumps(verdict))):  # noqa: S301 - our own bytes
        assert copied == verdict
        assert copied.broken[0].reason == "First."
    with pytest.raises(AttributeError):
        verdict.order = ()  # type: ignore[misc]  # the point of the test
    with pytest.raises(AttributeError):
        job.steps = ()  # type: ignore[misc]  # the point of the test
    assert job == Procedure("abc", job.before)
    assert job != Procedure("abc", ["ab", "bc"])
    assert hash(job) == hash(Procedure("abc", job.before))
    assert len(job) == 3
    assert "a" in job
    assert ["a"] not in job


def test_empty_procedure_has_one_order() -> None:
    nothing: Procedure[str] = Procedure([])
    assert nothing.count_orders() == 1
    assert nothing.judge([]).valid
    assert nothing.repair([]).order == ()


# What no type would let through.
NO_TEXT: Any = None
IN_A_LIST: Any = [["a"]]
A_NUMBER: Any = 5


@pytest.mark.parametrize(
    ("attempt", "value", "says"),
    [
        (lambda: Procedure("aa"), "a", "stands in a procedure once"),
        (lambda: Procedure(["a", "b", "b"]), "b", "stands in a procedure once"),
        (lambda: Procedure(NO_TEXT), None, "sequence of identifiers"),
        (lambda: Procedure(IN_A_LIST), [["a"]], "sequence of identifiers"),
        (lambda: Procedure("ab", NO_TEXT), None, "sequence of pairs"),
        (lambda: Procedure("ab", ["abc"]), "abc", "written as pairs"),
        (lambda: Procedure("ab", [7]), 7, "written as pairs"),
        (lambda: Procedure("ab", ["ac"]), "c", "joins two steps"),
        (lambda: Procedure("ab", [("a", ["b"])]), ["b"], "joins two steps"),
        (lambda: Procedure("ab", ["aa"]), "a → a", "No step waits for itself"),
        (lambda: Procedure("abcd", ["ab", "bc", "ca", "cd"]), "a → b → c → a", "No step waits for itself"),
        (lambda: Procedure("ab").judge("a"), "b", "these are missing"),
        (lambda: Procedure("abcdefgh").judge("a"), "b, c, d, e, f …", "these are missing"),
        (lambda: Procedure("ab").judge("aba"), "a", "stands in an order once"),
        (lambda: Procedure("ab").judge("abc"), "c", "no such step"),
        (lambda: Procedure("ab").judge([*IN_A_LIST, "b"]), ["a"], "no such step"),
        (lambda: Procedure("ab").judge(A_NUMBER), 5, "sequence of steps"),
        (lambda: Procedure("ab").among("ac"), "c", "no such step"),
        (lambda: Procedure("ab").among("aa"), "a", "once"),
        (lambda: Procedure("ab").without("c"), "c", "no such step"),
        (lambda: Procedure("ab").places("ab", "a"), "a", "stands in an order once"),
        (lambda: Procedure("ab").places("bb", "a"), "b", "stands in an order once"),
        (lambda: Procedure("ab").places("b", "c"), "c", "no such step"),
        (lambda: Procedure("ab").why("a", "b"), "a before b", "either way"),
        (lambda: Procedure("ab", ["ab"]).why("b", "a"), "b before a", "other way round"),
        (lambda: Procedure("ab", ["ab"]).count_orders(limit=0), 0, "1 or more"),
        (lambda: Procedure("ab", ["ab"]).count_orders(limit=True), True, "1 or more"),
        (lambda: Procedure("ab", ["ab"]).count_orders(limit=2), "more than 2 down-sets", "at most 2 down-sets"),
        (lambda: Procedure(range(40)).count_orders(), "more than 1000000 down-sets", "down-sets"),
        (lambda: Procedure(range(9), [(0, 1)]).score(range(9)), 9, "at most 8 steps"),
    ],
)
def test_bad_input_says_value_rule_and_remedy(attempt: object, value: object, says: str) -> None:
    with pytest.raises(ProcedureError) as caught:
        attempt()  # type: ignore[operator]  # a table of lambdas
    error = caught.value
    assert isinstance(error, ValueError)
    assert isinstance(error, TrainkitError)
    assert error.value == value
    assert says in error.rule
    assert error.remedy.endswith(".")


@pytest.mark.parametrize("limit", [6, 7])
def test_down_sets_decide_not_steps(limit: int) -> None:
    """Two chains of 2 have 9 down-sets; a chain of 2,000 has 2,001."""
    two = Procedure("abcd", ["ab", "cd"])
    assert two.count_orders(limit=9) == 6
    with pytest.raises(ProcedureError):
        two.count_orders(limit=8)
    long = Procedure(range(2000), itertools.pairwise(range(2000)))
    assert long.count_orders(limit=2001) == 1
    with pytest.raises(ProcedureError):
        Procedure(range(limit)).count_orders(limit=2**limit - 1)
    assert Procedure(range(limit)).count_orders(limit=2**limit) == math.factorial(limit)


@pytest.mark.parametrize("kind", ["chain", "near", "wide"])
def test_two_thousand_steps(kind: str) -> None:
    rng = random.Random(kind)
    size = 2000
    edges = {
        "chain": list(itertools.pairwise(range(size))),
        "near": [(max(0, step - rng.randrange(1, 40)), step) for step in range(1, size) for _ in range(3)],
        "wide": [(rng.randrange(1000), 1000 + step) for step in range(1000) for _ in range(3)],
    }[kind]
    order = rng.sample(range(size), size)
    start = time.process_time()
    procedure = Procedure(range(size), edges)
    verdict = procedure.judge(order)
    repair = procedure.repair(order)
    moves = verdict.fewest_moves
    spent = time.process_time() - start
    assert procedure.judge(repair.order).valid
    assert len(repair.moves) == moves
    if kind == "chain":
        assert moves == size - longest_increasing(order)
    assert spent < 2.0  # seconds of this process; a tenth of it is usual


def longest_increasing(order: Sequence[int]) -> int:
    """Patience sorting: another method for the special case of a fixed order."""
    import bisect

    tops: list[int] = []
    for card in order:
        at = bisect.bisect_left(tops, card)
        tops[at : at + 1] = [card]
    return len(tops)
