"""Sentences of the parts instrument: what becomes of a step that comes too early."""

from __future__ import annotations

from types import MappingProxyType
from typing import Literal

Outcome = Literal["exposed", "breaks", "leaks", "loose", "dirt", "blocked"]

HEADING = "Take apart and build up"
LEAD = (
    "Choose the next step, or drag a part off or on. A step that comes too early shows what follows from it.",
    "On a real engine follow the manufacturer's current manual, and work under supervision.",
)
NO_STEPS = "The pack has no steps, so there is nothing to take apart."
ADD_STEPS = "Add steps with the parts, fasteners or tools that they move."
NO_PIECES = "No step of the pack moves a part, a fastener or a tool, so there is nothing to draw."
MORE_PIECES = "Write into the steps what comes off and what goes on: takes_off, fits, loosens, puts_on."

OUTCOMES: MappingProxyType[Outcome, str] = MappingProxyType(
    {
        "exposed": "Somebody is in danger",
        "breaks": "Something breaks or moves out of place",
        "leaks": "It leaks, or does not seat",
        "loose": "It is not held",
        "dirt": "Something may be left inside",
        "blocked": "Not yet",
    }
)
"""What is written at the part, by the sort of what follows."""

SAFETY_FIRST = "Unsafe order"
