"""Orders put right: the shortest repair, the places of a missing step, the faults of a written order."""

from __future__ import annotations

from collections.abc import Iterable

from trainkit.errors import ProcedureError
from trainkit.procedures.edges import S
from trainkit.procedures.judgement import Move, Repair, judge
from trainkit.procedures.relation import Relation


def repair(relation: Relation[S], order: Iterable[S]) -> Repair[S]:
    """Repair an order with the fewest moves; see :meth:`Procedure.repair`."""
    verdict = judge(relation, order)
    moving = set(verdict.to_move)
    stay = [relation.numbers[step] for step in verdict.order if step not in moving]
    wish = {relation.numbers[step]: place for place, step in enumerate(verdict.order)}
    wanted = tuple(relation.steps[number] for number in relation.valid_order(stay, wish))
    now = list(verdict.order)
    moves: list[Move[S]] = []
    # Put back from the front, each behind its neighbour, which stands right by then.
    for place, step in enumerate(wanted):
        if step in moving:
            start = now.index(step)
            now.pop(start)
            end = now.index(wanted[place - 1]) + 1 if place else 0
            now.insert(end, step)
            moves.append(Move(step, start, end))
    return Repair(wanted, tuple(moves))


def places(relation: Relation[S], order: Iterable[S], step: S) -> tuple[int, ...]:
    """Return every place at which a missing step may be put into an order; see :meth:`Procedure.places`."""
    number = relation.number(step)
    lowest, highest = 0, -1
    seen: set[S] = set()
    for at, other in enumerate(order):
        bit = relation.number(other)
        if other == step or other in seen:
            raise ProcedureError(other, rule="A step stands in an order once.", remedy="Take the second one out first.")
        seen.add(other)
        if relation.before[number] >> bit & 1:
            lowest = at + 1
        elif highest < 0 and relation.after[number] >> bit & 1:
            highest = at
    return tuple(range(lowest, (len(seen) if highest < 0 else highest) + 1))
