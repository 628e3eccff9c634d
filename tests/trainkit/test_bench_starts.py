"""How the bench is found: in many ways, so that nobody gets through with a list that was learnt by heart."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from typing import Any

import pytest

from tests.trainkit.fixed_lists import best_list, passed, starts
from tests.trainkit.second_ways.reading import PACKS, pack
from trainkit import lockpin
from trainkit.errors import LockPinError
from trainkit.lockpin import Action, Consequence, Pin, Setup, State

A = Action
# So many of the starts one fixed list may pass.
MOST = 0.2


def made(**values: Any) -> Setup:
    return Setup(**values)


VALVES = made(
    press_from=6, give_up=5, back_off=15, lash_to_pin="0.5", lash_to_component="1.25", period=360, tells="valves",
    tolerance=2, strict=True, firing_order=(1, 3, 4, 2),
)  # fmt: skip
WITNESS = made(press_from=6, give_up=5, back_off=15, period=240, tells="witness", witness_every=720, strict=True)


@pytest.mark.parametrize("engine", PACKS)
def test_no_fixed_list_passes_more_than_a_fifth_of_the_starts(engine: str) -> None:
    """Whoever learns a list has seen some starts, and meets others."""
    share, line = best_list(starts(pack(engine), 40), width=3)
    assert share > 0
    assert passed(starts(pack(engine), 300, seed=2), line) <= MOST


@pytest.mark.parametrize("engine", PACKS)
def test_the_bench_is_found_in_many_ways(engine: str) -> None:
    found = starts(pack(engine), 200)
    assert len(set(found)) > 180
    for of in (
        Counter(state.setup.little for state in found),
        Counter(state.stiff for state in found),
        Counter(state.bar_on for state in found),
        Counter(state.last for state in found),
        Counter(state.passing for state in found),
        Counter(state.pin.in_a_hole for state in found),
    ):
        assert len(of) > 1
        assert min(of.values()) > 4
    assert {state.pin for state in found} >= {Pin.OUT, Pin.PRESSED, Pin.SEATED}
    assert all(lockpin.shortest_way(state) for state in found)


@pytest.mark.parametrize("engine", PACKS)
def test_nobody_gets_through_without_looking(engine: str) -> None:
    for state in starts(pack(engine), 40):
        way = lockpin.shortest_way(state) or ()
        assert A.CHECK in way
        for action in way:
            if action is not A.CHECK:
                state, _ = lockpin.step(state, action)
            if state.finished:
                break
        assert state.outcome is Consequence.UNPROVEN


def played(state: State, *actions: Action) -> State:
    for action in actions:
        state, _ = lockpin.step(state, action)
    return state


def test_a_pin_that_went_in_while_barring_back_is_an_end_of_its_own_whatever_the_tolerance() -> None:
    seated = played(State.start(VALVES, before=-3), A.PRESS, A.BACK, A.BACK)
    assert (seated.pin, seated.seated_back) == (Pin.SEATED, True)
    assert seated.timing_error == Fraction(3, 4) < VALVES.tolerance
    ended, happening = lockpin.step(played(seated, A.CHECK, A.BAR_OFF), A.DECLARE)
    assert ended.outcome is Consequence.PINNED_BACK
    assert not ended.outcome.critical
    assert happening.truth == f"{lockpin.OUTCOMES[Consequence.PINNED_BACK]} Its event is 0.75\u2009crank degrees late."
    # Drawn and seated again on the way forward it is right.
    again = played(seated, A.BAR_OFF, A.PIN_OUT, A.FIT_BAR, A.BACK_OFF, A.ON_TO_PRESS, A.PRESS, A.ON, A.ON, A.ON)
    assert not again.seated_back
    assert played(again, A.CHECK, A.BAR_OFF, A.DECLARE, A.PIN_OUT, A.TIGHTEN).outcome is Consequence.SAFE


def test_a_tooth_that_tells_has_to_be_looked_at() -> None:
    seated = played(State.start(WITNESS, before=6), A.PRESS, A.ON, A.ON, A.ON)
    assert played(seated, A.DECLARE).outcome is Consequence.UNPROVEN
    assert played(seated, A.CHECK, A.DECLARE).declared


def test_a_bench_of_an_earlier_release_is_judged_as_it_was() -> None:
    old = made(
        press_from=6, give_up=5, back_off=15, lash_to_pin="0.5", lash_to_component="1.25", tolerance=1, period=240,
        tells="witness", witness_every=720,
    )  # fmt: skip
    seated = played(State.start(old, before=-3), A.PRESS, A.BACK, A.BACK)
    assert (seated.pin, seated.seated_back) == (Pin.SEATED, False)
    assert played(seated, A.DECLARE).declared


@pytest.mark.parametrize(
    ("before", "pin", "stiff", "found"),
    [
        ("0", "in", False, Pin.SEATED),
        ("30", "pressed", False, Pin.PRESSED),
        ("0", "pressed", True, Pin.PRESSED),
    ],
)
def test_the_pin_may_be_left_anywhere(before: str, pin: str, stiff: bool, found: Pin) -> None:
    setup = made(press_from=6, give_up=5, back_off=15, stiff=stiff)
    assert State.start(setup, before, pin=pin).pin is found  # type: ignore[arg-type]  # one of the three words


@pytest.mark.parametrize(("before", "pin", "stiff"), [("30", "in", False), ("0", "in", True), ("0", "pressed", False)])
def test_a_pin_that_cannot_be_there_is_refused(before: str, pin: str, stiff: bool) -> None:
    setup = made(press_from=6, give_up=5, back_off=15, stiff=stiff)
    with pytest.raises(LockPinError, match="A pin is out"):
        State.start(setup, before, pin=pin)  # type: ignore[arg-type]  # one of the three words
