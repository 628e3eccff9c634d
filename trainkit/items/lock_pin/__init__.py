"""Templates and misconceptions of the module *lock pin*."""

from __future__ import annotations

from trainkit.items.lock_pin.catalogue import MISCONCEPTIONS
from trainkit.items.lock_pin.choosing import WhatNext, WhichDeadCentre
from trainkit.items.lock_pin.playing import PinTheEngine
from trainkit.items.lock_pin.reckoning import ErrorAfterTurningBack, HowFarBack, LeastBackOff, TurnsOfTheBar
from trainkit.items.template import Template

__all__ = ["MISCONCEPTIONS", "TEMPLATES"]

TEMPLATES: tuple[Template, ...] = (
    PinTheEngine(),
    WhatNext(),
    WhichDeadCentre(),
    HowFarBack(),
    TurnsOfTheBar(),
    LeastBackOff(),
    ErrorAfterTurningBack(),
)
