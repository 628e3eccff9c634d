"""Choices at the lock pin: what to do next, and which dead centre this is."""

from __future__ import annotations

import random
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import lockpin
from trainkit.cycle import DEAD_CENTRES, FiringOrder, valves_at
from trainkit.items import example_engines as examples
from trainkit.items.kinds import Given
from trainkit.items.lock_pin.bench import Bench, action_text, drawn_bench, found_bench, scene_rows
from trainkit.items.lock_pin.plans import Said, carried_out, worth
from trainkit.items.lock_pin.plans import told as say
from trainkit.items.lock_pin.rules import CENTRE_RULES, Centre, Standing
from trainkit.items.lock_pin.scenes import dealt, played
from trainkit.items.lock_pin.scenes import start as drawn_start
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import lacking, redraw_if
from trainkit.lockpin import Pin
from trainkit.quantities import THIN, plain

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainkit.items.lock_pin_scenario import PinPlay
    from trainkit.packs import Pack


_NEEDED = (
    *("Mark", "Its places", "Hole", "Right place", "What tells it", "Pin", "Compression", "The engine stands"),
    "A little",
)


class WhatNext(ChoiceTemplate):
    """From a record of what was done, seen and felt: what to do next. Wherever something unsafe can be, it is offered.

    Difficulty: the plans offered; the lines of the record, in fives; the actions of all plans together.
    """

    name = "lock-pin/what-next"
    skill = "read the bench and choose the next safe action"
    weights = MappingProxyType({"plans": 0.5, "fives of lines": 0.5, "actions": 0.25})

    def __init__(self, wanted: Iterable[str] = ()) -> None:
        self._wanted = frozenset(wanted)

    def aimed(self, shows: Iterable[str], /) -> WhatNext:
        """Return a template whose wrong plans show these, where there are such questions."""
        return WhatNext(shows)

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[str]:
        """Draw once, or ask for another draw."""
        # What is offered hangs on the engine alone: how far a little goes, and where its mark stands, are drawn.
        questions = dealt(found_bench(pack), self._wanted)
        if not questions:
            raise lacking(pack, "a lock pin that can be pinned rightly and wrongly", "Check its marks and its lash")
        told = drawn_bench(rng, pack, stiff=False)
        question = rng.choice(questions)
        start = drawn_start(question.scene, told.states, rng)
        play, log = played(question.scene, start, told)
        right, *wrong = (_Plan(said, told, play) for said in (question.right, *question.wrong))
        redraw_if(right.worth != "right" or any(plan.worth not in ("wrong", "unsafe") for plan in wrong))
        ends = {plan.text: plan.end for plan in wrong if plan.end is not None}
        return ChoiceQuestion(
            prompt="You are pinning this engine. The lines below say where it stood first, then what you did, "
            "and what eye and hand got each time. What do you do next?",
            given=(*(row for row in scene_rows(told, start) if row.label in _NEEDED), *log),
            figure=dict(play.view),
            texts={plan.text: plan.text for plan in (right, *wrong)},
            right=right.text,
            shows={text: end.shows or "" for text, end in ends.items()},
            critical=[text for text, end in ends.items() if end.verdict().critical],
            reasons={
                right.text: "From there a safe pinning can still be reached, and it is nearer than before.",
                **{text: end.verdict().reason for text, end in ends.items()},
            },
            working=_working(play, told),
            features={
                "plans": 1 + len(wrong),
                "fives of lines": len(log) / 5,
                "actions": sum(len(plan.said) for plan in (right, *wrong)) / 10,
            },
        )


class _Plan:
    """A plan on the bench: how it is said, where it ends, and what that is worth."""

    def __init__(self, said: Said, told: Bench, play: PinPlay) -> None:
        self.said, self.text, self.end = said, say(said, told), carried_out(play, said)
        self.worth = worth(play, self.end)


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
