"""Precedence edges: which step comes before which, why, and whether harm follows from the other way round."""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, cast

from trainkit.errors import ProcedureError

if TYPE_CHECKING:
    # The default lets a plain ``Procedure`` stand for steps named by strings; ``typing`` has it from 3.13 on.
    from typing_extensions import TypeVar

    S = TypeVar("S", bound=Hashable, default=str)
else:
    from typing import TypeVar

    S = TypeVar("S", bound=Hashable)

__all__ = ["Edge", "S", "find_cycle", "joined", "read_edges", "read_steps"]


@dataclass(frozen=True, slots=True)
class Edge(Generic[S]):
    """One step comes before another.

    Parameters
    ----------
    before, after : step identifier
        The step that comes first, and the one that waits for it.
    reason : str, optional
        Why, a whole sentence.
    dangerous : bool, optional
        Whether the other way round hurts a person or the engine. Pairs that are only convenient are no edges.
    shows : str, optional
        Code of the misconception that the other way round shows.
    via : tuple of step identifiers, optional
        Steps between the two that were left out (:meth:`Procedure.without`); empty for an edge as written.

    Examples
    --------
    >>> edge = Edge("dry", "mate", reason="A wet face does not seal.", dangerous=True)
    >>> edge.before, edge.after, edge.dangerous
    ('dry', 'mate', True)
    """

    before: S
    after: S
    reason: str = ""
    dangerous: bool = False
    shows: str = ""
    via: tuple[S, ...] = ()


def joined(chain: Sequence[Edge[S]], *, dangerous: bool) -> Edge[S]:
    """Return the edge that stands for a chain of edges: their reasons, and the first misconception that is known.

    Examples
    --------
    >>> joined([Edge("a", "b", "So p."), Edge("b", "c", "So q.")], dangerous=False)
    Edge(before='a', after='c', reason='So p. So q.', dangerous=False, shows='', via=('b',))
    """
    via = [*chain[0].via]
    for edge in chain[1:]:
        via += [edge.before, *edge.via]
    return Edge(
        chain[0].before,
        chain[-1].after,
        reason=" ".join(dict.fromkeys(edge.reason for edge in chain if edge.reason)),
        dangerous=dangerous,
        shows=next((edge.shows for edge in chain if edge.shows), ""),
        via=tuple(via),
    )


def read_steps(steps: Iterable[S]) -> dict[S, int]:
    """Read the steps and number them in the order given.

    Raises
    ------
    ProcedureError
        If a step cannot be an identifier or stands there twice.

    Examples
    --------
    >>> read_steps(["isolate", "bar"])
    {'isolate': 0, 'bar': 1}
    """
    numbers: dict[S, int] = {}
    try:
        for step in steps:
            count = len(numbers)
            if numbers.setdefault(step, count) != count:
                raise ProcedureError(
                    step, rule="A step stands in a procedure once.", remedy="Give the second one a name of its own."
                )
    except TypeError:
        raise ProcedureError(
            steps,
            rule="The steps are a sequence of identifiers, each a string or another hashable value.",
            remedy='Write them as a list, such as ["isolate", "bar", "pin"].',
        ) from None
    return numbers


def read_edges(before: Iterable[object], known: dict[S, int]) -> dict[tuple[S, S], Edge[S]]:
    """Read pairs and edges, and merge those that say the same twice.

    Anything with ``before`` and ``after`` is read as an edge; its ``reason``, ``dangerous`` and ``shows`` count
    where it has them. Of two edges between the same steps the first reason and misconception stay; either may be
    the one that says dangerous.

    Raises
    ------
    ProcedureError
        If one is no pair, or names a step that ``known`` does not have.

    Examples
    --------
    >>> read_edges([("a", "b"), Edge("a", "b", "So that it holds.")], {"a": 0, "b": 1})[("a", "b")].reason
    'So that it holds.'
    """
    edges: dict[tuple[S, S], Edge[S]] = {}
    try:
        given = iter(before)
    except TypeError:
        raise ProcedureError(
            before, rule="Precedence is a sequence of pairs.", remedy='Write a list, such as [("isolate", "bar")].'
        ) from None
    for one in given:
        edge: Edge[S] = _read_edge(one)
        for end in (edge.before, edge.after):
            try:
                unknown = end not in known
            except TypeError:
                unknown = True
            if unknown:
                raise ProcedureError(
                    end,
                    rule="An edge joins two steps of the procedure.",
                    remedy="Correct the name, or add the step.",
                    place=f"edge {edge.before!r} before {edge.after!r}",
                )
        place = (edge.before, edge.after)
        first = edges.get(place)
        if first is not None:
            edge = Edge(
                *place,
                reason=first.reason or edge.reason,
                dangerous=first.dangerous or edge.dangerous,
                shows=first.shows or edge.shows,
                via=first.via and edge.via,
            )
        edges[place] = edge
    return edges


def _read_edge(one: object) -> Edge[S]:
    if isinstance(one, Edge):
        return one
    if hasattr(one, "before") and hasattr(one, "after"):
        return Edge(
            one.before,
            one.after,
            reason=str(getattr(one, "reason", "") or ""),
            dangerous=bool(getattr(one, "dangerous", False)),
            shows=str(getattr(one, "shows", "") or ""),
        )
    try:
        first, second = cast("tuple[S, S]", one)  # whatever has no two parts is refused below
    except (TypeError, ValueError):
        raise ProcedureError(
            one,
            rule="Precedence is written as pairs: the step that comes first, then the one that waits for it.",
            remedy='Write a pair such as ("isolate", "bar"), or an Edge.',
        ) from None
    return Edge(first, second)


def find_cycle(steps: Iterable[S], before: Iterable[object]) -> tuple[S, ...]:
    """Find steps that wait for each other in a ring.

    Parameters
    ----------
    steps : iterable of step identifiers
    before : iterable of pairs or edges

    Returns
    -------
    tuple of step identifiers
        The ring, its first step repeated at the end; empty if there is none. No shorter ring goes through its
        first step.

    Raises
    ------
    ProcedureError
        If steps or edges cannot be read.

    Examples
    --------
    >>> find_cycle("abcd", [("a", "b"), ("b", "c"), ("c", "b"), ("c", "d")])
    ('b', 'c', 'b')
    >>> find_cycle("abc", [("a", "b"), ("b", "c")])
    ()
    """
    numbers = read_steps(steps)
    followers: dict[S, list[S]] = {step: [] for step in numbers}
    waiting: dict[S, int] = dict.fromkeys(numbers, 0)
    for first, second in read_edges(before, numbers):
        followers[first].append(second)
        waiting[second] += 1
    ready = [step for step, count in waiting.items() if not count]
    while ready:
        step = ready.pop()
        del waiting[step]
        for follower in followers[step]:
            waiting[follower] -= 1
            if not waiting[follower]:
                ready.append(follower)
    return _ring(list(waiting), followers)


def _ring(stuck: Sequence[S], followers: dict[S, list[S]]) -> tuple[S, ...]:
    """Return a shortest ring through the first of the ``stuck`` steps that lies on one."""
    among = set(stuck)
    for start in stuck:
        came_from: dict[S, S] = {}
        queue = deque([start])
        while queue:
            step = queue.popleft()
            for follower in followers[step]:
                if follower == start:
                    ring = [start, step]
                    while ring[-1] != start:
                        ring.append(came_from[ring[-1]])
                    return tuple(reversed(ring))
                if follower in among and follower not in came_from:
                    came_from[follower] = step
                    queue.append(follower)
    return ()
