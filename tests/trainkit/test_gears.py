"""Gear trains, viewpoints, clock positions, lash and the barring tool."""

from __future__ import annotations

import math
import pickle
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainkit import errors
from trainkit.errors import GearError
from trainkit.gears import (
    KINDS,
    VIEWPOINTS,
    Barring,
    Clock,
    Gear,
    GearTrain,
    Mesh,
    backlash_degrees,
    faults,
    hole_interval,
    lcm_turns,
    other_end,
    other_sense,
    seen,
    sense_of,
    signed,
)
from trainkit.gears.exact import written

ends = st.sampled_from(VIEWPOINTS)
angles = st.fractions(-3000, 3000, max_denominator=720)
clocks = st.fractions(0, 12, max_denominator=60).filter(lambda hours: hours < 12).map(Clock)


@st.composite
def trains(draw: st.DrawFn, lash: bool = False) -> GearTrain:
    """A tree of 1 to 9 gears with any kinds of mesh; all of one module, so that lash can be told."""
    count = draw(st.integers(1, 9))
    teeth = draw(st.lists(st.integers(8, 120), min_size=count, max_size=count))
    gears = [Gear(f"g{place}", number, module_mm=2.0 if lash else None) for place, number in enumerate(teeth)]
    meshes = []
    for place in range(1, count):
        other = draw(st.integers(0, place - 1))
        kind = draw(st.sampled_from(KINDS))
        if kind == "internal" and teeth[place] == teeth[other]:
            kind = "external"
        pair = (f"g{other}", f"g{place}") if draw(st.booleans()) else (f"g{place}", f"g{other}")
        play = draw(st.floats(0, 2)) if lash and kind != "shaft" else None
        meshes.append(Mesh(*pair, kind, play))
    return GearTrain(gears, draw(st.permutations(meshes)))


TIMING = GearTrain(
    [
        Gear("crank", 34, "crank gear", module_mm=2.5),
        Gear("idler", 51, "idler", module_mm=2.5),
        Gear("cam", 68, "camshaft gear", module_mm=2.5),
        Gear("pump", 68, "metering unit gear", module_mm=2.5),
    ],
    [
        Mesh("crank", "idler", "external", 0.10),
        Mesh("idler", "cam", "external", 0.12),
        Mesh("idler", "pump", "external", 0.15),
    ],
)


class TestTurning:
    def test_half_speed_and_senses(self) -> None:
        turning = TIMING.turn("crank", 90, seen_from="front")
        assert turning.degrees("pump") == 45.0
        assert turning.turns("idler") == Fraction(-1, 6)
        senses = [turning.sense(gear.id) for gear in TIMING.gears]
        assert senses == ["clockwise", "anticlockwise", "clockwise", "clockwise"]
        assert turning.sense("pump", seen_from="flywheel") == "anticlockwise"

    def test_nothing_turns_at_nought(self) -> None:
        turning = TIMING.turn("idler", 0, seen_from="flywheel")
        assert {turning.sense(gear.id) for gear in TIMING.gears} == {"still"}

    @pytest.mark.parametrize(
        ("kind", "ratio"),
        [
            ("external", Fraction(-1, 2)),
            ("internal", Fraction(1, 2)),
            ("chain", Fraction(1, 2)),
            ("belt", Fraction(1, 2)),
            ("shaft", Fraction(1)),
        ],
    )
    def test_kind_of_mesh_gives_sign_and_speed(self, kind: str, ratio: Fraction) -> None:
        train = GearTrain([Gear("a", 20), Gear("b", 40)], [Mesh("a", "b", kind)])  # type: ignore[arg-type]  # known kinds
        assert train.ratio("a", "b") == ratio
        assert train.ratio("b", "a") == 1 / ratio

    def test_part_without_teeth_turns_with_its_shaft(self) -> None:
        train = GearTrain(
            [Gear("crank"), Gear("gear", 30), Gear("flywheel")],
            [Mesh("crank", "gear", "shaft"), Mesh("crank", "flywheel", "shaft")],
        )
        assert train.ratio("gear", "flywheel") == 1

    @given(trains(), st.integers(9, 150), st.integers(9, 150))
    def test_idler_changes_the_sense_and_never_the_ratio(self, train: GearTrain, idler: int, last: int) -> None:
        start = train.gears[0]
        direct = GearTrain([*train.gears, Gear("last", last)], [*train.meshes, Mesh(start.id, "last")])
        by_idler = GearTrain(
            [*train.gears, Gear("idler", idler), Gear("last", last)],
            [*train.meshes, Mesh(start.id, "idler"), Mesh("idler", "last")],
        )
        assert by_idler.ratio(start.id, "last") == -direct.ratio(start.id, "last")

    @given(trains(), angles, ends, ends, st.data())
    def test_ends_and_gears_can_be_swapped(
        self, train: GearTrain, degrees: Fraction, one: str, two: str, data: st.DataObject
    ) -> None:
        gear, other = (data.draw(st.sampled_from(train.gears)).id for _ in range(2))
        turning = train.turn(gear, degrees, seen_from=one)
        assert turning.turns(other, two) == (turning.turns(other) if one == two else -turning.turns(other))
        back = train.turn(other, turning.turns(other, two) * 360, seen_from=two)
        assert back.turns(gear, one) == degrees / 360

    @given(trains(), st.data())
    def test_path_multiplies_to_the_ratio(self, train: GearTrain, data: st.DataObject) -> None:
        gear, other = (data.draw(st.sampled_from(train.gears)).id for _ in range(2))
        path = train.path(gear, other)
        assert path.ratio == train.ratio(gear, other)
        assert math.prod(path.signs) * abs(path.ratio) == path.ratio
        assert path.gears[0] == gear
        assert path.gears[-1] == other == path.target.id
        assert train.path(other, gear).gears == path.gears[::-1]

    def test_working_of_a_path(self) -> None:
        assert TIMING.path("crank", "pump").lines == (
            "Crank gear (34 teeth) to idler (51 teeth): outside teeth, the sense turns over, ×\u00a034/51.",
            "Idler (51 teeth) to metering unit gear (68 teeth): outside teeth, the sense turns over, ×\u00a051/68.",
            "2 changes of sense. Seen from the same end, the metering unit gear turns the same way as the crank gear.",
            "One turn of the crank gear gives 1/2 turn of the metering unit gear.",
        )
        assert (
            "on the same shaft" in GearTrain([Gear("a"), Gear("b")], [Mesh("a", "b", "shaft")]).path("a", "b").lines[0]
        )
        assert TIMING.path("cam", "cam").lines == ("The camshaft gear is the gear itself.",)

    def test_closed_loop_that_agrees_is_taken(self) -> None:
        gears = [Gear("a", 20), Gear("b", 30), Gear("c", 40), Gear("d", 24)]
        meshes = [Mesh("a", "b"), Mesh("b", "c"), Mesh("c", "d"), Mesh("d", "a")]
        train = GearTrain(gears, meshes)
        assert train.ratio("a", "c") == Fraction(1, 2)
        assert len(train.path("a", "c").legs) == 2

    def test_value_is_read_only_and_can_be_pickled(self) -> None:
        with pytest.raises(AttributeError):
            TIMING.gears = ()  # type: ignore[misc]  # the point of the test
        assert pickle.loads(pickle.dumps(TIMING)) == TIMING  # noqa: S301 - our own value
        assert hash(GearTrain(TIMING.gears, TIMING.meshes)) == hash(TIMING)


class TestViewpoints:
    @given(st.one_of(st.integers(), angles), ends, ends)
    def test_flipped_twice_is_the_same(self, degrees: Any, one: str, two: str) -> None:
        there = seen(degrees, stated_from=one, seen_from=two)
        assert seen(there, stated_from=two, seen_from=one) == degrees
        assert other_end(other_end(one)) == one
        assert there == (degrees if one == two else -degrees)

    @pytest.mark.parametrize("sense", ["clockwise", "anticlockwise"])
    def test_sense_flipped_twice_is_the_same(self, sense: str) -> None:
        assert other_sense(other_sense(sense)) == sense
        assert sense_of(signed(sense)) == sense


class TestClocks:
    @given(clocks, ends, ends)
    def test_mirrored_twice_is_the_same(self, clock: Clock, one: str, two: str) -> None:
        assert clock.mirrored().mirrored() == clock
        there = clock.seen(stated_from=one, seen_from=two)
        assert there.seen(stated_from=two, seen_from=one) == clock
        assert (clock.hours + clock.mirrored().hours) % 12 == 0

    @given(st.integers(0, 11), st.integers(0, 59))
    def test_written_and_read_again(self, hours: int, minutes: int) -> None:
        clock = Clock.parse(f"{hours}:{minutes:02d}")
        assert Clock.parse(str(clock)) == clock
        assert clock.degrees == 30 * hours + Fraction(minutes, 2)

    @given(clocks, angles, st.data())
    def test_turning_mirrored_is_mirrored_turning(self, clock: Clock, degrees: Fraction, data: st.DataObject) -> None:
        end = data.draw(ends)
        train = GearTrain([Gear("a", 20)])
        turning = train.turn("a", degrees, seen_from=end)
        here = turning.clock("a", clock)
        there = turning.clock("a", clock.mirrored(), other_end(end))
        assert there == here.mirrored()
        assert (here.degrees - clock.degrees) % 360 == degrees % 360

    @pytest.mark.parametrize(
        ("text", "shown"),
        [("12", "12:00"), ("0:30", "12:30"), (" 2 o'clock ", "2:00"), ("12:59", "12:59"), ("7h", "7:00")],
    )
    def test_notations(self, text: str, shown: str) -> None:
        assert str(Clock.parse(text)) == shown

    def test_rounding_up_to_twelve(self) -> None:
        assert str(Clock(Fraction(1199, 100))) == "11:59"
        assert str(Clock(Fraction(11999, 1000))) == "12:00"


class TestMarks:
    @given(st.integers(3, 150), st.integers(3, 150))
    def test_teeth_meet_after_the_least_common_multiple(self, one: int, two: int) -> None:
        # Counted tooth by tooth: the pair in the mesh is the same again after so many teeth.
        passed = next(count for count in range(1, one * two + 1) if count % one == 0 and count % two == 0)
        assert lcm_turns(one, two) * one == passed == lcm_turns(two, one) * two
        if one != two:
            train = GearTrain([Gear("a", one), Gear("b", two)], [Mesh("a", "b")])
            assert train.marks_meet(["a", "b"], of="a") == lcm_turns(one, two)

    @given(trains(), st.data())
    def test_marks_meet_at_whole_turns_and_not_before(self, train: GearTrain, data: st.DataObject) -> None:
        named = data.draw(st.lists(st.sampled_from(train.gears).map(lambda gear: gear.id), min_size=1, max_size=3))
        of = data.draw(st.sampled_from(train.gears)).id
        turns = train.marks_meet(named, of=of)
        assert all((turns * train.ratio(of, gear)).denominator == 1 for gear in named)
        # An earlier meeting would come after a whole number of turns of the first gear.
        step = 1 / abs(train.ratio(of, named[0]))
        for count in range(1, min(int(turns / step), 200)):
            assert any((count * step * train.ratio(of, gear)).denominator != 1 for gear in named)

    def test_mark_is_back_after_one_turn_of_its_own_gear(self) -> None:
        assert TIMING.marks_meet(["idler"], of="crank") == Fraction(3, 2)
        turning = TIMING.turn("crank", 540, seen_from="front")
        assert turning.clock("idler", "4:10") == Clock.parse("4:10")

    def test_hole_interval(self) -> None:
        assert hole_interval(TIMING.ratio("crank", "idler"), holes=2) == Fraction(3, 4)


class TestLash:
    def test_by_hand(self) -> None:
        # 0.10 mm on the idler's pitch radius of 63.75 mm, then 0.15 mm on the pump gear's 85 mm, doubled at the crank.
        by_hand = math.degrees(0.10 / 63.75) * 51 / 34 + math.degrees(0.15 / 85) * 2
        assert TIMING.path("crank", "pump").lash == pytest.approx(by_hand, rel=1e-12)
        assert TIMING.path("pump", "crank").lash == pytest.approx(by_hand / 2, rel=1e-12)

    @given(trains(lash=True), st.data())
    def test_is_the_same_both_ways_and_scales_by_the_ratio(self, train: GearTrain, data: st.DataObject) -> None:
        gear, other = (data.draw(st.sampled_from(train.gears)).id for _ in range(2))
        there, back = train.path(gear, other).lash, train.path(other, gear).lash
        assert back == pytest.approx(there * float(abs(train.ratio(gear, other))), rel=1e-9)
        assert there >= 0

    def test_adds_up_mesh_by_mesh(self) -> None:
        whole, first, rest = (
            TIMING.path(*ends).lash for ends in (("crank", "pump"), ("crank", "idler"), ("idler", "pump"))
        )
        assert whole - first == pytest.approx(rest * abs(TIMING.ratio("idler", "crank")), rel=1e-12)
        assert TIMING.path("crank", "crank").lash == 0

    def test_is_the_same_on_two_equal_branches(self) -> None:
        train = GearTrain(TIMING.gears, [*TIMING.meshes[:2], Mesh("idler", "pump", "external", 0.12)])
        assert train.path("crank", "cam").lash == train.path("crank", "pump").lash

    def test_simulated_flank_by_flank(self) -> None:
        """A second way: gears with play are pushed along; the pin seats after turning back."""
        play = {"idler": 0.10, "cam": 0.12, "pump": 0.15}  # mm along the pitch circle

        def barred(moves: list[float]) -> dict[str, float]:
            # Positions in mm along the pitch circle, all in the sense of the drive.
            at = {"crank": 0.0, "idler": 0.0, "cam": 0.0, "pump": 0.0}
            for target in moves:
                at["crank"] = target
                for gear, driver in (("idler", "crank"), ("cam", "idler"), ("pump", "idler")):
                    at[gear] = min(max(at[gear], at[driver]), at[driver] + play[gear])
            return at

        forward = barred([-5.0, 0.0])
        back = barred([5.0, 0.0])
        radius = 34 * 2.5 / 2
        # Turn the crank on until the pinned cam gear stands where it stood coming forward.
        ahead = (back["pump"] - back["cam"]) - (forward["pump"] - forward["cam"])
        assert math.degrees(ahead / radius) == pytest.approx(
            TIMING.path("crank", "pump").lash - TIMING.path("crank", "cam").lash, rel=1e-12
        )

    def test_lines_add_up(self) -> None:
        lines = TIMING.path("crank", "pump").lash_lines()
        shown = [float(line.split(" = ")[1].split("°")[0]) for line in lines[:-1]]
        assert float(lines[-1].split(": ")[1].split("°")[0]) == pytest.approx(sum(shown), abs=0.0015)
        assert all("°" in line for line in lines)

    def test_radius_of_one_gear_is_enough(self) -> None:
        train = GearTrain([Gear("a", 20, pitch_radius_mm=30), Gear("b", 40)], [Mesh("a", "b", "external", 0.3)])
        assert train.path("b", "a").lash == pytest.approx(backlash_degrees(0.3, 60))
        assert train.path("a", "b").lash == pytest.approx(backlash_degrees(0.3, 30))

    def test_shaft_has_none(self) -> None:
        train = GearTrain([Gear("a", 20), Gear("b")], [Mesh("a", "b", "shaft")])
        assert train.path("a", "b").lash == 0

    def test_unknown_lash_or_radius_is_refused(self) -> None:
        gears = [Gear("a", 20), Gear("b", 40)]
        with pytest.raises(GearError, match="not stated"):
            _ = GearTrain(gears, [Mesh("a", "b")]).path("a", "b").lash
        with pytest.raises(GearError, match="pitch radius"):
            _ = GearTrain(gears, [Mesh("a", "b", "external", 0.1)]).path("a", "b").lash


class TestBarring:
    @given(st.integers(60, 200), st.integers(8, 20), angles, ends, ends)
    def test_agrees_with_a_train_of_pinion_and_ring(
        self, ring: int, pinion: int, degrees: Fraction, stands: str, stated: str
    ) -> None:
        train = GearTrain([Gear("crank", ring), Gear("pinion", pinion)], [Mesh("pinion", "crank")])
        turn = Barring(stands, ring, pinion).tool(degrees, seen_from=stated)  # type: ignore[arg-type]  # from VIEWPOINTS
        turning = train.turn("crank", degrees, seen_from=stated)
        assert turn.degrees == turning.turns("pinion", stands) * 360
        assert turn.turns == abs(degrees) / 360 * ring / pinion

    @pytest.mark.parametrize(
        ("barring", "stated", "hand"),
        [
            (Barring("flywheel", 132, 11), "flywheel", "anticlockwise"),
            (Barring("flywheel", 132, 11), "front", "clockwise"),
            (Barring("front", 132, 11), "front", "anticlockwise"),
            (Barring("front"), "front", "clockwise"),
            (Barring("front"), "flywheel", "anticlockwise"),
        ],
    )
    def test_what_the_hand_does(self, barring: Barring, stated: str, hand: str) -> None:
        turn = barring.tool(30, seen_from=stated)
        assert turn.sense == hand
        assert turn.lines[-1] == f"Your hand turns the tool {hand}."


NO_FRACTIONS: list[Any] = [0, True, 0.5, "1/2"]
NO_COUNTS: list[Any] = [0, -3, 2.0, True]
NO_SIZES: list[Any] = [0, -1, math.nan, math.inf, "2.5", True]
NO_ENDS: list[Any] = ["rear", "", None, 1]
# What is tried with each of the values, and what the refusal says.
REFUSED: list[tuple[Callable[[Any], object], str, list[Any]]] = [
    (Clock.parse, "hours and minutes", ["13:00", "9:60", "9:5", "", "-1:00", "noon", "9.25", None, 9, "٣:٠٠"]),
    (Clock, ".", [12, -1, math.nan, True]),
    (hole_interval, ".", NO_FRACTIONS),
    (lambda count: lcm_turns(count, 20), ".", NO_COUNTS),
    (lambda count: hole_interval(1, count), ".", NO_COUNTS),
    (lambda named: TIMING.marks_meet(named, of="crank"), "At least one gear", [[]]),
    (lambda sizes: backlash_degrees(*sizes), ".", [(-0.1, 50), (0.1, 0), (0.1, -5), (math.inf, 50), ("0.1", 50)]),
    (lambda teeth: Barring("front", *teeth), ".", [(132, None), (None, 11), (11, 132), (40, 40), (132, 2), (1.5, 1)]),
    (Barring, "front", ["rear"]),
    (lambda teeth: Gear("a", teeth), "teeth", [0, -20, 2, 1001, 20.0, True, "20"]),
    (lambda size: Gear("a", 20, module_mm=size), ".", NO_SIZES),
    (lambda size: Gear("a", 20, pitch_radius_mm=size), ".", NO_SIZES),
    (lambda size: Gear("a", 20, module_mm=2, pitch_radius_mm=size), "half of teeth", [40]),
    (lambda size: Gear("a", module_mm=size), "without teeth", [2]),
    (lambda id_: Gear(id_, 20), "identifier", ["", "  ", None, 3]),
    (lambda kind: Mesh("a", "b", kind), "kinds of mesh", ["bevel"]),
    (lambda lash: Mesh("a", "b", "external", lash), "zero or more", [-0.1]),
    (lambda lash: Mesh("a", "b", "external", lash), "finite", [math.nan]),
    (lambda lash: Mesh("a", "b", "shaft", lash), "turn as one", [0.1]),
    (lambda other: Mesh("a", other), "itself", ["a"]),
    (
        lambda degrees: TIMING.turn("crank", degrees, seen_from="front"),
        "finite number",
        [math.nan, math.inf, "90", None, True, 1j],
    ),
    (lambda end: TIMING.turn("crank", 90, seen_from=end), "flywheel", NO_ENDS),
    (other_end, ".", NO_ENDS),
    # Left out, it is the end from which the turn was stated.
    (lambda end: TIMING.turn("crank", 90, seen_from="front").degrees("cam", end), ".", ["rear", "", 1]),
    (lambda gear: TIMING.turn(gear, 90, seen_from="front"), "crank, idler, cam, pump", ["piston", None, ["crank"]]),
    (signed, "anticlockwise", ["left"]),
]


class TestRefusals:
    @pytest.mark.parametrize(
        ("attempt", "rule", "value"), [(*row, each) for *row, values in REFUSED for each in values]
    )
    def test_value_that_cannot_be(self, attempt: Callable[[Any], object], rule: str, value: Any) -> None:
        with pytest.raises(GearError, match=rule):
            attempt(value)

    @pytest.mark.parametrize(
        ("gears", "meshes", "rule"),
        [
            ([], [], "at least one gear"),
            ([Gear("a", 20), Gear("a", 30)], [], "identifier of its own"),
            ([Gear("a", 20), Gear("b", 30)], [], "connected"),
            ([Gear("a", 20)], [Mesh("a", "b")], "joins gears of the train"),
            ([Gear("a", 20), Gear("b", 30)], [Mesh("a", "b"), Mesh("b", "a", "chain")], "one mesh only"),
            ([Gear("a", 20), Gear("b")], [Mesh("a", "b")], "needs teeth"),
            ([Gear("a", 20), Gear("b", 20)], [Mesh("a", "b", "internal")], "fewer teeth than the ring"),
            (
                [Gear("a", 20), Gear("b", 30), Gear("c", 40)],
                [Mesh("a", "b"), Mesh("b", "c"), Mesh("c", "a")],
                "would lock",
            ),
            (
                [Gear("a", 20), Gear("b", 30), Gear("c", 40)],
                [Mesh("a", "b", "chain"), Mesh("b", "c", "shaft"), Mesh("c", "a", "belt")],
                "would lock",
            ),
            ([Gear("a", 20, module_mm=2), Gear("b", 30, module_mm=3)], [Mesh("a", "b")], "pitch radii"),
            ([Gear("a", 20, module_mm=2), Gear("b", 30)], [Mesh("a", "b", "external", 3.5)], "tooth space"),
        ],
    )
    def test_train_that_cannot_be(self, gears: list[Gear], meshes: list[Mesh], rule: str) -> None:
        with pytest.raises(GearError, match=rule):
            GearTrain(gears, meshes)

    def test_all_faults_come_at_once(self) -> None:
        found = list(faults([Gear("a", 20), Gear("a", 30), Gear("b")], [Mesh("a", "b"), Mesh("a", "x")]))
        assert [fault.value for fault in found] == ["a", "b", "x"]
        for kind in (errors.TrainkitError, ValueError):
            assert all(isinstance(fault, kind) for fault in found)

    def test_locked_loop_is_named(self) -> None:
        gears = [Gear("start", 20), Gear("a", 20), Gear("b", 30), Gear("c", 40)]
        meshes = [Mesh("start", "a"), Mesh("a", "b"), Mesh("b", "c"), Mesh("c", "a")]
        (fault,) = faults(gears, meshes)
        assert sorted(str(fault.value).split("–")[:-1]) == ["a", "b", "c"]


def test_numbers_are_written_for_people() -> None:
    assert [written(value) for value in (0, -1, Fraction(7, 3), 0.1 + 0.2)] == ["0", "−1", "7/3", "0.3"]
