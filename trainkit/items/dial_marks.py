"""The watched mark of a lock pin on its clock: where it stands, and where the fixed marks are."""

from __future__ import annotations

from fractions import Fraction

from trainkit.errors import ItemError
from trainkit.gears import Clock
from trainkit.lockpin import Dial, Setup


def dial_of(setup: Setup) -> Dial:
    """Return how the watched mark of a setup goes round.

    Raises
    ------
    ItemError
        If the setup does not say it.
    """
    if setup.dial is None:
        raise ItemError("lock_pin", rule="The scenario shows a mark going round.", remedy="Give the setup a dial.")
    return setup.dial


def at_clock(setup: Setup, before: Fraction) -> str:
    """Return the clock position of the mark so many crank degrees before its place."""
    return str(Clock.at(dial_of(setup).at(before)))


def marks(setup: Setup) -> dict[str, str]:
    """Return the clock positions of the fixed marks by their labels, as barring forward meets them."""
    places = {
        "back off to": setup.back_off,
        "press from": setup.press_from,
        "pin seats": Fraction(0),
        "give up": -setup.give_up,
    }
    return {label: at_clock(setup, before) for label, before in places.items()}
