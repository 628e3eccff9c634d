"""The slider-crank: where the piston stands at a crank angle, and back."""

from __future__ import annotations

import math

from trainkit.cycle.firing import Number, exact
from trainkit.errors import CycleError

__all__ = ["angle_of_piston", "half_stroke_angle", "piston_position"]


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


def angle_of_piston(position: Number, crank_radius: Number, rod_length: Number) -> float:
    """Return the crank degrees past top dead centre at which the piston stands so far below it.

    Parameters
    ----------
    position : float
        Millimetres below top dead centre, 0 to the stroke.
    crank_radius, rod_length : float
        As in :func:`piston_position`.

    Returns
    -------
    float
        0 to 180 degrees; the same position comes again as far before the next top dead centre.

    Raises
    ------
    CycleError
        For sizes that make no crank, or a position outside the stroke.

    Examples
    --------
    >>> round(angle_of_piston(piston_position(70, 45, 160), 45, 160), 9)
    70.0
    """
    r, length = _sizes(crank_radius, rod_length)
    down = float(exact(position, "piston position"))
    if not 0 <= down <= 2 * r:
        raise CycleError(
            position,
            rule=f"The piston stands 0 to {2 * r:g} mm below its top dead centre.",
            remedy="Measure down from top dead centre, in millimetres.",
        )
    # Half-angle form of the law of cosines in the triangle crank, rod, axis.
    across = r + length - down
    sine = math.sqrt(max(0.0, down * (2 * length - down)) / (4 * r * across))
    return math.degrees(2 * math.asin(min(1.0, sine)))


def half_stroke_angle(crank_radius: Number, rod_length: Number) -> float:
    """Return the crank degrees past top dead centre at half stroke: less than 90, because the rod leans.

    Examples
    --------
    >>> round(half_stroke_angle(45, 160), 2)
    81.92
    """
    return angle_of_piston(exact(crank_radius, "crank radius"), crank_radius, rod_length)


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
