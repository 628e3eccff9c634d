"""Threads, property classes, torque against preload, and what stands between hand and bolt.

=====================  ==================================================================================
:mod:`.threads`        metric and inch threads by designation: pitch, diameters, stress area
:mod:`.classes`        property classes and grades: proof, yield and tensile strength, proof load
:mod:`.preloads`       torque to preload and back, by the nut factor and by the three parts of friction
:mod:`.wrenches`       torque wrenches: adapters, tolerance, usable range, settable values, prevailing torque
=====================  ==================================================================================

Lengths are numbers of millimetres or pint quantities; torques are :class:`trainkit.quantities.Torque` values or text;
forces come out as numbers of newtons, stresses as numbers of MPa, areas as numbers of mm².
"""

from __future__ import annotations

from trainkit.fasteners.classes import Strength, proof_load, strength
from trainkit.fasteners.preloads import (
    NUT_FACTORS,
    Friction,
    TorqueParts,
    assembly_preload,
    preload,
    torque_by_friction,
)
from trainkit.fasteners.threads import Thread
from trainkit.fasteners.wrenches import (
    Wrench,
    conformance_points,
    deviation,
    permissible_deviation,
    true_torque,
    with_prevailing,
    wrench_setting,
)

__all__ = [
    "NUT_FACTORS",
    "Friction",
    "Strength",
    "Thread",
    "TorqueParts",
    "Wrench",
    "assembly_preload",
    "conformance_points",
    "deviation",
    "permissible_deviation",
    "preload",
    "proof_load",
    "strength",
    "torque_by_friction",
    "true_torque",
    "with_prevailing",
    "wrench_setting",
]
