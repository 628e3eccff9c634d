"""Between a wrong answer and the second try: one hint that does not tell; then everything, in the picture too."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

import pytest

from tests.trainkit.answers import right_answer, wrong_answer
from tests.trainkit.asked import say
from tests.trainkit.draws import PAIRS, drawn
from tests.trainkit.second_ways.reading import pack
from trainkit.items import template
from trainkit.items.halfworked import tells
from trainkit.items.hints import LOOK_AGAIN, hint, in_order_shown
from trainkit.items.kinds import KINDS, ChoiceItem, ChoiceKey, Item, Key, Option, PointItem, PointKey, SetKey
from trainkit.items.marking import mark
from trainkit.widgets.practised import Practised

SEEDS = range(4)


def wrong_answers(item: Item, key: Key) -> Iterator[dict[str, Any]]:
    if isinstance(item, ChoiceItem) and isinstance(key, ChoiceKey):
        yield from ({"kind": "choice", "option": option.id} for option in item.options if option.id != key.right)
    elif isinstance(item, PointItem) and isinstance(key, PointKey):
        yield from ({"kind": "point", "target": each.id} for each in item.targets if each.id not in key.right)
    elif isinstance(key, SetKey):
        yield from ({"kind": "set", "value": rule.value % 12} for rule in key.rules)
    else:
        yield wrong_answer(item, key)


@pytest.mark.parametrize(("name", "engine"), PAIRS)
def test_a_wrong_answer_gets_a_hint_that_does_not_tell_the_right_one(name: str, engine: str) -> None:
    if KINDS[template.find(name).kind].tells is None:
        return  # a scenario is played, and a person judges the others
    hinted = 0
    for seed in SEEDS:
        item, key = drawn(name, engine, seed)
        for given in wrong_answers(item, key):
            got = mark(item, key, given)
            if got.verdict == "right":
                continue
            said = hint(item, key, got)
            hinted += 1
            assert said
            assert said == LOOK_AGAIN or not tells(item, key, said), said
    assert hinted or KINDS[template.find(name).kind].name in ("insert",), "no wrong answer was tried"


def practice(name: str, seed: int = 3, engine: str = "dunlin") -> Practised:
    return Practised("All", [template.find(name)], pack(engine), random.Random(seed))


@pytest.mark.parametrize(
    "name", ["turning-direction/gear-on-picture", "tightening/next-bolt", "turning-direction/other-end-clock"]
)
def test_the_second_wrong_answer_is_shown_beside_the_right_one_in_the_picture(name: str) -> None:
    state = practice(name)
    wrong = wrong_answer(state.item, state.key)
    first = say(state, type="save", response=wrong)["explained"]
    assert (first["working"], first.get("figure"), first.get("right")) == ([], None, None)
    assert first["note"].startswith("Try again.")
    second = say(state, type="save", response=wrong)["explained"]
    assert second["working"] == list(state.key.working)
    assert "✗ your answer" in second["figure"]
    assert "✓ right" in second["figure"]
    assert second["yours"]
    assert second["right"]
    assert state.asked == 1


def test_a_right_second_try_is_explained_and_does_not_count_as_the_first() -> None:
    state = practice("torque-units/which-wrench")
    say(state, type="save", response=wrong_answer(state.item, state.key))
    told = say(state, type="save", response=right_answer(state.item, state.key))
    assert told["explained"]["verdict"] == "right"
    assert told["explained"]["working"]
    assert told["tally"] == "0 of 1 right at the first try"


def test_the_answer_is_shown_whenever_it_is_asked_for() -> None:
    state = practice("turning-direction/gear-on-picture")
    told = say(state, type="show")["explained"]
    assert told["word"] == "The answer"
    assert told["yours"] == ""
    assert told["right"]
    assert "your answer" not in told["figure"]
    assert told["working"]
    assert state.tally == "0 of 1 right at the first try"
    after = say(state, type="save", response=right_answer(state.item, state.key))
    assert after["tally"] == "0 of 1 right at the first try"
    assert say(state, type="next")["shown"]["show"] == "Show the answer"


def test_a_scenario_shows_no_answer() -> None:
    state = practice("lock-pin/pin-the-engine")
    assert state.shown()["show"] == ""
    assert say(state, type="show")["type"] == "refused"


def test_an_unsafe_answer_is_called_unsafe_at_the_first_try() -> None:
    for seed in range(40):
        state = practice("lock-pin/what-next", seed)
        assert isinstance(state.key, ChoiceKey)
        if state.key.critical:
            break
    told = say(state, type="save", response={"kind": "choice", "option": state.key.critical[0]})["explained"]
    assert told["critical"]
    assert told["reason"] != LOOK_AGAIN
    assert told["working"] == []


@pytest.mark.parametrize(
    "name", ["torque-units/which-wrench", "torque-units/odd-pair", "lash-and-timing/harmless-movement"]
)
def test_options_are_discussed_in_the_order_in_which_they_were_shown(name: str) -> None:
    for seed in range(12):
        item, key = drawn(name, "dunlin", seed)
        told = in_order_shown(item.options, key.working)  # type: ignore[union-attr] # they offer options
        assert sorted(told) == sorted(key.working)
        heads = [option.text.split(" (")[0].casefold() for option in item.options]  # type: ignore[union-attr]
        at = [next(n for n, line in enumerate(told) if head in line.casefold()) for head in heads]
        assert at == sorted(at)


def test_a_working_whose_lines_follow_from_each_other_stays() -> None:
    options = tuple(Option(id=name, text=f"Cylinder {number}") for name, number in zip("abc", (5, 6, 1), strict=True))
    working = ("Count from cylinder 1.", "So cylinder 5 follows.")
    assert in_order_shown(options, working) == working
