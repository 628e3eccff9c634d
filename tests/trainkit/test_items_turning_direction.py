"""Items of the module *turning direction*: every key against a second way, every wrong rule recognised.

The second ways stand in ``second_ways.turning_direction``.
"""

from __future__ import annotations

import json
import os
import random
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest

from tests.outside.linear_train import raw
from tests.trainkit.second_ways.reading import CURLEW, PACKS, answered, collisions, pack, texts, values
from tests.trainkit.second_ways.turning_direction import WAYS
from trainkit import packs
from trainkit.errors import ItemError
from trainkit.figures import draw
from trainkit.items import find, mark, names, read_item, read_key
from trainkit.items.item import Item, NumberItem
from trainkit.items.key import ChoiceKey, Key, NumberKey, SetKey, SeveralKey
from trainkit.items.misconceptions import MANUAL, all_misconceptions, misconception
from trainkit.items.turning_direction import MISCONCEPTIONS, TEMPLATES

DRAWS = 120
NAMES = [template.name for template in TEMPLATES]
BOTH = pytest.mark.parametrize("engine", PACKS)


@cache
def drawn(name: str, engine: str) -> tuple[tuple[Item, Key], ...]:
    template = find(f"turning-direction/{name}")
    return tuple(template.draw(random.Random(seed), pack(engine)) for seed in range(DRAWS))


def met(name: str, engine: str) -> set[Any]:
    """Hold every draw against the second way, and return what sorts of cases were met."""
    way = WAYS[f"turning-direction/{name}"]
    return {way(item, key, engine) for item, key in drawn(name, engine)}


# Which way


@BOTH
def test_shaft_turns_as_the_equations_say(engine: str) -> None:
    assert met("shaft-sense", engine) == {None}


@BOTH
def test_tool_turns_as_the_equations_say(engine: str) -> None:
    seen = met("tool-sense", engine)
    assert len(seen) >= 20


@BOTH
def test_other_end_sees_everything_turned_over(engine: str) -> None:
    seen = met("other-end", engine)
    assert len(seen) >= 20


# How far


@BOTH
def test_shaft_turns_so_far(engine: str) -> None:
    assert met("shaft-turn", engine) == {None}


@BOTH
def test_tool_makes_so_many_turns(engine: str) -> None:
    assert met("tool-turns", engine) == {None}


# Clock positions


@BOTH
def test_mark_seen_from_the_other_end_is_mirrored_left_to_right(engine: str) -> None:
    assert met("other-end-clock", engine) == {None}


@BOTH
def test_mark_goes_round_with_its_gear(engine: str) -> None:
    kinds = met("mark-after-turning", engine)
    assert kinds == {True, False}


# Gears to be picked


@BOTH
def test_gears_that_turn_alike_have_speeds_of_one_sign(engine: str) -> None:
    assert met("turn-alike", engine) == {None}


@BOTH
def test_gear_on_the_picture_is_the_extreme_of_its_sense(engine: str) -> None:
    assert met("gear-on-picture", engine) == {None}


# What holds for all of them


def every(engine: str) -> Iterator[tuple[Item, Key]]:
    for name in NAMES:
        yield from drawn(name.partition("/")[2], engine)


@BOTH
def test_no_two_answers_agree(engine: str) -> None:
    for item, key in every(engine):
        assert collisions(item, key) == []
        if isinstance(key, ChoiceKey):
            assert len(set(key.shows.values())) == len(key.shows)


@BOTH
def test_a_wrong_answer_is_told_what_it_shows(engine: str) -> None:
    for item, key in every(engine):
        if isinstance(key, NumberKey | SetKey):
            assert key.rules
            shown = [(answered(item, rule.value), rule.misconception) for rule in key.rules]  # type: ignore[arg-type]
        elif isinstance(key, SeveralKey):
            shown = [
                ({"kind": "several", "options": sorted({*key.right} ^ {letter})}, code)
                for letter, code in key.shows.items()
            ]
        else:
            field = "option" if isinstance(key, ChoiceKey) else "target"
            shown = [({"kind": key.kind, field: letter}, code) for letter, code in key.shows.items()]
        for response, code in shown:
            found = mark(item, key, response)
            assert found.misconception == code
            assert found.points < item.points
            assert misconception(code).shows in found.reason
            assert found.reason.endswith(MANUAL)
            assert not found.critical


def test_every_misconception_is_met() -> None:
    met = set()
    for engine in PACKS:
        for _, key in every(engine):
            met |= set(values(key)) if isinstance(key, NumberKey | SetKey) else set(key.shows.values())  # type: ignore[union-attr]  # no orders here
    assert {entry.code for entry in MISCONCEPTIONS} <= met <= set(all_misconceptions())


def test_misconceptions_are_short_kind_and_whole() -> None:
    for entry in MISCONCEPTIONS:
        assert entry.area == "turning-direction"
        assert entry.shows.startswith("This answer ")
        assert entry.shows.endswith(".")
        assert len(entry.shows.split()) <= 15
        assert max(len(part.split()) for part in entry.cure.split(". ")) <= 17


@BOTH
@pytest.mark.parametrize("name", NAMES)
def test_every_draw_is_whole_and_tells_nothing(name: str, engine: str) -> None:
    identifiers = {each["id"] for each in raw(engine)["gears"] if "-" in each["id"]}
    template = find(name)
    for seed, (item, key) in enumerate(drawn(name.partition("/")[2], engine)):
        assert item.kind == key.kind == template.kind
        assert key.template == name
        assert all(line.strip() and "None" not in line for line in key.working)
        assert read_item(json.loads(item.model_dump_json())) == item
        assert read_key(json.loads(key.model_dump_json())) == key
        shown = item.model_dump_json()
        assert name not in shown
        assert not any(f'"{one}"' in shown for one in (*identifiers, *all_misconceptions()))
        assert not set(json.loads(shown)) & {"working", "right", "shows", "reasons", "rules", "answer", "template"}
        assert (
            "seen from" in item.prompt
            or "same seen from" in item.prompt
            or "from the same end" in item.prompt
            or "You watch from" in item.prompt
            or "A colleague watches from" in item.prompt
        )
        if isinstance(item, NumberItem):
            assert item.to_nearest.startswith("to the nearest ")
        if item.figure is not None and seed < 3:
            assert draw(item.figure).startswith("<svg ")
        if seed < 8:
            assert template.draw(random.Random(seed), pack(engine)) == (item, key)


@BOTH
@pytest.mark.parametrize("name", [name for name in NAMES if find(name).kind in ("choice", "several")])
def test_where_options_stand_depends_on_the_shuffle_alone(name: str, engine: str) -> None:
    items = [find(name).draw(random.Random(3), pack(engine), shuffle=random.Random(seed))[0] for seed in range(12)]
    orders = {tuple(texts(item).values()) for item in items}  # type: ignore[arg-type]  # options in all of them
    assert len({tuple(sorted(order)) for order in orders}) == 1
    assert len(orders) > 5


def test_draws_do_not_depend_on_the_hash_seed() -> None:
    script = (
        "import random, hashlib\nfrom pathlib import Path\nfrom trainkit import packs\n"
        "from trainkit.items.turning_direction import TEMPLATES\nfound = hashlib.sha256()\n"
        f"for pack in (packs.load('dunlin'), packs.load(Path({str(CURLEW)!r}))):\n"
        "    for template in TEMPLATES:\n        for seed in range(5):\n"
        "            item, key = template.draw(random.Random(seed), pack)\n"
        "            found.update((item.model_dump_json() + key.model_dump_json()).encode())\n"
        "print(found.hexdigest())"
    )
    digests = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(digests) == 1


@pytest.mark.parametrize(("name", "needed"), [("turn-alike", "at least 4 gears"), ("gear-on-picture", "at least 3")])
def test_pack_with_too_few_gears_is_refused(name: str, needed: str) -> None:
    small = packs.load_text(packs.starting_point(), "small.toml")
    assert len(small.gears) == 2
    with pytest.raises(ItemError) as caught:
        find(f"turning-direction/{name}").draw(random.Random(1), small)
    assert caught.value.value == small.name
    assert needed in caught.value.rule
    assert "leave the template out" in caught.value.remedy


def test_starting_point_of_a_new_pack_can_be_asked_about() -> None:
    small = packs.load_text(packs.starting_point(), "small.toml")
    for name in set(names("turning-direction")) - {"turning-direction/turn-alike", "turning-direction/gear-on-picture"}:
        item, _ = find(name).draw(random.Random(2), small)
        assert item.given[0].value == small.title


def test_two_packs_with_the_same_gears_but_for_their_teeth_are_not_mixed_up() -> None:
    text = packs.starting_point()
    one = packs.load_text(text, "one.toml")
    teeth = {each.id: each.teeth for each in one.gears}
    text = re.sub(r"^teeth = (\d+)", lambda found: f"teeth = {2 * int(found[1])}", text, flags=re.MULTILINE)
    other = packs.load_text(text, "other.toml")
    assert {each.id: each.teeth for each in other.gears} == {name: 2 * count for name, count in teeth.items()}
    drawings = [find("turning-direction/shaft-turn").draw(random.Random(4), each)[0] for each in (one, other, one)]
    assert drawings[0] == drawings[2] != drawings[1]
