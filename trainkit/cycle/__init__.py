"""The four-stroke cycle: firing orders, dead centres, piston position, and timing moved early or late.

Angles are degrees of crank, measured in the engine's running direction: positive is forward. Every cylinder comes to
top dead centre twice in a cycle of 720 degrees, once on compression and once on exhaust.

:mod:`~trainkit.cycle.firing` holds firing orders and dead centres, :mod:`~trainkit.cycle.crank` the slider-crank,
:mod:`~trainkit.cycle.valves` when valves are open by common practice, :mod:`~trainkit.cycle.timing` what moving a
component does to its event.

Limits: four strokes. The cylinders of one engine are numbered by its maker, from either end; nothing
here depends on which.

Examples
--------
>>> order = FiringOrder.parse("1-3-4-2")
>>> engine = Position.known(order, cylinder=1, on="compression").turned(180)
>>> engine.on_compression(), engine.on_exhaust()
((3,), (2,))
"""

from __future__ import annotations

from trainkit.cycle.crank import piston_position
from trainkit.cycle.firing import (
    CYCLE,
    DEAD_CENTRES,
    DeadCentre,
    FiringOrder,
    Position,
    Stroke,
    valves_at,
)
from trainkit.cycle.timing import Effect, TimingShift, flange_degrees, moved
from trainkit.cycle.valves import ValveTimes

__all__ = [
    "CYCLE",
    "DEAD_CENTRES",
    "DeadCentre",
    "Effect",
    "FiringOrder",
    "Position",
    "Stroke",
    "TimingShift",
    "ValveTimes",
    "flange_degrees",
    "moved",
    "piston_position",
    "valves_at",
]
