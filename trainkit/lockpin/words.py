"""Words for what happens: first what eye and hand get, then, apart from it, the truth."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from itertools import pairwise

from trainkit.lockpin.motion import Effect, Met
from trainkit.lockpin.setup import Setup
from trainkit.lockpin.state import Action, Consequence, Pin, State
from trainkit.sentences import decimal, noun, with_unit

# What can be done, said to the person who does it. "The stroke" stands for the right dead centre.
ACTIONS: Mapping[Action, str] = {
    Action.FREE: "Work the pin in and out by hand",
    Action.CHECK: "Check the sign of the right dead centre",
    Action.ON_TO_PRESS: "Bar on to the press mark",
    Action.PRESS: "Press the pin",
    Action.LET_GO: "Let go of the pin",
    Action.BACK_OFF: "Bar back to the back-off mark",
    Action.ON: "Bar on a little",
    Action.BACK: "Bar back a little",
    Action.BAR_OFF: "Take the bar off",
    Action.DECLARE: "Call it pinned and set the component",
    Action.PIN_OUT: "Take the pin out",
    Action.FIT_BAR: "Fit the bar",
    Action.TIGHTEN: "Tighten the component to its torque",
    Action.STARTER: "Use the starter",
}

# How it can end, why, and what to do next time.
OUTCOMES: Mapping[Consequence, str] = {
    Consequence.NOTHING: "Nothing is lost so far.",
    Consequence.SAFE: "The engine was pinned at the right place, and nothing loaded the pin.",
    Consequence.SHEARED: "The engine was barred with the pin in a hole: pin or tooth gave. "
    "Stop at once when the pin goes in.",
    Consequence.PIN_LEFT_IN: "The component was tightened against the pin: pin, hole or teeth are damaged. "
    "Take the pin out before anything loads the train.",
    Consequence.STARTER: "The starter gives no feel and no stop. Bar the engine by hand, always.",
    Consequence.KICKED: "The pin came out with the bar still fitted, and compression threw the bar. "
    "Take the bar off first.",
    Consequence.BAR_LEFT: "The component was tightened with the bar still fitted; the engine would throw it. "
    "Take the bar off first.",
    Consequence.WRONG_CENTRE: "The pin went in at a wrong dead centre. "
    "Look at what tells the right one before you set anything.",
    Consequence.FALSE_HOLE: "The pin was in a false hole. The mark must stand at its place when the pin goes in.",
    Consequence.MISTIMED: "The component was set while its gears were off the driving flank. "
    "Let the pin seat on the way forward, after a full back-off.",
    Consequence.NOT_PINNED: "Nothing held the engine while the component was set. "
    "The pin must be in its hole; a mark alone holds nothing.",
    Consequence.UNPROVEN: "The place happened to be right, but nobody had looked. "
    "Check what tells the right dead centre.",
    Consequence.PINNED_BACK: "The pin went in after the engine was barred back, so the gears rest on the wrong flanks. "
    "Let go of the pin before you bar back. Let it seat on the way forward only.",
    Consequence.MOVED: "The engine was moved after the component was set. From then on the crank must not move.",
}


def crank_degrees(angle: Fraction) -> str:
    r"""Write an angle without its sign, at most two decimals, a thin space before the unit.

    Examples
    --------
    >>> crank_degrees(Fraction(-3, 4)), crank_degrees(Fraction(1))
    ('0.75\u2009crank degrees', '1\u2009crank degree')
    """
    number = decimal(abs(float(angle)))
    return with_unit(number, noun(float(number), "crank degree"))


def early_or_late(error: Fraction) -> str:
    r"""Say what a timing error does; + is late.

    Examples
    --------
    >>> early_or_late(Fraction(3, 4))
    '0.75\u2009crank degrees late'
    """
    if not error:
        return "no timing error"
    if abs(error) == 360:
        return "a whole crank turn out"
    return f"{crank_degrees(error)} {'late' if error > 0 else 'early'}"


def where(setup: Setup, passing: int) -> str:
    """Say at which dead centre the hole lines up in a passing.

    Examples
    --------
    >>> setup = Setup(press_from=6, give_up=4, back_off=15, period=360, tells="valves", firing_order=(1, 3, 4, 2))
    >>> where(setup, 0)
    'compression dead centre of cylinder 1'
    >>> where(setup, 1)
    'exhaust dead centre of cylinder 1, compression dead centre of cylinder 4'
    """
    off = setup.off_centre(passing) % 720
    if off == 0:
        return f"{setup.dead_centre} dead centre of cylinder {setup.cylinder}"
    other = "exhaust" if setup.dead_centre == "compression" else "compression"
    names = [f"{other} dead centre of cylinder {setup.cylinder}"] if off == 360 else []
    if setup.firing_order:
        from trainkit.cycle import FiringOrder, Position

        now = Position.known(FiringOrder(setup.firing_order), cylinder=setup.cylinder, on=setup.dead_centre)
        at_top = now.turned(off)
        for name, cylinders in (("compression", at_top.on_compression()), ("exhaust", at_top.on_exhaust())):
            names += [f"{name} dead centre of cylinder {each}" for each in cylinders if each != setup.cylinder]
        names = names[:2]
    if names:
        return ", ".join(names)
    side = setup.off_centre(passing)
    return f"{crank_degrees(side)} {'after' if side > 0 else 'before'} the right dead centre"


def place(state: State) -> str:
    """Say where the eye sees the watched mark; an eye reads no closer than half of "a little".

    Examples
    --------
    >>> setup = Setup(press_from=6, give_up=4, back_off=15, lash_to_pin=0.5, lash_to_component=1.25)
    >>> place(State.start(setup, before=6)), place(State.start(setup, before="-0.25"))
    ('at the press mark', 'at the seat mark')
    """
    lat = state.lattice
    turn = round(Fraction(state.mark, lat.period))
    if not lat.marked[(state.passing + turn) % lat.passings]:
        return "away from all marks"
    ahead = state.mark - turn * lat.period
    marks = (
        (-lat.back_off, "back-off mark"),
        (-lat.press, "press mark"),
        (0, "seat mark"),
        (lat.give_up, "give-up mark"),
    )
    for mark, name in marks:
        if 2 * abs(ahead - mark) < lat.little or (mark == 0 and abs(ahead) <= lat.clearance):
            return f"at the {name}"
    if not -2 * lat.back_off <= ahead <= lat.give_up + lat.back_off:
        return "away from all marks"
    if ahead < marks[0][0]:
        return "before the back-off mark"
    for (low, before), (high, after) in pairwise(marks):
        if low < ahead < high:
            return f"between the {before} and the {after}"
    return "past the give-up mark"


def seen(before: State, action: Action, effect: Effect) -> str:
    """Say what eye and hand get from an action, and nothing that they do not get."""
    state, met = effect.state, effect.met
    if state.outcome is Consequence.STARTER:
        return "The engine jerks round, faster than you can follow." + (_CRACK if met is Met.BREAKS else "")
    if met is Met.BREAKS:
        return _TORQUE_ON_PIN if action is Action.TIGHTEN else f"The bar goes hard.{_CRACK}"
    if action in _BARS:
        return _barred(before, state, met)
    if action is Action.CHECK:
        return _checked(state, met)
    if action is Action.PRESS:
        return {
            Met.DROPS: "The pin goes in.",
            Met.METAL: "The pin meets metal and stops.",
            Met.HARD: "The pin moves hard and does not come back by itself.",
        }[met]
    if action is Action.FREE:
        return "It moved hard at first. Now it slides in and out, and springs back." if met is Met.FREED else _SLIDES
    if action is Action.LET_GO:
        return "The pin stays where it is." if met is Met.HARD else "The pin springs back out."
    if state.outcome is Consequence.KICKED:
        return "The pin comes free, the engine kicks, and the bar is thrown."
    if action is Action.TIGHTEN and state.outcome is Consequence.SAFE:
        return "The torque comes up. Nothing else moves."
    return _PLAIN[action]


_BARS = (Action.ON, Action.ON_TO_PRESS, Action.BACK, Action.BACK_OFF)
_CRACK = " Something cracks."
_SLIDES = "It slides in and out, and springs back."
_TORQUE_ON_PIN = "The torque comes up, then something gives with a crack."
_PLAIN: Mapping[Action, str] = {
    Action.BAR_OFF: "The bar is off and laid aside.",
    Action.FIT_BAR: "The bar is fitted.",
    Action.PIN_OUT: "The pin comes out by hand.",
    Action.DECLARE: "The component is set.",
    Action.TIGHTEN: "The torque comes up.",
}


def _barred(before: State, state: State, met: Met) -> str:
    if met is Met.SLACK:
        return "The bar gives a little and comes up hard. Nothing else moves."
    # Taking up lash is felt whichever way it goes: the bar moves before the mark does.
    turned = "At first the bar moves freely, then the mark follows. " if before.last != state.last else ""
    if met is Met.DROPS:
        return f"{turned}The pin goes in. You stop. The mark stands {place(state)}."
    rubs = "The pin rubs. " if met is Met.RUBS else ""
    return f"{turned}{rubs}The mark stands {place(state)}."


def _checked(state: State, met: Met) -> str:
    setup = state.setup
    if met is Met.NO_SIGN:
        if setup.tells == "hole":
            return "There is nothing to look at: the hole comes by at the right dead centre only."
        return "The piston is not near a dead centre, so the valves tell nothing."
    if setup.tells == "witness":
        return "The witness tooth agrees." if met is Met.AGREES else "The witness tooth is away from its place."
    # Both valves shut means compression; both a little open, overlap, means exhaust.
    shut = (met is Met.AGREES) == (setup.dead_centre == "compression")
    if setup.off_centre(state.passing) % 360:
        return f"Cylinder {setup.cylinder} is not near a top dead centre; its valves tell nothing."
    how = "both shut" if shut else "overlapping: exhaust closing, inlet opening"
    return f"The valves of cylinder {setup.cylinder} are {how}."


def truth(before: State, action: Action, effect: Effect) -> str:
    """Say what really happened: flanks, holes, dead centre, timing error. For feedback and practice only."""
    state, met = effect.state, effect.met
    if state.outcome is not Consequence.NOTHING:
        return _ended(state)
    if met is Met.DROPS:
        return f"{_hole(state)} {_flanks(state)}"
    if met is Met.RUBS:
        return "The pin is held against the turning gear: it wears, and it takes any hole that comes by."
    if action in _BARS:
        if met is Met.SLACK:
            return "Only lash moved; the pin is not loaded yet."
        if before.last != state.last:
            return "The sense changed: the gears go over to their other flanks."
        return _flanks(state)
    if met is Met.HARD:
        return "A stiff pin answers late or not at all. Free it before you bar."
    if met is Met.METAL:
        return "No hole is behind the pin here."
    if action is Action.DECLARE:
        return f"The component is set with {early_or_late(before.timing_error)}. {_DECLARED}"
    if met in (Met.AGREES, Met.DIFFERS):
        return f"This passing is {where(state.setup, state.passing)}."
    return _TELLS.get(action, "Nothing is lost by it.")


_TELLS: Mapping[Action, str] = {
    Action.FREE: "A pin that slides and springs back can be trusted to answer at once.",
    Action.BAR_OFF: "Without the bar, compression has nothing to throw.",
    Action.PIN_OUT: "With the pin out, nothing but the position itself is kept: leave the crank alone.",
}
_DECLARED = "Now the crank must not move any more."


def _hole(state: State) -> str:
    if state.pin is Pin.FALSE_HOLE:
        return "This is a false hole."
    right = "the right place" if state.setup.right(state.passing) else "a wrong one"
    return f"The hole lines up at {where(state.setup, state.passing)}: {right}."


def _flanks(state: State) -> str:
    if state.flank == "driving":
        return "The gears rest on their driving flanks."
    ahead = state.lattice.angle(state.component - state.crank)
    return f"The component's gear is still {crank_degrees(ahead)} ahead of the crank: its lash is not taken up."


_SHIFTED = (Consequence.WRONG_CENTRE, Consequence.FALSE_HOLE, Consequence.MISTIMED, Consequence.PINNED_BACK)


def _ended(state: State) -> str:
    said = OUTCOMES[state.outcome]
    if state.outcome in (
        Consequence.WRONG_CENTRE,
        Consequence.FALSE_HOLE,
        Consequence.MISTIMED,
        Consequence.PINNED_BACK,
    ):
        return f"{said} Its event is {early_or_late(state.timing_error)}."
    return said
