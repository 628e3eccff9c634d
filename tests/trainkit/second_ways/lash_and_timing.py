"""Second ways to the items of *lash and timing*.

Flanks touch as points in a plane; an event is found by turning a crank until shaft and housing stand as they must;
dead centres are found by going on degree by degree. Speeds come from the raw tables of the pack, solved as linear
equations (``linear_train``).
"""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Hashable
from fractions import Fraction

from tests.outside.linear_train import flip, raw, sign, train
from tests.trainkit.second_ways import Sorts, Way
from tests.trainkit.second_ways.reading import answered, by_code, given, holds, said, texts, values
from tests.trainkit.second_ways.turning_direction import EXAMPLE, as_told
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
    """Find the flank in the plane; a gear that drives meets the other where that one would meet it."""
    turned = as_told(item)
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    told, way, stated, driver, driven, held, loose, asked = said(
        r"^In service the (.+) turns (\w+), seen from ([\w ]+)\. The (.+) drives the (.+)\. The (.+) is held, "
        r"the (.+) is loose\. How do you turn the .+, seen from ([\w ]+), to take up",
        item.prompt,
    )
    assert {held, loose} == {driver, driven}
    assert turned.kinds(driver, driven) == ["external"]
    drive = round(math.copysign(1, sign(way) * turned.speed(told, loose))) * flip(stated, asked)
    right = back_to_the_flank(drive) if loose == driven else -back_to_the_flank(drive)
    free = dict(zip((1, -1), map(float, re.findall(r"([\d.]+)\u2009mm", given(item, FREE))), strict=True))
    more = float(said(r"^([\d.]+)\u2009mm more$", given(item, "Forced, it gives"))[0])
    read = {letter: said(r"^(\w+), by ([\d.]+)\u2009mm$", text) for letter, text in texts(item).items()}
    ways = {letter: (sign(turn), round(float(by), 2)) for letter, (turn, by) in read.items()}
    assert ways[key.right] == (right, free[right])
    wrong = {code: ways[letter] for letter, code in key.shows.items()}
    assert wrong["taken-up-with-drive" if loose == driven else "driver-drawn-back"] == (-right, free[-right])
    assert wrong.get("heaved", (right, round(free[right] + more, 2))) == (right, round(free[right] + more, 2))
    assert 0 < wrong.get("lash-left-over", (right, free[right] / 2))[1] < free[right]
    assert len(set(ways.values())) == 6
    assert sum(turn == right for turn, _ in ways.values()) == 3
    return (loose == driven, stated == asked)


FREE = "Free way of the loose gear, at its pitch circle"


def event(gear: float, shaft: float, housing: float) -> float:
    """Crank degrees too early, found by turning the crank until shaft and housing stand as they must.

    The joints are closed with gear, shaft and housing so many degrees of the shaft ahead of their places; the shaft
    turns once in two turns of the crank.
    """
    offset = shaft - gear

    def apart(crank: float) -> float:
        return crank / 2 + offset - housing

    low, high = -180.0, 180.0
    assert apart(low) < 0 < apart(high)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if apart(middle) < 0 else (low, middle)
    return -(low + high) / 2


def at_half_speed(item: Item, title: str) -> float:
    """The pitch radius that is told of a gear, if it is; the gear turns once in two turns of the crank."""
    turned = as_told(item)
    assert round(turned.speed("crank gear", title) ** 2, 9) == 0.25
    radius = [line.value for line in item.given if line.label == f"Pitch radius of the {title}"]
    return length(radius[0]) if radius else math.nan


def shift(text: str) -> float:
    """What an option says: degrees early, negative for late."""
    if text == "The timing does not change":
        return 0.0
    degrees, effect = said(r"^([\d.]+)° (early \(advance\)|late \(retard\))$", text)
    return float(degrees) * (1 if effect.startswith("early") else -1)


def arc(along: float, radius: float) -> float:
    """Degrees of a way along a circle, off the argument of a complex number."""
    return math.degrees(cmath.phase(cmath.exp(1j * along / radius)))


def agree(text: str, exact: float) -> bool:
    return abs(shift(text) - exact) <= 0.0051


def five_answers(item: ChoiceItem, crank: float) -> None:
    """Assert that early and late, of crank and of shaft, and no change are offered, each once."""
    sizes = sorted(abs(shift(text)) for text in texts(item).values())
    assert len({shift(text) for text in texts(item).values()}) == 5
    for found, exact in zip(sizes, (0, crank / 2, crank / 2, crank, crank), strict=True):
        assert abs(found - exact) <= 0.0051


def wind_up(item: Item, key: Key, engine: str) -> Hashable:
    """Let go, and turn the crank until the event comes."""
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    title, asked = said(r"[Tt]he (.+? gear) was (?:pressed|turned).* in degrees of the (crank|shaft)\?$", item.prompt)
    radius = at_half_speed(item, title)
    turned = arc(length(given(item, "Way along the pitch circle")), radius)
    how = "pressed" if "clamped while pressed" in item.prompt else "short" if "before its" in item.prompt else "let go"
    stands = {"pressed": -turned, "short": turned, "let go": 0.0}[how]
    share = 1 if asked == "crank" else 0.5
    exact = event(stands, 0, 0)
    assert agree(texts(item)[key.right], exact * share)
    five_answers(item, 2 * turned)
    wrong = {code: shift(text) / share for code, text in by_code(key, item).items()}
    expected = {
        "wind-up-as-lash": -exact,
        "lash-as-wind-up": -exact,
        "gear-for-crank-degrees": exact / 2,
        "crank-for-gear-degrees": exact * 2,
        "heaved": 0.0,
        "lash-left-over": 0.0,
        "force-let-go-counts": event(-turned, 0, 0),
    }
    assert all(abs(found - expected[code]) < 0.011 for code, found in wrong.items())
    assert len(wrong) == (1 if how == "let go" else 3)
    return (how, asked)


def early_or_late(item: Item, key: Key, engine: str) -> Hashable:
    """Turn the crank until the event comes."""
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    name, drive, what, moved, way, asked = said(
        r"^In service the shaft of the (.+) turns (\w+)\. With the joint loose, the (.+) was moved ([\d.]+)\u2009mm "
        r"(\w+)\. Both .* in degrees of the (crank|shaft)\?$",
        item.prompt,
    )
    at_half_speed(item, name)
    ahead = arc(float(moved), length(given(item, "Measured along a circle of radius"))) * sign(way) * sign(drive)
    # Whatever the gear did itself is put back when the lash is taken up.
    exact = {
        "shaft in its gear": event(0, ahead, 0),
        "gear on its shaft": 0.0,
        "housing about its shaft": event(0, 0, ahead),
        "housing with shaft and gear": 0.0,
    }[what]
    assert ("fixed to its shaft" in given(item, "Taken for this question")) == ("housing" in what)
    share = 1 if asked == "crank" else 0.5
    assert agree(texts(item)[key.right], exact * share)
    five_answers(item, 2 * abs(ahead))
    wrong = {code: shift(text) / share for code, text in by_code(key, item).items()}
    expected = {
        "housing-for-shaft": -exact,
        "gear-for-crank-degrees": exact / 2,
        "crank-for-gear-degrees": exact * 2,
        "no-movement-matters": 0.0,
        "any-movement-ruins": event(0, 0, ahead) if "housing" in what else event(0, ahead, 0),
    }
    assert all(abs(found - expected[code]) < 0.011 for code, found in wrong.items())
    assert len(wrong) == (3 if exact else 1)
    return what


def harmless_movement(item: Item, key: Key, engine: str) -> Hashable:
    """Move the parts as each statement says, and turn the crank until the event comes."""
    assert isinstance(item, SeveralItem)
    assert isinstance(key, SeveralKey)
    fixed = "the gear is fixed to its shaft" in given(item, "Taken for this question")
    again = "taken up again" in given(item, "After each movement")
    right = set()
    for letter, text in texts(item).items():
        at = {"gear": 0.0, "shaft": 0.0, "housing": 0.0}
        subject = ""
        for part in text.lower().split(", then "):
            found = re.fullmatch(r"(.*?) ?(?:moved )?([\d.]+)\u2009mm (forward|back)", part)
            assert found is not None, part
            subject = found[1] or subject
            for each in at:
                if each in subject or (each == "gear" and fixed and "shaft" in subject):
                    at[each] += float(found[2]) * (1 if found[3] == "forward" else -1)
            assert at["gear"] > -1e-9  # it rests on a tooth
        if again:
            # The loose gear goes back alone; a fixed one takes along the shaft, and by its lock the housing.
            back = at["gear"]
            for each in at if fixed else ("gear",):
                at[each] -= back
        early = event(at["gear"], at["shaft"], at["housing"])
        if abs(early) < 1e-9:
            right.add(letter)
        else:
            assert ("early" if early > 0 else "late") in key.reasons[letter]
    assert right == set(key.right)
    assert 0 < len(right) < len(texts(item)) - 1
    nothing: list[str] = []
    everything = sorted(texts(item))
    for taken, code in ((everything, "no-movement-matters"), (nothing, "any-movement-ruins")):
        found_mark = mark(item, key, {"kind": "several", "options": taken})
        assert (found_mark.points, found_mark.misconception) == (0.0, code)
    return (fixed, again)


def moved_degrees(item: Item, key: Key, engine: str) -> None:
    """Take the argument of a complex number, and carry it to the crank."""
    assert isinstance(item, NumberItem)
    assert isinstance(key, NumberKey)
    moved, radius = length(given(item, "Moved")), length(given(item, "Radius of the circle of screws"))
    (title,) = said(r"^The (.+) was moved on its shaft", item.prompt)
    pitch, per_shaft = at_half_speed(item, title), 2
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
    turned = as_told(item)
    assert isinstance(item, NumberItem)
    assert isinstance(key, NumberKey)
    held, name = said(r"^The (.+) is held\. .* pitch circle of the (.+) shows", item.prompt)
    radius, other = (length(given(item, f"Pitch radius of the {title}")) for title in (name, held))
    lash = length(given(item, "Lash"))
    speed = abs(turned.speed(turned.crank, name))
    # All teeth of one train are alike: the module follows, and with it lash that may be met.
    module = 2 * radius / turned.gears[name]["teeth"]
    least = 2 / 3 * (0.06 + 0.0005 * (radius + other) + 0.03 * module)
    assert least / 2 - 0.006 <= lash <= min(3 * least, module / 4) + 0.001
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


def dead_centres(firing_order: list[int]) -> dict[tuple[int, str], Fraction]:
    """The crank degree, in 720, of every dead centre: one cylinder after the other fires."""
    step = Fraction(720, len(firing_order))
    return {
        (cylinder, on): (at * step + (0 if on == "compression" else 360)) % 720
        for at, cylinder in enumerate(firing_order)
        for on in ("compression", "exhaust")
    }


def on_to(start: Fraction, goal: Fraction) -> Fraction:
    """Degrees forward, counted one fifth after the other."""
    degrees = Fraction(0)
    while (start + degrees) % 720 != goal:
        degrees += Fraction(1, 5)
    return degrees


def which_cylinder(item: Item, key: Key, engine: str) -> Hashable:
    """Look up the crank degrees of all dead centres."""
    order = [int(each) for each in given(item, "Firing order").split("-")]
    assert given(item, "Engine") == f"{EXAMPLE}: evenly firing"
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    cylinder, on, degrees, way, asked = said(
        r"^Cylinder (\d+) stands at top dead centre on (\w+)\. The crank is barred ([\d.]+)° (forward|back)\. "
        r"Which cylinder then stands at top dead centre on (\w+)\?$",
        item.prompt,
    )
    turn = Fraction(degrees) * (1 if way == "forward" else -1)

    def found(by: Fraction, to: str, firing: list[int] = order, known: tuple[int, str] = (int(cylinder), on)) -> str:
        centres = dead_centres(firing)
        (one,) = [one for one, where in centres if where == to and centres[one, to] == (centres[known] + by) % 720]
        return f"Cylinder {one}"

    assert texts(item)[key.right] == found(turn, asked)
    expected = {
        "numbered-order": lambda: found(turn, asked, sorted(order)),
        "forward-for-back": lambda: found(-turn, asked),
        "exhaust-for-compression": lambda: found(turn, "exhaust"),
        "cam-for-crank": lambda: found(2 * turn, asked),
    }
    wrong = by_code(key, item)
    assert {code: expected[code]() for code in wrong} == wrong
    assert len(wrong) >= 2
    assert ("forward-for-back" in wrong) <= (way == "back")
    return (on, way, asked)


def key_at_dead_centre(item: Item, key: Key, engine: str) -> None:
    """Go on degree by degree, and turn a point of the plane."""
    order = [int(each) for each in given(item, "Firing order").split("-")]
    assert given(item, "Engine") == f"{EXAMPLE}: evenly firing"
    assert isinstance(item, SetItem)
    assert isinstance(key, SetKey)
    past, after, title, start, on, cylinder, seen = said(
        r"^The crank stands ([\d.]+)° past the compression dead centre of cylinder (\d+)\. The key of the (.+) "
        r"points to (\S+)\. The engine is barred forward to the next (\w+) dead centre of cylinder (\d+)\. .* "
        r"All of it is seen from ([\w ]+)\.",
        item.prompt,
    )
    turns = given(item, f"The {title} turns, barred forward")
    assert turns.endswith(f", seen from {seen}")
    sense, speed = sign(turns.partition(",")[0]), 0.5
    whole, minutes = start.split(":")

    def stands(degrees: float, way: int = sense, at: float = int(whole) % 12 * 30 + int(minutes) / 2) -> complex:
        return cmath.rect(1, math.radians(90 - at)) * cmath.exp(-1j * way * math.radians(degrees))

    def hours(point: complex) -> float:
        return (90 - math.degrees(cmath.phase(point))) / 30 % 12

    def to_go(
        to: str,
        firing: list[int] = order,
        here: tuple[int, Fraction] = (int(after), Fraction(past)),
        goal: int = int(cylinder),
    ) -> Fraction:
        centres = dead_centres(firing)
        return on_to((centres[here[0], "compression"] + here[1]) % 720, centres[goal, to])

    crank = to_go(on)
    holds(item, key, hours(stands(crank * speed)), 1 / 12)
    expected = {
        "cam-for-crank": stands(float(crank)),
        "clock-backwards": stands(crank * speed, -sense),
        "numbered-order": stands(to_go(on, sorted(order)) * speed),
        "exhaust-for-compression": stands(to_go("exhaust") * speed),
    }
    for code, value in values(key).items():
        assert abs(cmath.rect(1, math.radians(90 - 30 * value)) - expected[code]) < 0.03
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


SORTS: dict[str, Sorts] = {
    "lash-and-timing/take-up": lambda seen, _: len(seen) == 4,
    "lash-and-timing/wind-up": lambda seen, _: len(seen) == 6,
    "lash-and-timing/early-or-late": lambda seen, _: len(seen) == 4,
    "lash-and-timing/harmless-movement": lambda seen, _: len(seen) == 4,
    "lash-and-timing/which-cylinder": lambda seen, _: len(seen) == 8,
}
