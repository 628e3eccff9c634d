"""What a lock pin's setup must be, each rule with its remedy."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import TYPE_CHECKING

from trainkit.errors import LockPinError
from trainkit.lockpin.angles import degrees, wrapped

if TYPE_CHECKING:
    from trainkit.lockpin.setup import Setup

__all__ = ["check_angles", "check_passings", "check_words", "false_holes", "listed"]

# More than any train of plain gears needs; a larger count comes from a mistyped fraction.
_MOST_PASSINGS = 120


def listed(values: object, name: str) -> tuple[object, ...]:
    """Return a list of values as a tuple; a text is none."""
    if isinstance(values, Iterable) and not isinstance(values, str | bytes):
        return tuple(values)
    raise LockPinError(values, rule=f"{name} is a list of numbers.", remedy="Give them in brackets, or none.")


def check_words(setup: Setup) -> None:
    """Refuse words, flags and cylinder numbers that the model does not have."""
    for name, known in (
        ("tells", ("hole", "witness", "valves")),
        ("marks_on", ("bar", "pin gear", "component gear")),
        ("dead_centre", ("compression", "exhaust")),
    ):
        if getattr(setup, name) not in known:
            raise LockPinError(
                getattr(setup, name), rule=f"{name} is one of {', '.join(known)}.", remedy="Name one of them."
            )
    for name in ("stiff", "compression"):
        if not isinstance(getattr(setup, name), bool):
            raise LockPinError(getattr(setup, name), rule=f"{name} is true or false.", remedy="Say which.")
    order = setup.firing_order
    if any(type(each) is not int for each in order) or sorted(order) != list(range(1, len(order) + 1)):
        raise LockPinError(
            order, rule="A firing order names every cylinder once.", remedy="Give it as in the manual, or leave it out."
        )
    if type(setup.cylinder) is not int or setup.cylinder < 1:
        raise LockPinError(setup.cylinder, rule="Cylinders are numbered from 1.", remedy="Name one of the engine's.")
    if order and setup.cylinder not in order:
        raise LockPinError(
            setup.cylinder, rule=f"The firing order {order} has no such cylinder.", remedy="Name one of the engine's."
        )


def check_angles(setup: Setup) -> None:
    """Refuse angles that cannot stand beside each other."""
    for name in ("press_from", "give_up", "back_off", "clearance", "period", "right_every", "nudge", "witness_every"):
        value = getattr(setup, name)
        if value is not None and value <= 0:
            raise LockPinError(
                str(value), rule=f"{name} is more than zero.", remedy="Give it in crank degrees, without a sign."
            )
    for name in ("lash_to_pin", "lash_to_component", "lash_shared", "tolerance"):
        value = getattr(setup, name)
        if value is not None and value < 0:
            raise LockPinError(str(value), rule=f"{name} is not negative.", remedy="Measure it again.")
    if setup.lash_on_both > min(setup.lash_to_pin, setup.lash_to_component):
        raise LockPinError(
            str(setup.lash_shared),
            rule="The lash that both paths share is not more than that of either.",
            remedy="Sum the lash along each path from the bar again.",
        )
    if not setup.clearance < min(setup.press_from, setup.give_up):
        raise LockPinError(
            str(setup.clearance),
            rule="The pin seats well inside the window from press to give-up.",
            remedy="Widen the window, or check the clearance of the pin.",
        )
    if setup.little > min(setup.press_from, setup.give_up):
        raise LockPinError(
            str(setup.nudge),
            rule="Barring a little takes the mark no further than from one mark to the next.",
            remedy="Leave nudge out, or make it smaller.",
        )
    if not setup.press_from < setup.back_off:
        raise LockPinError(
            str(setup.back_off),
            rule=f"Backing off goes further back than the press position, {float(setup.press_from):g} crank degrees.",
            remedy=f"Back off to at least {float(setup.least_back_off):g} crank degrees: press position plus lash.",
        )


def check_passings(setup: Setup) -> None:
    """Refuse a hole that comes by too often for its marks, or in a pattern that hardly repeats."""
    needed = 2 * (max(setup.back_off, setup.give_up) + 2 * setup.little + setup.lash_to_component + setup.lash_to_pin)
    if not needed < setup.period:
        raise LockPinError(
            str(setup.period),
            rule="Backing off and coming forward again stays clear of the neighbouring passings of the hole.",
            remedy=f"For these positions the hole comes by more than {float(needed):g} crank degrees apart.",
        )
    if setup.tells == "witness" and setup.witness_every is None:
        raise LockPinError(
            None,
            rule="A witness tooth that tells the stroke comes back at a known pace.",
            remedy="Give witness_every: 360 divided by the turns of its gear for one crank turn.",
        )
    if setup.passings > _MOST_PASSINGS:
        raise LockPinError(
            setup.passings,
            rule=f"The pattern of passings repeats within {_MOST_PASSINGS} of them.",
            remedy="Check the tooth counts between crank and hole.",
        )


def false_holes(given: Iterable[object], period: Fraction, clearance: Fraction) -> tuple[Fraction, ...]:
    """Return the false holes within half a period either side of the true one, nearest turn of their gear."""
    found = []
    for value in given:
        place = wrapped(degrees(value, "false hole"), period)
        if abs(place) <= 2 * clearance:
            raise LockPinError(
                value,
                rule="A false hole lies clear of the true one; this one is the true hole at one of its passings.",
                remedy="Leave it out, or measure it again from the right place.",
            )
        found.append(place)
    return tuple(sorted(set(found)))
