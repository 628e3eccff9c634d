"""The preload that a torque gives, by the nut factor, and the one at which a screw is used to the full.

These are estimates for judging a value and for understanding what oil does. On an engine the manual's torque, condition
and tool decide; nobody is to work out their own.
"""

from __future__ import annotations

import math

from trainkit import quantities
from trainkit.errors import FastenerError
from trainkit.fasteners.classes import as_thread, strength
from trainkit.fasteners.threads import Thread
from trainkit.quantities import Torque, finite

# Half the thread's profile angle of 60 degrees: friction acts on a flank that leans by this much.
_FLANK = math.radians(30)


def preload(torque: Torque | str, thread: Thread | str, nut_factor: float) -> float:
    """Return the preload in newtons that a torque gives: F = T / (K d).

    Parameters
    ----------
    torque : Torque or str
        What the screw or nut gets, prevailing torque already taken off.
    thread : Thread or str
        The thread or its designation; d is its nominal diameter.
    nut_factor : float
        K, between 0.05 and 0.6; published values run from 0.09 to 0.30.

    Source: Shigley's Mechanical Engineering Design, equation 8-27 (number from memory).

    Examples
    --------
    >>> round(preload("50 N·m", "M10", 0.2))
    25000
    >>> round(preload("50 N·m", "M10", 0.15) / preload("50 N·m", "M10", 0.20), 3)
    1.333
    """
    screw = as_thread(thread)
    return quantities.torque(torque).to("N·m").value * 1000 / (_nut_factor(nut_factor) * screw.diameter)


def assembly_preload(thread: Thread | str, cls: str | float, thread_friction: float, use: float = 0.9) -> float:
    """Return the preload in newtons at which tension and twist together use a share of the yield stress.

    While it is tightened a screw is also twisted by pitch and thread friction, so it yields earlier than pulled alone.
    Source: VDI 2230-1, assembly preload and its table A (equation from memory).

    Parameters
    ----------
    thread : Thread or str
        The thread or its designation.
    cls : str or float
        Property class or grade.
    thread_friction : float
        Coefficient of friction in the thread, nought up to 1.
    use : float
        Share of the yield stress, greater than nought up to 1.

    Examples
    --------
    >>> round(assembly_preload("M8x1", "8.8", 0.12) / 1000, 1)
    20.2
    """
    screw = as_thread(thread)
    share = _share(use, "share of the yield stress")
    lead = screw.pitch / (math.pi * screw.pitch_diameter)
    drag = _share(thread_friction, "coefficient of friction (thread)") / math.cos(_FLANK)
    twist = 1.5 * screw.pitch_diameter / screw.stress_diameter * (lead + drag)
    return share * strength(cls, screw).yielding * screw.stress_area / math.sqrt(1 + 3 * twist**2)


def _nut_factor(value: object) -> float:
    read = finite(value, "nut factor")
    if not 0.05 <= read <= 0.6:
        raise FastenerError(
            value,
            rule="A nut factor lies between 0.05 and 0.6; published ones run from 0.09 to 0.30.",
            remedy="Take the one for the condition of the thread.",
        )
    return read


def _share(value: object, what: str) -> float:
    read = finite(value, what)
    if not 0 <= read <= 1:
        raise FastenerError(value, rule=f"The {what} lies between 0 and 1.", remedy="Check the value.")
    return read
