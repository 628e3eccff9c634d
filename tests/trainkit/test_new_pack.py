"""What a new pack begins with builds in all modules; the smallest engine builds wherever it is ready."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from tests.trainkit.building import PEOPLE, build, ready_modules
from trainkit import modules, packs
from trainkit.packs.schema import Document

START = packs.starting_point()
SMALLEST = (Path(__file__).parent / "smallest_engine.toml").read_text("utf-8")
# Said in the comments about values from a manual, or nothing to choose.
UNSAID = {"page", "strokes", "provenance", "lock_pin_table"}


@cache
def start() -> packs.Pack:
    return packs.load_text(START, "new.toml")


@cache
def smallest() -> packs.Pack:
    return packs.load_text(SMALLEST, "smallest.toml")


@cache
def ready(which: str) -> dict[str, tuple[str, ...]]:
    return ready_modules(start() if which == "start" else smallest())


def test_nothing_is_found_about_either() -> None:
    assert packs.examine_text(START).findings == ()
    assert packs.examine_text(SMALLEST).findings == ()


@pytest.mark.parametrize("module", modules.names())
def test_a_new_pack_builds_in_every_module(module: str) -> None:
    assert ready("start")[module] == ()
    assert build(start(), module) >= 10 * len(PEOPLE)


@pytest.mark.parametrize("module", modules.names())
def test_the_smallest_engine_builds_wherever_it_is_ready(module: str) -> None:
    if missing := ready("smallest")[module]:
        assert all(missing)
    else:
        assert build(smallest(), module) >= 10 * len(PEOPLE)


def test_the_smallest_engine_is_ready_somewhere() -> None:
    assert any(not missing for missing in ready("smallest").values())


def test_each_key_of_a_new_pack_is_explained_where_it_stands_first() -> None:
    met: set[str] = set()
    lines = START.split("\n")
    for number, line in enumerate(lines):
        key = re.match(r"([a-z_]+) = ", line)
        if key is None or key[1] in met:
            continue
        met.add(key[1])
        above = next(each for each in reversed(lines[:number]) if each and not each.startswith("["))
        assert "#" in line or above.startswith("#"), line
    assert len(met) > 55


def keys(model: type[BaseModel]) -> Iterator[str]:
    for name, field in model.model_fields.items():
        yield field.alias or name
        for inner in inside(field.annotation):
            yield from keys(inner)


def inside(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for each in getattr(annotation, "__args__", ()):
        yield from inside(each)


def test_every_key_that_a_pack_may_have_is_named_in_a_new_one() -> None:
    unsaid = {key for key in keys(Document) if not re.search(rf"\b{key}\b", START)}
    assert unsaid <= UNSAID
