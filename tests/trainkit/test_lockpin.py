"""The lock pin's model: every consequence, bad input, and the rules of the trade as numbers."""

from __future__ import annotations

import copy
import pickle
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from trainkit import gears, lockpin
from trainkit.errors import LockPinError
from trainkit.lockpin import Action, Consequence, Pin, Setup, State

A = Action


def plain(**changes: Any) -> Setup:
    """Return a setup as a person states it, with numbers as text or whole ones."""
    return Setup(**{**PLAIN, **changes})


def way_from(state: State) -> tuple[Action, ...]:
    way = lockpin.shortest_way(state)
    assert way is not None
    return way


PLAIN: dict[str, Any] = {
    "press_from": 6,
    "give_up": 4,
    "back_off": 15,
    "lash_to_pin": "0.5",
    "lash_to_component": "1.25",
}
WITNESS = PLAIN | {"period": 240, "tells": "witness", "witness_every": 720, "firing_order": (1, 3, 4, 2)}
VALVES = PLAIN | {"period": 360, "tells": "valves", "firing_order": (1, 5, 3, 6, 2, 4)}
SEAT = (A.PRESS, A.ON, A.ON, A.ON)  # from the press mark until the pin goes in
FINISH = (A.BAR_OFF, A.DECLARE, A.PIN_OUT, A.TIGHTEN)


def played(state: State, *actions: str) -> tuple[State, lockpin.Happening]:
    happening = None
    for action in actions:
        state, happening = lockpin.step(state, action)
    assert happening is not None
    return state, happening


def pinned(**changes: object) -> State:
    state, _ = played(State.start(plain(**changes), before=6), *SEAT)
    assert state.pin is Pin.SEATED
    return state


# ---------------------------------------------------------------------------- consequences


@pytest.mark.parametrize(
    ("setup", "before", "passing", "actions", "outcome", "critical"),
    [
        (PLAIN, 6, 0, (*SEAT, *FINISH), Consequence.SAFE, False),
        (PLAIN, 6, 0, (*SEAT, A.ON), Consequence.SHEARED, True),
        (PLAIN, 6, 0, (*SEAT, A.BACK), Consequence.SHEARED, True),
        (PLAIN, 6, 0, (*SEAT, A.ON_TO_PRESS), Consequence.SHEARED, True),
        (PLAIN, 6, 0, (*SEAT, A.STARTER), Consequence.STARTER, True),
        (PLAIN, 90, 0, (A.STARTER,), Consequence.STARTER, True),
        (PLAIN, 6, 0, (*SEAT, A.PIN_OUT), Consequence.KICKED, True),
        (PLAIN, 6, 0, (*SEAT, A.BAR_OFF, A.DECLARE, A.TIGHTEN), Consequence.PIN_LEFT_IN, True),
        (PLAIN, 6, 0, (A.PRESS, A.TIGHTEN), Consequence.PIN_LEFT_IN, True),
        (PLAIN, 6, 0, (*SEAT, A.BAR_OFF, A.DECLARE, A.PIN_OUT, A.FIT_BAR, A.TIGHTEN), Consequence.BAR_LEFT, True),
        (PLAIN, 6, 0, (*SEAT, A.BAR_OFF, A.DECLARE, A.PIN_OUT, A.FIT_BAR, A.ON), Consequence.MOVED, False),
        (PLAIN, 6, 0, (A.BAR_OFF, A.DECLARE), Consequence.NOT_PINNED, False),
        (PLAIN, 6, 0, (A.BAR_OFF, A.TIGHTEN), Consequence.NOT_PINNED, False),
        (PLAIN, -2, 0, (A.PRESS, A.BACK, A.DECLARE), Consequence.MISTIMED, False),
        (WITNESS, 6, 1, (A.PRESS, A.ON, A.DECLARE), Consequence.WRONG_CENTRE, False),
        (VALVES, 6, 1, (*SEAT, A.CHECK, A.DECLARE), Consequence.WRONG_CENTRE, False),
        (VALVES, 6, 0, (*SEAT, A.DECLARE), Consequence.UNPROVEN, False),
        (VALVES, 6, 0, (*SEAT, A.CHECK, *FINISH), Consequence.SAFE, False),
        (PLAIN | {"false_holes": (-20,)}, 30, 0, (A.PRESS, A.ON_TO_PRESS), Consequence.SHEARED, True),
        (PLAIN | {"false_holes": (-8,)}, 8, 0, (A.PRESS, A.DECLARE), Consequence.FALSE_HOLE, False),
        (PLAIN | {"false_holes": (-8,)}, 8, 0, (A.PRESS, A.ON), Consequence.SHEARED, True),
    ],
)
def test_each_end_is_reached_by_its_own_mistake(
    setup: dict[str, Any], before: int, passing: int, actions: tuple[Action, ...], outcome: Consequence, critical: bool
) -> None:
    state, happening = played(State.start(Setup(**setup), before, passing=passing), *actions)
    assert happening.consequence is outcome
    assert happening.consequence.critical is critical
    assert state.finished
    assert lockpin.OUTCOMES[outcome].split(".")[0] in happening.truth
    assert lockpin.possible(state) == () == lockpin.acceptable(state)


def test_every_consequence_is_covered_above() -> None:
    covered = {mark.args[1][k][4] for mark in test_each_end_is_reached_by_its_own_mistake.pytestmark for k in range(21)}
    # The last one is for benches that are strict, see test_bench_starts.
    assert covered == set(Consequence) - {Consequence.NOTHING, Consequence.PINNED_BACK}


def test_a_missed_hole_costs_the_round_trip_and_nothing_else() -> None:
    state, _ = played(State.start(plain(), before=6), A.ON, A.ON, A.ON, A.ON, A.ON)
    assert state.mark_before == -4
    assert lockpin.place(state) == "at the give-up mark"
    state, happening = played(state, A.BACK_OFF, A.ON_TO_PRESS, *SEAT, *FINISH)
    assert happening.consequence is Consequence.SAFE


def test_the_search_backs_off_after_a_miss_rather_than_barring_two_turns_on() -> None:
    state, _ = played(State.start(plain(), before=6), A.ON, A.ON, A.ON, A.ON, A.ON)
    assert way_from(state)[:3] == (A.BACK_OFF, A.ON_TO_PRESS, A.PRESS)


def test_pressed_early_it_rubs_and_still_seats_when_the_hole_comes() -> None:
    state, happening = played(State.start(plain(), before=12), A.PRESS, A.ON)
    assert happening.seen.startswith("The pin rubs.")
    state, happening = played(state, A.ON, A.ON, A.ON, A.ON, A.ON)
    assert state.pin is Pin.SEATED
    assert state.timing_error == 0


def test_a_stretch_of_barring_with_the_pin_held_shears_it_at_the_hole() -> None:
    state, happening = played(State.start(plain(), before=6), A.PRESS, A.ON_TO_PRESS)
    assert happening.consequence is Consequence.SHEARED
    assert state.mark_before == Fraction(1, 4)  # at the edge of the hole, not a turn later


def test_a_stiff_pin_neither_seats_nor_springs_back_until_it_is_freed() -> None:
    stiff = plain(stiff=True)
    state, happening = played(State.start(stiff, before=6), A.PRESS, A.ON, A.ON, A.ON)
    assert state.pin is Pin.PRESSED
    assert lockpin.place(state) == "at the seat mark"
    state, happening = played(state, A.LET_GO)
    assert "stays" in happening.seen
    assert state.pin is Pin.PRESSED
    state, _ = played(state, A.FREE)
    assert (state.pin, state.stiff) == (Pin.OUT, False)
    assert way_from(State.start(stiff, before=40))[0] is A.FREE


def test_with_every_cylinder_vented_the_bar_may_stay_on_while_the_pin_is_drawn() -> None:
    state = pinned(compression=False)
    assert A.PIN_OUT in lockpin.acceptable(state)
    assert A.PIN_OUT not in lockpin.acceptable(pinned())


def test_many_threads_get_the_same_answer() -> None:
    setup = Setup(**WITNESS)
    state = State.start(setup, before=30, passing=1)
    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(lockpin.acceptable, [state] * 32))
    assert set(answers) == {lockpin.acceptable(State.start(Setup(**WITNESS), before=30, passing=1))}
    assert answers[0]


def test_no_action_is_safe_on_the_starter_anywhere() -> None:
    for before in (180, 30, 6, 0, -4):
        assert A.STARTER not in lockpin.acceptable(State.start(plain(), before))


# ---------------------------------------------------------------------------- timing errors as rules


@pytest.mark.parametrize(
    ("to_pin", "to_component", "shared", "error"),
    [
        (0, "1.5", 0, "1.5"),  # hole in the crank's own wheel: the full lash to the component
        ("0.5", "1.25", "0.5", "0.75"),  # pin upstream in series: the lash between pin and component
        ("0.8", "0.8", "0.3", 0),  # two equal branches
        ("1.2", "0.5", "0.2", "-0.7"),  # the pin's branch has more lash: the event comes early
    ],
)
def test_seated_while_turning_back_the_error_is_the_signed_difference_of_lash(
    to_pin: str | int, to_component: str | int, shared: str | int, error: str | int
) -> None:
    lash: dict[str, Any] = {"lash_to_pin": to_pin, "lash_to_component": to_component, "lash_shared": shared}
    setup = Setup(press_from=Fraction(6), give_up=Fraction(6), back_off=Fraction(15), **lash)
    state, happening = played(State.start(setup, before=-4), A.PRESS, A.BACK, A.BACK)
    assert state.pin is Pin.SEATED
    assert state.timing_error == Fraction(error) == setup.lash_difference
    # Going back, the pin meets the far edge of its clearance; the crank is back by all lash to the pin.
    lat = state.lattice
    assert lat.angle(state.hole) == setup.clearance
    assert lat.angle(state.hole - state.crank) == setup.lash_to_pin
    mistimed = state.timing_error != 0
    assert (A.DECLARE not in lockpin.acceptable(state)) is mistimed
    if mistimed:
        _, happening = played(state, A.BAR_OFF, A.DECLARE)
        assert happening.consequence is Consequence.MISTIMED
        assert ("late" if state.timing_error > 0 else "early") in happening.truth


def far(back: str) -> Setup:
    # The marks are at the bar; the lash to the component is three crank degrees, more than any real train has.
    one, three = Fraction(1), Fraction(3)
    return Setup(press_from=one, give_up=one, back_off=Fraction(back), lash_to_component=three, marks_on="bar")


@pytest.mark.parametrize("back", ["1.5", "2.25", "3", "3.5"])
def test_backed_off_too_little_the_rest_of_the_lash_is_the_error(back: str) -> None:
    setup = far(back)
    state, _ = played(State.start(setup, before=-4), A.BACK_OFF, A.ON_TO_PRESS, A.PRESS, A.ON, A.ON, A.ON)
    assert state.pin is Pin.SEATED
    # The pin drops in at the near edge of its clearance, so the crank comes forward that much less.
    assert state.timing_error == max(Fraction(0), 3 - Fraction(back) + setup.clearance)
    assert setup.least_back_off == 4


def test_the_search_does_not_trust_a_back_off_mark_that_is_too_near() -> None:
    setup = far("1.5")
    missed = State.start(setup, before=-1)
    assert A.BACK_OFF not in way_from(missed)
    _, happening = played(missed, *way_from(missed))
    assert happening.consequence is Consequence.SAFE


def test_a_tolerance_lets_a_small_error_pass_and_no_larger_one() -> None:
    for tolerance, outcome in (("0.75", Consequence.NOTHING), ("0.74", Consequence.MISTIMED)):
        setup = plain(tolerance=tolerance)
        _, happening = played(State.start(setup, before=-2), A.PRESS, A.BACK, A.DECLARE)
        assert happening.consequence is outcome


def test_a_tolerance_that_hides_the_wrong_flank_lets_neither_way_pass() -> None:
    """However wide the sheet's tolerance: what barring back leaves, or too short a way back, is no good end."""
    for tolerance in ("0.75", "3", "30"):
        setup = plain(tolerance=tolerance, strict=True)
        _, happening = played(State.start(setup, before=-2), A.PRESS, A.BACK, A.DECLARE)
        assert happening.consequence is Consequence.PINNED_BACK
        short = replace(far("1.5"), tolerance=Fraction(tolerance), strict=True)
        state, _ = played(State.start(short, before=-4), A.BACK_OFF, A.ON_TO_PRESS, A.PRESS, A.ON, A.ON, A.ON)
        assert state.pin is Pin.SEATED
        assert state.timing_error > 0
        _, happening = lockpin.step(state, A.DECLARE)
        assert happening.consequence is Consequence.MISTIMED


def test_the_exhaust_dead_centre_is_a_whole_crank_turn_out() -> None:
    setup = Setup(**VALVES)
    state, happening = played(State.start(setup, before=6, passing=1), *SEAT)
    assert abs(state.timing_error) == 360
    assert "exhaust dead centre of cylinder 1, compression dead centre of cylinder 6" in happening.truth


def test_either_dead_centre_will_do_where_the_manual_says_so() -> None:
    setup = plain(period=360, right_every=360)
    assert not setup.ambiguous
    _, happening = played(State.start(setup, before=6, passing=1), *SEAT, *FINISH)
    assert happening.consequence is Consequence.SAFE


def test_a_false_hole_is_off_by_its_distance() -> None:
    setup = plain(false_holes=(-8,))
    state, happening = played(State.start(setup, before=8), A.PRESS)
    assert state.timing_error == -8
    assert happening.seen == "The pin goes in."  # the hand gets nothing else


# ---------------------------------------------------------------------------- passings


def test_a_hole_at_another_pace_comes_by_at_wrong_places_that_the_tooth_tells() -> None:
    setup = Setup(**WITNESS)
    assert (setup.passings, setup.ambiguous, setup.untold) == (3, True, ())
    assert [setup.off_centre(k) for k in range(3)] == [0, 240, -240]
    assert [setup.agrees(k) for k in range(3)] == [True, False, False]


def test_exact_fractions_of_odd_tooth_counts() -> None:
    setup = plain(period=Fraction(360 * 31, 24), tells="valves")
    assert setup.passings == 48  # 720 / 465 = 48/31
    assert setup.cycle == 22320
    assert sum(setup.right(k) for k in range(setup.passings)) == 1


def test_a_witness_tooth_at_the_pace_of_the_hole_tells_nothing() -> None:
    setup = plain(period=240, tells="witness", witness_every=240)
    assert setup.untold == (1, 2)


def test_where_nothing_tells_the_dead_centre_there_is_no_safe_way() -> None:
    untold = plain(period=360)  # the hole comes by at both dead centres, and nobody looks at the valves
    state = State.start(untold, before=6)
    assert untold.untold == (1,)
    assert lockpin.acceptable(state) == ()
    assert lockpin.shortest_way(state) is None
    with pytest.raises(LockPinError, match="No safe pinning"):
        lockpin.effort(state)


def test_after_a_bad_end_there_is_no_way_and_after_a_good_one_nothing_is_left_to_do() -> None:
    bad, _ = played(State.start(Setup(**WITNESS), before=6, passing=1), A.PRESS, A.ON, A.DECLARE)
    assert lockpin.shortest_way(bad) is None
    good, _ = played(pinned(), *FINISH)
    assert lockpin.shortest_way(good) == ()
    assert lockpin.effort(good) == 0


def test_barring_on_to_the_press_mark_goes_where_the_marked_tooth_comes_by() -> None:
    setup = Setup(**WITNESS)
    state, happening = played(State.start(setup, before=6, passing=1), A.ON_TO_PRESS)
    assert state.passing == 0
    assert happening.barred == 480
    assert lockpin.place(state) == "at the press mark"


def test_the_check_tells_the_stroke_and_is_void_once_the_engine_is_moved_on() -> None:
    for passing, word in ((0, "both shut"), (1, "overlapping")):
        state, happening = played(State.start(Setup(**VALVES), before=6, passing=passing), A.CHECK)
        assert word in happening.seen
        assert state.checked is (passing == 0)
    state, _ = played(State.start(Setup(**VALVES), before=6), A.CHECK, A.ON_TO_PRESS)
    assert not state.checked
    exhaust = Setup(**VALVES | {"dead_centre": "exhaust"})
    assert "overlapping" in played(State.start(exhaust, before=0), A.CHECK)[1].seen
    assert "nothing" in played(State.start(exhaust, before=90), A.CHECK)[1].seen
    assert "away" in played(State.start(Setup(**WITNESS), before=90), A.CHECK)[1].seen
    assert "nothing to look at" in played(State.start(plain(), before=90), A.CHECK)[1].seen


def test_what_is_seen_never_tells_a_flank_or_a_false_hole() -> None:
    forward, backward = played(State.start(plain(), before=6), *SEAT)[1], None
    state = State.start(plain(), before=-2, turned="back")
    _, backward = played(state, A.PRESS, A.BACK)
    assert forward.seen == backward.seen == "The pin goes in. You stop. The mark stands at the seat mark."
    assert forward.truth != backward.truth


# ---------------------------------------------------------------------------- trains and clocks


def test_a_setup_out_of_a_train_has_the_lash_and_pace_of_its_gears() -> None:
    train = gears.GearTrain(
        [
            gears.Gear("crank", 30, module_mm=3),
            gears.Gear("idler", 20, module_mm=3),
            gears.Gear("pump", 60, module_mm=3),
        ],
        [gears.Mesh("crank", "idler", lash_mm=0.3), gears.Mesh("idler", "pump", lash_mm=0.45)],
    )
    setup = lockpin.from_train(
        train,
        crank="crank",
        hole_in="idler",
        component="pump",
        watched="pump",
        forward="clockwise",
        forward_seen_from="flywheel",
        seen_from="front",
        seats="3:00",
        press_from=8,
        give_up=6,
        back_off_to="3:40",
        tells="witness",
    )
    # By hand: 0.3 mm on a radius of 45 mm is 0.382 degrees of the crank; 0.45 mm on 90 mm is 0.2865 of the pump.
    assert float(setup.lash_to_pin) == pytest.approx(0.382, abs=6e-4)
    assert float(setup.lash_to_component) == pytest.approx(0.382 + 2 * 0.2865, abs=1.1e-3)
    assert setup.lash_on_both == setup.lash_to_pin
    assert setup.period == 240
    assert setup.witness_every == 720
    assert setup.marks_on == "component gear"
    # Two meshes: the pump goes the way of the crank, clockwise from the flywheel, so anticlockwise from the front.
    assert setup.dial is not None
    assert setup.dial.clockwise is False
    assert [setup.press_from, setup.give_up] == [8, 6]
    # Anticlockwise the mark comes down from later hours: 40 minutes of the clock, 20 degrees of the pump, before 3:00.
    assert setup.back_off == 40


def test_positions_met_in_the_wrong_order_are_refused() -> None:
    dial = lockpin.Dial(seen_from="front", clockwise=False, turns_per_crank=Fraction(1, 2), seats_at=Fraction(90))
    right = Setup.from_clock(dial, press_at=Fraction(93), give_up_at=Fraction(88), back_off_at=Fraction(100))
    assert [right.press_from, right.give_up, right.back_off] == [6, 4, 20]
    with pytest.raises(LockPinError, match="in that order"):
        Setup.from_clock(dial, press_at=Fraction(87), give_up_at=Fraction(92), back_off_at=Fraction(80))


# ---------------------------------------------------------------------------- values and bad input


def test_a_setup_and_a_state_are_values() -> None:
    setup = Setup(**WITNESS)
    state = State.start(setup, before=6)
    lockpin.acceptable(state)
    assert setup == Setup(**WITNESS)
    assert hash(setup) == hash(Setup(**WITNESS))
    for again in (pickle.loads(pickle.dumps(state)), copy.deepcopy(state)):  # noqa: S301 - our own bytes
        assert again == state
        assert lockpin.acceptable(again) == lockpin.acceptable(state)
    with pytest.raises(AttributeError):
        setup.period = Fraction(1)  # type: ignore[misc]  # the point of the test


@pytest.mark.parametrize(
    ("changes", "rule"),
    [
        ({"press_from": float("nan")}, "finite number"),
        ({"press_from": float("inf")}, "finite number"),
        ({"press_from": "six"}, "finite number"),
        ({"press_from": True}, "finite number"),
        ({"press_from": None}, "finite number"),
        ({"lash_to_pin": "1/0"}, "finite number"),
        ({"press_from": 0}, "more than zero"),
        ({"give_up": -4}, "more than zero"),
        ({"period": 0}, "more than zero"),
        ({"lash_to_pin": "-0.1"}, "not negative"),
        ({"tolerance": -1}, "not negative"),
        ({"lash_shared": 2}, "not more than that of either"),
        ({"clearance": 4}, "inside the window"),
        ({"back_off": 6}, "further back than the press position"),
        ({"nudge": 5}, "no further than from one mark to the next"),
        ({"period": 40}, "neighbouring passings"),
        ({"period": Fraction(720, 719) * 359}, "repeats within"),
        ({"tells": "smell"}, "one of hole, witness, valves"),
        ({"tells": "witness"}, "known pace"),
        ({"marks_on": "sump"}, "one of bar"),
        ({"dead_centre": "bottom"}, "one of compression"),
        ({"stiff": "yes"}, "true or false"),
        ({"firing_order": (1, 2, 2)}, "every cylinder once"),
        ({"cylinder": 0}, "numbered from 1"),
        ({"cylinder": 5, "firing_order": (1, 3, 4, 2)}, "no such cylinder"),
        ({"false_holes": ("0.3",)}, "clear of the true one"),
        ({"false_holes": (720,)}, "clear of the true one"),
        ({"false_holes": ("x",)}, "finite number"),
        ({"false_holes": "140"}, "a list of numbers"),
        ({"false_holes": None}, "a list of numbers"),
        ({"firing_order": 4}, "a list of numbers"),
        ({"firing_order": ("1", "2")}, "every cylinder once"),
        ({"dial": "12:00"}, "The dial is a Dial"),
    ],
)
def test_a_setup_that_cannot_be_is_refused_with_rule_and_remedy(changes: dict[str, Any], rule: str) -> None:
    with pytest.raises(LockPinError, match=rule) as caught:
        plain(**changes)
    assert isinstance(caught.value, ValueError)
    assert caught.value.remedy.endswith(".")


@pytest.mark.parametrize(
    ("field", "value", "rule"),
    [
        ("seen_from", "above", "front or flywheel"),
        ("turns_per_crank", 0, "turns when"),
        ("seats_at", "up", "finite"),
        ("clockwise", "yes", "true or false"),
    ],
)
def test_a_dial_that_cannot_be_is_refused(field: str, value: object, rule: str) -> None:
    good: dict[str, Any] = {"seen_from": "front", "clockwise": True, "turns_per_crank": 1, "seats_at": 0}
    with pytest.raises(LockPinError, match=rule):
        lockpin.Dial(**(good | {field: value}))


def test_states_and_actions_that_cannot_be_are_refused() -> None:
    setup = plain()
    with pytest.raises(LockPinError, match="within 360 crank degrees"):
        State.start(setup, before=361)
    with pytest.raises(LockPinError, match="forward or back"):
        State.start(setup, before=6, turned="sideways")  # type: ignore[arg-type]  # the point of the test
    with pytest.raises(LockPinError, match="whole numbers"):
        State.start(setup, before=6, passing=0.5)  # type: ignore[arg-type]  # the point of the test
    with pytest.raises(LockPinError, match="The actions are free-pin"):
        lockpin.step(State.start(setup, before=6), "kick")
    with pytest.raises(LockPinError, match="cannot be tried"):
        lockpin.step(State.start(setup, before=6), A.PIN_OUT)
    ended, _ = played(State.start(setup, before=6), A.STARTER)
    with pytest.raises(LockPinError, match="It has ended"):
        lockpin.step(ended, A.PRESS)
