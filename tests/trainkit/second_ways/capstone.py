"""Second ways to what a person judges: the facts of a rubric and the steps of a piece of work, found again.

Degrees come from the places on the clock and from raw teeth and radii; what would lose the job is played on the model
of the bench; what must come before what is closed by hand (``second_ways.sequence``).
"""

from __future__ import annotations

import math
import re
from collections.abc import Hashable, Iterable
from fractions import Fraction
from functools import cache
from typing import Literal

import pytest

from tests.outside.linear_train import raw, train
from tests.trainkit.second_ways import Sorts, Way
from tests.trainkit.second_ways.lash_and_timing import back_to_the_flank, in_service, length
from tests.trainkit.second_ways.lock_pin import clock_degrees, turns_per_crank, way_back_in_crank_degrees
from tests.trainkit.second_ways.reading import given, pack, read, said, told
from tests.trainkit.second_ways.sequence import bonds, breaks, by_text, edges_told, steps_of
from trainkit import lockpin
from trainkit.items.kinds import Item, Key, ObservedItem, ObservedKey, TextItem, TextKey
from trainkit.lockpin import Action, Consequence, State

A = Action


def explain_why(item: Item, key: Key, engine: str) -> Hashable:
    """Find out what is asked, then every fact again."""
    assert isinstance(item, TextItem)
    assert isinstance(key, TextKey)
    assert [line.points for line in key.rubric] == [1, 1, 1, 1]
    assert item.points == 4
    assert item.limit == 1200
    assert all(line.names for line in key.rubric)
    for title in {hazard["title"] for hazard in raw(engine)["hazards"]}:
        assert title in key.dangerous[-1]
    if item.prompt.startswith("You barred past"):
        return missed_hole(item, key, engine)
    if item.prompt.startswith("Somebody is about to read"):
        return lash_first(item, key, engine)
    if item.prompt.startswith("You are about to tighten"):
        return lever_with_adapter(item, key, engine)
    return before_the_step(item, key, engine)


def names(key: TextKey, number: int) -> str:
    """Return what a full answer names for one criterion, counted from 1."""
    return " ".join(key.rubric[number - 1].names)


def in_crank_degrees(text: str) -> list[Fraction]:
    return [Fraction(found) for found in re.findall(r"(\d+(?:\.\d+)?)\u2009crank degrees?\b", text)]


def lash_of(engine: str, gear: str) -> Fraction:
    """Return the lash from the bar to a gear in crank degrees, to a thousandth a mesh, from radii and teeth."""
    tables = raw(engine)
    by_id = {each["id"]: each for each in tables["gears"]}
    shaft = {name: each.get("on_shaft", name) for name, each in by_id.items()}
    total, here = Fraction(0), gear
    while by_id[here]["role"] != "crank":
        (mesh,) = [each for each in tables["meshes"] if shaft[each["driven"]] == shaft[here]]
        radius = by_id[mesh["driven"]]["module_mm"] * by_id[mesh["driven"]]["teeth"] / 2
        angle = math.degrees(mesh["lash_mm"] / radius) / float(turns_per_crank(engine, mesh["driven"]))
        total, here = total + Fraction(round(1000 * angle), 1000), mesh["driver"]
    bar = tables["barring"]
    if bar["by"] == "ring-gear":
        total += Fraction(round(1000 * math.degrees(bar["lash_mm"] / (bar["module_mm"] * bar["ring_teeth"] / 2))), 1000)
    return total


@cache
def lost(engine: str, consequence: Consequence) -> bool:
    """Play the shortest careless way to a consequence, from the place or from the passings of the hole near it."""
    setup = pack(engine).lock_pin
    # What is done at the place where the pin goes in; whoever means well lets go, goes back, and forgets one thing.
    careless = {
        Consequence.SHEARED: (A.PRESS, A.ON),
        Consequence.STARTER: (A.STARTER,),
        Consequence.KICKED: (A.PRESS, A.PIN_OUT),
        Consequence.WRONG_CENTRE: (A.PRESS, A.DECLARE),
        Consequence.FALSE_HOLE: (A.PRESS, A.DECLARE),
        Consequence.MISTIMED: (A.PRESS, A.DECLARE),
    }
    turned: Literal["back", "forward"] = "back" if consequence is Consequence.MISTIMED else "forward"
    places = [Fraction(0), *(-hole for hole in setup.false_holes)]
    met = set()
    for passing in range(setup.passings):
        for place in places:
            state = State.start(setup, place, passing=passing, turned=turned)
            for action in (A.FREE, *careless[consequence]) if setup.stiff else careless[consequence]:
                if state.finished:
                    break
                state, _ = lockpin.step(state, action)
            met.add(state.outcome)
    return consequence in met


def missed_hole(item: TextItem, key: TextKey, engine: str) -> Hashable:
    """Add up the arcs, sum up the lash, and play what would lose the job."""
    tables = raw(engine)
    pin = tables["lock_pin"]
    (now,) = said(r"The mark stands now at (\d+:\d\d)\.", item.prompt)
    assert given(item, "The mark stands now") == now
    for label, field in (("Back off to", "back_off_to"), ("Press from", "press_from"), ("Pin seats", "seats")):
        assert given(item, label) == pin[field]
    assert f"from {now} to {pin['back_off_to']} in one go" in names(key, 1)
    back, least = in_crank_degrees(names(key, 1))
    assert back == way_back_in_crank_degrees(engine, item)
    pace = turns_per_crank(engine, pin["watched"]) if pin["watched"] != "flywheel" else Fraction(1)
    arc = abs(clock_degrees(pin["seats"]) - clock_degrees(pin["press_from"]))
    to_component = lash_of(engine, pin["component"])
    assert abs(least - arc / pace - to_component) < Fraction(1, 500)
    assert f"pressed from {pin['press_from']} on" in names(key, 2)
    assert f"with the mark at {pin['seats']}" in names(key, 2)
    to_pin = Fraction(0) if pin["hole_in"] == "flywheel" else lash_of(engine, pin["hole_in"])
    error, let_pass = in_crank_degrees(names(key, 3))
    assert abs(error - (to_component - to_pin)) <= Fraction(1, 150)
    # Turned back the component's gear is left ahead; driven forward it waits for its lash, and comes late.
    assert "crank degrees late" in names(key, 3)
    assert let_pass == Fraction(str(pin.get("tolerance_deg", 0)))
    assert ("luck" in names(key, 3)) == (to_component - to_pin <= let_pass)
    agrees = names(key, 4)
    assert f"stands at {pin['seats']}" in agrees
    sign = {"valves": f"valves of cylinder {pin['cylinder']}", "witness": "witness tooth"}[pin["tells_stroke"]]
    gear = Fraction(1) if pin["hole_in"] == "flywheel" else turns_per_crank(engine, pin["hole_in"])
    assert 360 / gear < 720  # the hole comes by more often than the right place, on both engines
    every, right, *false = in_crank_degrees(agrees)
    assert (every, right) == (360 / gear, Fraction(720))
    assert sign in agrees
    assert false == [Fraction(str(hole)) for hole in pin.get("false_holes_deg", ())]
    flagged = {
        Consequence.SHEARED: "with the pin in a hole. ",
        Consequence.STARTER: "with the starter. ",
        Consequence.KICKED: "with the bar still fitted. ",
        Consequence.MISTIMED: "on the way back. ",
        Consequence.WRONG_CENTRE: f"without a look at the {sign}. ",
        Consequence.FALSE_HOLE: "whatever hole the pin drops into. ",
    }
    for consequence, text in flagged.items():
        assert any(text in each for each in key.dangerous) == lost(engine, consequence), consequence
    return ("missed", now)


def lash_first(item: TextItem, key: TextKey, engine: str) -> Hashable:
    """Find the flank in the plane, the angle from raw radii, the crank's share by solving the train."""
    tables, turned = raw(engine), train(engine)
    driven, driver = said(r"where the (.+?) stands\. It has lash to the (.+?), which is held\.", item.prompt)
    (end,) = said(r"is it turned first, seen from ([\w ]+)\?", item.prompt)
    one, gear = turned.ids[driver], turned.ids[driven]
    assert turned.kinds(one, gear) == ["external"]
    (mesh,) = [each for each in tables["meshes"] if (each["driver"], each["driven"]) == (one, gear)]
    (table,) = [each for each in tables["gears"] if each["id"] == gear]
    radius = table["module_mm"] * table["teeth"] / 2
    lash = length(given(item, f"Measured lash between {driver} and {driven}"))
    assert 0.79 * mesh["lash_mm"] - 0.005 < lash < 3.01 * mesh["lash_mm"] + 0.005
    assert length(given(item, f"Pitch radius of the {driven}")) == radius
    drive = in_service(engine, gear, end)
    right = back_to_the_flank(drive)
    assert f"turns {word(drive)}, seen from {end}." in names(key, 1)
    assert f"is turned {word(right)}, against its drive, with the {driver} held." in names(key, 1)
    assert "Gently" in names(key, 1)
    assert f"rest on the {driver} where the {driver} pushes them" in names(key, 2)
    of_gear = math.degrees(lash / radius)
    of_crank = of_gear / abs(turned.speed(turned.crank, gear))
    first, second = re.findall(r"(\d+\.\d\d)° of the", names(key, 3))
    assert abs(float(first) - of_gear) < 0.00501
    assert abs(float(second) - of_crank) < 0.00501
    assert f"{second}° of the crank" in names(key, 4)
    assert f"Turned {word(drive)}, or" in names(key, 4)
    assert f"Turns the {driven} {word(drive)}, with its drive" in key.dangerous[0]
    return ("lash", gear, end, lash)


def word(sense: int) -> str:
    return "clockwise" if sense > 0 else "anticlockwise"


def lever_with_adapter(item: TextItem, key: TextKey, engine: str) -> Hashable:
    """Pull by hand: the pull times the wrench makes it click, the pull times the whole lever turns the bolt."""
    tables = raw(engine)
    (name,) = said(r"final stage: (.+)\. You have to use an adapter out of the store, straight on\.", item.prompt)
    (fastener,) = [each for each in tables["fasteners"] if each["name"] == name]
    by_name = {each["name"]: each for each in tables["tools"]}
    tool, reach = by_name[given(item, "Wrench")], length(given(item, "Adapter, drive to middle of bolt"))
    printed = given(item, "Printed for the bolt")
    assert printed.replace("\u2009", " ") in fastener["stages"][-1]["torque"]
    wanted, unit = read(printed)
    assert unit == tool["unit"]
    assert length(given(item, "Wrench, drive to middle of grip")) == tool["length"]
    assert 30 <= reach <= 0.4 * tool["length"]

    def at_bolt(click: float) -> float:
        pull = click / tool["length"]
        return float(pull * (tool["length"] + reach))

    marks = [tool["low"] + at * tool["step"] for at in range(round((tool["high"] - tool["low"]) / tool["step"]) + 1)]
    best = min(marks, key=lambda click: abs(at_bolt(click) - float(wanted)))
    value, its_unit = read(said(r"^(.+): less than printed\.", key.rubric[0].names[0])[0])
    assert its_unit == unit
    assert float(value) == pytest.approx(best)
    assert best < float(wanted)
    lengths = said(r"times ([\d.]+)\u2009mm, divided by ([\d.]+)\u2009mm, the", key.rubric[0].names[1])
    assert tuple(map(float, lengths)) == (tool["length"], tool["length"] + reach)
    reached, more = said(r"would get (.+?), (\d+)\u2009% too much", names(key, 3))
    assert float(read(reached)[0]) == pytest.approx(at_bolt(float(wanted)), abs=0.0501)
    assert int(more) == pytest.approx(100 * (at_bolt(float(wanted)) / float(wanted) - 1), abs=0.501)
    assert f"{more}\u2009% too high" in names(key, 3)
    assert f"would get {reached}." in key.dangerous[0]
    twice, _ = read(said(r"up to (.+)\.$", key.dangerous[1])[0])
    assert float(twice) == pytest.approx(at_bolt(at_bolt(float(wanted))), abs=0.0501)
    return ("lever", name, tool["id"], reach)


def before_the_step(item: TextItem, key: TextKey, engine: str) -> Hashable:
    """Close the edges by hand: of the three that are to be left until later one has no order with the step."""
    here = steps_of(item, engine)
    text = given(item, "About to do")
    step = by_text(engine)[text]
    left = [by_text(engine)[given(item, f"To be left, {number}")] for number in (1, 2, 3)]
    assert {step, *left} <= here
    assert len({step, *left}) == 4
    pairs, danger = (bonds(engine, here, dangerous_only=only) for only in (False, True))
    waits = [each for each in left if not {(each, step), (step, each)} & pairs]
    two = {each for each in left if (each, step) in danger}
    assert (len(waits), len(two)) == (1, 2)
    assert plain(engine, waits[0]) in said(r"^“(.+)”: neither", key.rubric[0].names[0])
    edges = {(edge.before, edge.after): edge.reason for edge in edges_told(item, engine)}
    reasons = [said(r"^“(.+)”: (.+)$", key.rubric[at].names[0]) for at in (1, 2)]
    assert {by_text(engine)[first]: reason for first, reason in reasons} == {each: edges[each, step] for each in two}
    assert f"“{text}” is not begun." in key.rubric[3].names
    assert len(key.dangerous) == 3
    for each in two:
        (flagged,) = [line for line in key.dangerous if f"may be done before “{plain(engine, each)}”" in line]
        assert flagged.startswith(f"Says that “{text}”")
        assert flagged.endswith(edges[each, step])
    return ("before", step, frozenset(left))


def plain(engine: str, step: str) -> str:
    (text,) = [name for name, each in by_text(engine).items() if each == step]
    return text


def observed_work(item: Item, key: Key, engine: str) -> Hashable:
    """Hold the piece against the raw file: nothing left out, nothing out of order, every critical step marked."""
    assert isinstance(item, ObservedItem)
    assert isinstance(key, ObservedKey)
    tables = raw(engine)
    by_id = {step["id"]: step for step in tables["steps"]}
    first, *rest = item.steps
    assert "cautions" in first.text
    cautions = [line for line in item.given if line.label.startswith("Caution: ")]
    assert {line.value for line in cautions} == {hazard["text"] for hazard in tables["hazards"]}
    order = [step_of(engine, option.text, by_id) for option in rest]
    here = steps_of(item, engine)
    assert len(set(order)) == len(order) in (6, 7, 8)
    assert set(order) <= here
    pairs = bonds(engine, here, dangerous_only=False)
    assert not breaks(order, pairs)
    end = order[-1]
    assert all((step, end) in pairs for step in order[:-1])
    between = {
        step
        for step in here - set(order)
        if any((one, step) in pairs for one in order) and any((step, other) in pairs for other in order)
    }
    assert not between
    critical = {step for step in order if by_id[step].get("critical")}
    assert len(critical) >= 2
    expected = {first.id, *(option.id for option, step in zip(rest, order, strict=True) if step in critical)}
    assert set(item.critical) == set(key.critical) == expected
    waits = {first for first, second in near(item, engine) if second in order and first not in order}
    done = re.findall(r"“(.+?)”", told(item)["Done before you begin"])
    assert {by_text(engine)[text] for text in done} == waits
    assert "not answered on the screen" in item.prompt
    return (end, frozenset(order))


def edges_pairs(item: Item, engine: str) -> dict[tuple[str, str], str]:
    """Return the reason of each pair."""
    return {(edge.before, edge.after): edge.reason for edge in edges_told(item, engine)}


def near(item: Item, engine: str) -> set[tuple[str, str]]:
    """Return the written pairs, and the others between which no step lies."""
    here = steps_of(item, engine)
    pairs = bonds(engine, here, dangerous_only=False)
    own = {(edge["before"], edge["after"]) for edge in raw(engine)["precedence"]}
    between = {(one, two) for one, two in pairs if any((one, each) in pairs and (each, two) in pairs for each in here)}
    return {pair for pair in edges_pairs(item, engine) if set(pair) <= here and (pair in own or pair not in between)}


def step_of(engine: str, text: str, by_id: dict[str, dict[str, object]]) -> str:
    """Return the step that a line of the sheet names, and hold its torque against the file."""
    if text in by_text(engine):
        step = by_id[by_text(engine)[text]]
        assert not torque_of(engine, step)
        return str(step["id"])
    bare, torque = said(r"^(.+) \((.+)\)$", text)
    step = by_id[by_text(engine)[bare]]
    assert torque.split(", ") == list(torque_of(engine, step))
    return str(step["id"])


def torque_of(engine: str, step: dict[str, object]) -> Iterable[str]:
    """Return the torque that the file prints for the stage of a step, in both units, or nothing."""
    for fastener in raw(engine)["fasteners"]:
        if fastener["id"] == step.get("fastener"):
            for stage in fastener["stages"]:
                if stage["name"] == step["stage"]:
                    return list(stage.get("torque", ()))
    return []


WAYS: dict[str, Way] = {"capstone/explain-why": explain_why, "capstone/observed-work": observed_work}


SORTS: dict[str, Sorts] = {name: lambda seen, _: len(seen) >= 18 for name in WAYS}
