"""The precedence of a procedure: its edges, and what follows from them as sets of step numbers, worked out once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from heapq import heapify, heappop, heappush
from itertools import pairwise
from typing import Generic

from trainkit.errors import ProcedureError
from trainkit.procedures.bitsets import closure, ones, turned
from trainkit.procedures.edges import Edge, S, find_cycle, joined


@dataclass(frozen=True, slots=True)
class Relation(Generic[S]):
    """Precedence among numbered steps.

    Numbers follow one valid order, so every mask of followers lies above its step.

    Parameters
    ----------
    steps : tuple of step identifiers
        By number.
    edges : mapping of pair to Edge
        As written; those between the same two steps are one.
    numbers : mapping of step identifier to int
    written, harmful : tuple of int
        For each step the mask of those that an edge, or a dangerous edge, puts after it.
    after, before : tuple of int
        All that come after it, and all that come before it.
    covers : tuple of int
        Those after it with nothing in between.
    danger : tuple of int
        Those that dangerous edges alone lead to.
    """

    steps: tuple[S, ...]
    edges: Mapping[tuple[S, S], Edge[S]] = field(hash=False)
    # The rest follows from steps and edges.
    numbers: Mapping[S, int] = field(compare=False)
    written: tuple[int, ...] = field(compare=False)
    harmful: tuple[int, ...] = field(compare=False)
    after: tuple[int, ...] = field(compare=False)
    before: tuple[int, ...] = field(compare=False)
    covers: tuple[int, ...] = field(compare=False)
    danger: tuple[int, ...] = field(compare=False)

    def knows(self, step: object) -> bool:
        """Tell whether there is such a step."""
        try:
            return step in self.numbers
        except TypeError:
            return False

    def number(self, step: S) -> int:
        """Return the number of a step.

        Raises
        ------
        ProcedureError
            If there is no such step.
        """
        try:
            return self.numbers[step]
        except (KeyError, TypeError):
            raise ProcedureError(
                step, rule="The procedure has no such step.", remedy="Name one of its steps, as they are listed."
            ) from None

    def numbers_of(self, order: Iterable[S]) -> tuple[int, ...]:
        """Return the numbers of an order of all steps.

        Raises
        ------
        ProcedureError
            If a step is missing, unknown or stands there twice.
        """
        try:
            given = list(order)
        except TypeError:
            raise ProcedureError(
                order, rule="An order is a sequence of steps.", remedy="Give every step once, first to last."
            ) from None
        found: list[int] = []
        seen = 0
        for step in given:
            number = self.number(step)
            if seen >> number & 1:
                raise ProcedureError(step, rule="A step stands in an order once.", remedy="Take the second one out.")
            seen |= 1 << number
            found.append(number)
        if len(found) < len(self.steps):
            missing = [str(step) for number, step in enumerate(self.steps) if not seen >> number & 1]
            raise ProcedureError(
                ", ".join(missing[:5]) + (" …" if len(missing) > 5 else ""),
                rule="An order holds every step of the procedure; these are missing.",
                remedy="Put them in; places() tells where each may stand.",
            )
        return tuple(found)

    def has(self, rows: Sequence[int], first: S, second: S) -> bool:
        """Tell whether the row of ``first`` holds ``second``."""
        return bool(rows[self.number(first)] >> self.number(second) & 1)

    def why(self, first: S, second: S) -> tuple[Edge[S], ...]:
        """Return a shortest chain of edges from one step to another; see :meth:`Procedure.why`."""
        if not self.has(self.after, first, second):
            other_way = self.has(self.after, second, first)
            raise ProcedureError(
                f"{first} before {second}",
                rule="This pair stands the other way round." if other_way else "This pair may stand either way.",
                remedy="Ask about a pair that has this order.",
            )
        chain = [self.steps[number] for number in self._chain(self.numbers[first], self.numbers[second])]
        return tuple(self.edges[pair] for pair in pairwise(chain))

    def edges_among(self, kept: Iterable[S]) -> list[Edge[S]]:
        """Return what orders the steps of ``kept`` when they alone are left; see :meth:`Procedure.among`."""
        mask = sum(1 << self.number(step) for step in kept)
        edges = [
            edge
            for (first, second), edge in self.edges.items()
            if mask >> self.numbers[first] & mask >> self.numbers[second] & 1
        ]
        for start, end in self.left_open(mask):
            first, second = self.steps[start], self.steps[end]
            edges.append(joined(self.why(first, second), dangerous=self.has(self.danger, first, second)))
        return edges

    def _chain(self, start: int, end: int) -> list[int]:
        """Return the steps of a shortest chain; where dangerous edges alone lead there, it is made of them."""
        rows = self.harmful if self.danger[start] >> end & 1 else self.written
        useful = self.before[end] | 1 << end
        came_from = {start: start}
        front = [start]
        while end not in came_from:
            reached: list[int] = []
            for number in front:
                for follower in ones(rows[number] & useful):
                    if follower not in came_from:
                        came_from[follower] = number
                        reached.append(follower)
            front = reached
        chain = [end]
        while chain[-1] != start:
            chain.append(came_from[chain[-1]])
        return chain[::-1]

    def left_open(self, mask: int) -> list[tuple[int, int]]:
        """Return the pairs that need an edge of their own when the steps of ``mask`` alone are left.

        They are the covers among those steps that no edge as written joins, in the whole relation and in the
        dangerous part of it.
        """
        pairs: list[tuple[int, int]] = []
        for rows, edges in ((self.after, self.written), (self.danger, self.harmful)):
            for number in ones(mask):
                left = rows[number] & mask
                while left:
                    low = left & -left
                    nearest = low.bit_length() - 1
                    left &= ~(low | rows[nearest])
                    if not edges[number] & low:
                        pairs.append((number, nearest))
        return pairs

    def valid_order(self, stay: Iterable[int], wish: Mapping[int, int]) -> list[int]:
        """Return a valid order in which the steps of ``stay`` follow each other as given.

        Parameters
        ----------
        stay : iterable of int
            Numbers of steps no two of which stand the wrong way round.
        wish : mapping of int to int
            For each number the place where it would best stand: of several steps that are ready the one with the
            least goes first, so none goes further from there than it has to.
        """
        rows = list(self.covers)
        held = list(stay)
        for number, following in pairwise(held):
            rows[number] |= 1 << following
        waiting = _waiting(rows)
        ready = [(wish[number], number) for number, count in enumerate(waiting) if not count]
        heapify(ready)
        order: list[int] = []
        while ready:
            _, number = heappop(ready)
            order.append(number)
            for follower in ones(rows[number]):
                waiting[follower] -= 1
                if not waiting[follower]:
                    heappush(ready, (wish[follower], follower))
        return order


def _waiting(rows: Iterable[int]) -> list[int]:
    """Return for each step how many others it directly waits for."""
    masks = list(rows)
    waiting = [0] * len(masks)
    for row in masks:
        for number in ones(row):
            waiting[number] += 1
    return waiting


def relate(given: Mapping[S, int], edges: Mapping[tuple[S, S], Edge[S]]) -> Relation[S]:
    """Give the steps their numbers and close the precedence.

    Parameters
    ----------
    given : mapping of step identifier to int
        The steps, as they are listed.
    edges : mapping of pair to Edge

    Raises
    ------
    ProcedureError
        If steps wait for each other in a ring; the error names it.
    """
    steps = tuple(_sort(given, edges))
    if len(steps) < len(given):
        ring = find_cycle(given, edges.values())
        raise ProcedureError(
            " → ".join(str(step) for step in ring),
            rule="No step waits for itself; an arrow reads 'comes before'.",
            remedy="Take out the edge of this ring that is not so.",
        )
    numbers = {step: number for number, step in enumerate(steps)}
    written = [0] * len(steps)
    harmful = [0] * len(steps)
    for (first, second), edge in edges.items():
        bit = 1 << numbers[second]
        written[numbers[first]] |= bit
        if edge.dangerous:
            harmful[numbers[first]] |= bit
    after, covers = closure(written)
    danger, _ = closure(harmful)
    before: list[int] = []
    for nearest in turned(covers):
        reached = nearest
        for number in ones(nearest):
            reached |= before[number]
        before.append(reached)
    return Relation(
        steps, edges, numbers, tuple(written), tuple(harmful), tuple(after), tuple(before), tuple(covers), tuple(danger)
    )


def _sort(given: Mapping[S, int], edges: Iterable[tuple[S, S]]) -> list[S]:
    """Return a valid order, as near to the listed one as may be; without the steps of rings and what follows."""
    listed = list(given)
    followers: dict[S, list[S]] = {step: [] for step in given}
    waiting = dict.fromkeys(given, 0)
    for first, second in edges:
        followers[first].append(second)
        waiting[second] += 1
    ready = [number for step, number in given.items() if not waiting[step]]
    order: list[S] = []
    while ready:
        step = listed[heappop(ready)]
        order.append(step)
        for follower in followers[step]:
            waiting[follower] -= 1
            if not waiting[follower]:
                heappush(ready, given[follower])
    return order
