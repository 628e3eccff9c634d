"""Choices at the lock pin: what to do next, and which dead centre this is."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import lockpin
from trainkit.cycle import FiringOrder, valves_at
from trainkit.errors import ItemError
from trainkit.items.kinds import Given
from trainkit.items.lock_pin.bench import Bench, action_text, bench, scene_rows
from trainkit.items.lock_pin.rules import CENTRE_RULES, Centre, Standing
from trainkit.items.lock_pin_scenario import PinPlay
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import redraw_if
from trainkit.lockpin import Action, Pin, State
from trainkit.quantities import THIN, plain

if TYPE_CHECKING:
    from trainkit.packs import Pack


A = Action
_MOST_REPEATS = 30
# Each further wrong way is one more misconception that a wrong answer can show.
_MOST_WRONG = 5
_NEEDED = ("Mark", "Its places", "Hole", "Right place", "What tells it", "Pin", "Compression", "The engine stands")


@dataclass(frozen=True, slots=True)
class _Do:
    """One part of a plan: an action, or the same one again until something is met."""

    action: Action
    until: str = ""  # "in": the pin goes in; "seat": the mark stands at the seat mark

    def done(self, state: State) -> bool:
        if self.until == "in":
            return state.pin.in_a_hole
        return not self.until or lockpin.place(state) == "at the seat mark"


Plan = tuple[_Do, ...]


def _carried_out(play: PinPlay, plan: Plan) -> PinPlay | None:
    """Return the play after a plan, or None where a part of it cannot be done."""
    for part in plan:
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


def _told(plan: Plan, told: Bench) -> str:
    """Say a plan in one sentence."""
    said: list[str] = []
    for part in plan:
        text = action_text(part.action, told)
        if part.until == "in":
            text = {A.ON: "Bar on", A.BACK: "Bar back"}[part.action] + " a little at a time until the pin goes in"
        elif part.until == "seat":
            text = {A.ON: "Bar on", A.BACK: "Bar back"}[part.action] + " until the mark stands at the seat mark"
        said.append(text if not said else text[0].lower() + text[1:])
    return f"{', then '.join(said)}."


# What people do instead. Each is tried on the model, which says what follows and what it shows.
def _other_ways(state: State) -> Iterator[Plan]:
    look = (_Do(A.CHECK),) if state.setup.tells == "valves" else ()
    if state.pin.in_a_hole:
        yield (_Do(A.TIGHTEN),)
        yield (_Do(A.BAR_OFF), _Do(A.DECLARE)) if state.bar_on else (_Do(A.DECLARE),)
        if state.bar_on:
            yield (_Do(A.PIN_OUT),)
            yield (_Do(A.ON),)
            yield (_Do(A.BACK),)
        else:
            yield (_Do(A.FIT_BAR), _Do(A.ON))
    elif state.bar_on:
        yield (_Do(A.PRESS), _Do(A.BACK, "in"), *look, _Do(A.BAR_OFF), _Do(A.DECLARE))
        yield (_Do(A.BACK, "seat"), *look, _Do(A.BAR_OFF), _Do(A.DECLARE))
        yield (_Do(A.ON, "seat"), *look, _Do(A.BAR_OFF), _Do(A.DECLARE))
        yield (_Do(A.PRESS), _Do(A.BACK_OFF))
        yield (_Do(A.PRESS), _Do(A.ON_TO_PRESS))
    elif state.declared:
        yield (_Do(A.FIT_BAR), _Do(A.ON))
        yield (_Do(A.PRESS), _Do(A.TIGHTEN))
        yield (_Do(A.FIT_BAR), _Do(A.TIGHTEN))
    yield (_Do(A.STARTER),)


def _right_way(state: State) -> Plan:
    """Return the first parts of a shortest safe way; barring with the pin held goes on until it is in."""
    plan: list[_Do] = []
    for action in lockpin.shortest_way(state) or ():
        held = action is A.ON and bool(plan) and plan[-1].action in (A.PRESS, A.ON)
        if held and plan[-1].until == "in":
            continue
        plan.append(_Do(action, "in" if held else ""))
        if len(plan) > 3:
            break
    return tuple(plan)


class WhatNext(ChoiceTemplate):
    """From a record of what was done, seen and felt: what to do next.

    Difficulty: the plans offered; the lines of the record, in fives; the actions of all plans together.
    """

    name = "lock-pin/what-next"
    skill = "read the bench and choose the next safe action"
    weights = MappingProxyType({"plans": 0.5, "fives of lines": 0.5, "actions": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[str]:
        """Draw once, or ask for another draw."""
        told = bench(pack, stiff=False)
        start, record = _situation(rng, told)
        play = PinPlay(start, watched=told.watched)
        log: list[Given] = []
        for part in record:
            for _ in range(_MOST_REPEATS):
                redraw_if(part.action.value not in play.actions)
                play, seen = play.act(part.action.value)
                log.append(Given(label=f"{len(log) + 1}. {action_text(part.action, told)}", value=seen))
                if part.done(play.state) or play.finished:
                    break
            redraw_if(play.finished or not part.done(play.state))
        redraw_if(not lockpin.acceptable(play.state))
        right = _right_way(play.state)[: rng.randint(1, 3)]
        wrong = _wrong_ways(play, rng)
        redraw_if(len(wrong) < 2 or not _safe(_carried_out(play, right)))
        texts = {_told(right, told): right, **{_told(plan, told): plan for plan in wrong}}
        redraw_if(len(texts) != len(wrong) + 1)
        ends = {
            text: end
            for text, plan in texts.items()
            if plan is not right and (end := _carried_out(play, plan)) is not None
        }
        answer = _told(right, told)
        return ChoiceQuestion(
            prompt="You are pinning this engine. The lines below say where it stood first, then what you did, "
            "and what eye and hand got each time. What do you do next?",
            given=(*(row for row in scene_rows(told, start) if row.label in _NEEDED), *log),
            figure=dict(play.view),
            texts={text: text for text in texts},
            right=answer,
            shows={text: end.shows or "" for text, end in ends.items()},
            critical=[text for text, end in ends.items() if end.verdict().critical],
            reasons={
                answer: "From there a safe pinning can still be reached, on a shortest way.",
                **{text: end.verdict().reason for text, end in ends.items()},
            },
            working=_working(play, told),
            features={
                "plans": len(texts),
                "fives of lines": len(log) / 5,
                "actions": sum(map(len, texts.values())),
            },
        )


def _situation(rng: random.Random, told: Bench) -> tuple[State, Plan]:
    """Return a start and what was done from it."""
    setup = told.setup
    half = setup.period / 2  # further away the engine stands nearer to another passing of the hole
    before = setup.back_off + 10 + 5 * rng.randint(0, 11)
    right = State.start(setup, before if before < half else (setup.back_off + half) / 2)
    look = (_Do(A.CHECK),) if setup.tells == "valves" else ()
    seat = (_Do(A.ON_TO_PRESS), _Do(A.PRESS), _Do(A.ON, "in"))
    given_up = int((setup.press_from + setup.give_up) / setup.little) + 2
    missed = (_Do(A.ON_TO_PRESS), *[_Do(A.ON)] * (given_up + rng.randint(0, 2)))
    choices: list[tuple[State, Plan]] = [
        (right, seat),
        (right, missed),
        (right, (*seat, *look, _Do(A.BAR_OFF), _Do(A.DECLARE))),
        (right, (*seat, *look, _Do(A.BAR_OFF), _Do(A.DECLARE), _Do(A.PIN_OUT))),
        (State.start(setup, -setup.little * rng.randint(1, 3)), (_Do(A.PRESS), _Do(A.BACK, "in"), *look)),
    ]
    for passing in range(setup.passings):
        if not setup.right(passing):
            more = 5 * rng.randint(0, 3)
            start = setup.press_from + more
            wrong = State.start(setup, start if start < half else (setup.press_from + half) / 2, passing=passing)
            there = (_Do(A.ON_TO_PRESS),) if more else ()
            choices.append((wrong, (*there, _Do(A.PRESS), _Do(A.ON, "in"), *look)))
    choices.extend(
        (State.start(setup, setup.little - hole), (_Do(A.PRESS), _Do(A.ON, "in")))
        for hole in setup.false_holes
        if setup.little - hole < half
    )
    return rng.choice(choices)


def _wrong_ways(play: PinPlay, rng: random.Random) -> list[Plan]:
    """Return up to five plans that end badly, of as many misconceptions."""
    found: dict[str, Plan] = {}
    for plan in _other_ways(play.state):
        end = _carried_out(play, plan)
        if end is not None and end.state.outcome.lost and end.shows is not None:
            found.setdefault(end.shows, plan)
    # Nobody is in doubt about the starter for long: it stands in where there is nothing better.
    starter = found.pop("uses-the-starter", None)
    wrong = rng.sample(list(found.values()), min(_MOST_WRONG, len(found)))
    return [*wrong, starter] if starter is not None and len(wrong) < _MOST_WRONG else wrong


def _safe(end: PinPlay | None) -> bool:
    return end is not None and (not end.state.outcome.lost) and lockpin.shortest_way(end.state) is not None


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


# How often a question keeps to the pack, and firing orders of three to eight cylinders that are met elsewhere (common
# practice, no source).
_OWN = 0.4
_ORDERS = (
    (1, 3, 2),
    (1, 3, 4, 2),
    (1, 2, 4, 3),
    (1, 2, 4, 5, 3),
    (1, 5, 3, 6, 2, 4),
    (1, 4, 2, 6, 3, 5),
    (1, 5, 4, 8, 6, 3, 7, 2),
)


class WhichDeadCentre(ChoiceTemplate):
    """Barred on by a whole number of firing intervals: where the engine stands now.

    It is the engine of the pack, or another one whose firing order is told: counting on is to be learnt, not an order.
    What two wrong rules answer alike shows neither of them; on four cylinders that befalls whoever takes one turn for
    a cycle.

    Difficulty: the answers offered, and the places to count on in the firing order.
    """

    name = "lock-pin/which-dead-centre"
    skill = "tell which dead centre the engine stands at"
    weights = MappingProxyType({"answers": 0.5, "places": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[Standing]:
        """Draw once, or ask for another draw."""
        own = FiringOrder(pack.engine.firing_order)
        if len(own) < 3:
            raise ItemError(
                pack.name,
                rule="This template needs three cylinders or more.",
                remedy="Leave it out of the blueprint.",
            )
        # An engine that may fire unevenly has no whole number of intervals to count.
        order = own if rng.random() < _OWN and pack.engine.fires_evenly else FiringOrder(rng.choice(_ORDERS))
        case = Centre(order, rng.choice(order.cylinders), rng.randrange(1, len(order)))
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
                Given(label="Engine", value=pack.title if order is own else "another one, taken for this question"),
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
        )


_TWO_LEAD_HERE = "Two ways of counting lead here, and neither is right. Count on place by place in the firing order."


def _stands(standing: Standing) -> str:
    cylinder, where = standing
    return f"Cylinder {cylinder} stands at top dead centre on {where}: {valves_at(where)}."
