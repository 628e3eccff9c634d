"""Barring an engine to the right dead centre and stopping it there with a lock pin.

Everything is measured in crank degrees before (+) or after (−) the hole of the lock pin lines up. A :class:`Setup`
holds what is fixed about one engine, a :class:`State` where everything stands at one moment. :func:`step` does one
:class:`Action` and tells what happened, :func:`acceptable` says which actions still lead to a safe pinning, and
:func:`shortest_way` gives one way; both are found by search over the model, none is an author's list.

The model is quasi-static and friction-held: a gear moves only when a flank pushes it, and stays where it was left.
Springs that push a gear ahead, wind-up of shafts and wear are outside it. A hand that bars "a little" feels the pin
drop in and stops; a hand that bars at a stretch does not. The pin seats anywhere within its clearance, which counts
as no timing error. The practice it teaches is common practice, no source; a real engine's manual always wins.

Examples
--------
>>> setup = Setup(press_from=6, give_up=4, back_off=15, lash_to_pin=0.5, lash_to_component=1.25)
>>> state = State.start(setup, before=30)
>>> print(*acceptable(state), sep=", ")
free-pin, check-stroke, on-to-press-mark, press, on-a-little, back-a-little, bar-off
>>> state, happening = step(state, "on-to-press-mark")
>>> print(happening.seen)
The mark stands at the press mark.
>>> print(*shortest_way(state), sep=", ")
press, on-a-little, on-a-little, on-a-little, bar-off, declare, pin-out, tighten

Turned back with the pin pressed, it seats with the gears on the wrong flanks:

>>> state = State.start(setup, before=-2)
>>> for action in ("press", "back-a-little"):
...     state, happening = step(state, action)
>>> print(happening.seen)
At first the bar moves freely, then the mark follows. The pin goes in. You stop. The mark stands at the seat mark.
>>> state.timing_error
Fraction(3, 4)
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from trainkit.errors import LockPinError
from trainkit.lockpin.dial import Dial
from trainkit.lockpin.motion import Effect, act, possible
from trainkit.lockpin.search import acceptable, effort, nearer, shortest_way
from trainkit.lockpin.setup import CYCLE, Setup
from trainkit.lockpin.state import Action, Consequence, Pin, State
from trainkit.lockpin.trains import from_train
from trainkit.lockpin.words import ACTIONS, OUTCOMES, early_or_late, place, seen, truth, where

__all__ = [
    "ACTIONS",
    "CYCLE",
    "OUTCOMES",
    "Action",
    "Consequence",
    "Dial",
    "Happening",
    "Pin",
    "Setup",
    "State",
    "acceptable",
    "early_or_late",
    "effort",
    "from_train",
    "nearer",
    "place",
    "possible",
    "shortest_way",
    "step",
    "where",
]


@dataclass(frozen=True, slots=True)
class Happening:
    """What happened during one action.

    Parameters
    ----------
    action : Action
        What was done.
    before : State
        How everything stood before.
    effect : Effect
        What it led to.
    """

    action: Action
    before: State = field(repr=False)
    effect: Effect = field(repr=False)

    @property
    def seen(self) -> str:
        """What eye and hand get: marks, feel, resistance. On the assessed bench this alone is told."""
        return seen(self.before, self.action, self.effect)

    @property
    def truth(self) -> str:
        """What really happened, for feedback and practice: flanks, holes, dead centre, timing error."""
        return truth(self.before, self.action, self.effect)

    @property
    def consequence(self) -> Consequence:
        """How it ended; :attr:`Consequence.NOTHING` while it goes on."""
        return self.effect.state.outcome

    @property
    def barred(self) -> Fraction:
        """Crank degrees that the engine was barred, forward +."""
        return self.before.lattice.angle(self.effect.swept)


def step(state: State, action: Action | str) -> tuple[State, Happening]:
    """Do one action and tell what happened.

    Parameters
    ----------
    state : State
        The engine and its pin now.
    action : Action or str
        What is done, by its value or its identifier.

    Returns
    -------
    tuple of State, Happening
        The engine and its pin afterwards, and what happened.

    Raises
    ------
    LockPinError
        If there is no such action, it cannot be tried now, or it has ended.

    Examples
    --------
    >>> setup = Setup(press_from=6, give_up=4, back_off=15)
    >>> state, happening = step(State.start(setup, before=0), "press")
    >>> print(happening.seen, happening.truth)
    The pin goes in. The hole lines up at compression dead centre of cylinder 1: the right place. The gears rest on \
their driving flanks.
    >>> state, happening = step(state, "on-a-little")
    >>> happening.consequence.value, happening.consequence.critical
    ('pin-sheared', True)
    """
    try:
        what = Action(action)
    except ValueError:
        raise LockPinError(action, rule=f"The actions are {', '.join(Action)}.", remedy="Name one of them.") from None
    effect = act(state, what)
    return effect.state, Happening(what, state, effect)
