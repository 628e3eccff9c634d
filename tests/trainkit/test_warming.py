"""The warm-up: every control of an assessment once, told how, recorded nowhere."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from trainkit import modules, packs
from trainkit.errors import ItemError
from trainkit.items import template
from trainkit.lockpin import Action
from trainkit.widgets.control import Control
from trainkit.widgets.state import KINDS
from trainkit.widgets.warming import WarmUp
from trainkit.workbook import Book

PACK = packs.load("dunlin")
# What does what the exercise says, and what does not.
DONE: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "number": (
        {"kind": "number", "text": "12,5", "unit": "N·m"},
        {"kind": "number", "text": "12,5", "unit": "lbf·ft"},
    ),
    "choice": ({"kind": "choice", "option": "b"}, {"kind": "choice", "option": "a"}),
    "several": ({"kind": "several", "options": ["c", "a"]}, {"kind": "several", "options": ["a", "b", "c"]}),
    "order": ({"kind": "order", "cards": ["a", "b", "c"]}, {"kind": "order", "cards": ["c", "a", "b"]}),
    "insert": ({"kind": "insert", "place": 1}, {"kind": "insert", "place": 0}),
    "grid": ({"kind": "grid", "rows": {"1": "l", "2": "r"}}, {"kind": "grid", "rows": {"1": "l"}}),
    "point": ({"kind": "point", "target": "3"}, {"kind": "point", "target": "1"}),
    "set": ({"kind": "set", "value": 3.0}, {"kind": "set", "value": 9.0}),
}


def say(state: WarmUp, **message: Any) -> dict[str, Any]:
    reply: dict[str, Any] = state.hear({"ticket": 1, **message})
    return reply


@pytest.mark.parametrize("kind", DONE)
def test_what_is_asked_works_and_anything_else_almost(kind: str) -> None:
    state = WarmUp((kind,), PACK)
    works, else_ = DONE[kind]
    almost = say(state, type="save", response=else_)
    assert (almost["explained"]["word"], almost["tally"]) == ("Almost.", "")
    assert almost["explained"]["reason"] == state.item.prompt
    told = say(state, type="save", response=works)
    assert (told["explained"]["word"], told["tally"]) == ("That works.", "1 of 1 tried out")
    assert told["explained"]["working"] == []


def test_any_words_will_do() -> None:
    state = WarmUp(("text",), PACK)
    assert say(state, type="save", response={"kind": "text", "text": "ok"})["explained"]["word"] == "That works."
    assert say(state, type="save", response={"kind": "text", "text": "  "})["type"] == "refused"


def test_the_bench_is_pressed_twice_and_stopped() -> None:
    state = WarmUp(("actions",), PACK)
    assert state.shown()["given"] == []  # nothing about the engine is to be known
    say(state, type="act", action=Action.ON, so_far=0)
    assert say(state, type="stop")["explained"]["word"] == "Almost."
    assert say(state, type="again")["explained"] is None
    for so_far in range(2):
        reply = say(state, type="act", action=Action.ON, so_far=so_far)
        assert reply["play"]["can"]  # two small moves end nothing
    assert "why" not in reply["play"]["log"][0]
    assert say(state, type="stop")["explained"]["word"] == "That works."


@pytest.mark.parametrize("module", modules.names())
def test_the_controls_are_those_of_the_assessment(module: str, tmp_path: Path) -> None:
    loaded = modules.load(module)
    control = Book(loaded, tmp_path).warm_up()
    assert isinstance(control, Control)
    state: Any = control.state
    kinds = {template.find(item.template).kind for item in loaded.blueprint.items}
    assert [each.item.kind for each in state.exercises] == [kind for kind in KINDS if kind in kinds]
    assert list(tmp_path.iterdir()) == []


def test_one_control_follows_another_and_then_the_first() -> None:
    state = WarmUp(("set", "choice"), PACK)
    assert state.shown()["buttons"] == ["Try it", "Next control"]
    shown = say(state, type="next")["shown"]
    assert (shown["kind"], shown["heading"]) == ("set", "Warm-up 2 of 2: a hand to be set")
    assert shown["buttons"] == ["Try it", "Begin again"]
    assert say(state, type="next")["shown"]["kind"] == "choice"


@pytest.mark.parametrize("kind", [*KINDS])
def test_it_is_said_for_mouse_finger_and_keyboard_in_short_sentences(kind: str) -> None:
    state = WarmUp((kind,), PACK)
    how = state.shown()["how"]
    assert [way["by"] for way in how] == ["Mouse", "Finger", "Keyboard"]
    for sentence in ". ".join((*(way["do"] for way in how), *state.shown()["prompt"])).split(". "):
        assert len(sentence.split()) <= 18, sentence
    for form in (state.text(), state.html()):
        assert "Nothing here is recorded" in form
        assert how[2]["do"] in form


def test_an_assessment_without_a_screen_has_no_warm_up() -> None:
    with pytest.raises(ItemError, match="has none on the screen"):
        WarmUp(("observed",), PACK)


def test_an_engine_that_fits_no_bench_leaves_the_other_controls(monkeypatch: pytest.MonkeyPatch) -> None:
    def nothing(*_: object, **__: object) -> None:
        raise ItemError("my-engine", rule="There is nothing to pin.", remedy="Add it.")

    monkeypatch.setattr(type(template.find("lock-pin/pin-the-engine")), "sketch", nothing)
    assert [each.item.kind for each in WarmUp(("actions", "choice"), PACK).exercises] == ["choice"]
