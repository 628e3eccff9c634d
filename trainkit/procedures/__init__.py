"""Procedures: steps in a partial order, and orders held against it.

A response puts all steps in a row; the procedure says only which step comes before which. So no single right order
is ever compared against: an order is right when it breaks no pair, and how wrong it is is the least number of steps
that have to be moved.

Examples
--------
>>> from trainkit.procedures import Edge, Procedure
>>> job = Procedure(
...     ["lock off", "pin out", "torque", "bar twice"],
...     [
...         Edge("lock off", "torque", "The lock must not take the torque.", dangerous=True),
...         Edge("pin out", "torque", "The pin must not take the torque.", dangerous=True),
...         Edge("torque", "bar twice", "Loose gears slip when the crank is turned."),
...     ],
... )
>>> verdict = job.judge(["pin out", "torque", "lock off", "bar twice"])
>>> [(pair.before, pair.reason) for pair in verdict.dangerous]
[('lock off', 'The lock must not take the torque.')]
>>> verdict.fewest_moves, verdict.culprits
(1, ('torque', 'lock off'))
>>> job.score(["pin out", "torque", "lock off", "bar twice"]) < 1
True
"""

from __future__ import annotations

from trainkit.procedures.counting import MOST_CARDS, MOST_DOWN_SETS
from trainkit.procedures.edges import Edge, find_cycle
from trainkit.procedures.judgement import Judgement, Move, Pair, Pairs, Repair
from trainkit.procedures.procedure import Procedure

__all__ = [
    "MOST_CARDS",
    "MOST_DOWN_SETS",
    "Edge",
    "Judgement",
    "Move",
    "Pair",
    "Pairs",
    "Procedure",
    "Repair",
    "find_cycle",
]
