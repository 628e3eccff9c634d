"""Partial orders and orders against published counts: rows P of the table, each with its source."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from typing import Any

import pytest
from scipy import stats
from sympy.combinatorics import Permutation
from sympy.functions.combinatorial.numbers import andre, catalan

from tests.outside.checks import Row, row, rows
from trainkit.procedures import Procedure

NOT_TESTED = {
    "P23": "An order here puts every step in a place of its own, so the coefficient for ties has no counterpart.",
}


def chain(size: int) -> Procedure[int]:
    return Procedure(range(size), itertools.pairwise(range(size)))


def zigzag(size: int) -> Procedure[int]:
    """Every second step waits for its neighbours."""
    return Procedure(range(size), [(at, at + 1) if at % 2 == 0 else (at + 1, at) for at in range(size - 1)])


def lattice(size: int) -> Procedure[int]:
    """All sets of so many things, each after those it holds."""
    sets = range(1 << size)
    return Procedure(sets, [(one, one | 1 << bit) for one in sets for bit in range(size) if not one >> bit & 1])


def grid(height: int, width: int) -> Procedure[tuple[int, int]]:
    cells = list(itertools.product(range(height), range(width)))
    return Procedure(
        cells,
        [
            (one, other)
            for one in cells
            for other in cells
            if (other[0] - one[0], other[1] - one[1]) in {(0, 1), (1, 0)}
        ],
    )


def divisors(number: int) -> Procedure[int]:
    found = [each for each in range(1, number + 1) if number % each == 0]
    return Procedure(found, [(one, other) for one in found for other in found if one != other and other % one == 0])


COUNTED: dict[str, Procedure[Any]] = {
    "P01": chain(7),  # definition; networkx.all_topological_sorts
    "P02": Procedure(range(6)),  # n!, OEIS A000142
    "P03": zigzag(4),  # OEIS A000111
    "P04": zigzag(5),  # OEIS A000111
    "P05": zigzag(6),  # OEIS A000111; one of the two orientations, which is where tables differ
    "P06": zigzag(7),  # OEIS A000111
    "P07": lattice(3),  # OEIS A046873
    "P08": lattice(4),  # OEIS A046873; the term itself from memory
    "P09": grid(2, 5),  # Catalan number, OEIS A000108
    "P10": grid(3, 3),  # hook length formula; OEIS A114717(36)
    "P11": grid(3, 4),  # hook length formula; OEIS A114717(72)
    "P13": divisors(12),  # OEIS A114717, worked example
    "P15": Procedure(range(7), [(0, 1), (1, 2), (3, 4), (4, 5), (5, 6)]),  # C(7,3)
    "P16": Procedure("abcd", ["ac", "bc", "bd"]),  # networkx
}


@rows("P01", "P02", "P03", "P04", "P05", "P06", "P07", "P08", "P09", "P10", "P11", "P13", "P15", "P16")
def test_number_of_valid_orders(check: Row) -> None:
    check.check(COUNTED[check.id].count_orders())


@pytest.mark.parametrize("size", range(2, 10))
def test_zigzags_agree_with_sympy(size: int) -> None:
    assert zigzag(size).count_orders() == andre(size)


@pytest.mark.parametrize("width", range(1, 8))
def test_two_rows_agree_with_sympy(width: int) -> None:
    assert grid(2, width).count_orders() == catalan(width)


def test_kendall_distance() -> None:
    # The worked example of an encyclopaedia; scipy agrees on the coefficient.
    order = (3, 4, 1, 2, 5)
    fixed = Procedure((1, 2, 3, 4, 5), itertools.pairwise((1, 2, 3, 4, 5)))
    verdict = fixed.judge(order)
    row("P20").check(len(verdict.broken))
    tau = 1 - 4 * len(verdict.broken) / (5 * 4)
    row("P21").check(tau)
    assert tau == pytest.approx(stats.kendalltau((1, 2, 3, 4, 5), order).statistic, abs=1e-12)


def test_normalised_distance_of_two_rankings() -> None:
    # Common practice, no published source found.
    first, second = (2, 4, 1, 3, 5), (1, 3, 4, 5, 2)
    wanted = sorted(range(5), key=first.__getitem__)
    given = sorted(range(5), key=second.__getitem__)
    procedure = Procedure(wanted, itertools.pairwise(wanted))
    row("P22").check(len(procedure.judge(given).broken) / len(procedure.pairs))


def test_moves_of_a_shuffled_row() -> None:
    # The longest increasing part of an encyclopaedia's example has 6 members, so 10 of 16 are to move.
    order = (0, 8, 4, 12, 2, 10, 6, 14, 1, 9, 5, 13, 3, 11, 7, 15)
    verdict = chain(16).judge(order)
    row("P24").check(16 - verdict.fewest_moves)
    assert len(verdict.to_move) == 10


def test_moves_agree_with_a_search_over_all_orders_of_six() -> None:
    # Ulam's metric. The search starts at the right order, so it reaches each other one by its fewest moves.
    right = tuple(range(6))
    distance = {right: 0}
    front = [right]
    while front:
        reached = []
        for order in front:
            for start, end in itertools.product(range(6), repeat=2):
                rest = order[:start] + order[start + 1 :]
                then = (*rest[:end], order[start], *rest[end:])
                if then not in distance:
                    distance[then] = distance[order] + 1
                    reached.append(then)
        front = reached
    procedure = chain(6)
    row("P25").check(sum(procedure.judge(order).fewest_moves == moves for order, moves in distance.items()))


def test_orders_of_five_by_moves() -> None:
    # OEIS A047874, row 5; the identifier from memory.
    procedure = chain(5)
    kept = Counter(5 - procedure.judge(order).fewest_moves for order in itertools.permutations(range(5)))
    assert tuple(kept[length] for length in range(1, 6)) == row("P26").numbers


def test_orders_of_four_by_broken_pairs() -> None:
    # Mahonian numbers, OEIS A008302; the identifier from memory.
    procedure = chain(4)
    orders = list(itertools.permutations(range(4)))
    broken = Counter(len(procedure.judge(order).broken) for order in orders)
    assert tuple(broken[number] for number in range(7)) == row("P28").numbers
    assert sum(row("P28").numbers) == math.factorial(4)
    for order in orders:
        assert len(procedure.judge(order).broken) == Permutation(list(order)).inversions()
