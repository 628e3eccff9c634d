"""Items of the module *lash and timing*: every key against a second way, every wrong rule recognised.

The second ways read what the item shows, as an apprentice does. Flanks touch as points in a plane; an event is found
by turning a crank until shaft and housing stand as they must; dead centres are found by going on degree by degree.
Speeds come from the raw tables of the pack, solved as linear equations (``linear_train``).
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
from importlib import resources
from itertools import combinations
from typing import Any

import pytest
from linear_train import CURLEW, flip, raw, sign, train

from trainkit import packs
from trainkit.errors import ItemError
from trainkit.figures import draw
from trainkit.items import find, mark, names, read_item, read_key
from trainkit.items.item import ChoiceItem, Item, NumberItem, SetItem, SeveralItem
from trainkit.items.key import ChoiceKey, Key, NumberKey, SetKey, SeveralKey
from trainkit.items.lash_and_timing import MISCONCEPTIONS, TEMPLATES
from trainkit.items.misconceptions import MANUAL, all_misconceptions, misconception

DRAWS = 120
PACKS = ("dunlin", "curlew")
NAMES = [template.name for template in TEMPLATES]
BOTH = pytest.mark.parametrize("engine", PACKS)


@cache
def pack(engine: str) -> packs.Pack:
    return packs.load(CURLEW if engine == "curlew" else engine)


@cache
def drawn(name: str, engine: str) -> tuple[tuple[Item, Key], ...]:
    template = find(f"lash-and-timing/{name}")
    return tuple(template.draw(random.Random(seed), pack(engine)) for seed in range(DRAWS))


def said(pattern: str, text: str) -> tuple[str, ...]:
    found = re.search(pattern, text)
    assert found is not None, text
    return found.groups()


def texts(item: ChoiceItem | SeveralItem) -> dict[str, str]:
    return {option.id: option.text for option in item.options}


def given(item: Item, label: str) -> str:
    return next(row.value for row in item.given if row.label == label)


def length(text: str) -> float:
    return float(text.removesuffix("\u2009mm"))


def in_service(engine: str, gear: str, seen_from: str) -> int:
    """The sense of a gear when the engine runs, +1 clockwise."""
    tables, turned = raw(engine), train(engine)
    crank = sign(tables["engine"]["rotation"]) * flip(tables["engine"]["seen_from"], seen_from)
    return crank * round(math.copysign(1, turned.speed(turned.crank, gear)))


def component(engine: str) -> dict[str, Any]:
    tables = raw(engine)
    (found,) = [each for each in tables["gears"] if each["id"] == tables["lock_pin"]["component"]]
    return found


def crank_per_shaft(engine: str) -> float:
    turned = train(engine)
    return abs(turned.speed(component(engine)["id"], turned.crank))


def by_code(key: ChoiceKey, item: ChoiceItem) -> dict[str, str]:
    found = {code: texts(item)[letter] for letter, code in key.shows.items()}
    assert len(found) == len(key.shows)
    return found


# Taking up lash


def back_to_the_flank(drive: int) -> int:
    """The way a loose gear turns to meet the tooth that drives it, found in the plane.

    The driver sits at (0, 0), the gear at (1, 0); they touch at (0.5, 0). A turn of the gear moves its tooth there.
    """

    def moves(centre: complex, turn: int) -> complex:
        return (0.5 - centre) * (-1j * turn)  # +1 is clockwise, y up

    pushed = moves(1, drive)  # where the gear's tooth goes in service: away from the driving tooth behind it
    loose = 0.5 + 0.01 * pushed  # ahead of its flank by a part of the lash
    turns = [turn for turn in (1, -1) if abs(loose + 0.01 * moves(1, turn) - 0.5) < abs(loose - 0.5)]
    assert len(turns) == 1
    return turns[0]


@BOTH
def test_lash_is_taken_up_back_to_the_driving_flank(engine: str) -> None:
    turned = train(engine)
    met = set()
    for item, key in drawn("take-up", engine):
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        told, way, stated, driver, driven, asked = said(
            r"^In service the (.+) turns (\w+), seen from ([\w ]+)\. The (.+) is held, the (.+) is loose\. "
            r"How do you turn the .+, seen from ([\w ]+), to take up",
            item.prompt,
        )
        one, gear = turned.ids[driver], turned.ids[driven]
        assert turned.kinds(one, gear) == ["external"]
        assert sign(way) == in_service(engine, turned.ids[told], stated)
        drive = in_service(engine, gear, asked)
        right = back_to_the_flank(drive)
        clockwise, relation, how = said(r"^(\w+), (against|with) its drive, (gently|on) until", texts(item)[key.right])
        assert (sign(clockwise), relation, how) == (right, "against", "gently")
        read = {code: said(r"^(\w+), (\w+) its drive, (\w+)", text) for code, text in by_code(key, item).items()}
        assert read["taken-up-with-drive"] == (word(-right), "with", "gently")
        assert read["heaved"] == (word(right), "against", "on")
        (third,) = set(read) - {"taken-up-with-drive", "heaved"}
        assert third == ("mesh-too-few" if stated == asked else "viewpoint-forgotten")
        assert read[third] == (word(-right), "against", "gently")
        met.add((gear, stated, asked))
    meshes = [mesh for mesh in raw(engine)["meshes"] if mesh.get("kind", "external") == "external"]
    assert len(met) == 4 * len(meshes)


def word(sense: int) -> str:
    return "Clockwise" if sense > 0 else "Anticlockwise"


# What a movement does to the event


def event(gear: float, shaft: float, housing: float, engine: str) -> float:
    """Crank degrees too early, found by turning the crank until shaft and housing stand as they must.

    The joints are closed with gear, shaft and housing so many degrees of the shaft ahead of their places.
    """
    offset = shaft - gear

    def apart(crank: float) -> float:
        on_its_flank = crank / crank_per_shaft(engine)
        return on_its_flank + offset - housing

    low, high = -90.0, 90.0
    assert apart(low) < 0 < apart(high)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if apart(middle) < 0 else (low, middle)
    return -(low + high) / 2


def shift(text: str) -> float:
    """What an option says: crank degrees early, negative for late."""
    if text == "The timing does not change":
        return 0.0
    degrees, effect = said(r"^([\d.]+)° of the crank (early \(advance\)|late \(retard\))$", text)
    return float(degrees) * (1 if effect.startswith("early") else -1)


def arc(along: float, radius: float) -> float:
    """Degrees of a way along a circle, off the argument of a complex number."""
    return math.degrees(cmath.phase(cmath.exp(1j * along / radius)))


def agree(text: str, exact: float) -> bool:
    return abs(shift(text) - exact) <= 0.0051


@BOTH
def test_wound_up_gear_makes_the_event_early(engine: str) -> None:
    gear = component(engine)
    radius = gear["module_mm"] * gear["teeth"] / 2
    for item, key in drawn("wind-up", engine):
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        pressed = length(given(item, "Pressed on"))
        assert length(given(item, f"Pitch radius of the {gear['name']}")) == radius
        turned = arc(pressed, radius)
        exact = event(-turned, 0, 0, engine)
        assert exact > 0
        assert agree(texts(item)[key.right], exact)
        wrong = by_code(key, item)
        assert agree(wrong["wind-up-as-lash"], event(turned, 0, 0, engine))
        assert agree(wrong["gear-for-crank-degrees"], turned)
        assert shift(wrong["heaved"]) == 0
        assert len({shift(text) for text in texts(item).values()}) == 5


@BOTH
def test_event_comes_early_or_late_as_the_turned_crank_finds(engine: str) -> None:
    gear = component(engine)
    parts = set()
    for item, key in drawn("early-or-late", engine):
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        name, drive, what, way, seen = said(
            r"^In service the shaft of the (.+) turns (\w+)\. (The shaft was clamped in its gear|The housing was "
            r"clamped) [\d.]+\u2009mm too far (\w+)\. Both are seen from ([\w ]+)\.",
            item.prompt,
        )
        assert name == gear["name"]
        assert sign(drive) == in_service(engine, gear["id"], seen)
        (moved,) = said(r"([\d.]+)\u2009mm too far", item.prompt)
        ahead = arc(float(moved), length(given(item, "Measured along a circle of radius"))) * sign(way) * sign(drive)
        shaft = "shaft" in what
        ways = {True: event(0, ahead, 0, engine), False: event(0, 0, ahead, engine)}
        assert agree(texts(item)[key.right], ways[shaft])
        wrong = by_code(key, item)
        assert agree(wrong["housing-for-shaft"], ways[not shaft])
        assert agree(wrong["gear-for-crank-degrees"], ways[shaft] / crank_per_shaft(engine))
        assert shift(wrong["no-movement-matters"]) == 0
        assert len({shift(text) for text in texts(item).values()}) == 5
        parts.add(shaft)
    assert parts == ({True, False} if gear["role"] == "component" else {True})


def moved_parts(text: str) -> dict[str, float]:
    """Which parts a statement says to have moved, read off its words."""
    said_first = text.partition(" while ")[0].partition(", ")[0].partition(" after ")[0].lower()
    if said_first.startswith("the lock came out"):
        return {"shaft": 1.0}
    together = "together" in said_first
    return {
        part: 1.0
        for part in ("gear", "shaft", "housing")
        if said_first.startswith(f"the {part} ") or (together and part in said_first)
    }


@BOTH
def test_movement_is_harmless_where_the_event_stays(engine: str) -> None:
    met = set()
    for item, key in drawn("harmless-movement", engine):
        assert isinstance(item, SeveralItem)
        assert isinstance(key, SeveralKey)
        fixed = "the gear is fixed to its shaft" in given(item, "Taken for this question")
        right = set()
        for letter, text in texts(item).items():
            moved = moved_parts(text)
            assert moved, text
            at = {part: moved.get(part, 0.0) for part in ("gear", "shaft", "housing")}
            if fixed and "shaft" in moved:
                at["gear"] = at["shaft"]
            again = "lash taken up again" in text or "before the lash was taken up" in text
            assert again != ("tightened as" in text or "after the final stage" in text)
            if again:
                # The loose gear goes back alone; a fixed one takes along the shaft, and by its lock the housing.
                back = at["gear"]
                for part in at if fixed else ("gear",):
                    at[part] -= back
            early = event(at["gear"], at["shaft"], at["housing"], engine)
            if abs(early) < 1e-9:
                right.add(letter)
            else:
                assert ("early" if early > 0 else "late") in key.reasons[letter]
            met.add(text)
        assert right == set(key.right)
        assert 0 < len(right) < len(texts(item)) - 1
        everything, nothing = sorted(texts(item)), []
        for taken, code in ((everything, "no-movement-matters"), (nothing, "any-movement-ruins")):
            found = mark(item, key, {"kind": "several", "options": taken})
            assert (found.points, found.misconception) == (0.0, code)
    assert len(met) == (13 if component(engine)["role"] == "component" else 7)


# Millimetres as degrees


def answered(item: NumberItem | SetItem, value: float) -> dict[str, Any]:
    if isinstance(item, SetItem):
        return {"kind": "set", "value": value % 12}
    return {"kind": "number", "text": f"{value:.6f}", "unit": item.units[0]}


def values(key: NumberKey | SetKey) -> dict[str, float]:
    found = {rule.misconception: rule.value for rule in key.rules}
    assert len(found) == len(key.rules)
    return found


def holds(item: NumberItem | SetItem, key: NumberKey | SetKey, exact: float, step: float) -> None:
    """The key is the exact value on its step, clear of the edge, and marking takes both."""
    off = exact - key.answer if isinstance(key, NumberKey) else (exact - key.answer + 6) % 12 - 6
    assert abs(off) <= 0.4 * step + 1e-9
    assert abs(key.answer / step - round(key.answer / step)) < 1e-6
    for value in (key.answer, key.answer + off):
        assert mark(item, key, answered(item, value)).verdict == "right"


@BOTH
def test_move_along_a_circle_is_an_arc_carried_to_the_crank(engine: str) -> None:
    for item, key in drawn("moved-degrees", engine):
        assert isinstance(item, NumberItem)
        assert isinstance(key, NumberKey)
        moved, radius = length(given(item, "Moved")), length(given(item, "Radius of the circle of screws"))
        pitch = length(given(item, f"Pitch radius of the {component(engine)['name']}"))
        per_shaft = crank_per_shaft(engine)
        holds(item, key, arc(moved, radius) * per_shaft, 0.1)
        # With 57.3 or 3.14 in the calculator it is the same answer.
        for degrees in (moved / radius * 57.3 * 2, moved * 360 / (2 * 3.14 * radius) * 2):
            assert mark(item, key, answered(item, degrees)).verdict == "right"
        expected = {
            "gear-for-crank-degrees": arc(moved, radius),
            "doubled-twice": arc(moved, radius) * per_shaft**2,
            "wrong-circle": arc(moved, pitch) * per_shaft,
            "millimetre-as-degree": moved * per_shaft,
        }
        assert set(values(key)) == set(expected)
        for code, value in values(key).items():
            assert abs(value - expected[code]) <= 0.05


@BOTH
def test_lash_is_an_arc_carried_to_the_crank(engine: str) -> None:
    turned = train(engine)
    for item, key in drawn("lash-degrees", engine):
        assert isinstance(item, NumberItem)
        assert isinstance(key, NumberKey)
        held, name = said(r"^The (.+) is held\. .* pitch circle of the (.+) shows", item.prompt)
        one, mate = (turned.gears[turned.ids[title]] for title in (name, held))
        radius, other = (each["module_mm"] * each["teeth"] / 2 for each in (one, mate))
        lash = length(given(item, "Lash"))
        speed = abs(turned.speed(turned.crank, one["id"]))
        holds(item, key, arc(lash, radius) / speed, 0.01)
        expected = {
            "gear-for-crank-degrees": arc(lash, radius),
            "doubled-twice": arc(lash, radius) * 4,
            "doubled-regardless": arc(lash, radius) * 2,
            "gear-crank-wrong-way": arc(lash, radius) * speed,
            "wrong-circle": arc(lash, other) / speed,
        }
        half = abs(speed - 0.5) < 1e-9
        assert ("doubled-twice" in values(key), "doubled-regardless" in values(key)) == (half, not half)
        for code, value in values(key).items():
            assert abs(value - expected[code]) <= 0.005


# Dead centres


def dead_centres(firing_order: list[int]) -> dict[tuple[int, str], int]:
    """The crank degree, in 720, of every dead centre: one cylinder after the other fires."""
    step = 720 // len(firing_order)
    return {
        (cylinder, on): (at * step + (0 if on == "compression" else 360)) % 720
        for at, cylinder in enumerate(firing_order)
        for on in ("compression", "exhaust")
    }


def on_to(start: int, goal: int) -> int:
    """Degrees forward, counted one by one."""
    degrees = 0
    while (start + degrees) % 720 != goal:
        degrees += 1
    return degrees


@BOTH
def test_cylinder_is_the_one_whose_dead_centre_comes(engine: str) -> None:
    order = raw(engine)["engine"]["firing_order"]
    ways = set()
    for item, key in drawn("which-cylinder", engine):
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        cylinder, on, degrees, way, asked = said(
            r"^Cylinder (\d+) stands at top dead centre on (\w+)\. The crank is barred (\d+)° (forward|back)\. "
            r"Which cylinder then stands at top dead centre on (\w+)\?$",
            item.prompt,
        )
        turn = int(degrees) * (1 if way == "forward" else -1)

        def found(by: int, to: str, firing: list[int] = order, known: tuple[int, str] = (int(cylinder), on)) -> str:
            centres = dead_centres(firing)
            (one,) = [one for one, where in centres if where == to and centres[one, to] == (centres[known] + by) % 720]
            return f"Cylinder {one}"

        assert texts(item)[key.right] == found(turn, asked)
        expected = {
            "numbered-order": found(turn, asked, sorted(order)),
            "forward-for-back": found(-turn, asked),
            "exhaust-for-compression": found(turn, "exhaust"),
            "cam-for-crank": found(2 * turn, asked),
        }
        wrong = by_code(key, item)
        assert {code: expected[code] for code in wrong} == wrong
        assert len(wrong) >= 2
        assert ("forward-for-back" in wrong) <= (way == "back")
        ways.add((on, way, asked))
    assert len(ways) == 8


@BOTH
def test_key_stands_where_its_shaft_has_brought_it(engine: str) -> None:
    tables, turned = raw(engine), train(engine)
    order = tables["engine"]["firing_order"]
    for item, key in drawn("key-at-dead-centre", engine):
        assert isinstance(item, SetItem)
        assert isinstance(key, SetKey)
        past, after, title, start, on, cylinder, seen = said(
            r"^The crank stands (\d+)° past the compression dead centre of cylinder (\d+)\. The key of the (.+) "
            r"points to (\S+)\. The engine is barred forward to the next (\w+) dead centre of cylinder (\d+)\. .* "
            r"All of it is seen from ([\w ]+)\.",
            item.prompt,
        )
        gear = turned.ids[title]
        sense = in_service(engine, gear, seen)
        assert given(item, f"The {title} turns, barred forward").startswith(
            "clockwise," if sense > 0 else "anticlockwise,"
        )
        speed = abs(turned.speed(turned.crank, gear))
        whole, minutes = start.split(":")

        def stands(degrees: float, way: int = sense, at: float = int(whole) % 12 * 30 + int(minutes) / 2) -> complex:
            return cmath.rect(1, math.radians(90 - at)) * cmath.exp(-1j * way * math.radians(degrees))

        def hours(point: complex) -> float:
            return (90 - math.degrees(cmath.phase(point))) / 30 % 12

        def to_go(
            to: str,
            firing: list[int] = order,
            here: tuple[int, int] = (int(after), int(past)),
            goal: int = int(cylinder),
        ) -> int:
            centres = dead_centres(firing)
            return on_to((centres[here[0], "compression"] + here[1]) % 720, centres[goal, to])

        crank = to_go(on)
        holds(item, key, hours(stands(crank * speed)), 0.25)
        expected = {
            "cam-for-crank": stands(crank),
            "clock-backwards": stands(crank * speed, -sense),
            "numbered-order": stands(to_go(on, sorted(order)) * speed),
            "exhaust-for-compression": stands(to_go("exhaust") * speed),
        }
        for code, value in values(key).items():
            assert abs(cmath.rect(1, math.radians(90 - 30 * value)) - expected[code]) < 0.06
        assert ("exhaust-for-compression" in values(key)) == (on == "compression")


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
            if isinstance(key, ChoiceKey):
                collisions += len(set(key.shows.values())) < len(key.shows)
                collisions += key.right in key.shows
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
