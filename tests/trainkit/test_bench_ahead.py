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
from trainkit.items.lock_pin_scenario import PinPlay
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


# What the eye sees: all that an assessment sends of the engine. Each is in the picture that is printed, too.
SEEN = {"name", "seen_from", "tooth", "marks", "forward", "turned", "bar", "pin"}


@pytest.mark.parametrize("seed", range(3))
def test_an_assessment_is_told_what_the_eye_sees_and_nothing_that_lies_behind(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    state = Assessed("A1", bench(seed), journal_in(tmp_path))
    play = state.shown()["play"]
    for _ in range(12):
        assert set(play) == {"figure", "seen", "log", "can", "over", "ending", "count", "limit"}
        assert set(play["seen"]) == SEEN
        assert all(set(line) == {"action", "seen"} for line in play["log"])
        if play["over"]:
            break
        # The starter tells no more than the rest, and ends it at once.
        action = rng.choice([each for each in play["can"] if each != "starter"])
        play = state.hear({"type": "act", "action": action, "so_far": play["count"]})["play"]
    assert play["count"] > 0


def test_practice_says_how_far_each_hole_is_from_the_pin() -> None:
    at = BenchPlay(bench(3), explaining=True)
    for action in ("free-pin", "press"):
        at.act(action)
    while (shown := at.shown())["seen"]["pin"] != "in":
        assert isinstance(at.play, PinPlay)
        behind, state = shown["behind"], at.play.state
        scale = state.lattice.scale
        assert behind["turned"] == float(state.passing * state.setup.period) + state.hole / scale
        away = (state.lattice.nearest_hole(state.hole) - state.hole) / scale
        assert behind["clearance"] < abs(away)
        assert (min(behind["holes"], key=abs, default=None) == away) or abs(away) > 60
        at.act("on-a-little")
    assert min(map(abs, shown["behind"]["holes"])) <= shown["behind"]["clearance"]
    assert shown["wreck"] == []
    at.act("on-a-little")
    assert at.shown()["seen"]["pin"] == "broken"
    assert at.shown()["wreck"][0].startswith("First make the engine safe.")
