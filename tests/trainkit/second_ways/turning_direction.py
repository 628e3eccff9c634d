"""Second ways to the items of *turning direction*.

Directions and speeds come from the raw tables of the pack, solved as linear equations (``linear_train``); clock
positions are complex numbers that are turned and mirrored.
"""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Hashable
from itertools import pairwise
from typing import Any

from tests.outside.linear_train import TOOL, Train, flip, sense, sign
from tests.trainkit.second_ways import Sorts, Way
from tests.trainkit.second_ways.reading import given, holds, said, texts, values
from trainkit.items.kinds import (
    ChoiceItem,
    ChoiceKey,
    Item,
    Key,
    NumberItem,
    NumberKey,
    PointItem,
    PointKey,
    SetItem,
    SetKey,
    SeveralItem,
    SeveralKey,
)
from trainkit.items.marking import mark

KINDS = {
    "outside teeth": "external",
    "teeth inside a ring": "internal",
    "a chain": "chain",
    "a toothed belt": "belt",
    "on one shaft": "shaft",
}
EXAMPLE = "example for this question only"


def as_told(item: Item) -> Train:
    """The train as the question tells it, gear by gear and mesh by mesh, solved as linear equations.

    Where no mesh of outside teeth is told, each gear turns the next in the table, with outside teeth if
    nothing is said.
    """
    assert given(item, "Engine").startswith(EXAMPLE)
    rows = [(line.label, line.value) for line in item.given if line.label not in ("Engine", "Barring tool", "Gear")]
    teeth = {each["name"]: each["teeth"] for each in (item.figure or {}).get("gears", ())}
    teeth |= {label: int(value.removesuffix(" teeth")) for label, value in rows if re.fullmatch(r"\d+ teeth", value)}
    told = {tuple(label.split(" and ")): KINDS[value] for label, value in rows if value in KINDS}
    if not item.figure or item.figure["draw"] != "gear-train":
        told = {pair: told.get(pair, "external") for pair in pairwise(teeth)}
    shafts = {other: one for (one, other), kind in told.items() if kind == "shaft"}
    tool = [line.value for line in item.given if line.label == "Barring tool"]
    ring = re.match(r"pinion with (\d+) teeth on the ring gear with (\d+) teeth$", tool[0]) if tool else None
    return Train(
        {
            "gears": [
                {
                    "id": name,
                    "name": name,
                    "teeth": count,
                    "role": "crank" if name == "crank gear" else "drive",
                    "on_shaft": shafts.get(name, name),
                }
                for name, count in teeth.items()
            ],
            "meshes": [
                {"driver": one, "driven": other, "kind": kind} for (one, other), kind in told.items() if kind != "shaft"
            ],
            "barring": {"by": "ring-gear", "ring_teeth": int(ring[2]), "pinion_teeth": int(ring[1])}
            if ring and "crank gear" in teeth
            else {"by": "crank-nose"},
        }
    )


def gear(turned: Train, title: str) -> str:
    """The identifier of a gear by its name, a capital letter or not."""
    known: dict[str, str] = turned.ids
    return known[title] if title in known else known[title[0].lower() + title[1:]]


def counts(text: str) -> tuple[int, int, int]:
    """Sense, changes at meshes and changes for the viewpoint, as an option states them."""
    word, meshes, views = said(r"^(\w+): (\w+) changes? (?:at|between) .+, (\w+) for the viewpoint$", text)
    return sign(word), 0 if meshes == "no" else int(meshes), 0 if views == "none" else int(views)


def shaft_sense(item: Item, key: Key, engine: str) -> None:
    """Solve the train; the right option says sense, changes at meshes and changes for the viewpoint."""
    turned = as_told(item)
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    first, way, stated, last, asked = said(
        r"^The (.+) is turned (\w+), seen from ([\w ]+)\. Which way does the (.+) turn, seen from ([\w ]+)\?",
        item.prompt,
    )
    one, other = gear(turned, first), gear(turned, last)
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


def same_way(item: Item) -> bool:
    """Whether the tool turns as the crank does, seen from one end: two gears that touch from outside do not."""
    assert given(item, "Engine").startswith(EXAMPLE)
    return not given(item, "Barring tool").startswith("pinion with ")


def tool_sense(item: Item, key: Key, engine: str) -> Hashable:
    """Follow the crank to the tool, and walk to where the person stands."""
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    (stands,) = said(r" You stand at ([\w ]+) and face the engine\.", item.prompt)
    same = same_way(item)
    if item.prompt.startswith("In service"):
        way, stated, to = said(
            r"^In service the crank turns (\w+), seen from ([\w ]+)\. It is to be barred \d+° (forward|back)\.",
            item.prompt,
        )
        wanted = sign(way) * (1 if to == "forward" else -1)
    else:
        way, stated = said(r"^The crank is to go \d+° (\w+), seen from ([\w ]+)\.", item.prompt)
        wanted = sign(way)
    assert stands == "the front" or not same  # the crank nose is at the front
    right = wanted * flip(stated, stands) * (1 if same else -1)
    read = {letter: counts(text) for letter, text in texts(item).items()}
    mesh = int(not same)
    views = int(flip(stated, stands) < 0)
    assert read[key.right] == (right, mesh, views)
    assert {(meshes, changes) for _, meshes, changes in read.values()} == {(0, 0), (0, 1), (1, 0), (1, 1)}
    wrong = {key.shows.get(letter, ""): (meshes, changes) for letter, (_, meshes, changes) in read.items()}
    assert wrong["tool-like-engine" if mesh else "socket-as-mesh"] == (1 - mesh, views)
    assert wrong["viewpoint-forgotten" if views else "viewpoint-for-nothing"] == (mesh, 1 - views)
    return item.prompt


def other_end(item: Item, key: Key, engine: str) -> Hashable:
    """Turn over what one end sees."""
    same = same_way(item)
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    at, what, word, who = said(
        r" At ([\w ]+) the (crank|tool) turns \d+° (\w+), as (you|your colleague) sees? it\.", item.prompt
    )
    ends = dict(re.findall(r"(You|A colleague) (?:stand|stands|watch|watches) (?:at|from) (the front|the flywheel end)",
                           item.prompt))  # fmt: skip
    (stands,) = said(r"(?:You stand|A colleague stands) at ([\w ]+), faces? the engine and bars? it\.", item.prompt)
    assert stands == "the front" or not same
    # Whoever sees it stands at that end, and the other one is asked.
    assert ends["You" if who == "you" else "A colleague"] == at
    assert item.prompt.endswith("turn for your colleague?" if who == "you" else "turn for you?")
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
    return item.prompt


def shaft_turn(item: Item, key: Key, engine: str) -> None:
    """Multiply by the speed that the equations give."""
    turned = as_told(item)
    assert isinstance(item, NumberItem)
    assert isinstance(key, NumberKey)
    first, degrees, last = said(
        r"^The (.+) is turned by (\d+)°\. By how many degrees does the (.+) turn\?", item.prompt
    )
    speed = abs(turned.speed(gear(turned, first), gear(turned, last)))
    holds(item, key, int(degrees) * speed, 1)
    found = values(key)
    assert abs(found["inverse-ratio"] - int(degrees) / speed) <= 0.5
    assert found["one-to-one"] == int(degrees)
    if "compound-as-idler" in found:
        teeth = [turned.gears[gear(turned, title)]["teeth"] for title in (first, last)]
        assert abs(found["compound-as-idler"] - int(degrees) * teeth[0] / teeth[1]) <= 0.5
    if "ratio-of-idler" in found:
        # The last mesh alone brings it to the right answer.
        *_, last_mesh = [line for line in key.working if re.search(r"×\s\d+/\d+\.$", line)]
        driver, driven = (int(teeth) for teeth in said(r"×\s(\d+)/(\d+)\.$", last_mesh))
        assert abs(found["ratio-of-idler"] - int(degrees) * speed * driven / driver) <= 0.5


def tool_turns(item: Item, key: Key, engine: str) -> None:
    """Multiply by the speed of the tool that the equations give."""
    assert isinstance(item, NumberItem)
    assert isinstance(key, NumberKey)
    title, degrees = said(r"^The (.+) is to turn by (\d+)°\.", item.prompt)
    turned = as_told(item)
    one = gear(turned, title) if turned.gears else title
    turns = int(degrees) / 360
    if not turned.gears:  # the crank itself is to turn: the tool alone is told
        assert title == "crank gear"
        pinion, ring = said(r"(\d+) teeth .* (\d+) teeth", given(item, "Barring tool"))
        holds(item, key, turns * int(ring) / int(pinion), 0.05)
        return
    crank, bar = abs(turned.speed(one, turned.crank)), abs(turned.speed(turned.crank, TOOL))
    holds(item, key, turns * abs(turned.speed(one, TOOL)), 0.05)
    expected = {
        "inverse-ratio": turns / crank * bar,
        "one-to-one": turns * bar,
        "bar-as-crank": turns * crank,
        "bar-ratio-inverse": turns * crank / bar,
    }
    first, *others = (each["teeth"] for each in turned.gears.values())
    before, last = [first, *others][-2:]
    expected |= {
        "compound-as-idler": turns * first / last * bar,
        "ratio-of-idler": turns * crank * last / before * bar,
    }
    for code, value in values(key).items():
        assert abs(value - expected[code]) <= 0.025


def hand(hours: float) -> complex:
    """A clock position as a point on the unit circle, x to the right and y up."""
    return cmath.rect(1, math.radians(90 - 30 * hours))


def hours(point: complex) -> float:
    return (90 - math.degrees(cmath.phase(point))) / 30 % 12


def clock(text: str) -> float:
    whole, minutes = text.split(":")
    return (int(whole) % 12) + int(minutes) / 60


def other_end_clock(item: Item, key: Key, engine: str) -> None:
    """Mirror a point of the plane left to right."""
    assert isinstance(item, SetItem)
    assert isinstance(key, SetKey)
    at, stated, asked = said(r" stands at (\S+), seen from ([\w ]+)\. .* stand, seen from ([\w ]+)\?", item.prompt)
    assert flip(stated, asked) == -1
    here = hand(clock(at))
    holds(item, key, hours(complex(-here.real, here.imag)), 1 / 12)
    expected = {
        "viewpoint-forgotten": here,
        "mirrored-top-to-bottom": complex(here.real, -here.imag),
        "turned-half-round": -here,
    }
    for code, value in values(key).items():
        assert abs(hand(value) - expected[code]) < 1e-9


def mark_after_turning(item: Item, key: Key, engine: str) -> Hashable:
    """Turn a point of the plane."""
    assert isinstance(item, SetItem)
    assert isinstance(key, SetKey)
    title, at, what, degrees, way = said(
        r"^A [^.]+? on the (.+) stands at (\S+)\. (This gear|The .+) is turned (\d+)° (\w+)\.", item.prompt
    )
    turn, speed, own = sign(way) * int(degrees), 1.0, what == "This gear"
    if not own:
        turned = as_told(item)
        speed = turned.speed(gear(turned, what.removeprefix("The ")), gear(turned, title))

    def after(angle: float, start: complex = hand(clock(at))) -> complex:
        return start * cmath.exp(-1j * math.radians(angle))

    holds(item, key, hours(after(turn * speed)), 1 / 12)
    expected = {
        "clock-backwards": after(-turn),
        "mesh-too-few": after(-turn * speed),
        "inverse-ratio": after(turn / speed),
        "one-to-one": after(math.copysign(turn, turn * speed)),
        "hour-as-sixty-degrees": after(turn * speed / 2),
    }
    for code, value in values(key).items():
        assert abs(hand(value) - expected[code]) < 0.03
    return own


def turn_alike(item: Item, key: Key, engine: str) -> None:
    """Take the gears whose speed has the sign of one; each wrong belief is tried on all of them."""
    turned = as_told(item)
    assert isinstance(item, SeveralItem)
    assert isinstance(key, SeveralKey)
    (title,) = said(r"turn the same way as the (.+)\? There", item.prompt)
    one = gear(turned, title)
    shown = {letter: gear(turned, text) for letter, text in texts(item).items()}
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


def gear_on_picture(item: Item, key: Key, engine: str) -> None:
    """Sort the speeds of one sign."""
    turned = as_told(item)
    assert isinstance(item, PointItem)
    assert isinstance(key, PointKey)
    title, way, wanted, extreme = said(
        r"^The (.+) is turned (\w+), seen .* turns (\w+), and (fastest|slowest) of", item.prompt
    )
    one = gear(turned, title)
    shown = {letter: gear(turned, text) for letter, text in texts(item).items()}
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
            if (code == "mesh-too-few" and kind in turned.kinds(one, shown[letter]))
            or (code != "mesh-too-few" and turned.kinds(one, shown[letter]).count(kind) % 2)
            else speed
            for letter, speed in speeds.items()
        }
        assert letters == extremes(believed, best)


WAYS: dict[str, Way] = {
    "turning-direction/shaft-sense": shaft_sense,
    "turning-direction/tool-sense": tool_sense,
    "turning-direction/other-end": other_end,
    "turning-direction/shaft-turn": shaft_turn,
    "turning-direction/tool-turns": tool_turns,
    "turning-direction/other-end-clock": other_end_clock,
    "turning-direction/mark-after-turning": mark_after_turning,
    "turning-direction/turn-alike": turn_alike,
    "turning-direction/gear-on-picture": gear_on_picture,
}


SORTS: dict[str, Sorts] = {
    "turning-direction/tool-sense": lambda seen, _: len(seen) >= 20,
    "turning-direction/other-end": lambda seen, _: len(seen) >= 20,
    "turning-direction/mark-after-turning": lambda seen, _: seen == {True, False},
}
