"""What each action does to the engine and its pin: mechanics alone, no words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import Enum, auto
from functools import cache

from trainkit.errors import LockPinError
from trainkit.lockpin.state import Action, Consequence, Pin, State


class Met(Enum):
    """What eye and hand meet during an action."""

    NOTHING = auto()  # it goes as it should
    METAL = auto()  # the pin comes up against metal
    RUBS = auto()  # the engine turns and the pin rubs
    DROPS = auto()  # the pin goes into a hole
    BREAKS = auto()  # the pin, the hole or a tooth gives
    HARD = auto()  # a stiff pin: moves hard, stays where it is
    SLACK = auto()  # the bar moves, nothing else does
    AGREES = auto()  # what tells the dead centre says yes
    DIFFERS = auto()  # it says no
    NO_SIGN = auto()  # nothing to look at here
    FREED = auto()  # a stiff pin moves by itself again


@dataclass(frozen=True, slots=True)
class Effect:
    """What an action leads to.

    Parameters
    ----------
    state : State
        Where everything stands now.
    met : Met
        What eye and hand met on the way.
    swept : int
        Ticks that the crank was barred, forward +.
    """

    state: State
    met: Met = Met.NOTHING
    swept: int = 0


def possible(state: State) -> tuple[Action, ...]:
    """Return the actions that can be tried now, wise or not, in the order of :class:`Action`."""
    if state.finished:
        return ()
    actions = _open(state.pin, state.stiff, state.bar_on, state.declared)
    if state.bar_on and state.lattice.back_off_behind(state.passing, state.mark) is None:
        return tuple(action for action in actions if action is not Action.BACK_OFF)
    return actions


@cache
def _open(pin: Pin, stiff: bool, bar_on: bool, declared: bool) -> tuple[Action, ...]:
    """Return what can be tried, wherever the marks stand."""
    closed = {Action.DECLARE} if declared else set()
    closed |= {Action.FIT_BAR} if bar_on else {Action.ON, Action.ON_TO_PRESS, Action.BACK, Action.BACK_OFF}
    if not bar_on:
        closed.add(Action.BAR_OFF)
    if pin is not Pin.OUT:
        closed.add(Action.PRESS)
    if pin is not Pin.PRESSED:
        closed.add(Action.LET_GO)
    if not (pin is Pin.OUT or (pin is Pin.PRESSED and stiff)):
        closed.add(Action.FREE)
    if not pin.in_a_hole:
        closed.add(Action.PIN_OUT)
    return tuple(action for action in Action if action not in closed)


def act(state: State, action: Action) -> Effect:
    """Do one action.

    Raises
    ------
    LockPinError
        If it has ended, or the action cannot be tried now.
    """
    if state.finished:
        raise LockPinError(str(action), rule="It has ended; nothing more can be done.", remedy="Begin again.")
    if action not in possible(state):
        raise LockPinError(
            str(action),
            rule="This cannot be tried as things stand.",
            remedy=f"What can be tried: {', '.join(possible(state))}.",
        )
    return act_unchecked(state, action)


def act_unchecked(state: State, action: Action) -> Effect:
    """Do one action out of :func:`possible`, without looking again whether it is."""
    return _ACTS[action](state)


def _free(state: State) -> Effect:
    return Effect(replace(state, pin=Pin.OUT, stiff=False), Met.FREED if state.stiff else Met.NOTHING)


def _in_window(state: State) -> bool:
    lat = state.lattice
    return -lat.press <= state.hole <= lat.give_up


def _check(state: State) -> Effect:
    setup = state.setup
    if setup.tells == "hole":
        return Effect(state, Met.NO_SIGN)
    if not _in_window(state):
        return Effect(state, Met.DIFFERS if setup.tells == "witness" else Met.NO_SIGN)
    if not setup.agrees(state.passing):
        return Effect(state, Met.DIFFERS)
    # A tooth is in view all the time; valves are only known once somebody has looked. Where the bench is strict, both.
    return Effect(replace(state, checked=setup.strict or setup.tells == "valves"), Met.AGREES)


def _press(state: State) -> Effect:
    if state.stiff:
        return Effect(replace(state, pin=Pin.PRESSED), Met.HARD)
    return _seated(state, state.lattice.hole_at(state.hole))


def _seated(state: State, hole: int | None, swept: int = 0) -> Effect:
    if hole is None:
        return Effect(replace(state, pin=Pin.PRESSED), Met.METAL, swept)
    true = hole % state.lattice.period == 0  # of this passing or of a neighbouring one
    pin = Pin.SEATED if true else Pin.FALSE_HOLE
    back = state.setup.strict and state.last < 0
    return Effect(replace(state, pin=pin, seated_back=back), Met.DROPS, swept)


def _let_go(state: State) -> Effect:
    if state.stiff:
        return Effect(state, Met.HARD)
    return Effect(replace(state, pin=Pin.OUT))


def _bar(state: State, target: int, *, feeling: bool) -> Effect:
    """Bar until the watched mark stands at a place; a hand that feels stops when the pin drops in."""
    lat = state.lattice
    forward = target > state.mark
    if state.pin.in_a_hole:
        return _against_the_pin(state, target, forward)
    if state.pin is Pin.PRESSED and not state.stiff:
        met = first_met(state, target if forward else target - lat.lash_to_mark, forward=forward)
        if met is not None:
            stopped, hole = met
            moved, swept = chained(state, stopped, forward=forward), stopped - state.crank
            if not feeling:
                return _ended(moved, Consequence.SHEARED, Met.BREAKS, swept)
            return _seated(moved, hole, swept)
    crank = target if forward else target - lat.lash_to_mark
    moved, swept = chained(state, crank, forward=forward), crank - state.crank
    if state.declared:
        return _ended(moved, Consequence.MOVED, Met.NOTHING, swept)
    return Effect(moved, Met.RUBS if state.pin is Pin.PRESSED else Met.NOTHING, swept)


def first_met(state: State, crank: int, *, forward: bool) -> tuple[int, int] | None:
    """Return where the crank stands when a held pin drops in on the way to a place, and into which hole; or None.

    The gear with the hole only moves once its lash is taken up; forward it then stands where the crank does.
    """
    lat = state.lattice
    end = max(state.hole, crank) if forward else min(state.hole, crank + lat.shared + lat.to_pin)
    met = lat.first_hole(state.hole, end) if end != state.hole else None
    if met is None:
        return None
    hole, edge = met
    return (edge if forward else edge - lat.shared - lat.to_pin), hole


def _against_the_pin(state: State, target: int, forward: bool) -> Effect:
    """Bar while the pin sits in a hole: within the lash nothing is loaded, beyond it something gives."""
    lat = state.lattice
    crank = target if forward else target - lat.lash_to_mark
    room = state.hole if forward else state.hole - lat.shared - lat.to_pin
    if (crank > room) if forward else (crank < room):
        return _ended(state, Consequence.SHEARED, Met.BREAKS)
    moved = chained(state, crank, forward=forward)
    if state.declared and moved.component != state.component:
        return _ended(moved, Consequence.MOVED, Met.SLACK, crank - state.crank)
    return Effect(moved, Met.SLACK, crank - state.crank)


def chained(state: State, crank: int, *, forward: bool) -> State:
    """Turn the crank to a place; a gear moves only when the flank behind or before it reaches it."""
    lat = state.lattice
    if forward:
        fork = max(state.fork, crank)
        hole, component = max(state.hole, fork), max(state.component, fork)
    else:
        fork = min(state.fork, crank + lat.shared)
        hole, component = min(state.hole, fork + lat.to_pin), min(state.component, fork + lat.to_component)
    turns = -((lat.half - crank) // lat.period)  # how many passings further, so that the crank is near its own
    by = turns * lat.period
    moved = replace(
        state,
        passing=(state.passing + turns) % lat.passings,
        crank=crank - by,
        fork=fork - by,
        hole=hole - by,
        component=component - by,
        last=1 if forward else -1,
    )
    if moved.checked and (turns or not _in_window(moved)):
        return replace(moved, checked=False)
    return moved


def _ended(state: State, outcome: Consequence, met: Met = Met.NOTHING, swept: int = 0) -> Effect:
    pin = Pin.SHEARED if outcome is Consequence.SHEARED else state.pin
    return Effect(replace(state, outcome=outcome, pin=pin), met, swept)


def _back_off(state: State) -> Effect:
    target = state.lattice.back_off_behind(state.passing, state.mark)
    return Effect(state) if target is None else _bar(state, target, feeling=False)


def _pin_out(state: State) -> Effect:
    if state.bar_on and state.setup.compression:
        return _ended(replace(state, pin=Pin.OUT), Consequence.KICKED)
    return Effect(replace(state, pin=Pin.OUT, seated_back=False))


def _declare(state: State) -> Effect:
    setup = state.setup
    if state.pin is Pin.FALSE_HOLE:
        return _ended(state, Consequence.FALSE_HOLE)
    if state.pin is not Pin.SEATED:
        return _ended(state, Consequence.NOT_PINNED)
    if not setup.right(state.passing):
        return _ended(state, Consequence.WRONG_CENTRE)
    if state.seated_back:
        return _ended(state, Consequence.PINNED_BACK)
    if abs(state.component - state.hole) > state.lattice.lets_pass:
        return _ended(state, Consequence.MISTIMED)
    if setup.ambiguous and (setup.strict or setup.tells != "witness") and not state.checked:
        return _ended(state, Consequence.UNPROVEN)
    return Effect(replace(state, declared=True))


def _tighten(state: State) -> Effect:
    if state.pin is not Pin.OUT:
        return _ended(state, Consequence.PIN_LEFT_IN, Met.BREAKS)
    if state.bar_on:
        return _ended(state, Consequence.BAR_LEFT)
    return _ended(state, Consequence.SAFE if state.declared else Consequence.NOT_PINNED)


def _starter(state: State) -> Effect:
    broken = state.pin is not Pin.OUT
    ended = replace(state, pin=Pin.SHEARED) if broken else state
    return _ended(ended, Consequence.STARTER, Met.BREAKS if broken else Met.NOTHING)


_ACTS: Mapping[Action, Callable[[State], Effect]] = {
    Action.FREE: _free,
    Action.CHECK: _check,
    Action.ON_TO_PRESS: lambda state: _bar(state, state.lattice.press_ahead(state.passing, state.mark), feeling=False),
    Action.PRESS: _press,
    Action.LET_GO: _let_go,
    Action.BACK_OFF: _back_off,
    Action.ON: lambda state: _bar(state, state.lattice.next_line(state.passing, state.mark, 1), feeling=True),
    Action.BACK: lambda state: _bar(state, state.lattice.next_line(state.passing, state.mark, -1), feeling=True),
    Action.BAR_OFF: lambda state: Effect(replace(state, bar_on=False)),
    Action.DECLARE: _declare,
    Action.PIN_OUT: _pin_out,
    Action.FIT_BAR: lambda state: Effect(replace(state, bar_on=True)),
    Action.TIGHTEN: _tighten,
    Action.STARTER: _starter,
}
