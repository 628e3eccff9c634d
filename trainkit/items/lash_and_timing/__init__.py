"""Templates and misconceptions of the module *lash and timing*.

Lash is taken up against the drive; millimetres at a radius become degrees of the crank; a movement is harmless where
nothing is left of it once the lash has been taken up again (:mod:`.mounting`); dead centres follow from the firing
order (:mod:`trainkit.cycle`).
"""

from __future__ import annotations

from trainkit.items.lash_and_timing.catalogue import MISCONCEPTIONS
from trainkit.items.lash_and_timing.dead_centres import KeyAtDeadCentre, WhichCylinder
from trainkit.items.lash_and_timing.degrees import LashDegrees, MovedDegrees
from trainkit.items.lash_and_timing.moving import EarlyOrLate, HarmlessMovement
from trainkit.items.lash_and_timing.taking_up import TakeUp, WindUp
from trainkit.items.template import Template

__all__ = ["MISCONCEPTIONS", "TEMPLATES"]

TEMPLATES: tuple[Template, ...] = (
    TakeUp(),
    WindUp(),
    MovedDegrees(),
    LashDegrees(),
    HarmlessMovement(),
    EarlyOrLate(),
    KeyAtDeadCentre(),
    WhichCylinder(),
)
