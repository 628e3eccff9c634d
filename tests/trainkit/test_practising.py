"""Practice: explained at once, never at its end, and nothing on the disk; the bench, practised and assessed."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest

from tests.trainkit.answers import right_answer, wrong_answer
from tests.trainkit.asked import say
from tests.trainkit.draws import drawn
from tests.trainkit.given_out import journal_in
from trainkit import packs
from trainkit.errors import ItemError, JournalError
from trainkit.items import template
from trainkit.items.kinds import ActionsItem, NumberKey, SetKey
from trainkit.journal import Journal, read
from trainkit.widgets.assessed import Assessed
from trainkit.widgets.practised import Practised


@pytest.fixture(scope="module")
def dunlin() -> packs.Pack:
    return packs.load("dunlin")


def practice(dunlin: packs.Pack, seed: int = 1) -> Practised:
    names = ("torque-units/convert", "torque-units/nearest-mark")
    return Practised("Convert a torque", [template.find(name) for name in names], dunlin, random.Random(seed))


def test_practice_explains_at_once_and_shows_the_working(dunlin: packs.Pack) -> None:
    state = practice(dunlin)
    assert isinstance(state.key, NumberKey)
    reply = say(state, type="save", response={"kind": "number", "text": state.key.shown})
    assert reply["explained"]["verdict"] == "right"
    assert reply["explained"]["working"] == list(state.key.working)
    assert reply["tally"] == "1 of 1 right at the first try"


def test_practice_names_the_misconception_and_its_cure(dunlin: packs.Pack) -> None:
    from trainkit.items.misconceptions import misconception

    state = practice(dunlin)
    assert isinstance(state.key, NumberKey)
    rule = state.key.rules[0]
    reply = say(state, type="save", response={"kind": "number", "text": repr(rule.value), "unit": state.key.unit})
    assert reply["explained"]["verdict"] == "not yet"
    assert misconception(rule.misconception).cure in reply["explained"]["reason"]
    assert reply["tally"] == "0 of 1 right at the first try"


def test_practice_has_no_end_and_comes_back_to_what_was_not_right(dunlin: packs.Pack) -> None:
    state = practice(dunlin)
    prompts = set()
    for _ in range(12):
        before = state._template
        assert say(state, type="save", response={"kind": "number", "text": "99999 N·m"})["type"] == "explained"
        # A second try at the same question is explained too, and counts no second time.
        say(state, type="save", response={"kind": "number", "text": "99999 N·m"})
        follows = [before, *state._queue[:2]]
        assert before in follows[1:]
        reply = say(state, type="next")
        assert reply["shown"]["explained"] is None
        prompts.add(json.dumps([reply["shown"]["prompt"], reply["shown"]["given"]]))
    assert state.asked == 12
    assert len(prompts) >= 8


def test_practice_records_nothing(dunlin: packs.Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    state = practice(dunlin)
    say(state, type="save", response={"kind": "number", "text": "31 N·m"})
    say(state, type="next")
    assert list(tmp_path.iterdir()) == []


def test_a_skill_without_templates_is_refused(dunlin: packs.Pack) -> None:
    with pytest.raises(ItemError, match="at least one template"):
        Practised("Nothing", [], dunlin, random.Random(1))


class _Judged(template.Template):
    """A template whose answers a person has to judge."""

    name = "t/why"
    skill = "say why"
    kind = "text"

    def sketch(self, rng: random.Random, pack: packs.Pack, shuffle: random.Random) -> Any:  # noqa: ARG002 - the base class's
        raise AssertionError("nobody draws it")


def test_what_a_person_judges_cannot_be_practised(dunlin: packs.Pack) -> None:
    with pytest.raises(ItemError, match="wait for a person") as caught:
        Practised("Say why", [template.find("torque-units/convert"), _Judged()], dunlin, random.Random(1))
    assert caught.value.value == "t/why"


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("sequence/fate-of-parts", "grid"),
        ("turning-direction/gear-on-picture", "point"),
        ("tightening/next-bolt", "point"),
        ("turning-direction/other-end-clock", "set"),
        ("lash-and-timing/key-at-dead-centre", "set"),
    ],
)
def test_every_kind_that_can_be_practised_explains_its_answer(dunlin: packs.Pack, name: str, kind: str) -> None:
    state = Practised("All", [template.find(name)], dunlin, random.Random(3))
    assert state.item.kind == kind
    reply = say(state, type="save", response=right_answer(state.item, state.key))
    assert reply["explained"]["verdict"] == "right"
    assert reply["explained"]["working"]
    wrong = wrong_answer(state.item, state.key)
    if isinstance(state.key, SetKey):
        wrong["value"] = state.key.rules[0].value % 12
    reply = say(state, type="save", response=wrong)
    assert reply["explained"]["verdict"] == "not yet"
    assert len(reply["explained"]["reason"]) > 40


# The bench -----------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def pinning(dunlin: packs.Pack) -> ActionsItem:
    item, _ = drawn("lock-pin/pin-the-engine", dunlin, 3)
    assert isinstance(item, ActionsItem)
    return item


def safe_way(item: ActionsItem) -> list[str]:
    """Return actions that end well, found by the model's own search."""
    from trainkit import lockpin
    from trainkit.items import scenarios

    play = scenarios.begin(item.model, item.scene)
    return [str(action.value) for action in lockpin.shortest_way(play.state) or ()]  # type: ignore[attr-defined] # its own play


def act(state: Any, action: str) -> dict[str, Any]:
    return say(state, type="act", action=action, so_far=len(state.bench.actions))


def test_each_action_is_on_the_disk_before_it_is_shown(tmp_path: Path, pinning: ActionsItem) -> None:
    question = Assessed("A1", pinning, journal_in(tmp_path))
    way = safe_way(pinning)
    for done, action in enumerate(way, start=1):
        reply = act(question, action)
        assert reply["play"]["count"] == done
        assert "why" not in reply["play"]["log"][-1]  # the assessment explains nothing
        recorded = read(tmp_path / "answers.jsonl").latest()["A1"].response
        assert recorded.actions == tuple(way[:done])  # type: ignore[union-attr] # a bench records actions
        again = Assessed("A1", pinning, journal_in(tmp_path))
        assert again.shown()["play"] == reply["play"]
        assert again.begun_only == (done < len(way))
    assert reply["play"]["over"]
    assert reply["play"]["can"] == []
    assert act(question, way[0])["type"] == "refused"


def test_a_press_that_is_repeated_counts_once(tmp_path: Path, pinning: ActionsItem) -> None:
    question = Assessed("A1", pinning, journal_in(tmp_path))
    first = safe_way(pinning)[0]
    say(question, type="act", action=first, so_far=0)
    reply = say(question, type="act", action=first, so_far=0)
    assert reply["play"]["count"] == 1
    assert len(read(tmp_path / "answers.jsonl").entries) == 1


def test_an_action_that_the_disk_refuses_has_not_happened(
    tmp_path: Path, pinning: ActionsItem, monkeypatch: pytest.MonkeyPatch
) -> None:
    question = Assessed("A1", pinning, journal_in(tmp_path))
    way = safe_way(pinning)
    act(question, way[0])
    before = question.shown()["play"]

    def full(*_: object, **__: object) -> None:
        raise JournalError("answers.jsonl", rule="The disk is full.", remedy="Make room.")

    with monkeypatch.context() as patched:
        patched.setattr(Journal, "append", full)
        assert act(question, way[1])["type"] == "refused"
    assert question.shown()["play"] == before
    assert act(question, way[1])["play"]["count"] == 2


def test_an_attempt_is_stopped_or_started_again(tmp_path: Path, pinning: ActionsItem) -> None:
    question = Assessed("A1", pinning, journal_in(tmp_path))
    way = safe_way(pinning)
    act(question, way[0])
    reply = say(question, type="stop")
    assert reply["play"]["over"]
    assert read(tmp_path / "answers.jsonl").latest()["A1"].response.gave_up  # type: ignore[union-attr] # a bench's
    assert not question.begun_only
    reply = say(question, type="again")
    assert reply["play"]["count"] == 0
    assert reply["saved"]["response"]["gave_up"]  # the recorded attempt stands until there is another
    act(question, way[0])
    assert not question.shown()["saved"]["response"]["gave_up"]
    assert question.begun_only


@pytest.mark.parametrize("message", [{"action": "magic"}, {"action": None}, {"action": ["press"]}])
def test_an_action_that_is_not_offered_is_refused(
    tmp_path: Path, pinning: ActionsItem, message: dict[str, Any]
) -> None:
    question = Assessed("A1", pinning, journal_in(tmp_path))
    assert say(question, type="act", so_far=0, **message)["type"] == "refused"
    assert say(question, type="save", response={"kind": "actions", "actions": []})["type"] == "refused"
    assert not (tmp_path / "answers.jsonl").exists()


def test_practice_at_the_bench_explains_each_action_and_the_end(dunlin: packs.Pack) -> None:
    state = Practised("Pin", [template.find("lock-pin/pin-the-engine")], dunlin, random.Random(3))
    assert isinstance(state.item, ActionsItem)
    way = safe_way(state.item)
    for action in way:
        reply = act(state, action)
        assert reply["play"]["log"][-1]["why"]
    assert reply["explained"]["verdict"] == "right"
    assert say(state, type="again")["explained"] is None
    assert state.tally == "1 of 1 right at the first try"


def test_a_fault_while_marking_costs_that_question_and_no_other(dunlin: packs.Pack) -> None:
    state = practice(dunlin)
    right = {"kind": "number", "text": state.key.shown if isinstance(state.key, NumberKey) else ""}
    state.key = None  # type: ignore[assignment]  # no key: whatever marks with it fails
    reply = say(state, type="save", response=right)
    assert reply["type"] == "refused"
    assert reply["ticket"]
    assert reply["text"].startswith("This question failed and does not count. Go on with the next question. Tell your")
    assert "AttributeError" in reply["text"]
    assert say(state, type="next")["type"] == "next"
    assert isinstance(state.key, NumberKey)
    reply = say(state, type="save", response={"kind": "number", "text": state.key.shown})
    assert reply["explained"]["verdict"] == "right"
    assert reply["tally"] == "1 of 1 right at the first try"
