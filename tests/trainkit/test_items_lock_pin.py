"""What is particular to the questions at the lock pin; see ``test_templates.py`` for the rest."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from tests.trainkit import random_packs
from tests.trainkit.answers import pinned_safely
from tests.trainkit.draws import as_kind, drawn, draws, everywhere
from tests.trainkit.pack_faults import DUNLIN
from tests.trainkit.second_ways.lock_pin import start_as_told
from tests.trainkit.second_ways.reading import CURLEW, PACKS
from tests.trainkit.second_ways.reading import pack as load
from trainkit import packs
from trainkit.errors import ItemError
from trainkit.items import lock_pin_scenario, lock_pin_scene, scenarios
from trainkit.items.distinct_answers import paired
from trainkit.items.kinds import ActionsItem, ActionsResponse, ChoiceItem, ChoiceKey, ChoiceResponse
from trainkit.items.lock_pin import MISCONCEPTIONS, TEMPLATES, scenes
from trainkit.items.lock_pin.bench import bench, found_bench
from trainkit.items.lock_pin.rules import (
    BACK_OFF_FINISHES,
    BACK_OFF_RULES,
    BAR_RULES,
    CENTRE_RULES,
    ERROR_FINISHES,
    ERROR_RULES,
    LASH_READINGS,
    LEAST_RULES,
    BackOff,
    Centre,
    LashByMesh,
    MeshLash,
)
from trainkit.items.marking import mark
from trainkit.lockpin import Action, Setup, State

A = Action
BY_NAME = {template.name.partition("/")[2]: template for template in TEMPLATES}
CODES = {entry.code for entry in MISCONCEPTIONS}


@pytest.fixture(scope="module", params=PACKS)
def pack(request: pytest.FixtureRequest) -> packs.Pack:
    return load(request.param)


@pytest.mark.parametrize("name", ["what-next", "which-dead-centre"])
def test_who_cannot_be_told_apart_is_told_so(name: str) -> None:
    for pair in everywhere(f"lock-pin/{name}"):
        item, key = as_kind(pair, ChoiceItem, ChoiceKey)
        for option in item.options:
            if option.id != key.right and option.id not in key.shows:
                found = mark(item, key, ChoiceResponse(option=option.id))
                # Only where two ways of counting lead to one cylinder nobody is named, and the reason says so.
                assert "Two ways of counting lead here" in found.reason


def test_pairs_at_the_lock_pin_by_hand() -> None:
    # Lash on the way to the pin: 0.3 degrees of a gear at 2/3 of a crank degree each. To the component 0.5 × 2 more.
    way = MeshLash(Fraction(3, 10), Fraction(2, 3)), MeshLash(Fraction(1, 2), Fraction(2))
    case = LashByMesh(way[:1], way, Fraction(15))
    errors = paired(ERROR_RULES, case, [], float, 1e-6, readings=LASH_READINGS, finishes=ERROR_FINISHES)
    values = {(pair.first, pair.second): pair.value for pair in errors}
    # All lash counts, 0.3 × 2/3 + 0.5 × 2 = 1.2 late, and taken for early.
    assert values["whole-lash-counts", "early-for-late"] == pytest.approx(-1.2)
    # All lash counts, none of it carried to the crank: 0.3 + 0.5.
    assert values["gear-for-crank-degrees", "whole-lash-counts"] == pytest.approx(0.8)
    least = paired(LEAST_RULES, case, [], float, 1e-6, readings=LASH_READINGS)
    assert {(p.first, p.second): p.value for p in least}["gear-for-crank-degrees", "lash-to-pin-only"] == 15.3
    # A mark 30 crank degrees past the hole, back off to 40 before it and press from 15, gear at half the pace.
    missed = BackOff(Fraction(30), Fraction(15), Fraction(10), Fraction(40), Fraction(1, 2))
    backs = paired(BACK_OFF_RULES, missed, [], float, 1e-6, finishes=BACK_OFF_FINISHES)
    values = {(pair.first, pair.second): pair.value for pair in backs}
    assert values["backs-off-to-press", "gear-for-crank-degrees"] == 22.5
    assert ("gear-for-crank-degrees", "gear-crank-wrong-way") not in values


# ---------------------------------------------------------------------------- keys, a second way


# ---------------------------------------------------------------------------- wrong rules


def given_by(rules: Mapping[str, Callable[[Any], Any]], case: Any) -> dict[str, float]:
    return {code: round(float(value), 4) for code, rule in rules.items() if (value := rule(case)) is not None}


def test_the_wrong_rules_for_backing_off_by_hand() -> None:
    case = BackOff(Fraction(30), Fraction(15), Fraction(10), Fraction(35), Fraction(1, 2), Fraction(9))
    assert [case.crank, case.turns] == [65, Fraction(13, 8)]
    assert given_by(BACK_OFF_RULES, case) == {
        "backs-off-to-press": 45,
        "backs-off-to-give-up": 20,
        "backs-off-from-the-hole": 35,
        "gear-for-crank-degrees": 32.5,
        "gear-crank-wrong-way": 16.25,
    }
    assert given_by(BAR_RULES, case) == {
        "bar-ratio-inverse": 0.0201,
        "bar-as-crank": 0.1806,
        "backs-off-from-the-hole": 0.875,
        "gear-for-crank-degrees": 0.8125,
    }


def test_the_wrong_rules_for_lash_by_hand() -> None:
    idler, pump = MeshLash(Fraction("0.3"), Fraction(2, 3)), MeshLash(Fraction("0.6"), Fraction(2))
    case = LashByMesh((idler,), (idler, pump), Fraction(15))
    assert (float(case.error), float(case.least_back_off)) == (1.2, 16.4)
    assert given_by(ERROR_RULES, case) == {
        "whole-lash-counts": 1.4,
        "pin-lash-counts": 0.2,
        "ignores-lash": 0,
        "early-for-late": -1.2,
        "gear-for-crank-degrees": 0.6,
        "gear-crank-wrong-way": 0.3,
    }
    assert given_by(LEAST_RULES, case) == {
        "lash-left-out": 15,
        "lash-to-pin-only": 15.2,
        "lash-only": 1.4,
        "gear-for-crank-degrees": 15.9,
    }


def test_the_wrong_rules_for_dead_centres_by_hand() -> None:
    from trainkit.cycle import FiringOrder

    case = Centre(FiringOrder([1, 5, 3, 6, 2, 4]), 1, 4)  # barred on by 480 crank degrees
    assert case.right == (2, "compression")
    expected = {
        "exhaust-for-compression": (2, "exhaust"),
        "reversed-order": (3, "compression"),  # four back from 1: 4, 2, 6, 3
        "cam-for-crank": (3, "compression"),  # 960 degrees are eight firings, two more than a cycle
        "one-turn-is-a-cycle": (5, "compression"),  # 480 is "one turn and 120"
    }
    assert {code: rule(case) for code, rule in CENTRE_RULES.items()} == expected


# ---------------------------------------------------------------------------- what next


def test_a_record_holds_what_eye_and_hand_got_and_no_truth(pack: packs.Pack) -> None:
    for item, _ in draws("lock-pin/what-next", pack.name)[:16]:
        text = json.dumps(item.model_dump(mode="json"))
        for hidden in ("flank", "false hole", "wrong one", "right place.", "timing", "ahead of the crank"):
            assert hidden not in text, hidden


def test_something_unsafe_is_always_offered(pack: packs.Pack) -> None:
    for _, key in draws("lock-pin/what-next", pack.name):
        assert isinstance(key, ChoiceKey)
        assert key.critical


@pytest.mark.parametrize("wanted", [frozenset[str](), frozenset({"presses-and-turns-back"})])
def test_no_plan_is_known_by_its_wording(pack: packs.Pack, wanted: frozenset[str]) -> None:
    found = scenes.dealt(found_bench(pack), wanted)
    offered = Counter(plan for each in found for plan in (each.right, *each.wrong))
    right = Counter(each.right for each in found)
    assert all(wanted <= each.shows for each in found)
    if wanted:
        # One misconception narrows the scenes; still a third of the plans is right here and wrong there.
        assert sum(0 < right[plan] < offered[plan] for plan in offered) >= len(offered) / 3
    else:
        # One in four is right; the one plan that never is, is seldom offered.
        assert sum(not right[plan] for plan in offered) <= 1
        assert all(0.15 <= right[plan] / offered[plan] <= 0.4 for plan in offered if right[plan])


# ---------------------------------------------------------------------------- the scenario


def test_everything_in_the_scene_is_told_in_words(pack: packs.Pack) -> None:
    for item, _ in draws("lock-pin/pin-the-engine", pack.name)[:15]:
        assert isinstance(item, ActionsItem)
        text = " ".join([item.prompt, *(f"{given.label} {given.value}" for given in item.given)])
        numbers = {float(found) for found in re.findall(r"\d+(?:\.\d+)?", text)}
        scene = dict(item.scene)
        dial, start = scene.pop("dial"), scene.pop("start")
        for name in (*lock_pin_scene._PLAIN, "lash_shared"):
            value = float(Fraction(scene.pop(name)))
            assert any(abs(value - told) < 5e-4 for told in numbers), name
        witness = scene.pop("witness_every")
        assert scene["tells"] != "witness" or float(Fraction(witness)) in numbers
        for hole in scene.pop("false_holes"):
            assert abs(float(Fraction(hole))) in numbers
        assert "-".join(map(str, scene.pop("firing_order"))) in text
        assert f"{scene.pop('dead_centre')} dead centre of cylinder {scene.pop('cylinder')}" in text
        assert {"valves": "the valves of", "witness": "the marked tooth", "hole": "hole itself"}[
            scene.pop("tells")
        ] in text
        goes_with = {
            "bar": "mark turns with the crank",
            "pin gear": "turns with the hole",
            "component gear": "turns with it",
        }
        assert goes_with[scene.pop("marks_on")] in text
        assert scene.pop("watched") in text
        assert ("found stiff" in text) is scene.pop("stiff")
        assert ("can kick back" in text) is scene.pop("compression")
        assert float(Fraction(scene.pop("nudge"))) in numbers
        assert scene.pop("strict") is ("; look at it before you set anything" in text)
        assert scene == {}
        end = {"front": "seen from the front", "flywheel": "seen from the flywheel end"}[dial["seen_from"]]
        assert end in text
        assert f"it goes {'clockwise' if dial['clockwise'] else 'anticlockwise'}" in text
        pace = Fraction(dial["turns_per_crank"])
        assert ("1 turn for" if pace == 1 else f"{pace} ") in text
        minutes = round(Fraction(dial["seats_at"]) * 2)
        assert f"pin seats {minutes // 60 or 12}:{minutes % 60:02d}" in text
        setup = lock_pin_scenario.begin(item.scene).state.setup
        assert start_as_told(item, setup) == lock_pin_scenario.begin(item.scene).state
        assert ("Bar fitted" in text) is (start["bar"] == "fitted")


def test_a_safe_end_is_found_by_trying_and_earns_everything(pack: packs.Pack) -> None:
    for item, key in draws("lock-pin/pin-the-engine", pack.name)[:2]:
        assert isinstance(item, ActionsItem)
        way = pinned_safely(item)
        assert len(way) <= item.limit
        result = mark(item, key, ActionsResponse(actions=way))
        assert result.points == item.points
        assert not result.critical


# From the press mark of the right passing; the tooth or the valves are looked at on the way.
GOOD = (A.FREE, A.ON_TO_PRESS, A.CHECK, A.PRESS, A.ON, A.ON, A.ON, A.BAR_OFF, A.DECLARE, A.PIN_OUT, A.TIGHTEN)


def on_the_bench(play: scenarios.Play) -> lock_pin_scenario.PinPlay:
    assert isinstance(play, lock_pin_scenario.PinPlay)
    return play


def scene_of(pack: packs.Pack, before: int | Fraction = 60, passing: int = 0, **changes: object) -> dict[str, Any]:
    told = bench(pack)
    told = replace(told, setup=replace(told.setup, stiff=False))
    return (
        lock_pin_scene.scene(told.setup, told.watched, State.start(told.setup, Fraction(before), passing=passing))
        | changes
    )


@pytest.mark.parametrize(
    ("actions", "share", "misconception", "critical"),
    [
        (GOOD, 1.0, None, False),
        ((*GOOD[:7], A.ON), 0.0, "goes-on-after-seating", True),
        ((A.ON_TO_PRESS, A.PRESS, A.ON_TO_PRESS), 0.0, "sweeps-with-pin-held", True),
        ((*GOOD[:9], A.TIGHTEN), 0.0, "leaves-the-pin-in", True),
        ((*GOOD[:7], A.PIN_OUT), 0.0, "leaves-the-bar-on", True),
        ((*GOOD[:10], A.FIT_BAR, A.TIGHTEN), 0.0, "leaves-the-bar-on", True),
        ((A.STARTER,), 0.0, "uses-the-starter", True),
        ((*GOOD[:10], A.FIT_BAR, A.ON), 0.5, "moves-after-setting", False),
        ((A.ON_TO_PRESS, A.ON, A.ON, A.ON, A.BAR_OFF, A.DECLARE), 0.0, "mark-alone", False),
        ((*GOOD[:2], A.BACK_OFF, *GOOD[1:]), 0.9, None, False),  # one needless back-off
        (GOOD[:7], 0.3, None, False),
        (GOOD[:9], 0.5, None, False),
        (GOOD[:2], 0.0, None, False),
    ],
)
def test_what_was_lost_decides(
    pack: packs.Pack, actions: tuple[Action, ...], share: float, misconception: str | None, critical: bool
) -> None:
    play, _ = scenarios.replay("lock-pin", scene_of(pack), actions)
    verdict = play.verdict(gave_up=not play.finished)
    assert (verdict.share, verdict.misconception, verdict.critical) == (share, misconception, critical)
    if not play.finished:
        assert "You stopped" in verdict.reason
        assert "What comes next" in verdict.reason


def test_needless_detours_cost_a_tenth_each_and_no_more_than_four() -> None:
    pack = packs.load("dunlin")
    for count in range(7):
        detours = (A.BACK_OFF, A.ON_TO_PRESS) * count
        play, _ = scenarios.replay("lock-pin", scene_of(pack), (*GOOD[:2], *detours, *GOOD[2:]))
        assert play.verdict().share == pytest.approx(1 - 0.1 * min(count, 4))


@pytest.mark.parametrize(
    ("before", "passing", "actions", "code"),
    [
        (10, 1, (A.PRESS, A.ON, A.ON, A.ON, A.DECLARE), "exhaust-for-compression"),
        (10, 0, (A.PRESS, A.ON, A.ON, A.ON, A.DECLARE), "any-dead-centre"),
        (-7, 0, (A.PRESS, A.BACK, A.BACK, A.BACK, A.CHECK, A.DECLARE), "presses-and-turns-back"),
        (-138, 0, (A.PRESS, A.ON, A.DECLARE), "trusts-the-feel"),
    ],
)
def test_ends_that_only_the_flywheel_pin_can_come_to(
    before: int, passing: int, actions: tuple[Action, ...], code: str
) -> None:
    # The training engine's own tolerance would let its small lash pass.
    pack = packs.load(CURLEW)
    play, _ = scenarios.replay("lock-pin", scene_of(pack, before, passing, tolerance="0"), actions)
    verdict = play.verdict()
    assert verdict.misconception == code
    assert not verdict.critical
    assert verdict.share == {"any-dead-centre": 0.5, "presses-and-turns-back": 0.25}.get(code, 0.0)


def test_a_wrong_passing_of_the_idler_hole_is_any_dead_centre() -> None:
    play, _ = scenarios.replay("lock-pin", scene_of(packs.load("dunlin"), 15, 1), (A.PRESS, A.ON, A.DECLARE))
    assert play.verdict().misconception == "any-dead-centre"
    assert "240" in play.verdict().reason


def test_seated_on_the_way_forward_with_lash_left_is_backing_off_too_little() -> None:
    scene = scene_of(
        packs.load(CURLEW), before=-3, tolerance="0", press_from="1", give_up="1", back_off="1.5", lash_to_component="3"
    )
    way = (A.BACK_OFF, A.ON_TO_PRESS, A.CHECK, A.PRESS, A.ON, A.ON, A.ON, A.DECLARE)
    play, _ = scenarios.replay("lock-pin", scene, way)
    assert play.verdict().misconception == "backs-off-too-little"


def test_every_code_that_a_play_can_show_is_in_the_catalogue() -> None:
    assert set(lock_pin_scenario._SHOWS.values()) <= CODES


def test_the_view_shows_neither_flank_nor_which_hole(pack: packs.Pack) -> None:
    # Two ways to the same seat: forward, and backward on the other flank.
    play, log = scenarios.replay("lock-pin", scene_of(pack), GOOD[:7])
    forward = on_the_bench(play)
    setup = forward.state.setup
    past = setup.give_up - setup.little / 3
    scene = scene_of(pack, before=-past)
    play, other = scenarios.replay("lock-pin", scene, (A.PRESS, A.BACK, A.BACK, A.BACK, A.BACK))
    backward, backward_in = on_the_bench(play), next(seen for seen in other if "goes in" in seen)
    while not backward.state.pin.in_a_hole or backward.finished:  # it was one step too many
        play, other = scenarios.replay("lock-pin", scene, (A.PRESS, *[A.BACK] * (len(other) - 2)))
        backward = on_the_bench(play)
    assert backward.state.timing_error == setup.lash_difference
    assert forward.state.timing_error == 0
    assert backward_in.endswith(log[-1])
    assert {**backward.view, "turned": ""} == {**forward.view, "turned": ""}
    assert (forward.view["turned"], backward.view["turned"]) == ("forward", "back")
    assert forward.view["pin"] == "in"


def test_the_view_follows_pin_and_bar(pack: packs.Pack) -> None:
    play = scenarios.begin("lock-pin", scene_of(pack))
    dial = on_the_bench(play).state.setup.dial
    assert dial is not None
    assert (play.view["pin"], play.view["bar"], play.view["turned"]) == ("out", "fitted", "")
    assert [mark["label"] for mark in play.view["marks"]] == ["back off to", "press from", "pin seats", "give up"]
    play, _ = play.act(A.ON_TO_PRESS)
    assert play.view["tooth"] == play.view["marks"][1]["at"]
    play, _ = play.act(A.PRESS)
    assert play.view["pin"] == "pressed"
    for _ in range(3):
        play, _ = play.act(A.ON)
    assert play.view["tooth"] == play.view["marks"][2]["at"]
    sheared, _ = play.act(A.ON)
    assert sheared.view["pin"] == "broken"
    play, _ = play.act(A.BAR_OFF)
    assert play.view["bar"] == "off"
    assert play.view["forward"] == ("clockwise" if dial.clockwise else "anticlockwise")
    json.dumps(dict(play.view))


def test_at_a_wrong_passing_the_tooth_stands_elsewhere() -> None:
    pack = packs.load("dunlin")
    play, _ = scenarios.replay("lock-pin", scene_of(pack, 15, 1), (A.PRESS, A.ON))
    # 240 crank degrees are 120 of the half-speed gear: four hours on from half past two.
    assert play.view["pin"] == "in"
    assert play.view["tooth"] == "6:30"


def test_what_cannot_be_tried_changes_nothing(pack: packs.Pack) -> None:
    play = scenarios.begin("lock-pin", scene_of(pack))
    again, seen = play.act(A.PIN_OUT)
    assert again is play
    assert "cannot be done" in seen
    assert play.explain() == "Nothing has been done yet."
    assert "flank" in play.act(A.ON_TO_PRESS)[0].explain()


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"press_from": "six"}, "well formed"),
        ({"press_from": "1/0"}, "can be"),
        ({"period": "10"}, "neighbouring passings"),
        ({"tells": "smell"}, "well formed"),
        ({"more": 1}, "well formed"),
        ({"stiff": "yes"}, "well formed"),
        ({"watched": "x" * 100}, "well formed"),
        ({"watched": {1, 2}}, "plain data"),
        ({"cylinder": float("nan")}, "plain data"),
        ({"start": {"before": "900", "passing": 0, "turned": "forward", "bar": "fitted"}}, "can be"),
        ({"tells": "hole"}, "has a safe end"),
    ],
)
def test_a_scene_that_cannot_be_is_refused(change: dict[str, object], rule: str) -> None:
    with pytest.raises(ItemError, match=rule):
        lock_pin_scenario.begin(scene_of(packs.load(CURLEW)) | change)


def test_a_scene_out_of_a_file_that_lacks_a_key_is_refused() -> None:
    undialled: Any = {"press_from": 6, "give_up": 4, "back_off": 15}
    nowhere: Any = None
    scene = scene_of(packs.load("dunlin"))
    del scene["dial"]
    with pytest.raises(ItemError, match="well formed"):
        lock_pin_scenario.begin(scene)
    with pytest.raises(ItemError, match="a dial"):
        lock_pin_scene.scene(Setup(**undialled), "gear", nowhere)


def test_a_tolerance_that_hides_the_wrong_flank_is_told_and_earns_nothing() -> None:
    wide = DUNLIN.replace('component = "fuel"\nstiff', 'component = "fuel"\ntolerance_deg = 0.6\nstiff', 1)
    assert wide != DUNLIN
    item, _ = drawn("lock-pin/pin-the-engine", packs.load_text(wide, "wide.toml"))
    assert isinstance(item, ActionsItem)
    lash = next(line.value for line in item.given if line.label == "Lash in crank degrees")
    assert lash.endswith("allowed error 0.6, but the wrong flank is never allowed")
    play = lock_pin_scenario.begin(item.scene)
    ways = lock_pin_scenario.ways_to_show(item.scene)
    for action in ways["presses-and-turns-back"]:
        play, _ = play.act(action)
    assert play.finished
    assert play.verdict().share == 0


def test_further_pins_are_told_and_stay_out() -> None:
    number = next(number for number in range(100) if "lock_pins" in random_packs.document(number))
    engine = random_packs.pack(number)
    item, _ = drawn("lock-pin/pin-the-engine", engine)
    told = next(line.value for line in item.given if line.label == "Other pins")
    assert told.startswith("second pin, in the ")
    assert told.endswith(": out")
