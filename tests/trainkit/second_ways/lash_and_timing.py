"""Second ways to the items of *lash and timing*.

Flanks touch as points in a plane; an event is found by turning a crank until shaft and housing stand as they must;
dead centres are found by going on degree by degree. Speeds come from the raw tables of the pack, solved as linear
equations (``linear_train``).
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Hashable
from typing import Any

from tests.outside.linear_train import flip, raw, sign, train
from tests.trainkit.second_ways import Sorts, Way
from tests.trainkit.second_ways.reading import answered, by_code, given, holds, said, texts, values
from trainkit.items.kinds import (
    ChoiceItem,
    ChoiceKey,
    Item,
    Key,
    NumberItem,
    NumberKey,
    SetItem,
    SetKey,
    SeveralItem,
    SeveralKey,
)
from trainkit.items.marking import mark


def length(text: str) -> float:
    return float(text.removesuffix("\u2009mm"))


def in_service(engine: str, gear: str, seen_from: str) -> int:
    """The sense of a gear when the engine runs, +1 clockwise."""
    tables, turned = raw(engine), train(engine)
    crank = sign(tables["engine"]["rotation"]) * flip(tables["engine"]["seen_from"], seen_from)
    return crank * round(math.copysign(1, turned.speed(turned.crank, gear)))


def component(engine: str) -> dict[str, Any]:
    tables = raw(engine)
    gears: list[dict[str, Any]] = tables["gears"]
    (found,) = [each for each in gears if each["id"] == tables["lock_pin"]["component"]]
    return found


def crank_per_shaft(engine: str) -> float:
    turned = train(engine)
    return abs(turned.speed(component(engine)["id"], turned.crank))


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


def take_up(item: Item, key: Key, engine: str) -> Hashable:
    """Find the flank in the plane."""
    turned = train(engine)
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
    return (gear, stated, asked)


def word(sense: int) -> str:
    return "Clockwise" if sense > 0 else "Anticlockwise"


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


def wind_up(item: Item, key: Key, engine: str) -> None:
    """Let go, and turn the crank until the event comes."""
    gear = component(engine)
    radius = gear["module_mm"] * gear["teeth"] / 2
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


def early_or_late(item: Item, key: Key, engine: str) -> Hashable:
    """Turn the crank until the event comes."""
    gear = component(engine)
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
    assert agree(wrong["doubled-twice"], 2 * ways[shaft])
    assert len({shift(text) for text in texts(item).values()}) == 6
    return shaft


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


def harmless_movement(item: Item, key: Key, engine: str) -> Hashable:
    """Move the parts as each statement says, and turn the crank until the event comes."""
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
    assert right == set(key.right)
    assert 0 < len(right) < len(texts(item)) - 1
    nothing: list[str] = []
    everything = sorted(texts(item))
    for taken, code in ((everything, "no-movement-matters"), (nothing, "any-movement-ruins")):
        found = mark(item, key, {"kind": "several", "options": taken})
        assert (found.points, found.misconception) == (0.0, code)
    return frozenset(texts(item).values())


def moved_degrees(item: Item, key: Key, engine: str) -> None:
    """Take the argument of a complex number, and carry it to the crank."""
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


def lash_degrees(item: Item, key: Key, engine: str) -> None:
    """Take the argument of a complex number, and carry it to the crank."""
    turned = train(engine)
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
        "millimetre-as-degree": lash / speed,
    }
    half = abs(speed - 0.5) < 1e-9
    assert ("doubled-twice" in values(key), "doubled-regardless" in values(key)) == (half, not half)
    for code, value in values(key).items():
        assert abs(value - expected[code]) <= 0.005


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


def which_cylinder(item: Item, key: Key, engine: str) -> Hashable:
    """Look up the crank degrees of all dead centres."""
    order = raw(engine)["engine"]["firing_order"]
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
    return (on, way, asked)


def key_at_dead_centre(item: Item, key: Key, engine: str) -> None:
    """Go on degree by degree, and turn a point of the plane."""
    tables, turned = raw(engine), train(engine)
    order = tables["engine"]["firing_order"]
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
    assert given(item, f"The {title} turns, barred forward").startswith("clockwise," if sense > 0 else "anticlockwise,")
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


WAYS: dict[str, Way] = {
    "lash-and-timing/take-up": take_up,
    "lash-and-timing/wind-up": wind_up,
    "lash-and-timing/early-or-late": early_or_late,
    "lash-and-timing/harmless-movement": harmless_movement,
    "lash-and-timing/moved-degrees": moved_degrees,
    "lash-and-timing/lash-degrees": lash_degrees,
    "lash-and-timing/which-cylinder": which_cylinder,
    "lash-and-timing/key-at-dead-centre": key_at_dead_centre,
}


def _is_component(engine: str) -> bool:
    return bool(component(engine)["role"] == "component")


SORTS: dict[str, Sorts] = {
    "lash-and-timing/take-up": lambda seen, engine: (
        len(seen) == 4 * sum(mesh.get("kind", "external") == "external" for mesh in raw(engine)["meshes"])
    ),
    "lash-and-timing/early-or-late": lambda seen, engine: seen == ({True, False} if _is_component(engine) else {True}),
    "lash-and-timing/harmless-movement": lambda seen, engine: (
        len(frozenset().union(*seen)) == (13 if _is_component(engine) else 7)
    ),
    "lash-and-timing/which-cylinder": lambda seen, _: len(seen) == 8,
}
