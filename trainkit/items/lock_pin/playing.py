"""The whole scenario, played action by action."""

from __future__ import annotations

import math
import random
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from trainkit import lockpin
from trainkit.errors import ItemError, LockPinError
from trainkit.items import lock_pin_scenario, lock_pin_scene
from trainkit.items.facts import Draw
from trainkit.items.kinds import ActionsItem, ActionsKey, Option
from trainkit.items.lock_pin.bench import Bench, action_text, drawn_bench, scene_rows
from trainkit.items.template import Redraw, Unshuffled, redraw_if
from trainkit.lockpin import Action, Setup, State

if TYPE_CHECKING:
    from trainkit.packs import Pack


# By what the hand goes to: the bar, the pin, the eye, the decision. The same for every draw.
_SHOWN = (
    Action.ON_TO_PRESS,
    Action.ON,
    Action.BACK_OFF,
    Action.BACK,
    Action.FREE,
    Action.PRESS,
    Action.LET_GO,
    Action.PIN_OUT,
    Action.CHECK,
    Action.BAR_OFF,
    Action.FIT_BAR,
    Action.DECLARE,
    Action.TIGHTEN,
    Action.STARTER,
)


# How an engine is found, each in so many of a hundred draws: far from the marks, just past the hole, between press mark
# and give-up mark, or with the pin in a hole.
_FOUND = MappingProxyType({"away": 40, "missed": 20, "between": 20, "pinned": 20})
_FORWARD, _FITTED, _PRESSED, _STIFF = 0.6, 0.65, 0.3, 0.4
_JUST_PAST = 15  # minutes of the clock


def random_start(rng: random.Random, told: Bench) -> State:
    """Return a start: somewhere in its cycle, barred on or back, bar and pin as somebody left them.

    Raises
    ------
    Redraw
        If the engine cannot stand so.
    """
    setup = told.setup
    how = rng.choices(tuple(_FOUND), tuple(_FOUND.values()))[0]
    passing = rng.randrange(setup.passings)
    turned: Literal["forward", "back"] = "forward" if rng.random() < _FORWARD else "back"
    pin: Literal["out", "pressed", "in"] = "pressed" if rng.random() < _PRESSED else "out"
    if how == "pinned":
        redraw_if(setup.stiff)
        pin, before = "in", _in_a_hole(rng, setup, turned)
    else:
        before = _between_the_marks(rng, told, how)
    try:
        return State.start(setup, before, passing=passing, turned=turned, bar_on=rng.random() < _FITTED, pin=pin)
    except LockPinError:
        raise Redraw from None


def _between_the_marks(rng: random.Random, told: Bench, how: str) -> Fraction:
    """Return where the mark stands, on a minute of the clock: crank degrees before its place."""
    setup = told.setup
    minute = Fraction(1, 2) / told.dial.turns_per_crank
    half, late = setup.period / 2 - minute, -setup.give_up - minute
    if how == "between":
        low, high = -setup.give_up, setup.press_from
    elif how == "missed":
        low, high = max(-half, late - _JUST_PAST * minute), late
    elif rng.random() < 0.5:
        low, high = -half, late
    else:
        low, high = min(setup.press_from, half), half
    return rng.randint(math.ceil(low / minute), math.floor(high / minute)) * minute


def _in_a_hole(rng: random.Random, setup: Setup, turned: str) -> Fraction:
    """Return where the mark stands when the pin is in a hole, as near as it is told."""
    if turned == "back":
        # The mark stands off the hole by the lash between the two.
        off = {"bar": setup.lash_to_pin, "pin gear": Fraction(0), "component gear": -setup.lash_difference}
        return Fraction(round(4 * off[setup.marks_on]), 4)
    return -rng.choice((Fraction(0), *setup.false_holes)) if rng.random() < 0.5 else Fraction(0)


class PinTheEngine(Unshuffled):
    """From an engine somewhere in its cycle to a component at its torque, with nothing lost on the way.

    The engine is found in many ways: the pin stiff, pressed or in some hole, the bar fitted or not, the lash on either
    side, the hole far away or just missed. How far a little goes is drawn too: no fixed list of actions gets through.

    Difficulty: the actions on a shortest way; a pin that is found stiff; an engine that was barred back last, so that
    the lash lies on the wrong side.
    """

    name = "lock-pin/pin-the-engine"
    skill = "bar an engine to the right dead centre and pin it"
    kind = "actions"
    weights = MappingProxyType({"actions": 0.25, "stiff": 0.25, "barred back": 0.25})

    def pose(self, rng: random.Random, pack: Pack) -> Draw:
        """Draw once."""
        told = drawn_bench(rng, pack, stiff=rng.random() < _STIFF)
        found = random_start(rng, told)
        scene = lock_pin_scene.scene(told.setup, told.watched, found)
        try:
            start = lock_pin_scenario.begin(scene).state
        except ItemError:
            raise Redraw from None
        way = lockpin.shortest_way(start) or ()
        item = ActionsItem(
            prompt=f"{pack.engine.job}\n\nBar this engine to the right place and pin it. Set the {told.component}, "
            "and bring it to its torque with nothing harmed.\n\n"
            "The starting system is locked out and nobody else is at the controls. "
            "An unnecessary action costs few points. What could injure a person or damage the engine ends this "
            "question.",
            given=scene_rows(told, found),
            model="lock-pin",
            scene=scene,
            actions=tuple(Option(id=action.value, text=action_text(action, told)) for action in _SHOWN),
            limit=min(120, 3 * len(way) + 10),
        )
        key = ActionsKey(template=self.name, model="lock-pin", working=_working(told, start, way))
        features = {"actions": len(way), "stiff": start.stiff, "barred back": start.last <= 0}
        return Draw(item, key, features)


def _working(told: Bench, start: State, way: tuple[Action, ...]) -> tuple[str, ...]:
    lines, state = [], start
    for number, action in enumerate(way, 1):
        state, happening = lockpin.step(state, action)
        lines.append(f"{number}. {action_text(action, told)}. {happening.seen} {happening.truth}")
    return tuple(lines)
