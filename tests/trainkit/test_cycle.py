"""Firing orders, dead centres, the slider-crank, and timing moved early or late."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainkit.cycle import (
    CYCLE,
    DEAD_CENTRES,
    FiringOrder,
    Position,
    TimingShift,
    flange_degrees,
    moved,
    piston_position,
    valves_at,
)
from trainkit.errors import CycleError, GearError, TrainkitError
from trainkit.gears import Gear, GearTrain, Mesh

orders = st.integers(1, 12).flatmap(lambda count: st.permutations(range(1, count + 1))).map(FiringOrder)
angles = st.fractions(-3000, 3000, max_denominator=720)
# Crank radius and rod length in millimetres, with the rods that engines have and longer ones.
cranks = st.tuples(st.floats(5, 200), st.floats(1.1, 8)).map(lambda pair: (pair[0], pair[0] * pair[1]))


def by_cam(order: FiringOrder, past_first: Fraction) -> dict[int, set[str]]:
    """Dead centres found another way: a camshaft with one lobe for each cylinder, turned at half speed."""
    cam = past_first / 2 % 360
    found: dict[int, set[str]] = {}
    for place, cylinder in enumerate(order.cylinders):
        lobe = Fraction(360 * place, len(order.cylinders))
        piston_up = (past_first - 2 * lobe) % 360 == 0
        found[cylinder] = set() if not piston_up else {"compression" if cam == lobe else "exhaust"}
    return found


class TestFiringOrder:
    @given(orders)
    def test_reading_and_writing(self, order: FiringOrder) -> None:
        assert FiringOrder.parse(str(order)) == order
        assert FiringOrder.parse(str(order).replace("-", ", ")) == order

    @given(orders)
    def test_reversed_twice_is_the_same(self, order: FiringOrder) -> None:
        assert order.reversed().reversed() == order
        assert order.reversed().cylinders[0] == order.cylinders[0]

    @given(orders, st.data())
    def test_reversed_swaps_the_ways_between_cylinders(self, order: FiringOrder, data: st.DataObject) -> None:
        one, two = (data.draw(st.sampled_from(order.cylinders)) for _ in range(2))
        assert order.reversed().after(one, two) == order.after(two, one)
        assert (order.after(one, two) + order.after(two, one)) % CYCLE == 0

    def test_interval_and_places(self) -> None:
        order = FiringOrder.parse("1-5-3-6-2-4")
        assert order.interval == 120
        assert order.after(1, 6) == 360
        assert order.after(4, 1) == 120
        assert FiringOrder([1]).interval == 720


class TestPosition:
    def test_in_line_four_half_a_turn_on(self) -> None:
        engine = Position.known(FiringOrder.parse("1-3-4-2"), cylinder=1, on="exhaust")
        assert engine.on_compression() == (4,)
        on = engine.turned(180)
        assert (on.on_compression(), on.on_exhaust()) == ((2,), (3,))
        assert [on.stroke(cylinder) for cylinder in (1, 2, 3, 4)] == ["compression", "power", "intake", "exhaust"]

    @given(orders, angles, st.data())
    def test_agrees_with_a_camshaft(self, order: FiringOrder, degrees: Fraction, data: st.DataObject) -> None:
        cylinder = data.draw(st.sampled_from(order.cylinders))
        dead_centre = data.draw(st.sampled_from(DEAD_CENTRES))
        steps = data.draw(st.integers(-20, 20))
        start = Position.known(order, cylinder=cylinder, on=dead_centre)
        for engine in (start.turned(degrees), start.turned(steps * order.interval)):
            cam = by_cam(order, engine.past_first)
            for wanted in DEAD_CENTRES:
                assert set(engine.at(wanted)) == {each for each, found in cam.items() if wanted in found}

    @given(orders, angles, angles, st.data())
    def test_barred_on_and_back_is_where_it_was(
        self, order: FiringOrder, start: Fraction, degrees: Fraction, data: st.DataObject
    ) -> None:
        engine = Position(order, start)
        assert engine.turned(degrees).turned(-degrees) == engine
        assert engine.turned(CYCLE) == engine
        cylinder = data.draw(st.sampled_from(order.cylinders))
        for wanted in DEAD_CENTRES:
            way = engine.until(cylinder, wanted)
            assert 0 <= way < CYCLE
            assert cylinder in engine.turned(way).at(wanted)

    @given(orders, st.data())
    def test_even_engines_stand_in_pairs(self, order: FiringOrder, data: st.DataObject) -> None:
        cylinder = data.draw(st.sampled_from(order.cylinders))
        engine = Position.known(order, cylinder=cylinder, on="compression")
        assert engine.on_compression() == (cylinder,)
        companions = tuple(other for other in order.cylinders if order.after(cylinder, other) == 360)
        assert engine.on_exhaust() == companions
        assert bool(companions) == order.paired == (len(order) % 2 == 0)

    @given(orders, angles)
    def test_running_backwards_is_the_reversed_order(self, order: FiringOrder, degrees: Fraction) -> None:
        first = order.cylinders[0]
        backwards = Position.known(order, cylinder=first, on="compression").turned(-degrees)
        reversed_engine = Position.known(order.reversed(), cylinder=first, on="compression").turned(degrees)
        for wanted in DEAD_CENTRES:
            assert set(backwards.at(wanted)) == set(reversed_engine.at(wanted))

    @given(orders, angles)
    def test_strokes_are_shared_out_evenly(self, order: FiringOrder, degrees: Fraction) -> None:
        engine = Position(order, degrees)
        for cylinder in order.cylinders:
            quarter = ("power", "exhaust", "intake", "compression").index(engine.stroke(cylinder))
            assert quarter * 180 <= engine.past(cylinder) < (quarter + 1) * 180
        assert len(engine.lines) == len(order)

    def test_lines_tell_the_dead_centres(self) -> None:
        lines = Position.known(FiringOrder.parse("1-3-2"), cylinder=1, on="compression").lines
        assert lines[0] == "Cylinder 1: top dead centre on compression, both valves shut."
        assert lines[1] == "Cylinder 3: 480° past compression dead centre, intake stroke."


class TestSliderCrank:
    @given(cranks, st.floats(-1000, 1000))
    def test_rod_keeps_its_length(self, crank: tuple[float, float], degrees: float) -> None:
        """A second way: the distance from the crank pin to the piston pin is the rod."""
        r, rod = crank
        pin = (r * math.sin(math.radians(degrees)), r * math.cos(math.radians(degrees)))
        piston = (0.0, r + rod - piston_position(degrees, r, rod))
        assert math.dist(pin, piston) == pytest.approx(rod, rel=1e-9)
        assert -1e-12 <= piston_position(degrees, r, rod) <= 2 * r * (1 + 1e-12)

    @given(cranks, st.floats(0, 180))
    def test_same_before_and_after_dead_centre(self, crank: tuple[float, float], degrees: float) -> None:
        assert piston_position(degrees, *crank) == pytest.approx(piston_position(-degrees, *crank), abs=1e-9)

    def test_keeps_its_digits_near_dead_centre(self) -> None:
        # Series: r (1 + r/l) θ²/2, which is exact to the digits of a double at a millionth of a degree.
        tiny = math.radians(1e-6)
        assert piston_position(1e-6, 45, 160) == pytest.approx(45 * (1 + 45 / 160) * tiny**2 / 2, rel=1e-9)

    def test_ends_of_the_stroke(self) -> None:
        assert piston_position(0, 45, 160) == 0
        assert piston_position(180, 45, 160) == 90


class TestTiming:
    def test_half_speed_counts_double(self) -> None:
        assert flange_degrees(1, 60) == pytest.approx(2 * math.degrees(1 / 60))
        assert flange_degrees(1, 60, speed_ratio=-1) == pytest.approx(math.degrees(1 / 60))

    def test_agrees_with_the_gear_train(self) -> None:
        """A second way: turn the component's gear by the same arc and read the crank."""
        train = GearTrain(
            [Gear("crank", 34), Gear("idler", 51), Gear("pump", 68)], [Mesh("crank", "idler"), Mesh("idler", "pump")]
        )
        arc = math.degrees(2.5 / 72)
        turning = train.turn("pump", arc, seen_from="front")
        assert flange_degrees(2.5, 72, speed_ratio=train.ratio("crank", "pump")) == pytest.approx(
            turning.degrees("crank")
        )

    @pytest.mark.parametrize("part", ["housing", "shaft"])
    @pytest.mark.parametrize("turned", ["clockwise", "anticlockwise"])
    @pytest.mark.parametrize("drive", ["clockwise", "anticlockwise"])
    def test_early_or_late_by_angles(self, part: str, turned: str, drive: str) -> None:
        """A second way: the event comes when the shaft reaches a mark on the housing."""
        arc, way = math.degrees(1.5 / 60), {"clockwise": 1, "anticlockwise": -1}
        mark = way[turned] * arc if part == "housing" else 0.0
        shaft = way[turned] * arc if part == "shaft" else 0.0
        # Degrees that the shaft still has to go in its own sense, compared with before, doubled at the crank.
        later = 2 * (mark - shaft) * way[drive]
        shift = moved(part, 1.5, 60, turned=turned, drive=drive)  # type: ignore[arg-type]  # known senses
        assert shift.late == pytest.approx(later, rel=1e-12)
        assert shift.effect == ("late" if later > 0 else "early")
        assert f"comes {shift.effect}" in shift.reason

    def test_seen_from_the_other_end_it_is_the_same(self) -> None:
        here = moved("housing", 1, 60, turned="clockwise", drive="anticlockwise")
        there = moved("housing", 1, 60, turned="anticlockwise", drive="clockwise")
        assert here == there

    def test_nothing_is_nothing(self) -> None:
        assert moved("shaft", 0, 60, turned="clockwise", drive="clockwise").effect == "unchanged"
        assert [str(TimingShift(late, "x")) for late in (0.0, 1.25)] == ["unchanged", "1.25° of crank late (retard)"]


FOUR, SIX = FiringOrder.parse("1-3-4-2"), FiringOrder.parse("1-5-3-6-2-4")
NO_CYLINDERS = [[], [0, 1], [1, 1], [1, 3], [1, 2, 2], ["1", "2"], [1.0, 2.0], [True, 2], range(1, 26), 4, None]
NO_ORDERS = ["", "one-two", "1--2", "1-3-4-", "1/2", "1-2-3-3", 1342, None, "1-" * 200 + "2"]
NO_DEAD_CENTRES = ["", "top", None, 1]
NO_CRANKS = [(0, 100), (-5, 100), (50, 50), (50, 40), (math.nan, 100), (50, math.inf), ("50", 100)]
NO_FLANGES = [(-1, 60, 0.5), (1, 0, 0.5), (1, -60, 0.5), (1, 60, 0), (61, 60, 0.5), (math.nan, 60, 0.5), (1, "60", 0.5)]
# What is tried with each of the values, and what the refusal says.
REFUSED: list[tuple[Callable[[Any], object], str, Sequence[Any]]] = [
    (FiringOrder, "once|lists the cylinders", NO_CYLINDERS),
    (FiringOrder.parse, ".", NO_ORDERS),
    (lambda cylinder: SIX.after(cylinder, 1), "1 to 6", [0, 7, -1, 1.0, True, None]),
    (lambda on: Position.known(FOUR, cylinder=1, on=on), "compression", NO_DEAD_CENTRES),
    (valves_at, "compression", NO_DEAD_CENTRES),
    (Position(FiringOrder([1, 2]), Fraction(0)).turned, "finite", [math.nan, math.inf, "90", None, True]),
    (lambda sizes: piston_position(10, *sizes), ".", NO_CRANKS),
    (lambda sizes: flange_degrees(*sizes[:2], speed_ratio=sizes[2]), ".", NO_FLANGES),
    (lambda part: moved(part, 1, 60, turned="clockwise", drive="clockwise"), "housing", ["flange"]),
    (lambda late: TimingShift(late, "x"), "finite", [math.nan]),
]


@pytest.mark.parametrize(("attempt", "rule", "value"), [(*row, value) for *row, values in REFUSED for value in values])
def test_value_that_cannot_be_is_refused(attempt: Callable[[Any], object], rule: str, value: Any) -> None:
    with pytest.raises(CycleError, match=rule) as caught:
        attempt(value)
    assert isinstance(caught.value, TrainkitError)
    assert isinstance(caught.value, ValueError)


def test_sense_that_is_none_is_refused() -> None:
    with pytest.raises(GearError, match="clockwise"):
        moved("housing", 1, 60, turned="left", drive="clockwise")  # type: ignore[arg-type]  # the point of the test
