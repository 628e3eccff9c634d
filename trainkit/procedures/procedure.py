"""A procedure: steps, and which of them has to come before which."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Generic

from trainkit.errors import ProcedureError
from trainkit.procedures.counting import MOST_DOWN_SETS, count_extensions, moves_by_chance
from trainkit.procedures.edges import Edge, S, read_edges, read_steps
from trainkit.procedures.judgement import Judgement, Pairs, Repair, judge
from trainkit.procedures.orders import places, repair
from trainkit.procedures.relation import Relation, relate

if TYPE_CHECKING:
    import random


class Procedure(Generic[S]):
    """Steps in a partial order; read-only.

    Parameters
    ----------
    steps : iterable of step identifiers
        Each a string or another hashable value, each once. Their order says nothing but how things are listed.
    before : iterable of pairs or edges, optional
        ``("isolate", "bar")`` means that *isolate* comes before *bar*; an :class:`Edge` carries the reason too.

    Attributes
    ----------
    steps : tuple of step identifiers
    before : tuple of Edge
        The edges as written, those between the same two steps merged.

    Raises
    ------
    ProcedureError
        If a step stands there twice, an edge names none of the steps, or steps wait for each other in a ring,
        which the error names.

    Examples
    --------
    >>> job = Procedure(
    ...     ["isolate", "bar", "pin", "loosen"], [("isolate", "bar"), ("bar", "pin"), ("pin", "loosen")]
    ... )
    >>> verdict = job.judge(["bar", "pin", "isolate", "loosen"])
    >>> verdict.broken
    (('isolate', 'bar'), ('isolate', 'pin'))
    >>> verdict.fewest_moves, verdict.to_move
    (1, ('isolate',))
    >>> job.count_orders()
    1
    """

    __slots__ = ("_relation", "_steps")

    def __init__(self, steps: Iterable[S], before: Iterable[object] = ()) -> None:
        given = read_steps(steps)
        self._steps: tuple[S, ...] = tuple(given)
        self._relation: Relation[S] = relate(given, read_edges(before, given))

    @property
    def steps(self) -> tuple[S, ...]:
        """The steps as they were listed."""
        return self._steps

    @property
    def before(self) -> tuple[Edge[S], ...]:
        """The edges as written."""
        return tuple(self._relation.edges.values())

    @property
    def relation(self) -> Relation[S]:
        """The precedence as sets of step numbers, for the other modules of this package."""
        return self._relation

    @property
    def pairs(self) -> Pairs[S]:
        """All pairs that have an order, the derived ones too."""
        return Pairs(self._relation, self._relation.after)

    def __len__(self) -> int:
        return len(self._steps)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Procedure):
            return NotImplemented
        return self._steps == other._steps and self._relation.edges == other._relation.edges

    def __hash__(self) -> int:
        return hash((self._steps, frozenset(self._relation.edges)))

    def __repr__(self) -> str:
        return f"Procedure({len(self._steps)} steps, {len(self._relation.edges)} edges)"

    def __contains__(self, step: object) -> bool:
        return self._relation.knows(step)

    # Pairs and their reasons

    def comes_before(self, first: S, second: S) -> bool:
        """Tell whether ``first`` has to come before ``second``.

        Examples
        --------
        >>> Procedure("abc", ["ab", "bc"]).comes_before("a", "c")
        True
        """
        return self._relation.has(self._relation.after, first, second)

    def is_dangerous(self, first: S, second: S) -> bool:
        """Tell whether harm follows from doing ``second`` before ``first``.

        So it is where dangerous edges alone lead from one to the other.

        Examples
        --------
        >>> job = Procedure("abcd", [Edge("a", "b", dangerous=True), Edge("b", "c", dangerous=True), ("c", "d")])
        >>> job.is_dangerous("a", "c"), job.is_dangerous("a", "d")
        (True, False)
        """
        return self._relation.has(self._relation.danger, first, second)

    def why(self, first: S, second: S) -> tuple[Edge[S], ...]:
        """Say why ``first`` comes before ``second``.

        Returns
        -------
        tuple of Edge
            A shortest chain of edges that leads from one to the other; of dangerous edges, where those suffice.

        Raises
        ------
        ProcedureError
            If the two may stand either way, or only the other way round.

        Examples
        --------
        >>> job = Procedure("abc", [Edge("a", "b", "Because of p."), Edge("b", "c", "Because of q.")])
        >>> [edge.reason for edge in job.why("a", "c")]
        ['Because of p.', 'Because of q.']
        """
        return self._relation.why(first, second)

    # An order held against the procedure

    def judge(self, order: Iterable[S]) -> Judgement[S]:
        """Judge an order of all steps.

        A pair is broken when the procedure, or what follows from it, wants it the other way round. Broken pairs
        form a partial order of their own, so the fewest moves are the number of steps less a largest antichain.

        Raises
        ------
        ProcedureError
            If a step is missing, unknown or stands there twice; :meth:`faults` takes such an order.
        """
        return judge(self._relation, order)

    def repair(self, order: Iterable[S]) -> Repair[S]:
        """Repair an order with the fewest moves.

        Steps that stay keep their places among each other; a step that moves goes no further than it has to.

        Raises
        ------
        ProcedureError
            As for :meth:`judge`.

        Examples
        --------
        >>> Procedure("abcd", ["ab", "bc", "cd"]).repair("bcad")
        Repair(order=('a', 'b', 'c', 'd'), moves=(Move(step='a', start=2, end=0),))
        """
        return repair(self._relation, order)

    def expected_moves(self) -> float:
        """Return the fewest moves that an arrangement by chance needs, on average over all arrangements.

        Raises
        ------
        ProcedureError
            If there are more than eight steps.

        Examples
        --------
        >>> Procedure("abc", ["ab", "bc"]).expected_moves()
        1.0
        """
        counts = moves_by_chance(self._relation.after)
        return sum(moves * count for moves, count in enumerate(counts)) / math.factorial(len(self._steps))

    def score(self, order: Iterable[S]) -> float:
        """Return the share of full marks that an order earns: ``1 - moves / expected moves``, never below 0.

        A valid order earns 1. An order that takes as many moves as one by chance takes on average earns nothing;
        so before it is cut off at 0 the share has the mean 0 over all arrangements.

        Raises
        ------
        ProcedureError
            As for :meth:`judge`; if there are more than eight steps; if no pair has an order.

        Examples
        --------
        >>> chain = Procedure("abcd", ["ab", "bc", "cd"])
        >>> chain.score("abcd"), round(chain.score("bacd"), 2), chain.score("dcba")
        (1.0, 0.37, 0.0)
        """
        if not self._relation.edges:
            raise ProcedureError(
                self._steps,
                rule="Where steps may stand in any order, no order earns more than another.",
                remedy="Choose steps of which some have to come before others.",
            )
        return max(0.0, 1.0 - self.judge(order).fewest_moves / self.expected_moves())

    def places(self, order: Iterable[S], step: S) -> tuple[int, ...]:
        """Return every place at which a missing step may be put into an order.

        Parameters
        ----------
        order : iterable of step identifiers
            Some or all of the other steps.
        step : step identifier

        Returns
        -------
        tuple of int
            How many steps of ``order`` stand before it, ascending; empty if the order leaves it no place.

        Raises
        ------
        ProcedureError
            If a step is unknown or stands there twice, or ``step`` stands there already.

        Examples
        --------
        >>> Procedure("abcd", ["ab", "bd"]).places("acd", "b")
        (1, 2)
        """
        return places(self._relation, order, step)

    def count_orders(self, limit: int = MOST_DOWN_SETS) -> int:
        """Count the valid orders, exactly.

        Parameters
        ----------
        limit : int, optional
            The largest number of down-sets that is gone through. Their number decides what counting costs; the
            number of steps does not.

        Raises
        ------
        ProcedureError
            If there are more down-sets, or ``limit`` is no positive whole number.

        Examples
        --------
        >>> Procedure("abcd", ["ab", "cd"]).count_orders()
        6
        """
        if type(limit) is not int or limit < 1:  # True is no number of down-sets
            raise ProcedureError(
                limit, rule="The limit is a number of down-sets, 1 or more.", remedy="Leave it out, or give one such."
            )
        return count_extensions(self._relation.after, self._relation.covers, self._relation.before, limit)

    # Other procedures made of this one

    def among(self, steps: Iterable[S]) -> Procedure[S]:
        """Return the procedure of some of the steps alone, in the order given.

        What orders two of them through steps that are left out stays, as an edge of its own whose reason is that
        of the whole chain; it is dangerous where the chain is made of dangerous edges.

        Raises
        ------
        ProcedureError
            If a step is unknown or stands there twice.

        Examples
        --------
        >>> Procedure("abc", [Edge("a", "b", "So p."), Edge("b", "c", "So q.")]).among("ac").before
        (Edge(before='a', after='c', reason='So p. So q.', dangerous=False, shows='', via=('b',)),)
        """
        kept = read_steps(steps)
        return Procedure(kept, self._relation.edges_among(kept))

    def without(self, steps: Iterable[S]) -> Procedure[S]:
        """Return the procedure with some steps dropped, as a configuration does to which they do not apply.

        What the dropped steps held in order stays in order.

        Raises
        ------
        ProcedureError
            If a step is unknown or named twice.

        Examples
        --------
        >>> Procedure("abc", ["ab", "bc"]).without(["b"]).comes_before("a", "c")
        True
        """
        dropped = read_steps(steps)
        for step in dropped:
            self._relation.number(step)
        return self.among(step for step in self._steps if step not in dropped)

    # Orders by chance

    def random_valid_order(self, rng: random.Random) -> tuple[S, ...]:
        """Return a valid order by chance: of the steps that are ready, one by chance is next.

        Every valid order can come out; they are not equally likely.

        Examples
        --------
        >>> import random
        >>> job = Procedure("abcd", ["ab", "cd"])
        >>> job.judge(job.random_valid_order(random.Random(1))).valid
        True
        """
        wishes = list(range(len(self._steps)))
        rng.shuffle(wishes)
        relation = self._relation
        return tuple(relation.steps[number] for number in relation.valid_order((), dict(enumerate(wishes))))
