"""Torque to preload and back: by one nut factor, or by the parts that pitch, thread and head take.

These are estimates for judging a value and for understanding what oil does. On an engine the manual's torque, condition
and tool decide; nobody is to work out their own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from trainkit.errors import FastenerError
from trainkit.fasteners.classes import as_thread, strength
from trainkit.fasteners.threads import Thread
from trainkit.quantities import Torque, finite, millimetres, torque

__all__ = [
    "NUT_FACTORS",
    "Friction",
    "TorqueParts",
    "assembly_preload",
    "preload",
    "torque_by_friction",
]

NUT_FACTORS: Mapping[str, float] = MappingProxyType(
    {
        "black, as received": 0.30,
        "zinc-plated, dry": 0.20,
        "lubricated": 0.18,
        "cadmium-plated": 0.16,
        "anti-seize paste": 0.12,
        "lock nut with a low-friction finish": 0.09,
    }
)
"""Nut factors K by condition. Shigley's Mechanical Engineering Design, table 8-15; from memory."""

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
        K, between 0.05 and 0.6; published values run from 0.09 to 0.30 (:data:`NUT_FACTORS`).

    Source: Shigley's Mechanical Engineering Design, equation 8-27 (number from memory).

    Examples
    --------
    >>> round(preload("50 N·m", "M10", 0.2))
    25000
    >>> round(preload("50 N·m", "M10", 0.15) / preload("50 N·m", "M10", 0.20), 3)
    1.333
    """
    screw = as_thread(thread)
    return _newton_millimetres(torque) / (_nut_factor(nut_factor) * screw.diameter)


@dataclass(frozen=True, slots=True)
class Friction:
    """Where a screw rubs, and how much.

    Parameters
    ----------
    thread, head : float
        Coefficients of friction in the thread and under the head or nut, nought up to 1.
    bearing_outer, bearing_inner : float or pint.Quantity
        Outer diameter of the bearing face and diameter of the hole, mm.

    Examples
    --------
    >>> Friction(0.12, 0.12, 15, 11).mean_diameter
    13.0
    """

    thread: float
    head: float
    bearing_outer: float
    bearing_inner: float

    def __post_init__(self) -> None:
        for name in ("thread", "head"):
            _share(getattr(self, name), f"coefficient of friction ({name})")
        for name in ("bearing_outer", "bearing_inner"):
            object.__setattr__(self, name, millimetres(getattr(self, name), name.replace("_", " ") + " diameter"))
        if self.bearing_inner >= self.bearing_outer:
            raise FastenerError(
                self.bearing_inner,
                rule=f"The hole is smaller than the bearing face ({self.bearing_outer:g} mm).",
                remedy="Check the two diameters.",
            )

    @property
    def mean_diameter(self) -> float:
        """Mean diameter of the bearing face, mm."""
        return (self.bearing_outer + self.bearing_inner) / 2


@dataclass(frozen=True, slots=True)
class TorqueParts:
    """Where a tightening torque goes.

    Parameters
    ----------
    pitch : float
        The part that stretches the screw, N·m: the useful one.
    thread : float
        Friction in the thread, N·m.
    head : float
        Friction under the head or nut, N·m.

    Examples
    --------
    >>> TorqueParts(5.0, 20.0, 25.0).useful
    0.1
    """

    pitch: float
    thread: float
    head: float

    @property
    def total(self) -> Torque:
        """The whole torque, in N·m."""
        return Torque(self.pitch + self.thread + self.head, "N·m")

    @property
    def useful(self) -> float:
        """Share of the torque that stretches the screw, 0 to 1."""
        return self.pitch / self.total.value


def torque_by_friction(force: float, thread: Thread | str, friction: Friction) -> TorqueParts:
    """Return the torque that gives a preload, in its three parts.

    T = F (P / 2π + μ_thread d2 / (2 cos 30°) + μ_head D / 2), with the mean bearing diameter D. VDI 2230-1 prints the
    first two factors rounded, 0.16 P and 0.58 μ d2, which is up to half a per cent more.

    Parameters
    ----------
    force : float
        Preload in newtons, greater than nought.
    thread : Thread or str
        The thread or its designation.
    friction : Friction
        Coefficients and bearing face.

    Examples
    --------
    >>> parts = torque_by_friction(20_000, "M10", Friction(0.12, 0.12, 14.63, 11))
    >>> round(parts.total.value, 1), f"{parts.useful:.1%}"
    (32.7, '14.6%')
    """
    screw = as_thread(thread)
    newtons = _force(force)
    if newtons == 0:
        raise FastenerError(force, rule="A preload is greater than nought here.", remedy="Give it in newtons.")
    pitch, flank, head = _levers(screw, friction)
    return TorqueParts(newtons * pitch / 1000, newtons * flank / 1000, newtons * head / 1000)


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


def _levers(screw: Thread, friction: Friction) -> tuple[float, float, float]:
    """Return what one newton of preload costs in pitch, thread and head, N·mm."""
    return (
        screw.pitch / (2 * math.pi),
        friction.thread * screw.pitch_diameter / (2 * math.cos(_FLANK)),
        friction.head * friction.mean_diameter / 2,
    )


def _newton_millimetres(given: Torque | str) -> float:
    return torque(given).to("N·m").value * 1000


def _force(value: object) -> float:
    read = finite(value, "preload")
    if read < 0:
        raise FastenerError(value, rule="A preload pulls: it is nought or more newtons.", remedy="Check the sign.")
    return read


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
