"""What can be done next at the lock pin: plans as they are said, carried out on the bench, and judged.

Nearly each plan is right in some scenes and wrong in others, so that none is known by its wording.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from trainkit import lockpin
from trainkit.items.lock_pin.bench import Bench, action_text
from trainkit.items.lock_pin_scenario import PinPlay
from trainkit.lockpin import Action, Consequence, State

A = Action
_MOST_REPEATS = 30


@dataclass(frozen=True, slots=True)
class Do:
    """One part of a plan: an action, or the same one again and again; ``if_can`` where it may be left.

    ``until`` is ``"in"`` where it is done until the pin goes in, ``"past"`` where until the hole lies behind the
    give-up mark.
    """

    action: Action
    until: Literal["", "in", "past"] = ""
    if_can: bool = False

    def done(self, state: State) -> bool:
        """Whether it need not be done again."""
        if self.until == "past":
            return state.hole > state.lattice.give_up
        return not self.until or state.pin.in_a_hole


Plan = tuple[Do, ...]
Said = tuple[Action | str, ...]
ON_IN, BACK_IN = Do(A.ON, "in"), Do(A.BACK, "in")
_COME_FORWARD = (Do(A.ON_TO_PRESS), Do(A.PRESS), ON_IN)
_FITTED = Do(A.FIT_BAR, if_can=True)
_LET_GO = (Do(A.LET_GO, if_can=True), _FITTED)
_DRAWN = (Do(A.BAR_OFF, if_can=True), Do(A.PIN_OUT, if_can=True), *_LET_GO)
# What takes several actions and is said in one phrase. Who bars fits the bar first where it is off.
PHRASES: Mapping[str, Plan] = MappingProxyType(
    {
        "draw the pin with the bar off, back off, and pin it again on the way forward": (
            *_DRAWN,
            Do(A.BACK_OFF),
            *_COME_FORWARD,
        ),
        "draw the pin with the bar off, bar on to the next press mark, and pin it there": (*_DRAWN, *_COME_FORWARD),
        "let go of the pin, back off, and pin it on the way forward": (*_LET_GO, Do(A.BACK_OFF), *_COME_FORWARD),
        "let go of the pin, bar on to the next press mark, and pin it there": (*_LET_GO, *_COME_FORWARD),
        "bar on a little at a time until the pin goes in": (_FITTED, ON_IN),
        "bar on past the hole with the pin out, press, and bar back until the pin goes in": (
            *_DRAWN,
            Do(A.ON, "past"),
            Do(A.PRESS),
            BACK_IN,
        ),
        "hold the pin pressed and bar on a little at a time until it goes in": (
            Do(A.PRESS, if_can=True),
            _FITTED,
            ON_IN,
        ),
        "see that the bar is off and the pin is out": (
            Do(A.BAR_OFF, if_can=True),
            Do(A.PIN_OUT, if_can=True),
            Do(A.LET_GO, if_can=True),
        ),
    }
)
_AGAIN, _NEXT, _BACK_OFF, _ON_NEXT, _GO_ON, _PAST, _PRESS_ON, _ALL_OUT = PHRASES
_SET: Said = (A.CHECK, A.BAR_OFF, A.DECLARE)
# Each ends where something is decided.
PLANS: tuple[Said, ...] = (
    _SET,
    (A.BAR_OFF, A.DECLARE),
    (A.DECLARE,),
    (A.BAR_OFF, A.DECLARE, A.PIN_OUT, A.TIGHTEN),
    (A.DECLARE, A.PIN_OUT, A.TIGHTEN),
    (A.BAR_OFF, A.PIN_OUT, A.TIGHTEN),
    (A.PIN_OUT, A.TIGHTEN),
    (A.BAR_OFF, A.TIGHTEN),
    (A.TIGHTEN,),
    (_ALL_OUT, A.TIGHTEN),
    *((phrase, *_SET) for phrase in (_AGAIN, _BACK_OFF, _NEXT, _ON_NEXT, _GO_ON, _PRESS_ON)),
    # Right nowhere, so that it is offered seldom.
    (_PAST, *_SET),
)

Worth = Literal["right", "wrong", "unsafe"]


def carried_out(play: PinPlay, said: Said) -> PinPlay | None:
    """Return the play after a plan, or None where a part of it cannot be done."""
    for part in _parts(said):
        if part.if_can and part.action.value not in play.actions:
            continue
        for _ in range(_MOST_REPEATS):
            if play.finished or part.action.value not in play.actions:
                return play if play.finished else None
            play, _seen = play.act(part.action.value)
            if part.done(play.state) or play.finished:
                break
        else:
            return None
        if play.finished:
            break
    return play


def _parts(said: Said) -> Plan:
    return tuple(part for each in said for part in ((Do(each),) if isinstance(each, Action) else PHRASES[each]))


def worth(before: PinPlay, end: PinPlay | None) -> Worth | None:
    """Judge the end of a plan: nothing where it can be neither right nor wrong, or shows no misconception.

    Right is what leads nearer to a safe end, wrong what leaves none.
    """
    if end is None:
        return None
    outcome = end.state.outcome
    if outcome.lost:
        return None if end.shows is None else "unsafe" if outcome.critical else "wrong"
    near = outcome is not Consequence.NOTHING or lockpin.nearer(before.state, end.state)
    return "right" if near else None


def told(said: Said, bench: Bench) -> str:
    """Say a plan in one sentence."""
    phrases = [action_text(each, bench) if isinstance(each, Action) else each for each in said]
    text = ", then ".join(phrase[0].lower() + phrase[1:] for phrase in phrases)
    return f"{text[0].upper()}{text[1:]}."
