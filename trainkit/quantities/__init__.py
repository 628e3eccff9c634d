"""Torques and plain numbers as people write them in a workshop, read strictly.

A torque is a value with one of seven units (:data:`UNITS`). Everything that is written in another way, is no torque
at all, or could be read in two ways is refused with the value, the rule and the remedy.

======================  ================================================================
:mod:`.decimals`        a plain number read from text, written for people, put on a step
:mod:`.units`           the torque units, their notations, their factors from pint
:mod:`.torques`         a torque: reading, converting, comparing, the nearest settable one
:mod:`.pairs`           a value printed in two units: which column is the master
======================  ================================================================
"""

from __future__ import annotations

from trainkit.quantities.decimals import (
    THIN,
    finite,
    from_edge,
    millimetres,
    number,
    plain,
    round_down,
    round_to_step,
    round_up,
)
from trainkit.quantities.pairs import DualUnit, dual_unit
from trainkit.quantities.torques import Torque, settable, torque
from trainkit.quantities.units import UNITS, factor, torque_unit

__all__ = [
    "THIN",
    "UNITS",
    "DualUnit",
    "Torque",
    "dual_unit",
    "factor",
    "finite",
    "from_edge",
    "millimetres",
    "number",
    "plain",
    "round_down",
    "round_to_step",
    "round_up",
    "settable",
    "torque",
    "torque_unit",
]
