"""Bar to any place with a hand that feels: what lies between the named actions.

The hand goes as slowly as it must, so a held pin drops into the first hole that comes by, and the hand stops there.
A pin in a hole holds the engine. A hand that goes on bends the bar; once it has gone as far as "a little" takes it,
the pin is sheared, as it is by the action that bars a little. So no freedom of the hand is safer or more dangerous than
the actions. How far a real bar bends depends on the bar and on the pin: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainkit.errors import LockPinError
from trainkit.lockpin.motion import Met, chained, first_met
from trainkit.lockpin.state import Consequence, Pin, State


@dataclass(frozen=True, slots=True)
class Barred:
    """What barring to a place led to.

    Parameters
    ----------
    state : State
        Where everything stands now.
    met : Met
        What was seen and felt on the way.
    load : int
        Ticks by which the hand is ahead of the engine that the pin holds, forward +; the bar is bent by them.
    """

    state: State
    met: Met = Met.NOTHING
    load: int = 0


def bar_to(state: State, crank: int) -> Barred:
    """Bar with a hand that feels until the crank stands at a place, or until the pin stops it.

    Parameters
    ----------
    state : State
        The engine and its pin now.
    crank : int
        Where the hand takes the crank, in ticks of the passing that the state counts from.

    Raises
    ------
    LockPinError
        If it has ended, or the barring tool is off.

    Examples
    --------
    >>> from trainkit.lockpin import Setup, step
    >>> start = State.start(Setup(press_from=6, give_up=4, back_off=15), before=6)
    >>> pressed, _ = step(start, "press")
    >>> far = bar_to(pressed, 3000)  # three crank degrees past the hole: it stops before that
    >>> far.state.pin, far.met.name, far.state.mark_before
    (<Pin.SEATED: 'seated'>, 'DROPS', Fraction(1, 4))
    >>> held = bar_to(far.state, 1000)
    >>> held.met.name, held.load, bar_to(far.state, 3000).state.pin
    ('SLACK', 1250, <Pin.SHEARED: 'sheared'>)
    """
    if state.finished or not state.bar_on:
        raise LockPinError(crank, rule="Only an engine with the barring tool on is barred.", remedy="Fit the bar.")
    if crank == state.crank:
        return Barred(state)
    forward = crank > state.crank
    if state.pin.in_a_hole:
        return _held(state, crank, forward=forward)
    if state.pin is Pin.PRESSED and not state.stiff:
        met = first_met(state, crank, forward=forward)
        if met is not None:
            stopped, hole = met
            true = hole % state.lattice.period == 0
            seated = replace(
                chained(state, stopped, forward=forward),
                pin=Pin.SEATED if true else Pin.FALSE_HOLE,
                seated_back=state.setup.strict and not forward,
            )
            return Barred(seated, Met.DROPS)
    rubs = Met.RUBS if state.pin is Pin.PRESSED else Met.NOTHING
    return Barred(chained(state, crank, forward=forward), rubs)


def _held(state: State, crank: int, *, forward: bool) -> Barred:
    lat = state.lattice
    room = state.hole if forward else state.hole - lat.shared - lat.to_pin
    load = max(crank - room, 0) if forward else min(crank - room, 0)
    at_room = chained(state, crank - load, forward=forward) if crank - load != state.crank else state
    if abs(load) >= lat.little:
        return Barred(replace(at_room, pin=Pin.SHEARED, outcome=Consequence.SHEARED), Met.BREAKS)
    return Barred(at_room, Met.SLACK, load)
