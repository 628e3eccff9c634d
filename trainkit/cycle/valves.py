"""How far the valves are open, and when fuel is injected, on the way through the four strokes.

The times are training values, as is common practice on slow diesel engines; no source gives them, and a manual's own
go before them. What does not depend on them: both valves are shut at the compression dead centre, and both are a little
open at the exhaust dead centre.

Examples
--------
>>> COMMON.inlet(0), COMMON.exhaust(0)
(0.0, 0.0)
>>> 0 < COMMON.inlet(360) < 0.1, 0 < COMMON.exhaust(360) < 0.2
(True, True)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from trainkit.cycle.firing import CYCLE, Number, exact


@dataclass(frozen=True, slots=True)
class ValveTimes:
    """When the valves of a cylinder open and shut, and when its injector sprays.

    Parameters
    ----------
    inlet_opens, inlet_shuts, exhaust_opens, exhaust_shuts : int
        Crank degrees past the cylinder's compression dead centre, 0 to 719.
    injection_begins, injection_ends : int
        The same; it goes on across the dead centre.
    """

    inlet_opens: int = 348
    inlet_shuts: int = 580
    exhaust_opens: int = 130
    exhaust_shuts: int = 375
    injection_begins: int = 710
    injection_ends: int = 18

    def inlet(self, past: Number) -> float:
        """Return how far the inlet valve is open, 0 to 1, so many crank degrees past the compression dead centre."""
        return _lift(past, self.inlet_opens, self.inlet_shuts)

    def exhaust(self, past: Number) -> float:
        """Return how far the exhaust valve is open, 0 to 1."""
        return _lift(past, self.exhaust_opens, self.exhaust_shuts)

    def injects(self, past: Number) -> bool:
        """Tell whether fuel is injected."""
        return _share(past, self.injection_begins, self.injection_ends) < 1


COMMON = ValveTimes()
"""Common practice; no source."""


def _share(past: Number, begins: int, ends: int) -> float:
    """Return what share of the way from one angle to another is gone; 1 or more is outside."""
    gone = float((exact(past, "crank angle") - begins) % CYCLE)
    return gone / ((ends - begins) % CYCLE)


def _lift(past: Number, opens: int, shuts: int) -> float:
    """Return a smooth lift, as of a round-nosed cam; its shape is a training value as well."""
    share = _share(past, opens, shuts)
    return math.sin(math.pi * share) ** 1.5 if 0 < share < 1 else 0.0
