"""The lock pin's model against two independent ones: gears with flanks turned in small steps, and a plain graph."""

from __future__ import annotations

import random
from fractions import Fraction

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainkit import lockpin
from trainkit.lockpin import Action, Consequence, Pin, Setup, State

A = Action


@st.composite
def setups(draw: st.DrawFn, period: int = 720) -> Setup:
    tenth = lambda low, high: draw(st.integers(low, high)) / 10  # noqa: E731 - one line says it best
    shared = tenth(0, 8)
    press, give_up = tenth(20, 90), tenth(20, 90)
    tells = draw(st.sampled_from(["hole", "witness", "valves"]))
    parts = 1 if tells == "hole" else draw(st.sampled_from([2, 3]))
    return Setup(
        press_from=press,
        give_up=give_up,
        back_off=press + tenth(1, 150),
        clearance=draw(st.sampled_from([0.2, 0.3, 0.5])),
        lash_to_pin=shared + tenth(0, 8),
        lash_to_component=shared + tenth(0, 12),
        lash_shared=shared,
        period=Fraction(period, parts),
        right_every=period,
        witness_every=period if tells == "witness" else None,
        tells=tells,
        marks_on=draw(st.sampled_from(["bar", "pin gear", "component gear"])),
        false_holes=tuple(draw(st.lists(st.sampled_from([-25, -12, 12, 30, 41]), max_size=1))),
        stiff=draw(st.booleans()),
        compression=draw(st.booleans()),
    )


def random_state(setup: Setup, rng: random.Random, length: int) -> State:
    half = float(setup.period / 2)
    state = State.start(
        setup,
        before=round(rng.uniform(-half, half), 1) if rng.random() < 0.3 else round(rng.uniform(-20, 30), 1),
        passing=rng.randrange(setup.passings),
        turned=rng.choice(["forward", "back"]),
    )
    for _ in range(length):
        steps = [lockpin.step(state, action)[0] for action in lockpin.possible(state)]
        steps = [after for after in steps if not after.finished]
        state = rng.choice(steps)
    return state


# ---------------------------------------------------------------------------- gears with two flanks


class Mesh:
    """One gear driven by another: the play left before each of its two flanks is met."""

    def __init__(self, lash: float) -> None:
        self.ahead_of_me, self.behind_me = 0.0, lash  # pushed forward so far

    def follow(self, by: float) -> float:
        """Return what the driven gear moves when its driver moves."""
        if by >= 0:
            moved = max(0.0, by - self.ahead_of_me)
            self.ahead_of_me -= by - moved
            self.behind_me += by - moved
        else:
            moved = -max(0.0, -by - self.behind_me)
            self.ahead_of_me += moved - by
            self.behind_me -= moved - by
        return moved


class Bench:
    """A crank, two chains of gears and a pin, turned a little at a time; nothing is shared with the model."""

    STEP = 0.02

    def __init__(self, setup: Setup, crank: float) -> None:
        self.setup = setup
        shared = float(setup.lash_on_both)
        pin, component = float(setup.lash_to_pin) - shared, float(setup.lash_to_component) - shared
        # Each stretch of lash is split over two meshes: the model adds them up, here they are walked one by one.
        self.common = [Mesh(shared * 0.3), Mesh(shared * 0.7)]
        self.to_pin = [Mesh(pin * 0.6), Mesh(pin * 0.4)]
        self.to_component = [Mesh(component * 0.5), Mesh(component * 0.5)]
        self.crank = self.hole = self.component = crank
        self.pin = "out"
        self.stiff = setup.stiff
        self.in_hole = 0.0

    def turn(self, by: float) -> None:
        fork = by
        for mesh in self.common:
            fork = mesh.follow(fork)
        pin = component = fork
        for mesh in self.to_pin:
            pin = mesh.follow(pin)
        for mesh in self.to_component:
            component = mesh.follow(component)
        self.crank += by
        self.component += component
        if self.pin == "in" and abs(pin) > 1e-9:
            self.pin = "sheared"
        self.hole += pin

    def mark(self) -> float:
        return {"bar": self.crank, "pin gear": self.hole, "component gear": self.component}[self.setup.marks_on]

    def find_hole(self) -> float | None:
        period, clearance = float(self.setup.period), float(self.setup.clearance)
        for hole in (0.0, *map(float, self.setup.false_holes)):
            off = (self.hole - hole) % period
            if min(off, period - off) <= clearance + 1e-9:
                return hole
        return None

    def press(self) -> None:
        found = None if self.stiff else self.find_hole()
        self.pin = "pressed" if found is None else "in"
        self.in_hole = found or 0.0

    def bar(self, target: float, *, feeling: bool) -> None:
        by = self.STEP if target > self.mark() else -self.STEP
        while (self.mark() < target - 1e-6) if by > 0 else (self.mark() > target + 1e-6):
            # The last step before the place, or before a flank is met at it, may be shorter.
            self.turn(by if abs(target - self.mark()) > self.STEP else (target - self.mark() or by))
            if self.pin == "sheared":
                return
            if self.pin == "pressed" and not self.stiff:
                found = self.find_hole()
                if found is not None:
                    self.pin, self.in_hole = ("in" if feeling else "sheared"), found
                    return


def line_ahead(state: State, action: A) -> int:
    """Where an action of barring ends, in ticks."""
    if action is A.ON_TO_PRESS:
        return state.lattice.press_ahead(state.passing, state.mark)
    if action is A.BACK_OFF:
        return state.lattice.back_off_behind(state.passing, state.mark)
    return state.lattice.next_line(state.passing, state.mark, 1 if action is A.ON else -1)


@settings(max_examples=100, deadline=None)
@given(setup=setups(period=240), seed=st.integers(0, 2**32))
def test_gears_turned_in_small_steps_end_where_the_model_says(setup, seed):
    rng = random.Random(seed)
    state = State.start(setup, before=round(rng.uniform(-8, 10), 1))
    bench = Bench(setup, float(-state.mark_before))
    offset = 0.0  # the model counts from the nearest passing, the bench from where it began
    dull = {A.STARTER, A.TIGHTEN, A.DECLARE, A.CHECK, A.BAR_OFF}
    # Half of the walks begin with what random ones seldom do: the pin held while barring to and fro over the hole.
    held = [A.FREE, A.PRESS, *rng.choices([A.ON, A.BACK], k=6)] if rng.random() < 0.5 else []
    for turn in range(14):
        actions = [a for a in lockpin.possible(state) if a not in dull]
        if A.ON_TO_PRESS in actions and rng.random() < 0.5:
            actions.remove(A.ON_TO_PRESS)
        action = held[turn] if turn < len(held) and held[turn] in actions else rng.choice(actions)
        lat, before = state.lattice, state
        state, happening = lockpin.step(state, action)
        if action in (A.ON, A.BACK, A.ON_TO_PRESS, A.BACK_OFF):
            bench.bar(offset + line_ahead(before, action) / lat.scale, feeling=action in (A.ON, A.BACK))
            # Whole periods between the two ways of counting.
            offset += round((bench.crank - offset - state.crank / lat.scale) / float(setup.period)) * float(
                setup.period
            )
        elif action is A.PRESS:
            bench.press()
        elif action is A.LET_GO:
            bench.pin = bench.pin if bench.stiff else "out"
        elif action is A.FREE:
            bench.pin, bench.stiff = "out", False
        elif action is A.PIN_OUT:
            if happening.consequence is Consequence.KICKED:
                return
            bench.pin = "out"
        pins = {"out": Pin.OUT, "pressed": Pin.PRESSED, "sheared": Pin.SHEARED}
        expected = pins.get(bench.pin, Pin.SEATED if bench.in_hole == 0 else Pin.FALSE_HOLE)
        assert state.pin is expected, action
        if state.pin is Pin.SHEARED:
            return
        assert (bench.crank - offset) == pytest.approx(state.crank / lat.scale, abs=0.05)
        assert (bench.hole - offset) == pytest.approx(state.hole / lat.scale, abs=0.05)
        assert (bench.component - offset) == pytest.approx(state.component / lat.scale, abs=0.05)
        if state.pin is Pin.SEATED and setup.right(state.passing):
            assert bench.component - bench.hole == pytest.approx(float(state.timing_error), abs=0.05)


# ---------------------------------------------------------------------------- a plain graph


def graph_from(start: State) -> nx.DiGraph:
    """Every state that can follow, ends included; written out by doing every action, with nothing left out."""
    graph = nx.DiGraph()
    graph.add_node(start)
    todo = [start]
    while todo:
        state = todo.pop()
        for action in lockpin.possible(state):
            after, _ = lockpin.step(state, action)
            if after not in graph:
                todo.append(after)
            graph.add_edge(state, after)
    return graph


@settings(max_examples=10, deadline=None)
@given(setup=setups(), seed=st.integers(0, 2**32))
def test_acceptable_is_exactly_what_keeps_a_safe_end_in_reach(setup, seed):
    rng = random.Random(seed)
    start = random_state(setup, rng, rng.randrange(8))
    graph = graph_from(start)
    safe = [state for state in graph if state.outcome is Consequence.SAFE]
    graph.add_node("end")
    graph.add_edges_from((state, "end") for state in safe)
    leads_there = nx.ancestors(graph, "end")
    for state in rng.sample(sorted(graph.nodes - {"end"}, key=repr), 30):
        expected = tuple(a for a in lockpin.possible(state) if lockpin.step(state, a)[0] in leads_there)
        assert lockpin.acceptable(state) == expected


@settings(max_examples=30, deadline=None)
@given(setup=setups(), seed=st.integers(0, 2**32))
def test_whatever_is_acceptable_can_be_done_and_the_way_is_still_safe(setup, seed):
    rng = random.Random(seed)
    state = random_state(setup, rng, 3)
    for _ in range(20):  # wander by acceptable actions alone
        choices = lockpin.acceptable(state)
        if not choices:
            break
        state, _ = lockpin.step(state, rng.choice(choices))
        assert not state.outcome.lost
        way = lockpin.shortest_way(state)
        assert way is not None
        end, took = state, Fraction(0)
        for action in way:
            assert action in lockpin.acceptable(end)
            before = lockpin.effort(end)
            end, happening = lockpin.step(end, action)
            assert not happening.consequence.critical
            assert lockpin.effort(end) < before
            took += before - lockpin.effort(end)
        assert end.outcome is Consequence.SAFE
        assert took == lockpin.effort(state)


@settings(max_examples=5, deadline=None)
@given(setup=setups(), seed=st.integers(0, 2**32))
def test_no_way_takes_less_effort_than_the_one_found(setup, seed):
    state = random_state(setup, random.Random(seed), 2)
    graph = graph_from(state)
    for before, after in graph.edges:
        costs = []
        for action in lockpin.possible(before):
            end, happening = lockpin.step(before, action)
            if end == after:
                quarter_turns = happening.barred / 90 if happening.barred > 0 else -4 * happening.barred / 90
                costs.append((5 if action is A.BACK else 1) + quarter_turns)
        graph.edges[before, after]["cost"] = min(costs)
    ends = [end for end in graph if end.outcome is Consequence.SAFE]
    lengths = nx.single_source_dijkstra_path_length(graph, state, weight="cost")
    if ends and lockpin.shortest_way(state) is not None:
        assert min(lengths[end] for end in ends) == lockpin.effort(state)
    else:
        assert not ends
        assert lockpin.shortest_way(state) is None


@settings(max_examples=60, deadline=None)
@given(setup=setups(), seed=st.integers(0, 2**32))
def test_the_gears_never_leave_their_lash(setup, seed):
    state = random_state(setup, random.Random(seed), 25)
    lat = state.lattice
    assert 0 <= state.fork - state.crank <= lat.shared
    assert 0 <= state.hole - state.fork <= lat.to_pin
    assert 0 <= state.component - state.fork <= lat.to_component
    assert -lat.half < state.crank <= lat.half
    assert 0 <= state.passing < setup.passings


@settings(max_examples=15, deadline=None)
@given(setup=setups(), seed=st.integers(0, 2**32))
def test_the_same_state_always_gets_the_same_answer(setup, seed):
    state = random_state(setup, random.Random(seed), 6)
    again = State(
        Setup(**{name: getattr(setup, name) for name in setup.__dataclass_fields__ if name != "_memo"}),
        *(getattr(state, name) for name in State.__dataclass_fields__ if name != "setup"),
    )
    assert lockpin.acceptable(again) == lockpin.acceptable(state)
    assert lockpin.shortest_way(again) == lockpin.shortest_way(state)
