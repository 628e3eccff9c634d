"""What is wrong with an order, and the least that puts it right."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import islice
from typing import Generic, cast, overload

from trainkit.procedures.bitsets import antichain, ones
from trainkit.procedures.edges import Edge, S, joined
from trainkit.procedures.relation import Relation


class Pair(tuple[S, S], Generic[S]):
    """Two steps of a procedure of which the first has to come before the second.

    It is the plain pair ``(before, after)`` and compares and unpacks as one; why the two have their order is
    looked up when it is asked for.

    Attributes
    ----------
    before, after : step identifier
    chain : tuple of Edge
        The edges that lead from one to the other: a single one for an edge as written, a shortest chain for a
        derived pair. A dangerous pair gives a chain of dangerous edges.
    reason : str
        The reasons of the chain, one after the other.
    dangerous : bool
        Whether harm follows from the wrong way round. For a derived pair: whether dangerous edges alone lead
        from one to the other, for only then must every way of placing the steps between break one of them.
    shows : str
        Code of the misconception that the wrong way round shows; of a chain, the first that is known.
    """

    def __new__(cls, before: S, after: S, relation: Relation[S]) -> Pair[S]:
        """Make the pair; ``relation`` is where its reasons are looked up."""
        pair = super().__new__(cls, (before, after))
        pair._relation = relation
        return pair

    _relation: Relation[S]

    def __getnewargs__(self) -> tuple[S, S, Relation[S]]:
        return (*self, self._relation)

    @property
    def before(self) -> S:
        """The step that has to come first."""
        return self[0]

    @property
    def after(self) -> S:
        """The step that has to wait."""
        return self[1]

    @property
    def chain(self) -> tuple[Edge[S], ...]:
        """The edges that lead from the first step to the second."""
        return self._relation.why(*self)

    @property
    def reason(self) -> str:
        """Why the two have this order."""
        return joined(self.chain, dangerous=self.dangerous).reason

    @property
    def dangerous(self) -> bool:
        """Whether harm follows from the wrong way round."""
        return self._relation.has(self._relation.danger, *self)

    @property
    def shows(self) -> str:
        """The misconception that the wrong way round shows, or nothing."""
        return joined(self.chain, dangerous=self.dangerous).shows


class Pairs(Sequence[Pair[S]]):
    """Pairs of a procedure, each made when it is looked at: 2,000 steps have up to two million.

    It is read like a tuple of pairs, and equals any sequence of the same ones.

    Parameters
    ----------
    relation : Relation
    rows : tuple of int
        For each step number the mask of those that it forms a pair with.

    Examples
    --------
    >>> from trainkit.procedures import Procedure
    >>> broken = Procedure("abc", ["ab", "bc"]).judge("cab").broken
    >>> len(broken), broken[0], ("a", "b") in broken
    (2, ('a', 'c'), False)
    """

    __slots__ = ("_relation", "_rows")

    def __init__(self, relation: Relation[S], rows: tuple[int, ...]) -> None:
        self._relation = relation
        self._rows = rows

    def __len__(self) -> int:
        return sum(row.bit_count() for row in self._rows)

    def __iter__(self) -> Iterator[Pair[S]]:
        steps = self._relation.steps
        for number, row in enumerate(self._rows):
            for other in ones(row):
                yield Pair(steps[number], steps[other], self._relation)

    @overload
    def __getitem__(self, place: int) -> Pair[S]: ...
    @overload
    def __getitem__(self, place: slice) -> tuple[Pair[S], ...]: ...
    def __getitem__(self, place: int | slice) -> Pair[S] | tuple[Pair[S], ...]:
        if isinstance(place, int) and place >= 0:
            for pair in islice(self, place, None):
                return pair
        return tuple(self)[place]

    def __contains__(self, pair: object) -> bool:
        numbers = self._relation.numbers
        try:
            first, second = cast("tuple[S, S]", pair)
            return bool(self._rows[numbers[first]] >> numbers[second] & 1)
        except (TypeError, ValueError, KeyError):
            return False

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Sequence):
            return NotImplemented
        return len(self) == len(other) and all(mine == theirs for mine, theirs in zip(self, other, strict=True))

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        shown = ", ".join(repr(pair) for pair in islice(self, 20))
        return f"({shown}{', …' if len(self) > 20 else ',' if len(self) == 1 else ''})"


@dataclass(frozen=True, slots=True)
class Move(Generic[S]):
    """One step is taken out and put back at another place.

    Parameters
    ----------
    step : step identifier
    start, end : int
        Its place before, and its place after, counted from 0.
    """

    step: S
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Repair(Generic[S]):
    """A valid order, and the moves that lead there from the order that was given.

    Parameters
    ----------
    order : tuple of step identifiers
    moves : tuple of Move
        To be made in this order; there is no shorter way.
    """

    order: tuple[S, ...]
    moves: tuple[Move[S], ...]


@dataclass(frozen=True)
class Judgement(Generic[S]):
    """An order held against a procedure.

    Everything is worked out when it is first asked for, and kept.

    Attributes
    ----------
    order : tuple of step identifiers
        The order that was judged.
    valid : bool
        Whether it breaks nothing.
    broken : Pairs
        All pairs of the transitive closure that stand the wrong way round, in the order in which the step that
        has to come first stands in the procedure.
    dangerous : Pairs
        Those of them from which harm follows.
    fewest_moves : int
        The least number of steps that have to be taken out and put elsewhere.
    to_move : tuple of step identifiers
        Such steps, in the order judged. Where several choices are equally short this is one of them.
    culprits : tuple of step identifiers
        Where one move is enough: every step that alone can make it.
    """

    relation: Relation[S] = field(repr=False)
    order: tuple[S, ...]
    # For each step number the mask of those that stand before it and should come after it.
    _rows: tuple[int, ...] = field(repr=False)

    @property
    def valid(self) -> bool:
        """Whether the order breaks nothing."""
        return not any(self._rows)

    @property
    def broken(self) -> Pairs[S]:
        """All pairs that stand the wrong way round."""
        return Pairs(self.relation, self._rows)

    @property
    def dangerous(self) -> Pairs[S]:
        """The broken pairs from which harm follows."""
        rows = zip(self._rows, self.relation.danger, strict=True)
        return Pairs(self.relation, tuple(row & harm for row, harm in rows))

    @cached_property
    def _kept(self) -> int:
        # Steps no two of which form a broken pair can all stay; a largest antichain keeps most.
        return antichain(self._rows)

    @property
    def fewest_moves(self) -> int:
        """The least number of steps to move."""
        return len(self.order) - self._kept.bit_count()

    @cached_property
    def to_move(self) -> tuple[S, ...]:
        """Steps whose moving repairs the order with the fewest moves."""
        return self._in_order(~self._kept)

    @cached_property
    def culprits(self) -> tuple[S, ...]:
        """Every step that alone, moved, repairs the order; none where one move is not enough, or none is needed."""
        if self.fewest_moves != 1:
            return ()
        first = next(number for number, row in enumerate(self._rows) if row)
        return self._in_order(sum(1 << number for number in (first, *ones(self._rows[first])) if self._alone(number)))

    def _alone(self, number: int) -> bool:
        """Tell whether every broken pair has a part in the step of this number."""
        return all(not row & ~(1 << number) for other, row in enumerate(self._rows) if other != number)

    def _in_order(self, mask: int) -> tuple[S, ...]:
        numbers = self.relation.numbers
        return tuple(step for step in self.order if mask >> numbers[step] & 1)


def judge(relation: Relation[S], order: Iterable[S]) -> Judgement[S]:
    """Judge an order of all steps; see :meth:`Procedure.judge`."""
    numbers = relation.numbers_of(order)
    rows = [0] * len(numbers)
    laid = 0
    for number in numbers:
        rows[number] = relation.after[number] & laid
        laid |= 1 << number
    return Judgement(relation, tuple(relation.steps[number] for number in numbers), tuple(rows))
