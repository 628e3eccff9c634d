"""Counting over the down-sets of a precedence: how many valid orders there are, and what chance alone achieves."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from trainkit.errors import ProcedureError
from trainkit.procedures.bitsets import antichain, ones, turned

MOST_DOWN_SETS = 1_000_000
MOST_CARDS = 8


def count_extensions(after: Sequence[int], covers: Sequence[int], before: Sequence[int], limit: int) -> int:
    """Count the orders that break no precedence, exactly.

    A valid order is a path from the empty down-set to the full one, one step at a time; the paths to each down-set
    are added up level by level. What it costs grows with the number of down-sets, not with that of the steps: a
    chain of 2,000 steps has 2,001, thirty steps in any order have more than a thousand million.

    Parameters
    ----------
    after, covers, before : sequence of int
        For each step the masks of all steps after it, of those directly after it, and of all before it.
    limit : int
        The largest number of down-sets that is gone through.

    Raises
    ------
    ProcedureError
        If there are more.

    Examples
    --------
    >>> count_extensions([0b10, 0, 0], [0b10, 0, 0], [0, 0b1, 0], limit=100)
    3
    """
    # Every part of a largest antichain makes a down-set of its own, so hopeless cases are known at once.
    if antichain(after).bit_count() >= max(limit, 1).bit_length():
        raise _too_many(limit)
    ways = {0: 1}
    ready = {0: sum(1 << step for step, needed in enumerate(before) if not needed)}
    seen = 1
    for _ in after:
        next_ways: dict[int, int] = {}
        next_ready: dict[int, int] = {}
        for done, paths in ways.items():
            open_now = left = ready[done]
            while left:  # the loop of ones(), written out: this is where all the time goes
                bit = left & -left
                left ^= bit
                now = done | bit
                if now in next_ways:
                    next_ways[now] += paths
                    continue
                next_ways[now] = paths
                then = open_now ^ bit
                for follower in ones(covers[bit.bit_length() - 1]):
                    if not before[follower] & ~now:
                        then |= 1 << follower
                next_ready[now] = then
            if seen + len(next_ways) > limit:
                raise _too_many(limit)
        seen += len(next_ways)
        ways, ready = next_ways, next_ready
    return sum(ways.values())


def _too_many(limit: int) -> ProcedureError:
    return ProcedureError(
        f"more than {limit} down-sets",
        rule=f"Valid orders are counted where the precedence has at most {limit} down-sets.",
        remedy="Add the precedence that is missing, count a part of the steps, or allow more with limit=.",
    )


@lru_cache(maxsize=4096)
def moves_by_chance(after: tuple[int, ...]) -> tuple[int, ...]:
    """Count, for every number of moves, the arrangements that need exactly so many to be repaired.

    All arrangements are gone through from the front, those that cannot be told apart any more together. What
    matters of the steps laid out so far is only how many of them can stay, for every set of later steps that
    would then have to move.

    Parameters
    ----------
    after : tuple of int
        For each of at most eight steps the mask of all steps after it.

    Returns
    -------
    tuple of int
        Entry ``m`` is the number of arrangements whose fewest moves are ``m``; all add up to ``n!``.

    Raises
    ------
    ProcedureError
        If there are more than eight steps.

    Examples
    --------
    Three steps in a fixed order: one arrangement is right, four need one move, the reverse needs two.

    >>> moves_by_chance((0b110, 0b100, 0))
    (1, 4, 1)
    """
    size = len(after)
    if size > MOST_CARDS:
        raise ProcedureError(
            size,
            rule=f"What chance achieves is counted for at most {MOST_CARDS} steps.",
            remedy="Ask about a part of the steps; Procedure.among() takes one out.",
        )
    before = turned(after)
    full = (1 << size) - 1
    # A state: the steps laid out, and the choices of some of them to stay, each as one number: how many had to move,
    # and in the low bits the later steps that it rules out. A step is ruled out by one that has to come after it.
    level: dict[tuple[int, tuple[int, ...]], int] = {(0, (0,)): 1}
    for _ in range(size):
        following: dict[tuple[int, tuple[int, ...]], int] = {}
        for (laid, choices), ways in level.items():
            for step in ones(~laid & full):
                bit = 1 << step
                then = laid | bit
                needed = before[step] & ~then
                grown = {(choice & ~bit) + (1 << size) for choice in choices}
                grown.update([choice | needed for choice in choices if not choice & bit])
                place = (then, _best(grown, full))
                following[place] = following.get(place, 0) + ways
        level = following
    counts = [0] * (size + 1)
    for (_, choices), ways in level.items():
        counts[choices[0] >> size] += ways
    while len(counts) > 1 and not counts[-1]:
        counts.pop()
    return tuple(counts)


def _best(choices: set[int], full: int) -> tuple[int, ...]:
    """Leave out each choice for which another rules out no more and moves no more; the fewest moves come first."""
    best: list[int] = []
    # Sorted, whatever could make another superfluous stands before it: fewer moves first, then part before whole.
    for choice in sorted(choices):
        for other in best:
            if not other & ~choice & full:
                break
        else:
            best.append(choice)
    return tuple(best)
