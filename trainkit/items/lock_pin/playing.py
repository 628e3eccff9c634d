"""The whole scenario, played action by action."""

from __future__ import annotations

import random
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import lockpin
from trainkit.items import lock_pin_scenario
from trainkit.items.facts import Draw
from trainkit.items.kinds import ActionsItem, ActionsKey, Option
from trainkit.items.lock_pin.bench import Bench, action_text, bench, scene_rows
from trainkit.items.template import Redraw, Unshuffled
from trainkit.lockpin import Action, State

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


def random_start(rng: random.Random, told: Bench) -> State:
    """Return a start: any passing, well away from the hole or just past it, barred on or back."""
    setup = told.setup
    passing = rng.randrange(setup.passings)
    if rng.random() < 0.5:
        # Somewhere between two passings, to the nearest five crank degrees.
        low, high = int(setup.back_off) + 10, int(setup.period / 2) - 5
        before = Fraction(5 * round(rng.uniform(low, high) / 5))
        if before >= setup.period / 2:
            before = (setup.back_off + setup.period / 2) / 2  # a hole that comes by soon again
    else:
        before = Fraction(-int(setup.give_up) - rng.randint(2, 9))
    return State.start(setup, before, passing=passing, turned="forward" if rng.random() < 0.7 else "back")


class PinTheEngine(Unshuffled):
    """From an engine somewhere in its cycle to a component at its torque, with nothing lost on the way.

    Difficulty: the actions on a shortest way; a pin that is found stiff; an engine that was barred back last, so that
    the lash lies on the wrong side.
    """

    name = "lock-pin/pin-the-engine"
    skill = "bar an engine to the right dead centre and pin it"
    kind = "actions"
    weights = MappingProxyType({"actions": 0.25, "stiff": 0.25, "barred back": 0.25})

    def pose(self, rng: random.Random, pack: Pack) -> Draw:
        """Draw once."""
        told = bench(pack, stiff=rng.random() < 0.5)
        start = random_start(rng, told)
        way = lockpin.shortest_way(start)
        if way is None:
            raise Redraw
        item = ActionsItem(
            prompt=f"{pack.engine.job}\n\nBar this engine to the right place and pin it. Set the {told.component}, "
            "and bring it to its torque with nothing harmed.\n\n"
            "The starting system is locked out and nobody else is at the controls. "
            "Needless detours cost little; what would hurt the engine or a person ends the attempt.",
            given=scene_rows(told, start),
            model="lock-pin",
            scene=lock_pin_scenario.scene(told.setup, told.watched, start),
            actions=tuple(Option(id=action.value, text=action_text(action, told)) for action in _SHOWN),
            limit=min(120, 3 * len(way) + 10),
        )
        key = ActionsKey(template=self.name, model="lock-pin", working=_working(told, start, way))
        features = {"actions": len(way), "stiff": told.setup.stiff, "barred back": start.last <= 0}
        return Draw(item, key, features)


def _working(told: Bench, start: State, way: tuple[Action, ...]) -> tuple[str, ...]:
    lines, state = [], start
    for number, action in enumerate(way, 1):
        state, happening = lockpin.step(state, action)
        lines.append(f"{number}. {action_text(action, told)}. {happening.seen} {happening.truth}")
    return tuple(lines)
