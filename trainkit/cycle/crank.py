"""The slider-crank: where the piston stands at a crank angle, and back."""

from __future__ import annotations

import math

from trainkit.cycle.firing import Number, exact
from trainkit.errors import CycleError


def piston_position(crank_degrees: Number, crank_radius: Number, rod_length: Number) -> float:
    """Return how far the piston stands below its top dead centre.

    Parameters
    ----------
    crank_degrees : float
        Crank degrees past top dead centre; either sign.
    crank_radius : float
        Half the stroke, millimetres.
    rod_length : float
        Between the centres of the connecting rod, millimetres, longer than the crank radius.

    Returns
    -------
    float
        Millimetres: r (1 − cos θ) + l − √(l² − r² sin² θ). The cylinder axis meets the crank axis (no offset).

    Raises
    ------
    CycleError
        For sizes that make no crank, or an angle that is no finite number.

    Examples
    --------
    >>> round(piston_position(180, 45, 160), 9)
    90.0
    >>> round(piston_position(5, 45, 160), 3)  # close to dead centre it hardly moves
    0.219
    """
    angle = math.radians(float(exact(crank_degrees, "crank angle") % 360))
    r, length = _sizes(crank_radius, rod_length)
    # The half-angle and the conjugate keep all digits near dead centre, where the plain form cancels.
    drop = 2 * r * math.sin(angle / 2) ** 2
    side = r * math.sin(angle)
    return drop + side * side / (length + math.sqrt(length * length - side * side))


def _sizes(crank_radius: Number, rod_length: Number) -> tuple[float, float]:
    r, length = exact(crank_radius, "crank radius"), exact(rod_length, "rod length")
    if r <= 0:
        raise CycleError(
            crank_radius, rule="A crank radius is more than zero millimetres.", remedy="Give half the stroke."
        )
    if length <= r:
        raise CycleError(
            rod_length,
            rule=f"A connecting rod is longer than the crank radius, here {float(r):g} mm.",
            remedy="Give the distance between the centres of the rod.",
        )
    return float(r), float(length)
