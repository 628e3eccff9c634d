"""What the kernel says ahead of an action at the bench is what it then leads to; an assessment says nothing ahead."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.trainkit.draws import drawn
from tests.trainkit.given_out import journal_in
from trainkit import packs
from trainkit.items import template
from trainkit.items.kinds import ActionsItem
from trainkit.widgets.assessed import Assessed
from trainkit.widgets.benchplay import BenchPlay
from trainkit.widgets.practised import Practised

DUNLIN = packs.load("dunlin")


def bench(seed: int) -> ActionsItem:
    item, _ = drawn("lock-pin/pin-the-engine", seed=seed)
    assert isinstance(item, ActionsItem)
    return item


@pytest.mark.parametrize("explaining", [True, False])
@pytest.mark.parametrize("seed", range(4))
def test_what_is_said_ahead_is_what_comes(seed: int, explaining: bool) -> None:
    rng = random.Random(seed)
    at = BenchPlay(bench(seed), explaining=explaining)
    while not at.over:
        before = at.shown()
        ahead = at.ahead()
        assert list(ahead) == before["can"]
        assert at.shown() == before  # nothing was done
        action = rng.choice(before["can"])
        at.act(action)
        told = ahead[action]
        assert {**before, **told, "log": [*before["log"], told["line"]]} == {**at.shown(), "line": told["line"]}
    assert at.ahead() == {}


def test_practice_says_it_when_asked_and_an_assessment_never(tmp_path: Path) -> None:
    state = Practised("Pin", [template.find("lock-pin/pin-the-engine")], DUNLIN, random.Random(3))
    reply = state.hear({"type": "ahead", "ticket": 4})
    assert (reply["type"], reply["so_far"], reply["ticket"]) == ("ahead", 0, 4)
    assert set(reply["plays"]) == set(state.shown()["play"]["can"])
    reply = Assessed("A1", bench(3), journal_in(tmp_path)).hear({"type": "ahead"})
    assert reply["type"] == "refused"
    assert "plays" not in reply
    assert not (tmp_path / "answers.jsonl").exists()
