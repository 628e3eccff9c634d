"""The end an engine is seen from, and the sense of a turn.

An engine is looked at along its crankshaft from the free end (``"front"``) or from the flywheel end
(``"flywheel"``). Changing ends flips clockwise and anticlockwise, and nothing else about the engine.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Literal, TypeGuard, TypeVar

from trainkit.errors import GearError
from trainkit.gears.exact import Number, exact

Viewpoint = Literal["front", "flywheel"]
Sense = Literal["clockwise", "anticlockwise", "still"]
N = TypeVar("N", int, float, Fraction)

VIEWPOINTS: tuple[Viewpoint, ...] = ("front", "flywheel")


def is_viewpoint(value: object) -> TypeGuard[Viewpoint]:
    """Tell whether the value names an end of the engine."""
    return isinstance(value, str) and value in VIEWPOINTS


def viewpoint(value: object) -> Viewpoint:
    """Return the value if it names an end of the engine.

    Raises
    ------
    GearError
        If it does not.
    """
    if is_viewpoint(value):
        return value
    raise GearError(
        value,
        rule='A direction is stated as seen from "front" or from "flywheel".',
        remedy="Say which of the two ends you face.",
    )


def other_end(seen_from: str) -> Viewpoint:
    """Return the opposite end of the engine.

    Examples
    --------
    >>> other_end("front")
    'flywheel'
    """
    return "flywheel" if viewpoint(seen_from) == "front" else "front"


def sense_of(degrees: Number) -> Sense:
    """Return the sense of a signed angle, positive being clockwise.

    Examples
    --------
    >>> sense_of(-30)
    'anticlockwise'
    """
    angle = exact(degrees, "angle")
    if angle == 0:
        return "still"
    return "clockwise" if angle > 0 else "anticlockwise"


def signed(sense: str) -> int:
    """Return +1 for clockwise and -1 for anticlockwise.

    Raises
    ------
    GearError
        If the word is neither.
    """
    if sense == "clockwise":
        return 1
    if sense == "anticlockwise":
        return -1
    raise GearError(
        sense, rule='A sense of rotation is "clockwise" or "anticlockwise".', remedy="Write one of the two words."
    )


def other_sense(sense: str) -> Sense:
    """Return the opposite sense of rotation.

    Examples
    --------
    >>> other_sense("clockwise")
    'anticlockwise'
    """
    return "anticlockwise" if signed(sense) > 0 else "clockwise"


def seen(degrees: N, *, stated_from: str, seen_from: str) -> N:
    """Return an angle stated from one end as it is seen from another.

    Parameters
    ----------
    degrees : int, float or fractions.Fraction
        Positive is clockwise as seen from ``stated_from``.
    stated_from, seen_from : {"front", "flywheel"}
        The end the angle is stated from, and the end it is wanted from.

    Returns
    -------
    int, float or fractions.Fraction
        Positive is clockwise as seen from ``seen_from``.

    Raises
    ------
    GearError
        For an unknown end, or an angle that is no finite number.

    Examples
    --------
    >>> seen(30, stated_from="front", seen_from="flywheel")
    -30
    """
    exact(degrees, "angle")
    return degrees if viewpoint(stated_from) == viewpoint(seen_from) else -degrees
