"""What the kernel says ahead of an action at the bench is what it then leads to; an assessment says nothing ahead."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from trainkit import packs
from trainkit.items import template
from trainkit.items.item import ActionsItem
from trainkit.journal import Journal
from trainkit.widgets.assessed import Assessed
from trainkit.widgets.benchplay import Bench
from trainkit.widgets.practised import Practised

DUNLIN = packs.load("dunlin")


def drawn(seed: int) -> ActionsItem:
    item, _ = template.find("lock-pin/pin-the-engine").draw(random.Random(seed), DUNLIN)
    assert isinstance(item, ActionsItem)
    return item


@pytest.mark.parametrize("explaining", [True, False])
@pytest.mark.parametrize("seed", range(4))
def test_what_is_said_ahead_is_what_comes(seed: int, explaining: bool) -> None:
    rng = random.Random(seed)
    bench = Bench(drawn(seed), explaining=explaining)
    while not bench.over:
        before = bench.shown()
        ahead = bench.ahead()
        assert list(ahead) == before["can"]
        assert bench.shown() == before  # nothing was done
        action = rng.choice(before["can"])
        bench.act(action)
        told = ahead[action]
        assert {**before, **told, "log": [*before["log"], told["line"]]} == {**bench.shown(), "line": told["line"]}
    assert bench.ahead() == {}


def test_practice_says_it_when_asked_and_an_assessment_never(tmp_path: Path) -> None:
    state = Practised("Pin", [template.find("lock-pin/pin-the-engine")], DUNLIN, random.Random(3))
    reply = state.hear({"type": "ahead", "ticket": 4})
    assert (reply["type"], reply["so_far"], reply["ticket"]) == ("ahead", 0, 4)
    assert set(reply["plays"]) == set(state.shown()["play"]["can"])
    journal = Journal(tmp_path / "answers.jsonl", course="saltmere", module="lock-pin", form="K7", apprentice="anna")
    reply = Assessed("A1", drawn(3), journal).hear({"type": "ahead"})
    assert reply["type"] == "refused"
    assert "plays" not in reply
    assert not (tmp_path / "answers.jsonl").exists()
