"""Items of the module *lash and timing*: every key against a second way, every wrong rule recognised.

The second ways stand in ``second_ways.lash_and_timing``.
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
from importlib import resources
from typing import Any

import pytest

from tests.outside.linear_train import raw
from tests.trainkit.second_ways.lash_and_timing import WAYS, component
from tests.trainkit.second_ways.reading import CURLEW, PACKS, answered, collisions, pack, texts, values
from trainkit import packs
from trainkit.errors import ItemError
from trainkit.figures import draw
from trainkit.items import find, mark, names, read_item, read_key
from trainkit.items.item import Item, NumberItem
from trainkit.items.key import ChoiceKey, Key, NumberKey, SetKey, SeveralKey
from trainkit.items.lash_and_timing import MISCONCEPTIONS, TEMPLATES
from trainkit.items.misconceptions import MANUAL, all_misconceptions, misconception

DRAWS = 120
NAMES = [template.name for template in TEMPLATES]
BOTH = pytest.mark.parametrize("engine", PACKS)


@cache
def drawn(name: str, engine: str) -> tuple[tuple[Item, Key], ...]:
    template = find(f"lash-and-timing/{name}")
    return tuple(template.draw(random.Random(seed), pack(engine)) for seed in range(DRAWS))


def met(name: str, engine: str) -> set[Any]:
    """Hold every draw against the second way, and return what sorts of cases were met."""
    way = WAYS[f"lash-and-timing/{name}"]
    return {way(item, key, engine) for item, key in drawn(name, engine)}


# Taking up lash


@BOTH
def test_lash_is_taken_up_back_to_the_driving_flank(engine: str) -> None:
    cases = met("take-up", engine)
    meshes = [mesh for mesh in raw(engine)["meshes"] if mesh.get("kind", "external") == "external"]
    assert len(cases) == 4 * len(meshes)


# What a movement does to the event


@BOTH
def test_wound_up_gear_makes_the_event_early(engine: str) -> None:
    assert met("wind-up", engine) == {None}


@BOTH
def test_event_comes_early_or_late_as_the_turned_crank_finds(engine: str) -> None:
    parts = met("early-or-late", engine)
    assert parts == ({True, False} if component(engine)["role"] == "component" else {True})


@BOTH
def test_movement_is_harmless_where_the_event_stays(engine: str) -> None:
    statements = frozenset().union(*met("harmless-movement", engine))
    assert len(statements) == (13 if component(engine)["role"] == "component" else 7)


# Millimetres as degrees


@BOTH
def test_move_along_a_circle_is_an_arc_carried_to_the_crank(engine: str) -> None:
    assert met("moved-degrees", engine) == {None}


@BOTH
def test_lash_is_an_arc_carried_to_the_crank(engine: str) -> None:
    assert met("lash-degrees", engine) == {None}


# Dead centres


@BOTH
def test_cylinder_is_the_one_whose_dead_centre_comes(engine: str) -> None:
    ways = met("which-cylinder", engine)
    assert len(ways) == 8


@BOTH
def test_key_stands_where_its_shaft_has_brought_it(engine: str) -> None:
    assert met("key-at-dead-centre", engine) == {None}


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
            shown = [({"kind": "choice", "option": letter}, code) for letter, code in key.shows.items()]
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
        assert entry.area == "lash-and-timing"
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
        if isinstance(item, NumberItem):
            assert "same seen from either end" in item.prompt
            assert re.fullmatch(r"to the nearest 0\.0?1° of the crank", item.to_nearest)
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
        "from trainkit.items.lash_and_timing import TEMPLATES\nfound = hashlib.sha256()\n"
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


# Packs that have nothing to ask about


def changed(*changes: tuple[str, str]) -> packs.Pack:
    text = resources.files("trainkit.packs").joinpath("data/dunlin.toml").read_text("utf-8")
    for pattern, new in changes:
        text, count = re.subn(pattern, new, text, flags=re.MULTILINE)
        assert count
    return packs.load_text(text, "changed.toml")


def refused(name: str, without: packs.Pack) -> str:
    with pytest.raises(ItemError) as caught:
        find(f"lash-and-timing/{name}").draw(random.Random(1), without)
    assert caught.value.value == without.name
    assert "leave the template out" in caught.value.remedy.lower()
    return caught.value.rule


def test_pack_without_lash_has_none_to_take_up() -> None:
    assert "with lash" in refused("take-up", changed((r"^lash_mm = .*$", "")))


def test_pack_without_modules_has_no_radius() -> None:
    bare = changed((r"^lash_mm = .*$", ""), (r"^module_mm = .*$", ""))
    for name in ("wind-up", "moved-degrees", "harmless-movement", "early-or-late"):
        assert "module is known" in refused(name, bare)
    assert "module is known" in refused("lash-degrees", bare)


def test_engine_with_three_cylinders_is_not_asked_which_comes() -> None:
    small = packs.load_text(packs.starting_point(), "small.toml")
    assert small.engine.cylinders == 3
    assert "at least 4 cylinders" in refused("which-cylinder", small)


def test_starting_point_of_a_new_pack_can_be_asked_about() -> None:
    small = packs.load_text(packs.starting_point(), "small.toml")
    for name in set(names("lash-and-timing")) - {"lash-and-timing/which-cylinder"}:
        item, _ = find(name).draw(random.Random(2), small)
        assert item.given[0].value == small.title
