"""A picture of a train tells the truth: what meshes touches, what does not stays apart or lies in another plane."""

from __future__ import annotations

import math
import random
import xml.etree.ElementTree as ET
from itertools import combinations, pairwise
from typing import Any

import pytest

from trainkit import figures
from trainkit.figures import layout, shafts
from trainkit.figures.gearing import TrainFigure

SVG = "{http://www.w3.org/2000/svg}"
COUNT = 300


def drawn_train(number: int) -> dict[str, Any]:
    """Draw a train such as engines have: at most nine gears, three at one gear, pumps with a ring, a chain."""
    rng = random.Random(number)
    teeth = [rng.randint(26, 48)]
    meshes: list[dict[str, str]] = []

    def add(at: int, count: int, kind: str) -> int:
        teeth.append(count)
        meshes.append({"driver": f"g{at}", "driven": f"g{len(teeth) - 1}", "kind": kind})
        return len(teeth) - 1

    free = [0]
    for _ in range(rng.randint(1, 6)):
        at = rng.choice(free)
        kind = rng.choice(("external",) * 5 + ("shaft", "chain", "pump"))
        if kind == "pump":  # its rotor stands on a shaft, inside a ring that is not round the shaft
            rotor = add(at, rng.randint(6, 12), "shaft")
            add(rotor, teeth[rotor] + 1, "internal")
        else:
            free.append(add(at, rng.randint(24, 84), kind))
        if sum(f"g{at}" in mesh.values() for mesh in meshes) >= 3:
            free.remove(at)
    gears = [{"id": f"g{place}", "name": f"gear {place}", "teeth": count} for place, count in enumerate(teeth)]
    end = rng.choice(("front", "flywheel"))
    return {"draw": "gear-train", "seen_from": end, "gears": gears, "meshes": meshes, "to_turn": rng.random() < 0.5}


def apart(one: layout.Place, two: layout.Place) -> float:
    return math.hypot(one.x - two.x, one.y - two.y)


@pytest.mark.parametrize("number", range(COUNT))
def test_what_meshes_touches_and_nothing_else_does(number: int) -> None:
    data = drawn_train(number)
    figure = TrainFigure.model_validate(data, strict=False)
    places = layout.laid_out(figure)
    on_shaft = {name: name for name in places}
    for mesh in data["meshes"]:
        one, two = places[mesh["driver"]], places[mesh["driven"]]
        if mesh["kind"] == "external":
            assert apart(one, two) == pytest.approx(one.radius + two.radius)
        elif mesh["kind"] == "internal":
            assert apart(one, two) == pytest.approx(abs(one.radius - two.radius))
            assert max(one, two, key=lambda place: place.radius).ring
        elif mesh["kind"] == "chain":
            assert apart(one, two) > one.radius + two.radius + 2 * shafts.MODULE
        else:
            assert apart(one, two) == 0
            assert one.level != two.level
            old, new = on_shaft[mesh["driven"]], on_shaft[mesh["driver"]]
            on_shaft = {name: new if shaft == old else shaft for name, shaft in on_shaft.items()}
        if mesh["kind"] != "shaft":
            assert one.level == two.level
    joined = {frozenset((mesh["driver"], mesh["driven"])) for mesh in data["meshes"]}
    for (name, one), (other, two) in combinations(places.items(), 2):
        if frozenset((name, other)) in joined or on_shaft[name] == on_shaft[other] or one.level != two.level:
            continue
        reach = sum(shafts.outer(place.radius, ring=place.ring) for place in (one, two))
        assert apart(one, two) - reach >= shafts.APART - 1e-9, (name, other)


@pytest.mark.parametrize("number", range(COUNT))
def test_the_numbers_stand_clear_of_each_other_and_of_every_mark(number: int) -> None:
    data = drawn_train(number)
    picture = figures.draw(data)
    root = ET.fromstring(picture)  # noqa: S314  # a picture made here
    wide, high = (float(root.get(side, "nan")) for side in ("width", "height"))
    backs = [
        (
            float(each.get("x", "nan")),
            float(each.get("y", "nan")),
            float(each.get("width", "nan")),
            float(each.get("height", "nan")),
        )
        for each in root.findall(f"{SVG}rect[@class='back']")
    ]
    assert len(backs) == len(data["gears"])
    for x, y, width, height in backs:
        assert 0 <= x <= x + width <= wide
        assert 0 <= y <= y + height <= high
    for (x, y, width, height), (a, b, further, taller) in combinations(backs, 2):
        assert x + width <= a or a + further <= x or y + height <= b or b + taller <= y


def test_of_two_gears_on_a_shaft_both_are_seen() -> None:
    for number in range(COUNT):
        places = layout.laid_out(TrainFigure.model_validate(data := drawn_train(number), strict=False))
        for mesh in data["meshes"]:
            if mesh["kind"] == "shaft":
                near, far = sorted((places[mesh["driver"]], places[mesh["driven"]]), key=lambda place: -place.level)
                assert near.radius <= far.radius


def test_gears_that_close_a_circle_all_touch() -> None:
    teeth = (40, 30, 50, 35)
    joints = tuple(shafts.Joint(one, other, "external") for one, other in ((0, 1), (1, 2), (2, 3), (3, 0)))
    spots = shafts.placed(teeth, joints)
    for joint in joints:
        assert math.dist(spots[joint.one], spots[joint.other]) == pytest.approx(teeth[joint.one] + teeth[joint.other])
    assert all(math.dist(one, other) > 1 for one, other in pairwise(spots))
