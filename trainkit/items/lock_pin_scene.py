"""A scene of the scenario *lock pin* as plain data, written from a setup and a start and read back.

Angles are crank degrees, written as exact decimals or fractions::

    press_from, give_up, back_off, clearance, tolerance, lash_to_pin, lash_to_component, lash_shared,
    period, right_every, witness_every (or null)    as in trainkit.lockpin.Setup
    tells, marks_on, false_holes, stiff, compression, cylinder, dead_centre, firing_order     the same
    dial     {"seen_from", "clockwise", "turns_per_crank", "seats_at"}: how the watched mark goes round
    watched  what bears the mark, in words
    nudge, strict           the same; a scene of an earlier release has neither
    start    {"before", "passing", "turned", "bar", "pin"}: where the engine stands
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import Field

from trainkit import lockpin
from trainkit.items.dial_marks import dial_of
from trainkit.items.kinds import Value
from trainkit.lockpin import Pin, Setup, State

_Angle = Annotated[str, Field(pattern=r"^-?[0-9]{1,12}(\.[0-9]{1,12}|/[0-9]{1,12})?$")]


class Dial(Value):
    """How the watched mark goes round."""

    seen_from: Literal["front", "flywheel"]
    clockwise: bool
    turns_per_crank: _Angle
    seats_at: _Angle


class Start(Value):
    """Where the engine stands, and how bar and pin were left."""

    before: _Angle
    passing: Annotated[int, Field(ge=0, le=400)]
    turned: Literal["forward", "back"]
    bar: Literal["fitted", "off"]
    pin: Literal["out", "pressed", "in"] = "out"


class Engine(Value):
    """The engine's lock pin, as in :class:`trainkit.lockpin.Setup`."""

    press_from: _Angle
    give_up: _Angle
    back_off: _Angle
    clearance: _Angle
    tolerance: _Angle
    lash_to_pin: _Angle
    lash_to_component: _Angle
    lash_shared: _Angle
    period: _Angle
    right_every: _Angle
    witness_every: _Angle | None
    tells: Literal["hole", "witness", "valves"]
    marks_on: Literal["bar", "pin gear", "component gear"]
    false_holes: Annotated[tuple[_Angle, ...], Field(max_length=12)]
    stiff: bool
    compression: bool
    cylinder: Annotated[int, Field(ge=1, le=24)]
    dead_centre: Literal["compression", "exhaust"]
    firing_order: Annotated[tuple[int, ...], Field(max_length=24)]
    nudge: _Angle | None = None
    strict: bool = False
    dial: Dial


class Scene(Engine):
    """A whole scene."""

    watched: Annotated[str, Field(min_length=1, max_length=80)]
    start: Start


_PLAIN = (
    "press_from",
    "give_up",
    "back_off",
    "clearance",
    "tolerance",
    "lash_to_pin",
    "lash_to_component",
    "period",
    "right_every",
)
_OR_NONE = ("witness_every", "nudge")
_AS_THEY_ARE = ("tells", "marks_on", "stiff", "compression", "cylinder", "dead_centre", "strict")


def scene(setup: Setup, watched: str, start: State) -> dict[str, Any]:
    """Return the scene of a setup and a start, as plain data.

    Parameters
    ----------
    setup : Setup
        The engine's lock pin, with its dial.
    watched : str
        What bears the mark, in words.
    start : State
        Where the engine stands, and the pin.

    Raises
    ------
    ItemError
        If the setup does not say how its mark goes round.

    Examples
    --------
    >>> dial = lockpin.Dial(seen_from="front", clockwise=True, turns_per_crank=Fraction(1, 2), seats_at=Fraction(0))
    >>> setup = Setup(press_from=10, give_up=10, back_off=20, lash_to_component="0.8", dial=dial)
    >>> data = scene(setup, "pump gear", State.start(setup, before=60))
    >>> data["press_from"], data["start"]["before"]
    ('10', '60')
    """
    dial = dial_of(setup)
    return {
        **{name: str(getattr(setup, name)) for name in _PLAIN},
        **{name: getattr(setup, name) for name in _AS_THEY_ARE},
        "lash_shared": str(setup.lash_on_both),
        **{name: None if (angle := getattr(setup, name)) is None else str(angle) for name in _OR_NONE},
        "false_holes": [str(hole) for hole in setup.false_holes],
        "firing_order": list(setup.firing_order),
        "dial": {
            "seen_from": dial.seen_from,
            "clockwise": dial.clockwise,
            "turns_per_crank": str(dial.turns_per_crank),
            "seats_at": str(dial.seats_at),
        },
        "watched": watched,
        "start": {
            "before": str(start.mark_before),
            "passing": start.passing,
            "turned": "forward" if start.last > 0 else "back",
            "bar": "fitted" if start.bar_on else "off",
            "pin": "in" if start.pin.in_a_hole else "pressed" if start.pin is Pin.PRESSED else "out",
        },
    }


def start_of(told: Scene) -> State:
    """Return where the play of a scene begins."""
    # Where the mark stands when the pin seats changes the picture alone, so it is no part of what was searched.
    turned = told.model_copy(update={"dial": told.dial.model_copy(update={"seats_at": "0"})})
    return State.start(
        _setup(turned.model_dump_json(exclude={"start", "watched"})),
        told.start.before,
        passing=told.start.passing,
        turned=told.start.turned,
        bar_on=told.start.bar == "fitted",
        pin=told.start.pin,
    )


def as_dial(told: Dial) -> lockpin.Dial:
    """Return the dial as the mechanics know it."""
    return lockpin.Dial(
        seen_from=told.seen_from,
        clockwise=told.clockwise,
        turns_per_crank=Fraction(told.turns_per_crank),
        seats_at=Fraction(told.seats_at),
    )


@lru_cache(maxsize=64)
def _setup(data: str) -> Setup:
    """Return the setup of scenes; those that differ only in their start share it, and with it what was searched."""
    told = Engine.model_validate_json(data)
    return Setup(
        **{name: getattr(told, name) for name in (*_PLAIN, *_AS_THEY_ARE, *_OR_NONE, "lash_shared")},
        false_holes=told.false_holes,  # type: ignore[arg-type]  # read as exact fractions by Setup itself
        firing_order=told.firing_order,
        dial=as_dial(told.dial),
    )
