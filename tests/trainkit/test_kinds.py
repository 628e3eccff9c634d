"""The kinds of answers are a closed set, and the registries of the items, the screen and the browser know that set."""

from __future__ import annotations

import random
import re
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest

from trainkit import packs
from trainkit.items.kinds import KINDS, Item, Key, Kind, Name, Response, kind_of
from trainkit.items.template import find, names
from trainkit.widgets.kinds import LOOKS, look_of
from trainkit.widgets.kinds.look import Look

NAMES: tuple[Name, ...] = get_args(Name)
FROM_THE_SCREEN = tuple(name for name in NAMES if name != "observed")  # a person watches that


def kind_name(value: type[Any]) -> str:
    (name,) = get_args(get_type_hints(value)["kind"])
    assert value.model_fields["kind"].default == name
    return str(name)


@pytest.mark.parametrize("union", [Item, Key, Response], ids=["items", "keys", "responses"])
def test_each_union_has_every_kind_once(union: Any) -> None:
    assert [kind_name(value) for value in get_args(union)] == list(NAMES)


def test_the_registries_have_every_kind_under_its_own_name() -> None:
    assert [KINDS[name].name for name in KINDS] == [LOOKS[name].name for name in LOOKS] == list(NAMES)
    for name in NAMES:
        assert isinstance(kind_of(name), Kind)
        assert kind_of(name).name == look_of(name).name == name
        assert isinstance(look_of(name), Look)


@pytest.mark.parametrize("registry", [kind_of, look_of])
def test_a_name_of_no_kind_is_refused(registry: Any) -> None:
    with pytest.raises(AssertionError, match="essay"):
        registry("essay")


def test_templates_ask_for_kinds_that_there_are() -> None:
    assert {find(name).kind for name in names()} == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_what_a_kind_says_of_itself_holds_of_a_draw(name: Name) -> None:
    pack = packs.load("dunlin")
    kind, look = kind_of(name), look_of(name)
    template = next(find(each) for each in names() if find(each).kind == name)
    item, key = template.draw(random.Random(1), pack)
    anew, its_key = kind.relettered(item, key, random.Random(2))
    assert (anew.kind, its_key.kind) == (name, name)
    assert sum(kind.accidents(item, key).values()) <= 1.0 + 1e-9
    assert bool(kind.accidents(item, key)) != kind.by_person
    assert (kind.tells is None) == (kind.by_person or name == "actions")
    said, choices = look.task(item)
    assert said
    assert all(choices)
    assert kind.rule.endswith(".")


@pytest.mark.parametrize("name", NAMES)
def test_every_kind_that_is_answered_on_the_screen_can_be_tried_out(name: Name) -> None:
    exercise = look_of(name).exercise
    assert (exercise is not None) == (name in FROM_THE_SCREEN)
    if exercise is not None:
        assert exercise(packs.load("dunlin")).item.kind == name


def test_the_browser_has_a_control_for_every_kind_that_is_answered_there() -> None:
    source = Path(__file__).parents[2].joinpath("trainkit/widgets/browser/controls.js").read_text("utf-8")
    controls = source.partition("export const CONTROLS = {")[2].partition("};")[0]
    assert sorted(re.findall(r"(\w+): \w+,", controls)) == sorted(FROM_THE_SCREEN)
