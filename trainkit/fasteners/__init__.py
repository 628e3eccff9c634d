"""Threads, property classes, torque against preload, and what stands between hand and bolt.

=====================  ==================================================================================
:mod:`.threads`        metric and inch threads by designation: pitch, diameters, stress area
:mod:`.classes`        property classes and grades: proof, yield and tensile strength, proof load
:mod:`.preloads`       the preload of a torque by the nut factor, and the one that uses a screw to the full
:mod:`.wrenches`       torque wrenches: adapters, tolerance, usable range, settable values, prevailing torque
=====================  ==================================================================================

Lengths are numbers of millimetres or pint quantities; torques are :class:`trainkit.quantities.Torque` values or text;
forces come out as numbers of newtons, stresses as numbers of MPa, areas as numbers of mm².
"""

from __future__ import annotations

from trainkit.fasteners.classes import Strength, proof_load, strength
from trainkit.fasteners.preloads import assembly_preload, preload
from trainkit.fasteners.threads import Thread
from trainkit.fasteners.wrenches import Wrench, permissible_deviation, true_torque, with_prevailing, wrench_setting

__all__ = [
    "Strength",
    "Thread",
    "Wrench",
    "assembly_preload",
    "permissible_deviation",
    "preload",
    "proof_load",
    "strength",
    "true_torque",
    "with_prevailing",
    "wrench_setting",
]
