"""Items of the module *turning direction*: every key against a second way, every wrong rule recognised.

The second ways read what the item shows, as an apprentice does. Directions and speeds come from the raw tables of the
pack, solved as linear equations (``linear_train``); clock positions are complex numbers that are turned and mirrored.
"""

from __future__ import annotations

import cmath
import json
import math
import os
import random
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from itertools import combinations, pairwise
from typing import Any

import pytest
from linear_train import CURLEW, TOOL, flip, raw, sense, sign, train

from trainkit import packs
from trainkit.errors import ItemError
from trainkit.figures import draw
from trainkit.items import find, mark, names, read_item, read_key
from trainkit.items.item import ChoiceItem, Item, NumberItem, PointItem, SetItem, SeveralItem
from trainkit.items.key import ChoiceKey, Key, NumberKey, PointKey, SetKey, SeveralKey
from trainkit.items.misconceptions import MANUAL, all_misconceptions, misconception
from trainkit.items.turning_direction import MISCONCEPTIONS, TEMPLATES

DRAWS = 120
PACKS = ("dunlin", "curlew")
NAMES = [template.name for template in TEMPLATES]
BOTH = pytest.mark.parametrize("engine", PACKS)


@cache
def pack(engine: str) -> packs.Pack:
    return packs.load(CURLEW if engine == "curlew" else engine)


@cache
def drawn(name: str, engine: str) -> tuple[tuple[Item, Key], ...]:
    template = find(f"turning-direction/{name}")
    return tuple(template.draw(random.Random(seed), pack(engine)) for seed in range(DRAWS))


def said(pattern: str, text: str) -> tuple[str, ...]:
    found = re.search(pattern, text)
    assert found is not None, text
    return found.groups()


def texts(item: ChoiceItem | SeveralItem | PointItem) -> dict[str, str]:
    return {option.id: option.text for option in (item.targets if isinstance(item, PointItem) else item.options)}


def gear(engine: str, title: str) -> str:
    """The identifier of a gear by its name, a capital letter or not."""
    known = train(engine).ids
    return known[title] if title in known else known[title[0].lower() + title[1:]]


# Which way


def counts(text: str) -> tuple[int, int, int]:
    """Sense, changes at meshes and changes for the viewpoint, as an option states them."""
    word, meshes, views = said(r"^(\w+): (\w+) changes? at .+, (\w+) for the viewpoint$", text)
    return sign(word), 0 if meshes == "no" else int(meshes), 0 if views == "none" else int(views)


@BOTH
def test_shaft_turns_as_the_equations_say(engine: str) -> None:
    turned = train(engine)
    for item, key in drawn("shaft-sense", engine):
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        first, way, stated, last, asked = said(
            r"^The (.+) is turned (\w+), seen from ([\w ]+)\. Which way does the (.+) turn, seen from ([\w ]+)\?",
            item.prompt,
        )
        one, other = gear(engine, first), gear(engine, last)
        right = sign(way) * flip(stated, asked) * round(math.copysign(1, turned.speed(one, other)))
        kinds = turned.kinds(one, other)
        views = int(flip(stated, asked) < 0)
        read = {letter: counts(text) for letter, text in texts(item).items()}
        assert read[key.right] == (right, kinds.count("external"), views)
        assert len(set(read.values())) == len(read) >= 4
        # As many changes, such a sense: no option contradicts itself, and the right sense never stands alone.
        for word, meshes, changes in read.values():
            assert word == sign(way) * (-1) ** (meshes + changes)
        assert sum(word == right for word, *_ in read.values()) >= 2
        expected = {
            "mesh-too-few": (-1, 0),
            "idler-counted-twice": (sum(a == b == "external" for a, b in pairwise(kinds)), 0),
            "gears-counted": (1, 0),
            "chain-turns-over": (kinds.count("chain"), 0),
            "ring-turns-over": (kinds.count("internal"), 0),
            "shaft-as-mesh": (kinds.count("shaft"), 0),
            "viewpoint-forgotten": (0, -1),
            "viewpoint-for-nothing": (0, 1),
        }
        for letter, code in key.shows.items():
            _, meshes, changes = read[letter]
            assert (meshes - kinds.count("external"), changes - views) == expected[code]


@BOTH
def test_tool_turns_as_the_equations_say(engine: str) -> None:
    tables, turned = raw(engine), train(engine)
    seen = set()
    for item, key in drawn("tool-sense", engine):
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        way, stated, stands, to = said(
            r"^In service the crank turns (\w+), seen from ([\w ]+)\. You stand at ([\w ]+), .* bar it (\w+)\.",
            item.prompt,
        )
        assert sign(way) == sign(tables["engine"]["rotation"]) * flip(stated, tables["engine"]["seen_from"])
        assert flip(stands, tables["barring"]["stands_at"]) == 1
        forward = sign(way) * (1 if to == "forward" else -1)
        right = forward * flip(stated, stands) * round(math.copysign(1, turned.speed(turned.crank, TOOL)))
        read = {letter: counts(text) for letter, text in texts(item).items()}
        mesh = int(tables["barring"]["by"] == "ring-gear")
        views = int(flip(stated, stands) < 0)
        assert read[key.right] == (right, mesh, views)
        assert {(meshes, changes) for _, meshes, changes in read.values()} == {(0, 0), (0, 1), (1, 0), (1, 1)}
        wrong = {key.shows.get(letter, ""): (meshes, changes) for letter, (_, meshes, changes) in read.items()}
        assert wrong["tool-like-engine" if mesh else "socket-as-mesh"] == (1 - mesh, views)
        assert wrong["viewpoint-forgotten" if views else "viewpoint-for-nothing"] == (mesh, 1 - views)
        seen.add(item.prompt)
    assert len(seen) == 4


@BOTH
def test_other_end_sees_everything_turned_over(engine: str) -> None:
    turned = train(engine)
    same = turned.speed(turned.crank, TOOL) > 0
    seen = set()
    for item, key in drawn("other-end", engine):
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        what, word = said(r"there the (crank|tool) turns (\w+),", item.prompt.replace("There", "there"))
        read = {
            letter: tuple(sign(part) for part in said(r"^Crank (\w+), tool (\w+)$", text))
            for letter, text in texts(item).items()
        }
        stated = sign(word)
        other = stated if same else -stated
        there = (stated, other) if what == "crank" else (other, stated)
        assert read[key.right] == (-there[0], -there[1])
        assert set(read.values()) == {(1, 1), (1, -1), (-1, 1), (-1, -1)}
        by_code = {code: read[letter] for letter, code in key.shows.items()}
        assert by_code["viewpoint-forgotten"] == there
        half = (stated, -other) if what == "crank" else (-other, stated)
        assert by_code["half-turned-over"] == half
        # The third thinks wrongly about the mesh alone: what was stated is turned over rightly.
        third = by_code["socket-as-mesh" if same else "tool-like-engine"]
        assert third[what == "tool"] == -stated
        seen.add(item.prompt)
    assert len(seen) == 8


# How far


def holds(item: NumberItem | SetItem, key: NumberKey | SetKey, exact: float, step: float) -> None:
    """The key is the exact value on its step, clear of the edge, and marking takes both."""
    off = exact - key.answer if key.kind == "number" else (exact - key.answer + 6) % 12 - 6
    assert abs(off) <= 0.4 * step + 1e-9
    assert abs(key.answer / step - round(key.answer / step)) < 1e-6
    for value in (key.answer, key.answer + off):
        assert mark(item, key, answered(item, value)).verdict == "right"


def answered(item: NumberItem | SetItem, value: float) -> dict[str, Any]:
    if isinstance(item, SetItem):
        return {"kind": "set", "value": value % 12}
    return {"kind": "number", "text": f"{value:.6f}", "unit": item.units[0]}


def values(key: NumberKey | SetKey) -> dict[str, float]:
    found = {rule.misconception: rule.value for rule in key.rules}
    assert len(found) == len(key.rules)
    return found


@BOTH
def test_shaft_turns_so_far(engine: str) -> None:
    turned = train(engine)
    for item, key in drawn("shaft-turn", engine):
        assert isinstance(item, NumberItem)
        assert isinstance(key, NumberKey)
        first, degrees, last = said(
            r"^The (.+) is turned by (\d+)°\. By how many degrees does the (.+) turn\?", item.prompt
        )
        speed = abs(turned.speed(gear(engine, first), gear(engine, last)))
        holds(item, key, int(degrees) * speed, 1)
        found = values(key)
        assert abs(found["inverse-ratio"] - int(degrees) / speed) <= 0.5
        assert found["one-to-one"] == int(degrees)
        if "compound-as-idler" in found:
            teeth = [turned.gears[gear(engine, title)]["teeth"] for title in (first, last)]
            assert abs(found["compound-as-idler"] - int(degrees) * teeth[0] / teeth[1]) <= 0.5
        if "ratio-of-idler" in found:
            # The last mesh alone brings it to the right answer.
            last_mesh = key.working[len(item.given) - 3]
            driver, driven = (int(teeth) for teeth in said(r"× (\d+)/(\d+)\.$", last_mesh))
            assert abs(found["ratio-of-idler"] - int(degrees) * speed * driven / driver) <= 0.5


@BOTH
def test_tool_makes_so_many_turns(engine: str) -> None:
    turned = train(engine)
    for item, key in drawn("tool-turns", engine):
        assert isinstance(item, NumberItem)
        assert isinstance(key, NumberKey)
        title, degrees = said(r"^The (.+) is to turn by (\d+)°\.", item.prompt)
        one = gear(engine, title)
        turns = int(degrees) / 360
        crank, bar = abs(turned.speed(one, turned.crank)), abs(turned.speed(turned.crank, TOOL))
        holds(item, key, turns * abs(turned.speed(one, TOOL)), 0.05)
        expected = {
            "inverse-ratio": turns / crank * bar,
            "one-to-one": turns * bar,
            "bar-as-crank": turns * crank,
            "bar-ratio-inverse": turns * crank / bar,
        }
        for code, value in values(key).items():
            if code in expected:
                assert abs(value - expected[code]) <= 0.025


# Clock positions


def hand(hours: float) -> complex:
    """A clock position as a point on the unit circle, x to the right and y up."""
    return cmath.rect(1, math.radians(90 - 30 * hours))


def hours(point: complex) -> float:
    return (90 - math.degrees(cmath.phase(point))) / 30 % 12


def clock(text: str) -> float:
    whole, minutes = text.split(":")
    return (int(whole) % 12) + int(minutes) / 60


@BOTH
def test_mark_seen_from_the_other_end_is_mirrored_left_to_right(engine: str) -> None:
    for item, key in drawn("other-end-clock", engine):
        assert isinstance(item, SetItem)
        assert isinstance(key, SetKey)
        at, stated, asked = said(r"stands at (\S+), seen from ([\w ]+)\. .* stand, seen from ([\w ]+)\?", item.prompt)
        assert flip(stated, asked) == -1
        here = hand(clock(at))
        holds(item, key, hours(complex(-here.real, here.imag)), 0.25)
        expected = {
            "viewpoint-forgotten": here,
            "mirrored-top-to-bottom": complex(here.real, -here.imag),
            "turned-half-round": -here,
        }
        for code, value in values(key).items():
            assert abs(hand(value) - expected[code]) < 1e-9


@BOTH
def test_mark_goes_round_with_its_gear(engine: str) -> None:
    turned = train(engine)
    kinds = set()
    for item, key in drawn("mark-after-turning", engine):
        assert isinstance(item, SetItem)
        assert isinstance(key, SetKey)
        title, at, what, degrees, way = said(
            r"^A mark on the (.+) stands at (\S+)\. (This gear|The .+) is turned (\d+)° (\w+)\.", item.prompt
        )
        last = gear(engine, title)
        first = last if what == "This gear" else gear(engine, what.removeprefix("The "))
        given = sign(way) * int(degrees)
        speed = turned.speed(first, last)

        def after(angle: float, start: complex = hand(clock(at))) -> complex:
            return start * cmath.exp(-1j * math.radians(angle))

        holds(item, key, hours(after(given * speed)), 0.25)
        expected = {
            "clock-backwards": after(-given),
            "mesh-too-few": after(-given * speed),
            "inverse-ratio": after(given / speed),
            "one-to-one": after(math.copysign(given, given * speed)),
            "hour-as-sixty-degrees": after(given * speed / 2),
        }
        for code, value in values(key).items():
            assert abs(hand(value) - expected[code]) < 0.08
        kinds.add(first == last)
    assert kinds == {True, False}


# Gears to be picked


@BOTH
def test_gears_that_turn_alike_have_speeds_of_one_sign(engine: str) -> None:
    turned = train(engine)
    for item, key in drawn("turn-alike", engine):
        assert isinstance(item, SeveralItem)
        assert isinstance(key, SeveralKey)
        (title,) = said(r"turn the same way as the (.+)\? There", item.prompt)
        one = gear(engine, title)
        shown = {letter: gear(engine, text) for letter, text in texts(item).items()}
        assert one not in shown.values()
        right = {letter for letter, other in shown.items() if turned.speed(one, other) > 0}
        assert right == set(key.right)
        assert 0 < len(right) < len(shown)
        assert mark(item, key, {"kind": "several", "options": sorted(right)}).verdict == "right"
        # Somebody who believes one wrong thing misjudges all gears with it, and is told that one thing.
        for code in set(key.shows.values()):
            believed = {"mesh-too-few": "external", "shaft-as-mesh": "shaft", "chain-turns-over": "chain"}.get(
                code, "internal"
            )
            if code == "mesh-too-few":
                misjudged = set(shown)
            else:
                misjudged = {letter for letter, other in shown.items() if turned.kinds(one, other).count(believed) % 2}
            found = mark(item, key, {"kind": "several", "options": sorted(right ^ misjudged)})
            assert found.misconception == code
            assert found.points < item.points


@BOTH
def test_gear_on_the_picture_is_the_extreme_of_its_sense(engine: str) -> None:
    turned = train(engine)
    for item, key in drawn("gear-on-picture", engine):
        assert isinstance(item, PointItem)
        assert isinstance(key, PointKey)
        title, way, wanted, extreme = said(
            r"^The (.+) is turned (\w+), seen .* turns (\w+), and (fastest|slowest) of", item.prompt
        )
        one = gear(engine, title)
        shown = {letter: gear(engine, text) for letter, text in texts(item).items()}
        assert {each["id"] for each in (item.figure or {})["gears"]} == set(shown)
        best = max if extreme == "fastest" else min
        speeds = {letter: sign(way) * turned.speed(one, other) for letter, other in shown.items() if other != one}

        def extremes(signed: dict[str, float], choose: Any, to: str = wanted) -> set[str]:
            fitting = {letter: round(abs(speed), 9) for letter, speed in signed.items() if sense(speed) == to}
            return {letter for letter, speed in fitting.items() if speed == choose(fitting.values())}

        assert set(key.right) == extremes(speeds, best)
        other = min if best is max else max
        by_code = {
            code: {letter for letter, shows in key.shows.items() if shows == code} for code in set(key.shows.values())
        }
        for code, letters in by_code.items():
            if code == "inverse-ratio":
                assert letters == extremes(speeds, other)
                continue
            kind = {
                "mesh-too-few": "external",
                "shaft-as-mesh": "shaft",
                "chain-turns-over": "chain",
                "ring-turns-over": "internal",
            }[code]
            believed = {
                letter: -speed
                if (code == "mesh-too-few" and kind in (way := turned.kinds(one, shown[letter])))
                or (code != "mesh-too-few" and turned.kinds(one, shown[letter]).count(kind) % 2)
                else speed
                for letter, speed in speeds.items()
            }
            assert letters == extremes(believed, best)


# What holds for all of them


def every(engine: str) -> Iterator[tuple[Item, Key]]:
    for name in NAMES:
        yield from drawn(name.partition("/")[2], engine)


@BOTH
def test_no_two_answers_agree(engine: str) -> None:
    collisions = 0
    for item, key in every(engine):
        if isinstance(key, NumberKey | SetKey):
            marks = [key.answer, *(rule.value for rule in key.rules)]
            for one, other in combinations(marks, 2):
                apart = abs(one - other)
                if isinstance(key, SetKey):
                    apart = min(apart, 12 - apart)
                collisions += apart <= 2 * key.tolerance + 1e-9
        else:
            collisions += len(set(texts(item).values())) < len(texts(item))  # type: ignore[arg-type]  # no numbers
            right = {key.right} if isinstance(key, ChoiceKey) else set(key.right)
            if isinstance(key, ChoiceKey):
                collisions += len(set(key.shows.values())) < len(key.shows)
            if not isinstance(key, SeveralKey):
                collisions += bool(right & set(key.shows))
    assert collisions == 0


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
            or ("You watch from" in item.prompt or "A colleague watches from" in item.prompt)
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
