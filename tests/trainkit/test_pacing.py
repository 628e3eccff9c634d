"""Practice follows the apprentice: harder, easier, and the same point again after a misconception showed."""

from __future__ import annotations

import random
import statistics
from typing import Any

import pytest

from trainkit import packs
from trainkit.items import scenarios
from trainkit.items.kinds import ActionsItem, ChoiceKey, NumberItem, NumberKey
from trainkit.items.misconceptions import misconception
from trainkit.items.pacing import Pace, Stock
from trainkit.items.template import find
from trainkit.widgets.practised import Practised

PACK = packs.load("dunlin")


def practice(*names: str, seed: int = 1) -> Practised:
    return Practised("a skill", [find(name) for name in names], PACK, random.Random(seed))


def answer(state: Practised, *, right: bool) -> dict[str, Any]:
    """Answer a number or a choice."""
    if isinstance(state.key, NumberKey):
        value = state.key.answer if right else state.key.answer * 1.37 + 0.91
        response = {"kind": "number", "text": f"{value:.6f}", "unit": state.key.unit}
    else:
        assert isinstance(state.key, ChoiceKey)
        wrong = next(option.id for option in state.item.options if option.id != state.key.right)  # type: ignore[union-attr]  # a choice
        response = {"kind": "choice", "option": state.key.right if right else wrong}
    reply: dict[str, Any] = state.hear({"type": "save", "ticket": 1, "response": response})
    assert reply["type"] == "explained", reply
    return reply["explained"]  # type: ignore[no-any-return]  # plain data


@pytest.mark.parametrize("name", ["torque-units/convert", "turning-direction/shaft-sense", "lock-pin/how-far-back"])
def test_right_answers_bring_harder_questions_and_others_easier_ones(name: str) -> None:
    """Held against difficulties of draws of its own, so the levels that the practice keeps decide nothing."""
    template = find(name)
    rng = random.Random(9)
    plain = statistics.fmean(template.difficulty(template.draw(rng, PACK).features) for _ in range(200))

    def mean(*, right: bool) -> float:
        state, hard = practice(name), []
        for _ in range(40):
            hard.append(template.difficulty(state.drawn.features))
            answer(state, right=right)
            state.hear({"type": "next", "ticket": 1})
        return statistics.fmean(hard[8:])

    assert mean(right=True) > plain > mean(right=False)


def test_a_pace_stays_within_its_ends() -> None:
    fast = slow = Pace()
    for _ in range(20):
        fast, slow = fast.after("right"), slow.after("not yet")
    assert (fast.level, slow.level) == (1.0, 0.0)


def test_the_level_of_a_draw_is_its_place_among_all_that_were_drawn() -> None:
    stock, rng = Stock(find("torque-units/convert")), random.Random(4)
    drawn = [stock.take(rng, PACK, Pace(0.5)) for _ in range(30)]
    template = find("torque-units/convert")
    middle = statistics.median(template.difficulty(template.draw(rng, PACK).features) for _ in range(200))
    late = [template.difficulty(each.draw.features) for each in drawn[10:]]
    assert abs(statistics.fmean(late) - middle) < 0.5
    assert len({each.draw.item.model_dump_json() for each in drawn}) > 25  # fresh ones, not the same few


def test_the_screen_says_so_in_words() -> None:
    state, words = practice("turning-direction/shaft-sense"), []
    assert state.shown()["pace"] == ""
    for right in (True,) * 6 + (False,) * 4:
        level = state._level
        answer(state, right=right)
        shown = state.hear({"type": "next", "ticket": 1})["shown"]
        words.append(shown["pace"])
        if shown["pace"].startswith("A little harder"):
            assert right
            assert state._level > level
        if shown["pace"].startswith("One step back"):
            assert not right
            assert state._level < level
    assert any(each.startswith("A little harder") for each in words)


def showing_a_rule(state: Practised) -> str:
    """Give the number that the first recognised wrong rule leads to, and return that rule."""
    assert isinstance(state.key, NumberKey)
    assert isinstance(state.item, NumberItem)
    rule = state.key.rules[0]
    response = {"kind": "number", "text": f"{rule.value:.6f}", "unit": state.key.unit}
    told = state.hear({"type": "save", "ticket": 1, "response": response})["explained"]
    assert misconception(rule.misconception).cure in told["reason"]  # the cure is told at once
    return rule.misconception


@pytest.mark.parametrize("seed", range(5))
def test_a_misconception_is_met_again_soon_and_its_cure_tried_out(seed: int) -> None:
    state = practice("torque-units/convert", "torque-units/nearest-mark", seed=seed)
    code, template = showing_a_rule(state), state._template.name
    for _ in range(2):
        shown = state.hear({"type": "next", "ticket": 1})["shown"]
        if state._template.name == template:
            break
        answer(state, right=True)
    assert state._template.name == template
    assert code in state.drawn.facts.could_show
    assert shown["pace"].startswith("The same point once more")
    assert answer(state, right=True)["note"] == "Before, this point went wrong. Now it is right."


def test_a_second_try_moves_nothing() -> None:
    state = practice("torque-units/convert")
    answer(state, right=False)
    pace = state._pace
    answer(state, right=True)
    assert state._pace == pace


def test_the_bench_tells_the_cure_too() -> None:
    state = practice("lock-pin/pin-the-engine")
    assert isinstance(state.item, ActionsItem)
    for action in scenarios.ways_to_show(state.item.model, state.item.scene)["uses-the-starter"]:
        reply = state.hear({"type": "act", "action": action, "so_far": len(state._bench.actions), "ticket": 1})
    assert misconception("uses-the-starter").cure in reply["explained"]["note"]


def test_what_could_be_shown_is_what_marking_shows() -> None:
    state = practice("torque-units/adapter-straight")
    assert isinstance(state.key, NumberKey)
    assert {rule.misconception for rule in state.key.rules} <= state.drawn.facts.could_show.keys()
