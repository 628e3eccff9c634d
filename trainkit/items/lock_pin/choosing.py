"""Choices at the lock pin: what to do next, and which dead centre this is."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import lockpin
from trainkit.cycle import DEAD_CENTRES, FiringOrder, valves_at
from trainkit.items import example_engines as examples
from trainkit.items.kinds import Given
from trainkit.items.lock_pin.bench import Bench, action_text, drawn_bench, scene_rows
from trainkit.items.lock_pin.rules import CENTRE_RULES, Centre, Standing
from trainkit.items.lock_pin_scenario import PinPlay
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import redraw_if
from trainkit.lockpin import Action, Consequence, Pin, State
from trainkit.quantities import THIN, plain

if TYPE_CHECKING:
    from trainkit.packs import Pack


A = Action
_MOST_REPEATS = 30
# Each further wrong way is one more misconception that a wrong answer can show.
_MOST_WRONG = 4
_NEEDED = (
    *("Mark", "Its places", "Hole", "Right place", "What tells it", "Pin", "Compression", "The engine stands"),
    "A little",
)


@dataclass(frozen=True, slots=True)
class _Do:
    """One part of a plan: an action, or the same one again until the pin goes in; ``if_can`` where it may be left."""

    action: Action
    until_in: bool = False
    if_can: bool = False

    def done(self, state: State) -> bool:
        return not self.until_in or state.pin.in_a_hole


Plan = tuple[_Do, ...]
_ON_IN, _BACK_IN = _Do(A.ON, until_in=True), _Do(A.BACK, until_in=True)
_COME_FORWARD = (_Do(A.ON_TO_PRESS), _Do(A.PRESS), _ON_IN)
_DRAWN = (_Do(A.BAR_OFF, if_can=True), _Do(A.PIN_OUT), _Do(A.FIT_BAR))
# What takes several actions and is said in one phrase.
PHRASES: Mapping[str, Plan] = MappingProxyType(
    {
        "draw the pin with the bar off, back off, and pin it again on the way forward": (
            *_DRAWN,
            _Do(A.BACK_OFF),
            *_COME_FORWARD,
        ),
        "draw the pin with the bar off, bar on to the next press mark, and pin it there": (*_DRAWN, *_COME_FORWARD),
        "let go of the pin, back off, and pin it on the way forward": (
            _Do(A.LET_GO, if_can=True),
            _Do(A.BACK_OFF),
            *_COME_FORWARD,
        ),
        "let go of the pin, bar on to the next press mark, and pin it there": (
            _Do(A.LET_GO, if_can=True),
            *_COME_FORWARD,
        ),
        "bar on a little at a time until the pin goes in": (_ON_IN,),
        "bar back a little at a time until the pin goes in": (_BACK_IN,),
    }
)
_AGAIN, _NEXT, _BACK_OFF, _ON_NEXT, _GO_ON, _GO_BACK = PHRASES
_SET: tuple[Action | str, ...] = (A.CHECK, A.BAR_OFF, A.DECLARE)
# What can be done next, as it is said: actions, and phrases for several of them. Each ends where something is decided.
# Each with how readily it is offered where it is wrong.
_PLANS: Mapping[tuple[Action | str, ...], float] = MappingProxyType(
    {
        _SET: 2.0,
        (A.BAR_OFF, A.DECLARE): 0.5,
        (A.DECLARE,): 0.2,
        (A.BAR_OFF, A.DECLARE, A.PIN_OUT, A.TIGHTEN): 0.5,
        (A.DECLARE, A.PIN_OUT, A.TIGHTEN): 0.1,
        (A.BAR_OFF, A.PIN_OUT, A.TIGHTEN): 4.0,
        (A.PIN_OUT, A.TIGHTEN): 1.5,
        **{(phrase, *_SET): 5.0 for phrase in (_AGAIN, _BACK_OFF)},
        **{(phrase, *_SET): 1.0 for phrase in (_NEXT, _ON_NEXT, _GO_ON)},
    }
)
# These are right nowhere, so they are offered seldom.
_NEVER: tuple[tuple[Action | str, ...], ...] = ((_GO_BACK, *_SET), (A.ON,), (A.FIT_BAR, A.ON), (A.STARTER,))
_SELDOM = 0.15


def _parts(said: tuple[Action | str, ...]) -> Plan:
    return tuple(part for each in said for part in ((_Do(each),) if isinstance(each, Action) else PHRASES[each]))


def _carried_out(play: PinPlay, plan: Plan) -> PinPlay | None:
    """Return the play after a plan, or None where a part of it cannot be done."""
    for part in plan:
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


def _told(said: tuple[Action | str, ...], told: Bench) -> str:
    """Say a plan in one sentence."""
    phrases = [action_text(each, told) if isinstance(each, Action) else each for each in said]
    text = ", then ".join(phrase[0].lower() + phrase[1:] for phrase in phrases)
    return f"{text[0].upper()}{text[1:]}."


class WhatNext(ChoiceTemplate):
    """From a record of what was done, seen and felt: what to do next.

    Difficulty: the plans offered; the lines of the record, in fives; the actions of all plans together.
    """

    name = "lock-pin/what-next"
    skill = "read the bench and choose the next safe action"
    weights = MappingProxyType({"plans": 0.5, "fives of lines": 0.5, "actions": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[str]:
        """Draw once, or ask for another draw."""
        told = drawn_bench(rng, pack, stiff=False)
        start, record = _situation(rng, told)
        play = PinPlay(start, watched=told.watched, dial=told.dial)
        log: list[Given] = []
        for part in record:
            if part.if_can and part.action.value not in play.actions:
                continue
            for _ in range(_MOST_REPEATS):
                redraw_if(part.action.value not in play.actions)
                play, seen = play.act(part.action.value)
                log.append(Given(label=f"{len(log) + 1}. {action_text(part.action, told)}", value=seen))
                if part.done(play.state) or play.finished:
                    break
            redraw_if(play.finished or not part.done(play.state))
        redraw_if(not lockpin.acceptable(play.state))
        right, wrong = _offered(rng, play, told)
        answer = _told(right, told)
        return ChoiceQuestion(
            prompt="You are pinning this engine. The lines below say where it stood first, then what you did, "
            "and what eye and hand got each time. What do you do next?",
            given=(*(row for row in scene_rows(told, start) if row.label in _NEEDED), *log),
            figure=dict(play.view),
            texts={text: text for text in (answer, *wrong)},
            right=answer,
            shows={text: end.shows or "" for text, end in wrong.items()},
            critical=[text for text, end in wrong.items() if end.verdict().critical],
            reasons={
                answer: "From there a safe pinning can still be reached, and it is nearer than before.",
                **{text: end.verdict().reason for text, end in wrong.items()},
            },
            working=_working(play, told),
            features={
                "plans": 1 + len(wrong),
                "fives of lines": len(log) / 5,
                "actions": sum(map(len, (right, *wrong))) / 10,
            },
        )


def _offered(rng: random.Random, play: PinPlay, told: Bench) -> tuple[tuple[Action | str, ...], dict[str, PinPlay]]:
    """Return a plan that leads nearer to a safe end, and plans that end badly, each of its own misconception."""
    right, wrong = [], {}
    for said in _mixed(rng):
        end = _carried_out(play, _parts(said))
        if end is None:
            continue
        if end.state.outcome.lost:
            if end.shows is not None:
                wrong[_told(said, told)] = end
        elif end.state.outcome is not Consequence.NOTHING or lockpin.nearer(play.state, end.state):
            right.append(said)
    # Going on to the next hole leads to a safe end nearly always: it is offered where nothing else does.
    right = [said for said in right if said[0] not in (_NEXT, _ON_NEXT)] or right
    redraw_if(not right)
    chosen = dict(list(wrong.items())[: rng.randint(_MOST_WRONG - 1, _MOST_WRONG)])
    if rng.random() < _SELDOM:
        for said in rng.sample(_NEVER, len(_NEVER)):
            end = _carried_out(play, _parts(said))
            if end is not None and end.state.outcome.lost and end.shows is not None:
                chosen = dict(list(chosen.items())[: _MOST_WRONG - 1]) | {_told(said, told): end}
                break
    redraw_if(len(chosen) < 2)
    # Of several right ones rather one that is seldom right elsewhere.
    return rng.choices(right, [1 / _PLANS[said] for said in right])[0], chosen


def _mixed(rng: random.Random) -> list[tuple[Action | str, ...]]:
    """Return all plans in a drawn order, those that are seldom right mostly last."""
    return sorted(_PLANS, key=lambda said: -(rng.random() ** (1 / _PLANS[said])))


# How often an engine is met in each state, so that about every plan is right in some draws and wrong in others.
_SEATED, _PRESSED, _MISSED, _BACKWARDS, _FALSE, _DECLARED = 15, 3, 2, 2, 1, 6
_RIGHT_PASSING = 0.8


def _situation(rng: random.Random, told: Bench) -> tuple[State, Plan]:
    """Return a start and what was done from it."""
    setup = told.states
    known = [passing for passing in range(setup.passings) if setup.right(passing)]
    passing = rng.choice(known) if rng.random() < _RIGHT_PASSING else rng.randrange(setup.passings)
    half = setup.period / 2
    # Away from the hole, or at its press mark where a wrong passing shows no marks.
    far = [place for place in range(5, 70, 5) if setup.back_off + place < half]
    marked = setup.right(passing) or setup.tells != "witness"
    before = setup.back_off + rng.choice(far or [0]) if marked else setup.press_from
    start = State.start(setup, before, passing=passing)
    there: Plan = (_Do(A.ON_TO_PRESS),) if marked else ()
    look: Plan = (_Do(A.CHECK),) if rng.random() < 0.7 else ()
    seat = (*there, _Do(A.PRESS), _ON_IN)
    past = math.ceil((setup.press_from + setup.give_up) / setup.little) + 1
    back = State.start(setup, -setup.little * rng.randint(1, 2), passing=passing)
    bar_off: Plan = (_Do(A.BAR_OFF),) if rng.random() < 0.5 else ()
    declared = (*seat, _Do(A.CHECK), *bar_off, _Do(A.DECLARE))
    found: list[tuple[State, Plan, int]] = [
        (start, (*seat, *look, *bar_off), _SEATED),
        (start, (*there, _Do(A.PRESS)), _PRESSED),
        (start, (*there, *[_Do(A.ON)] * past), _MISSED),
        (back, (_Do(A.PRESS), _BACK_IN, *look, *bar_off), _BACKWARDS),
    ]
    found += [
        (State.start(setup, setup.little - hole), (_Do(A.PRESS), _ON_IN, *look), _FALSE)
        for hole in setup.false_holes
        if setup.little - hole < half
    ]
    if setup.right(passing):
        found.append((start, declared, _DECLARED))
    state, record, _ = rng.choices(found, [weight for *_, weight in found])[0]
    return state, record


def _working(play: PinPlay, told: Bench) -> tuple[str, ...]:
    state = play.state
    lines = [f"As things stand: {play.explain()}"]
    if state.pin is Pin.SEATED and not state.declared:
        lines.append(f"If the component were set now: {lockpin.early_or_late(state.timing_error)}.")
    names = [action_text(action, told) for action in lockpin.acceptable(state)]
    lines.append(f"A safe pinning stays in reach after: {'; '.join(names)}.")
    way = [action_text(action, told) for action in lockpin.shortest_way(state) or ()]
    lines.append(f"A shortest way from here: {'; '.join(way)}.")
    return tuple(lines)


class WhichDeadCentre(ChoiceTemplate):
    """Barred on by a whole number of firing intervals: where the engine stands now.

    It is an engine drawn for the question: counting on is to be learnt, not an order. What two wrong rules answer alike
    shows neither of them; on four cylinders that befalls whoever takes one turn for a cycle.

    Difficulty: the answers offered, and the places to count on in the firing order.
    """

    name = "lock-pin/which-dead-centre"
    skill = "tell which dead centre the engine stands at"
    weights = MappingProxyType({"answers": 0.5, "places": 0.25})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[Standing]:
        """Draw once, or ask for another draw."""
        order = FiringOrder(examples.firing_order(rng))
        asked = rng.choice(DEAD_CENTRES if order.paired else DEAD_CENTRES[:1])
        case = Centre(order, rng.choice(order.cylinders), rng.randrange(1, len(order)), asked)
        answers: dict[Standing, str] = {}
        for code, rule in CENTRE_RULES.items():
            standing = rule(case)
            if standing is not None and not case.true(standing):
                answers[standing] = "" if standing in answers else code
        redraw_if(sum(map(bool, answers.values())) < 2)
        angle = f"{plain(float(case.angle))}{THIN}crank degrees"
        return ChoiceQuestion(
            prompt=f"Cylinder {case.cylinder} stands at top dead centre on compression. "
            f"The engine is barred on by {angle} in its running direction. What is true now?",
            given=(
                examples.engine_row(),
                Given(label="Firing order", value=str(order)),
                Given(label="Strokes", value="four, evenly firing"),
            ),
            texts={standing: _stands(standing) for standing in (case.right, *answers)},
            right=case.right,
            shows=answers,
            reasons={
                case.right: "Counted on in the firing order, it is this cylinder's turn.",
                **{standing: _TWO_LEAD_HERE for standing, code in answers.items() if not code},
            },
            working=(
                f"The cylinders fire {plain(float(order.interval))}{THIN}crank degrees apart: 720 ÷ {len(order)}.",
                f"{angle} ÷ {plain(float(order.interval))} = {case.intervals}: count on so many places in {order}.",
                *case.after.lines,
            ),
            features={"answers": 1 + len(answers), "places": case.intervals},
            instead=examples.INSTEAD,
        )


_TWO_LEAD_HERE = "Two ways of counting lead here, and neither is right. Count on place by place in the firing order."


def _stands(standing: Standing) -> str:
    cylinder, where = standing
    return f"Cylinder {cylinder} stands at top dead centre on {where}: {valves_at(where)}."
