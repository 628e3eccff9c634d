"""Stages, joints after any history, bolt patterns, and what friction does to preload."""

from __future__ import annotations

import cmath
import itertools
import math
import statistics
from collections.abc import Callable, Sequence
from typing import Any

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainkit.errors import TighteningError, TrainkitError
from trainkit.quantities import torque
from trainkit.tightening import (
    WORKS,
    Joint,
    Loosen,
    MomentVerdict,
    OutwardVerdict,
    Pattern,
    Renew,
    Schedule,
    Stage,
    Tighten,
    Work,
    faults,
    preload_change,
    step,
)
from trainkit.tightening.joint import Event, JointState
from trainkit.tightening.judging import MOST_EXACT, SECOND_WEIGHT

FULL = (Stage("finger-tight"), Stage("snug", "5 N·m"), Stage("first", "11 N·m"), Stage("final", "27 N·m"))
ANGLE = (Stage("snug"), Stage("first", "20 N·m"), Stage("final", angle=60))


class TestStages:
    def test_torque_is_read_in_any_notation(self) -> None:
        assert Stage("first", "8 lb ft").torque == torque("8 lbf·ft")
        assert Stage("final", torque("27 N·m")).by == "torque"
        assert [stage.by for stage in ANGLE] == ["hand", "torque", "angle"]
        assert str(Stage("final", angle=60)) == "final, 60° further"

    @pytest.mark.parametrize(
        ("name", "given_torque", "angle", "rule"),
        [
            ("second", None, None, "The stages are"),
            ("final", None, None, "torque or an angle"),
            ("first", "20 N·m", 60, "by torque or by angle"),
            ("finger-tight", "2 N·m", None, "without a tool"),
            ("final", None, 0, "more than 0"),
            ("final", None, 721, "more than 0"),
            ("final", None, math.nan, "more than 0"),
            ("final", None, True, "more than 0"),
            ("final", "20 lb", None, "20 lb"),
            ("final", "-5 N·m", None, "sign"),
        ],
    )
    def test_stage_that_cannot_be(self, name: str, given_torque: str | None, angle: float | None, rule: str) -> None:
        with pytest.raises(TighteningError, match=rule) as caught:
            Stage(name, given_torque, angle)
        assert isinstance(caught.value, TrainkitError)
        assert caught.value.remedy

    @pytest.mark.parametrize(
        ("stages", "rule"),
        [
            ([], "at least one stage"),
            ([Stage("snug")], "final one"),
            ([Stage("final", "20 N·m"), Stage("first", "10 N·m")], "follow each other"),
            ([Stage("first", "10 N·m"), Stage("first", "12 N·m"), Stage("final", "20 N·m")], "at most once"),
            ([Stage("first", "20 N·m"), Stage("final", "20 N·m")], "more torque"),
            # 20 N·m is 14.75 lbf·ft: the larger number is the smaller torque.
            ([Stage("first", "20 N·m"), Stage("final", "14 lbf·ft")], "more torque"),
            ([Stage("snug"), Stage("final", angle=90)], "counted from"),
            ([Stage("first", "0 N·m"), Stage("final", "20 N·m")], "more than none"),
        ],
    )
    def test_stages_that_cannot_follow(self, stages: list[Stage], rule: str) -> None:
        assert any(rule in fault.rule for fault in faults(stages))
        with pytest.raises(TighteningError) as caught:
            Schedule(stages)
        assert caught.value.remedy


def pass_over(joint: Joint, stage: str) -> list[Tighten]:
    return [Tighten(bolt, stage) for bolt in joint.bolts]


def whole(joint: Joint) -> list[Tighten]:
    return [event for stage in joint.schedule.stages for event in pass_over(joint, stage.name)]


def events(joint: Joint) -> st.SearchStrategy[object]:
    bolts = st.sampled_from(joint.bolts)
    return st.one_of(
        st.builds(Tighten, bolts, st.sampled_from([stage.name for stage in joint.schedule.stages])),
        st.builds(Loosen, bolts),
        st.builds(Work, st.sampled_from(list(WORKS))),
    )


PLAIN = Joint(["1", "2", "3", "4"], FULL)
STRETCH = Joint(["a", "b"], ANGLE)


class TestJoint:
    @pytest.mark.parametrize("joint", [PLAIN, STRETCH, Joint(["1"], [Stage("final", "9 N·m")])])
    def test_stages_taken_in_turn_make_a_sound_joint(self, joint: Joint) -> None:
        state, outcomes = joint.play(whole(joint))
        assert state.sound
        assert state.reached_by_all == state.holds == "final"
        assert all(outcome.fault is None for outcome in outcomes)
        assert state.next_tightenings() == ()

    def test_works_follow_the_stages(self) -> None:
        done: list[tuple[str, ...]] = [PLAIN.start().works()]
        state = PLAIN.start()
        for count in range(1, len(FULL) + 1):
            state = PLAIN.after([event for each in FULL[:count] for event in pass_over(PLAIN, each.name)])
            done.append(state.works())
        assert done == [
            ("fit", "move"),
            ("fit", "move", "set"),
            ("fit", "move", "set"),
            ("set", "check"),
            ("check", "mark"),
        ]

    def test_tightest_bolt_holds_and_loosest_counts(self) -> None:
        state = PLAIN.after([*pass_over(PLAIN, "finger-tight"), Tighten("2", "snug")])
        assert (state.reached_by_all, state.holds) == ("finger-tight", "snug")
        assert {event.bolt for event in state.next_tightenings()} == {"1", "3", "4"}

    @pytest.mark.parametrize(
        ("joint", "history", "code"),
        [
            (PLAIN, [Tighten("1", "final")], "skipped"),
            (PLAIN, [*pass_over(PLAIN, "finger-tight"), Tighten("1", "snug"), Tighten("1", "first")], "ahead"),
            (STRETCH, [*whole(STRETCH), Tighten("a", "final")], "angle-again"),
            (PLAIN, [*whole(PLAIN), Loosen("3")], "disturbed"),
            (PLAIN, [*whole(PLAIN), Work("set")], "too-tight"),
            (PLAIN, [*whole(PLAIN), Work("fit")], "too-tight"),
            (PLAIN, [Work("set")], "too-loose"),
            (PLAIN, [*pass_over(PLAIN, "finger-tight"), Work("check")], "too-loose"),
            (PLAIN, [*pass_over(PLAIN, "finger-tight"), Work("mark")], "too-loose"),
        ],
    )
    def test_fault(self, joint: Joint, history: list[Tighten], code: str) -> None:
        state, outcomes = joint.play(history)
        assert [fault.code for fault in state.faults] == [code]
        assert outcomes[-1].fault == state.faults[-1]
        assert all(outcome.fault is None for outcome in outcomes[:-1])
        assert not state.sound

    def test_same_torque_again_does_nothing(self) -> None:
        state = PLAIN.after(whole(PLAIN))
        for stage in FULL:
            again, outcome = step(state, Tighten("1", stage.name))
            assert again == state
            assert "does not turn" in outcome.text

    def test_work_done_too_early_is_put_right_by_doing_it_again(self) -> None:
        early = PLAIN.after([Work("mark"), *whole(PLAIN)])
        assert not early.sound
        assert step(early, Work("mark"))[0].sound

    def test_stretched_bolt_must_be_renewed(self) -> None:
        loose = STRETCH.after([*whole(STRETCH), Loosen("a"), Loosen("b")])
        assert loose.spent == (True, True)
        assert loose.next_tightenings() == ()
        assert [fault.code for fault in step(loose, Tighten("a", "snug"))[0].faults] == ["reused"]
        renewed: list[Event] = [Renew("a"), Renew("b"), *whole(STRETCH)]
        state = loose
        for event in renewed:
            state, _ = step(state, event)
        assert state.sound

    def test_bolt_turned_too_far_is_spent_even_where_it_was_not_loosened_before(self) -> None:
        over = STRETCH.after([*whole(STRETCH), Tighten("a", "final")])
        assert over.spent == (True, False)
        for bolt in STRETCH.bolts:
            over, _ = step(over, Loosen(bolt))
        assert over.spent == (True, True)
        assert over.faults == ()

    def test_single_use_by_torque(self) -> None:
        joint = Joint(["1"], [Stage("final", "9 N·m")], single_use=True)
        assert joint.after([Tighten("1", "final"), Loosen("1")]).spent == (True,)
        plain = Joint(["1"], [Stage("final", "9 N·m")])
        assert plain.after([Tighten("1", "final"), Loosen("1"), Tighten("1", "final")]).sound

    @given(st.lists(events(PLAIN), max_size=40))
    def test_any_history_can_be_put_right_by_starting_again(self, history: list[Tighten]) -> None:
        state = PLAIN.after(history)
        assert all(0 <= reached <= len(FULL) for reached in state.reached)
        for bolt in PLAIN.bolts:
            state, _ = step(state, Loosen(bolt))
        if any(PLAIN.after(history).reached):
            assert state == PLAIN.start()
        for event in whole(PLAIN):
            state, outcome = step(state, event)
            assert outcome.fault is None
        assert state.finished

    @given(st.lists(events(STRETCH), max_size=40))
    def test_what_may_come_next_never_makes_a_fault(self, history: list[Tighten]) -> None:
        state = STRETCH.after(history)
        for event in state.next_tightenings():
            assert step(state, event)[1].fault is None
        for name in WORKS:
            assert (step(state, Work(name))[1].fault is None) == (name in state.works())

    @given(st.lists(events(STRETCH), max_size=40))
    def test_a_spent_bolt_stays_spent_until_renewed(self, history: list[Tighten]) -> None:
        state: JointState = STRETCH.start()
        for event in history:
            after, _ = step(state, event)
            assert all(now or not before for now, before in zip(after.spent, state.spent, strict=True))
            state = after


def cost_of(points: list[tuple[float, float]], order: tuple[int, ...]) -> float:
    """The measure, written down again from its definition."""
    centre = complex(statistics.fmean(x for x, _ in points), statistics.fmean(y for _, y in points))
    arms = [complex(x, y) - centre for x, y in points]
    radius = statistics.fmean(abs(arm) for arm in arms)
    total = 0.0
    for taken in range(1, len(order) + 1):
        tightened = [arms[place] for place in order[:taken]]
        moment = abs(sum(tightened)) / radius
        second = abs(sum(cmath.exp(2j * cmath.phase(arm)) for arm in tightened))
        total += moment**2 + SECOND_WEIGHT * second**2
    return total


@st.composite
def near_circles(draw: st.DrawFn, most: int = 6) -> Pattern:
    count = draw(st.integers(4, most))
    radius = draw(st.floats(20, 400))
    points = []
    for place in range(count):
        angle = 2 * math.pi * (place + draw(st.floats(-0.1, 0.1))) / count
        here = radius * draw(st.floats(0.97, 1.03))
        points.append((here * math.sin(angle), here * math.cos(angle)))
    return Pattern(points)


def rotated(pattern: Pattern, angle: float, scale: float = 1, shift: complex = 0) -> Pattern:
    turned = [complex(x, y) * scale * cmath.exp(1j * angle) + shift for x, y in pattern.points]
    return Pattern([(place.real, place.imag) for place in turned], pattern.names)


class TestCircles:
    @given(near_circles())
    @settings(max_examples=25)
    def test_bounds_equal_brute_force(self, pattern: Pattern) -> None:
        costs = [cost_of(list(pattern.points), order) for order in itertools.permutations(range(len(pattern)))]
        verdict = pattern.judge(pattern.names)
        assert isinstance(verdict, MomentVerdict)
        assert verdict.bounds.best == pytest.approx(min(costs), rel=1e-9)
        assert verdict.bounds.worst == pytest.approx(max(costs), rel=1e-9)
        assert verdict.cost == pytest.approx(costs[0], rel=1e-9)

    @pytest.mark.parametrize("count", [7, 10])
    def test_best_equals_a_shortest_path(self, count: int) -> None:
        """A second opinion from networkx: the sets of bolts as a graph, its shortest path found by Dijkstra."""
        pattern = Pattern.circle(count, 150)
        points = list(pattern.points)
        graph = nx.DiGraph()
        for size in range(count):
            for chosen in itertools.combinations(range(count), size):
                for bolt in set(range(count)) - set(chosen):
                    after = frozenset((*chosen, bolt))
                    own = cost_of(points, (*after,)) - cost_of(points, (*after,)[:-1])
                    graph.add_edge(frozenset(chosen), after, weight=max(own, 0.0))
        shortest = nx.dijkstra_path_length(graph, frozenset(), frozenset(range(count)))
        verdict = pattern.judge(pattern.best_order())
        assert isinstance(verdict, MomentVerdict)
        assert verdict.bounds.best == pytest.approx(shortest, abs=1e-9)
        assert verdict.cost == pytest.approx(shortest, abs=1e-9)

    @given(near_circles(8), st.floats(-7, 7), st.floats(0.1, 10), st.complex_numbers(max_magnitude=1000), st.data())
    @settings(max_examples=50)
    def test_turning_moving_and_scaling_change_nothing(
        self, pattern: Pattern, angle: float, scale: float, shift: complex, data: st.DataObject
    ) -> None:
        order = data.draw(st.permutations(pattern.names))
        here, there = pattern.judge(order), rotated(pattern, angle, scale, shift).judge(order)
        assert isinstance(here, MomentVerdict)
        assert isinstance(there, MomentVerdict)
        assert there.moments == pytest.approx(here.moments, abs=1e-6)
        assert there.cost == pytest.approx(here.cost, abs=1e-5)

    @given(st.integers(4, 9), st.integers(0, 8), st.booleans(), st.data())
    @settings(max_examples=50)
    def test_numbering_from_another_bolt_or_the_other_way_changes_nothing(
        self, count: int, first: int, backwards: bool, data: st.DataObject
    ) -> None:
        pattern = Pattern.circle(count, 100)
        order = data.draw(st.permutations(range(count)))
        other = [((-place if backwards else place) + first) % count for place in order]
        here, there = (pattern.judge([str(place + 1) for place in each]) for each in (order, other))
        assert isinstance(here, MomentVerdict)
        assert isinstance(there, MomentVerdict)
        assert here.cost == pytest.approx(there.cost, abs=1e-9)

    @pytest.mark.parametrize("count", range(4, MOST_EXACT + 1))
    def test_star_beats_going_round(self, count: int) -> None:
        pattern = Pattern.circle(count, 100)
        best = pattern.best_order()
        assert best[0] == "1"
        assert pattern.judge(best).is_best
        assert not pattern.judge(pattern.names).is_best

    def test_second_harmonic_tells_a_spread_star_from_pairs_marching_round(self) -> None:
        pattern = Pattern.circle(8, 100)
        spread = pattern.judge(["1", "5", "3", "7", "2", "6", "4", "8"])
        marching = pattern.judge(["1", "5", "2", "6", "3", "7", "4", "8"])
        assert isinstance(spread, MomentVerdict)
        assert isinstance(marching, MomentVerdict)
        assert spread.moments == pytest.approx(marching.moments, abs=1e-9)
        assert spread.cost < marching.cost

    def test_going_round_pulls_most_half_way(self) -> None:
        verdict = Pattern.circle(6, 100).judge(["1", "2", "3", "4", "5", "6"])
        assert isinstance(verdict, MomentVerdict)
        assert verdict.moments[2] == max(verdict.moments) == pytest.approx(2)

    def test_three_even_bolts_pose_no_question(self) -> None:
        pattern = Pattern.circle(3, 80)
        costs = {round(cost_of(list(pattern.points), order), 9) for order in itertools.permutations(range(3))}
        assert len(costs) == 1
        assert not pattern.has_question
        with pytest.raises(TighteningError, match="as good as any other"):
            pattern.judge(["1", "2", "3"])

    @pytest.mark.parametrize("count", [1, 2])
    def test_one_or_two_bolts_pose_no_question(self, count: int) -> None:
        pattern = Pattern.circle(count, 80)
        assert pattern.shape == "few"
        assert not pattern.has_question
        with pytest.raises(TighteningError, match="as good as any other"):
            pattern.best_order()

    def test_too_many_for_the_exact_search(self) -> None:
        pattern = Pattern.circle(MOST_EXACT + 1, 300)
        assert not pattern.has_question
        with pytest.raises(TighteningError, match="up to 16"):
            pattern.judge(pattern.names)


HEAD = Pattern([(x, y) for y in (-40, 40) for x in (-180, -90, 0, 90, 180)])


class TestLongJoints:
    def test_from_the_centre_outwards(self) -> None:
        assert HEAD.shape == "long"
        verdict = HEAD.judge(["3", "8", "2", "9", "4", "7", "1", "10", "5", "6"])
        assert isinstance(verdict, OutwardVerdict)
        assert verdict.is_best
        assert not HEAD.judge(["1", "2", "3", "4", "5", "6", "7", "8", "9", "10"]).is_best

    @given(st.permutations(HEAD.names), st.floats(-7, 7))
    def test_broken_pairs_are_those_counted_and_turning_changes_nothing(self, order: list[str], angle: float) -> None:
        verdict = HEAD.judge(order)
        assert isinstance(verdict, OutwardVerdict)
        away = {name: abs(x) for name, (x, _) in zip(HEAD.names, HEAD.points, strict=True)}
        counted = {(inner, outer) for outer, inner in itertools.combinations(order, 2) if away[inner] < away[outer]}
        assert set(verdict.broken) == counted
        assert rotated(HEAD, angle).judge(order) == verdict

    @given(st.integers(3, 9), st.integers(1, 2))
    def test_best_order_is_best_and_changes_sides(self, columns: int, lines: int) -> None:
        pattern = Pattern([(70.0 * column, 50.0 * line) for line in range(lines) for column in range(columns)])
        if pattern.shape != "long":
            return
        assert pattern.judge(pattern.best_order()).is_best

    def test_three_in_line(self) -> None:
        pattern = Pattern([(-50, 0), (0, 0), (50, 0)])
        assert pattern.shape == "long"
        assert pattern.best_order()[0] == "2"

    def test_neither_round_nor_long_is_outside_the_model(self) -> None:
        pattern = Pattern([(0, 0), (100, 0), (100, 100), (0, 100), (50, 50)])
        assert pattern.shape == "other"
        assert not pattern.has_question
        with pytest.raises(TighteningError, match="near a circle"):
            pattern.judge(pattern.names)


class TestFriction:
    @given(st.floats(0.03, 1), st.floats(0.03, 1))
    def test_there_and_back(self, one: float, two: float) -> None:
        assert preload_change(one, two) * preload_change(two, one) == pytest.approx(1)


THIRD: Any = "third"  # no stage, and no type would let it through
PAINT: Any = "paint"
NO_EVENTS = [Tighten("9", "final"), Tighten("1", THIRD), Loosen(""), Renew("9"), Work(PAINT), "tighten", None]
NO_PLACES: list[Any] = [
    [],
    [(0, 0), (10, 0), (0, 0)],
    [(1, 1), (1, 1)],
    *([(0, 0), other] for other in ((math.nan, 1), (math.inf, 1), ("1", 1), (1,), 5, (True, 1))),
    [(0, 0), (100, 0), (100 + 1e-9, 1e-9)],
]
NO_CIRCLES = [(0, 100), (201, 100), (4.0, 100), (4, 0), (4, -1), (4, math.nan)]
NO_ORDERS = [[], ["1", "2", "3"], ["1", "2", "3", "3"], ["1", "2", "3", "5"], "1234"]
NO_FRICTION = [0, -0.2, 1.5, math.nan, math.inf, "0.2", True]
# What is tried with each of the values, and what the refusal says.
REFUSED: list[tuple[Callable[[Any], object], str, Sequence[Any]]] = [
    (Schedule(ANGLE).place, "snug, first, final", ["finger-tight"]),
    (lambda event: PLAIN.after([event]), ".", NO_EVENTS),
    (PLAIN.after, "loose bolt", [[Tighten("1", "finger-tight"), Renew("1")]]),
    (lambda bolts: Joint(bolts, FULL), "name of its own", [[], ["1", "1"], [""], [1, 2]]),
    (Pattern, ".", NO_PLACES),
    (lambda names: Pattern([(5, 5), (0, 0), (5, 5)], names), "x and z", [["x", "y", "z"]]),
    (lambda names: Pattern([(0, 0), (1, 1)], names), "name of its own", [["a"], ["a", "a"], []]),
    (lambda sizes: Pattern.circle(*sizes), ".", NO_CIRCLES),
    (Pattern.circle(4, 100).judge, "each bolt once", NO_ORDERS),
    (lambda factor: preload_change(0.2, factor), r"0\.03 to 1", NO_FRICTION),
    (lambda factor: preload_change(factor, 0.2), ".", NO_FRICTION),
]


@pytest.mark.parametrize(("attempt", "rule", "value"), [(*row, value) for *row, values in REFUSED for value in values])
def test_value_that_cannot_be_is_refused(attempt: Callable[[Any], object], rule: str, value: Any) -> None:
    with pytest.raises(TighteningError, match=rule) as caught:
        attempt(value)
    assert caught.value.remedy
