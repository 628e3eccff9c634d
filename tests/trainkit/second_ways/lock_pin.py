"""Second ways to the items at the lock pin.

Numbers are worked out again from the words of the item and the meshes of the file, or played out on the model of the
bench; what is safe is found by plain breadth-first search, without the model's own.
"""

from __future__ import annotations

import math
import re
from collections import deque
from collections.abc import Hashable
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise
from typing import Any

import pytest

from tests.trainkit.second_ways import Sorts, Way
from tests.trainkit.second_ways.reading import given, pack
from tests.trainkit.second_ways.turning_direction import EXAMPLE
from trainkit import lockpin
from trainkit.items import lock_pin_scenario
from trainkit.items.kinds import ActionsItem, ActionsKey, ChoiceItem, ChoiceKey, Item, Key, NumberKey
from trainkit.items.lock_pin.bench import Bench, bench
from trainkit.lockpin import Action, Consequence, Setup, State
from trainkit.quantities import THIN

A = Action


def number_of(text: str) -> Fraction:
    """Return the number that a text begins with."""
    found = re.match(r"-?\d+(\.\d+)?", text)
    assert found is not None, text
    return Fraction(found[0])


def clock_degrees(text: str) -> Fraction:
    """Return a clock position in degrees from twelve."""
    hours, minutes = map(int, text.split(":"))
    return Fraction(hours % 12 * 60 + minutes, 2)


@cache
def turns_per_crank(engine: str, gear: str) -> Fraction:
    """Return turns of a gear for one crank turn, without regard to sense, by walking the meshes of the file."""
    tables = pack(engine)
    teeth = {each.id: each.teeth for each in tables.gears}
    shaft = {each.id: each.on_shaft or each.id for each in tables.gears}
    crank = next(each.id for each in tables.gears if each.role == "crank")
    found = {crank: Fraction(1)}
    while gear not in found:
        for mesh in tables.meshes:
            for here, there in ((mesh.driver, mesh.driven), (mesh.driven, mesh.driver)):
                if here in found and there not in found:
                    found[there] = found[here] * Fraction(teeth[here], teeth[there])
        for one in teeth:
            for other in teeth:
                if shaft[one] == shaft[other] and one in found:
                    found.setdefault(other, found[one])
    return found[gear]


def way_back_in_crank_degrees(engine: str, item: Item) -> Fraction:
    """Add up the arcs: going back, the mark passes seat and press mark on its way to the back-off mark."""
    table = pack(engine).lock_pin_table
    return _arcs(item) / (Fraction(1) if table.watched == "flywheel" else turns_per_crank(engine, table.watched))


def way_back_as_told(item: Item) -> Fraction:
    """Add them up on an engine whose pace the item tells."""
    return _arcs(item) / Fraction(given(item, "One crank turn turns this gear").split()[0])


def _arcs(item: Item) -> Fraction:
    labels = ("The mark stands now", "Give up", "Pin seats", "Press from", "Back off to")
    stops = [clock_degrees(given(item, label)) for label in labels]
    return sum((min((a - b) % 360, (b - a) % 360) for a, b in pairwise(stops)), Fraction(0))


def agrees(key: Key, value: float | Fraction) -> None:
    """Assert that a number is the answer."""
    assert isinstance(key, NumberKey)
    assert math.isclose(float(value), key.answer, abs_tol=1e-9)


def how_far_back(item: Item, key: Key, engine: str) -> Hashable:
    """Add up the arcs between the marks."""
    agrees(key, way_back_as_told(item))
    assert item.figure is not None
    assert item.figure["hand"] == given(item, "The mark stands now")
    return given(item, "The mark stands now")


def turns_of_the_bar(item: Item, key: Key, engine: str) -> Hashable:
    """Count the teeth of the ring gear that go by; the pinion turns by as many."""
    teeth_moved = way_back_as_told(item) / 360 * number_of(given(item, "Ring gear"))
    agrees(key, teeth_moved / number_of(given(item, "Barring pinion")))
    return given(item, "The mark stands now")


def told_setup(item: Item, **more: Any) -> Setup:
    """Return a setup with the lash of the item; pin and component are traced back to the crank mesh by mesh."""
    rows = {line.label: line.value for line in item.given}
    teeth = {label: int(value.removesuffix(" teeth")) for label, value in rows.items() if value.endswith(" teeth")}
    driver: dict[str, tuple[str, Fraction]] = {}
    for label, value in rows.items():
        if found := re.fullmatch(r"Lash (.+) to (.+)", label):
            assert value.endswith(f"degrees of the {found[2]}")
            driver[found[2]] = (found[1], Fraction(value.partition(THIN)[0]))

    def back_to_crank(gear: str) -> Fraction:
        total = Fraction(0)
        while gear in driver:
            before, lash = driver[gear]
            # What the gear turns, the crank turns as many times more as it has fewer teeth; idlers cancel out.
            total += lash * Fraction(teeth[gear], teeth["crank gear"])
            gear = before
        assert gear == "crank gear"
        return total

    hole = rows["Hole for the pin"].removeprefix("in the ")
    pin = Fraction(0) if hole == "flywheel, on the crank" else back_to_crank(hole)
    return Setup(lash_to_pin=pin, lash_to_component=back_to_crank(rows["Component"]), lash_shared=Fraction(0), **more)


def error_after_turning_back(item: Item, key: Key, engine: str) -> Hashable:
    """Play it out on the bench."""
    setup = told_setup(item, press_from=10, give_up=10, back_off=40, nudge=4)
    state = State.start(setup, before=-8)
    for action in (A.PRESS, A.BACK, A.BACK, A.BACK):
        state, _ = lockpin.step(state, action)
        if state.pin.in_a_hole:
            break
    assert isinstance(key, NumberKey)
    assert abs(float(state.timing_error) - key.answer) < 0.001
    assert ("late" in key.shown) is (key.answer > 0)
    return key.answer > 0


def least_back_off(item: Item, key: Key, engine: str) -> Hashable:
    """Play it out on the bench: a hair more, and the component rests on its flank; a hair less, and it does not."""
    assert isinstance(key, NumberKey)
    press = number_of(given(item, "Begin to press"))
    # Rounded up to a tenth: a tenth less leaves lash.
    assert round(key.answer * 10) == pytest.approx(key.answer * 10)
    # Whatever is taken for right covers the lash, and little more is taken than that.
    least = key.answer - key.tolerance
    assert key.tolerance < 0.05
    for back_off, rests in ((key.answer + 0.002, True), (least + 0.002, True), (least - 0.002, False)):
        setup = told_setup(item, press_from=press, give_up=10, back_off=back_off, marks_on="bar", right_every=720)
        state = State.start(setup, before=-20)
        for action in (A.BACK_OFF, A.ON_TO_PRESS):
            state, _ = lockpin.step(state, action)
        assert (state.flank == "driving") is rests
    return press


def which_dead_centre(item: Item, key: Key, engine: str) -> Hashable:
    """Work out the phase of each cylinder by its place in the firing order."""
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    rows = {line.label: line.value for line in item.given}
    order = tuple(int(cylinder) for cylinder in rows["Firing order"].split("-"))
    assert sorted(order) == list(range(1, len(order) + 1))
    assert rows["Engine"] == EXAMPLE
    asked = re.search(r"Cylinder (\d+) .* barred on by (\S+)\u2009", item.prompt)
    assert asked is not None
    cylinder, angle = int(asked[1]), number_of(asked[2])
    true = []
    for option in item.options:
        found = re.match(r"Cylinder (\d+) stands at top dead centre on (\w+)", option.text)
        assert found is not None
        lag = (order.index(int(found[1])) - order.index(cylinder)) * Fraction(720, len(order))
        if (angle - lag) % 720 == {"compression": 0, "exhaust": 360}[found[2]]:
            true.append(option.id)
    assert true == [key.right]
    return "on exhaust" in next(option.text for option in item.options if option.id == key.right)


Part = tuple[Action, str]


def phrases(told: Bench) -> dict[str, tuple[Part, ...]]:
    """Return every phrase that an option or a record can hold, and what it stands for."""
    name = told.component
    found = {text.lower(): ((action, ""),) for action, text in lockpin.ACTIONS.items()}
    forward = ((A.ON_TO_PRESS, ""), (A.PRESS, ""), (A.ON, "in"))
    fitted = (A.FIT_BAR, "if it is off")
    let_go = ((A.LET_GO, "if it is pressed"), fitted)
    drawn = ((A.BAR_OFF, "if it is on"), (A.PIN_OUT, "if it is in"), *let_go)
    return found | {
        f"look at the valves of cylinder {told.setup.cylinder}": ((A.CHECK, ""),),
        "look whether the marked tooth agrees": ((A.CHECK, ""),),
        f"call it pinned and set the {name}": ((A.DECLARE, ""),),
        f"tighten the {name} to its torque": ((A.TIGHTEN, ""),),
        "bar on a little at a time until the pin goes in": (fitted, (A.ON, "in")),
        "hold the pin pressed and bar on a little at a time until it goes in": (
            (A.PRESS, "if it is out"),
            fitted,
            (A.ON, "in"),
        ),
        "bar on past the hole with the pin out, press, and bar back until the pin goes in": (
            *drawn,
            (A.ON, "past"),
            (A.PRESS, ""),
            (A.BACK, "in"),
        ),
        "see that the bar is off and the pin is out": (
            (A.BAR_OFF, "if it is on"),
            (A.PIN_OUT, "if it is in"),
            (A.LET_GO, "if it is pressed"),
        ),
        "draw the pin with the bar off, back off, and pin it again on the way forward": (
            *drawn,
            (A.BACK_OFF, ""),
            *forward,
        ),
        "draw the pin with the bar off, bar on to the next press mark, and pin it there": (*drawn, *forward),
        "let go of the pin, back off, and pin it on the way forward": (*let_go, (A.BACK_OFF, ""), *forward),
        "let go of the pin, bar on to the next press mark, and pin it there": (*let_go, *forward),
    }


@cache
def least_actions(state: State) -> int | None:
    """Return the fewest actions to a safe end, by plain breadth-first search; None where there is no such end."""
    met, todo = {state}, deque([(state, 0)])
    while todo:
        here, count = todo.popleft()
        if here.outcome is Consequence.SAFE:
            return count
        for action in lockpin.possible(here):
            after, _ = lockpin.step(here, action)
            if after not in met:
                met.add(after)
                todo.append((after, count + 1))
    return None


def start_as_told(item: Item, setup: Setup) -> State:
    """Return where the engine stands, out of the words of the item."""
    found = re.search(
        r"barred (on|back), (?:(\S+)\u2009crank degrees? (before|after)|at)", given(item, "The engine stands")
    )
    assert found is not None
    # Four digits are written; the places themselves are plain fractions of a degree.
    told = Fraction(0) if found[2] is None else Fraction(found[2]).limit_denominator(60)
    ahead = told if found[3] == "after" else -told
    passing = round(ahead / setup.period)
    before = passing * setup.period - ahead
    pin: Any = next(way for way in ("out", "pressed", "in") if f", {way}" in given(item, "Pin"))
    bar_on = all(line.value == "fitted" for line in item.given if line.label == "Bar")
    turned: Any = "forward" if found[1] == "on" else "back"
    return State.start(setup, before, passing=passing, turned=turned, bar_on=bar_on, pin=pin)


def carry_out(state: State, text: str, known: dict[str, tuple[Part, ...]]) -> State:
    """Return the state after the plan of an option."""
    for phrase in text.rstrip(".").split(", then "):
        for action, until in known[phrase.lower()]:
            if until.startswith("if") and action not in lockpin.possible(state):
                continue
            for _ in range(40):
                if state.finished:
                    return state
                state, _ = lockpin.step(state, action)
                if until not in ("in", "past") or (until == "in" and state.pin.in_a_hole):
                    break
                if until == "past" and state.hole > state.lattice.give_up:
                    break
    return state


def strict(engine: str, item: Item, *, stiff: bool) -> Setup:
    """Return the bench of a pack as it is found for a question: how far a little goes is told."""
    nudge = number_of(given(item, "A little").removeprefix("moves the mark "))
    return replace(bench(pack(engine)).setup, stiff=stiff, nudge=nudge, strict=True)


def what_next(item: Item, key: Key, engine: str) -> Hashable:
    """Play the record as it is told, then every option; a safe end stays in reach after one of them."""
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    known = phrases(bench(pack(engine)))
    state = start_as_told(item, strict(engine, item, stiff=False))
    for line in item.given:
        if found := re.match(r"\d+\. (.+)", line.label):
            ((action, _),) = known[found[1].lower()]
            state, happening = lockpin.step(state, action)
            assert happening.seen == line.value
    ends = {option.id: carry_out(state, option.text, known) for option in item.options}
    assert [letter for letter, end in ends.items() if least_actions(end) is not None] == [key.right]
    assert {letter for letter, end in ends.items() if end.outcome.critical} == set(key.critical)
    return state


def pin_the_engine(item: Item, key: Key, engine: str) -> Hashable:
    """Play the way of the key from the start as it is told: it ends safely, and is hardly longer than the shortest.

    The key's way is that of least effort, in which barring back far counts more than an action.
    """
    assert isinstance(item, ActionsItem)
    assert isinstance(key, ActionsKey)
    state = lock_pin_scenario.begin(item.scene).state
    start = start_as_told(item, state.setup)
    assert start == state
    assert replace(strict(engine, item, stiff="found stiff" in given(item, "Pin")), dial=None) == replace(
        state.setup, dial=None
    )
    known = phrases(bench(pack(engine)))
    for line in key.working:
        (phrase,) = [phrase for phrase in known if line.partition(". ")[2].lower().startswith(f"{phrase}.")]
        ((action, _),) = known[phrase]
        state, happening = lockpin.step(state, action)
        assert happening.seen in line
    assert state.outcome is Consequence.SAFE
    fewest = least_actions(start)
    assert fewest is not None
    assert fewest <= len(key.working) <= fewest + 8
    assert len(key.working) < item.limit
    return start


WAYS: dict[str, Way] = {
    "lock-pin/pin-the-engine": pin_the_engine,
    "lock-pin/what-next": what_next,
    "lock-pin/which-dead-centre": which_dead_centre,
    "lock-pin/how-far-back": how_far_back,
    "lock-pin/turns-of-the-bar": turns_of_the_bar,
    "lock-pin/least-back-off": least_back_off,
    "lock-pin/error-after-turning-back": error_after_turning_back,
}


SORTS: dict[str, Sorts] = {
    "lock-pin/which-dead-centre": lambda seen, _: len(seen) == 2,
    "lock-pin/error-after-turning-back": lambda seen, _: len(seen) == 2,
}
