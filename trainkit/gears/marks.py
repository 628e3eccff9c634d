"""When marks line up again, and how often a hole comes by."""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction

from trainkit.errors import GearError
from trainkit.gears.exact import is_count


def lcm_turns(teeth: int, other_teeth: int) -> int:
    """Return the turns of a gear until the same two teeth of it and its neighbour meet again.

    Parameters
    ----------
    teeth, other_teeth : int
        Teeth of the gear whose turns are counted, and of the other. They mesh directly, or through simple idlers
        only; elsewhere use :meth:`trainkit.gears.GearTrain.marks_meet`, which works on exact fractions.

    Returns
    -------
    int
        lcm(teeth, other_teeth) / teeth.

    Raises
    ------
    GearError
        For a number of teeth that is no whole number above zero.

    Examples
    --------
    >>> lcm_turns(34, 51), lcm_turns(51, 34)
    (3, 2)
    """
    for count in (teeth, other_teeth):
        _counted(count, "number of teeth")
    return math.lcm(teeth, other_teeth) // teeth


def hole_interval(ratio: Fraction | int, holes: int = 1) -> Fraction:
    """Return the crank turns between two moments at which a pin hole of a gear comes by.

    Parameters
    ----------
    ratio : fractions.Fraction or int
        Turns of the gear for one turn of the crank; its sign does not matter.
    holes : int, optional
        Equally spaced holes on the gear.

    Returns
    -------
    fractions.Fraction
        Crank turns, exact.

    Examples
    --------
    >>> hole_interval(Fraction(-2, 3))
    Fraction(3, 2)
    >>> hole_interval(1, holes=8) * 360
    Fraction(45, 1)
    """
    _counted(holes, "number of holes")
    if not _is_ratio(ratio):
        raise GearError(
            ratio, rule="A gear that turns has a ratio to the crank that is not zero.", remedy="Give an exact fraction."
        )
    return 1 / (abs(Fraction(ratio)) * holes)


def least_common_multiple(values: Iterable[Fraction]) -> Fraction:
    """Return the smallest fraction that is a whole multiple of each of the positive fractions.

    Examples
    --------
    >>> least_common_multiple([Fraction(3, 2), Fraction(1)])
    Fraction(3, 1)
    """
    # In lowest terms, lcm(a/b, c/d) = lcm(a, c) / gcd(b, d).
    whole = list(values)
    return Fraction(math.lcm(*(value.numerator for value in whole)), math.gcd(*(value.denominator for value in whole)))


def _counted(count: object, what: str) -> None:
    if not is_count(count):
        raise GearError(count, rule=f"A {what} is a whole number above zero.", remedy="Count again.")


def _is_ratio(value: object) -> bool:
    return isinstance(value, int | Fraction) and not isinstance(value, bool) and value != 0
