"""Threads, classes, preload and wrenches: readings, inverses, refusals."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainkit.errors import FastenerError, QuantityError, TrainkitError
from trainkit.fasteners import (
    Thread,
    Wrench,
    assembly_preload,
    preload,
    proof_load,
    strength,
    true_torque,
    with_prevailing,
    wrench_setting,
)
from trainkit.quantities import Torque, factor, torque

FORCE = st.floats(1, 1e6)
THREAD = st.sampled_from(["M6", "M8x1", "M10", "M12x1.25", "M20", "1/4-28", "1/2-13 UNC", "3/4-16 UNF", "#10-32"])


@pytest.fixture(autouse=True, scope="module")
def registry() -> None:
    """Build pint's registry once, so that no generated example is timed with it."""
    factor("lbf·ft")


class TestThreads:
    @pytest.mark.parametrize(
        ("text", "diameter", "pitch", "written"),
        [
            ("M10", 10, 1.5, "M10"),
            ("M10x1.5", 10, 1.5, "M10"),
            ("M10x1.25", 10, 1.25, "M10×1.25"),
            ("M10 × 1,25", 10, 1.25, "M10×1.25"),
            ("M8X1", 8, 1, "M8×1"),
            ("M2.5", 2.5, 0.45, "M2.5"),
            ("1/2-13", 12.7, 25.4 / 13, "1/2-13 UNC"),
            ("1/2 UNF", 12.7, 1.27, "1/2-20 UNF"),
            ('3/8"-16 unc', 9.525, 25.4 / 16, "3/8-16 UNC"),
            ("1 1/4-7 UNC", 31.75, 25.4 / 7, "1 1/4-7 UNC"),
            ("1-1/4-12", 31.75, 25.4 / 12, "1 1/4-12 UNF"),
            ("#10-32 UNF", 4.826, 25.4 / 32, "#10-32 UNF"),
            ("10-24", 4.826, 25.4 / 24, "#10-24 UNC"),
            ("1-8", 25.4, 25.4 / 8, "1-8 UNC"),
        ],
    )
    def test_designation(self, text: str, diameter: float, pitch: float, written: str) -> None:
        thread = Thread(text)
        assert thread.diameter == pytest.approx(diameter, rel=1e-12)
        assert thread.pitch == pytest.approx(pitch, rel=1e-12)
        assert str(thread) == written
        assert Thread(written) == thread

    @given(THREAD)
    def test_diameters_go_down_in_order(self, text: str) -> None:
        thread = Thread(text)
        assert thread.minor_diameter < thread.stress_diameter < thread.pitch_diameter < thread.diameter
        assert thread.minor_diameter < thread.nut_minor_diameter < thread.pitch_diameter
        assert thread.stress_area < math.pi / 4 * thread.diameter**2

    def test_finer_pitch_leaves_more_area(self) -> None:
        areas = [Thread(f"M10x{pitch}").stress_area for pitch in (1.5, 1.25, 1, 0.75)]
        assert areas == sorted(areas)


class TestClasses:
    def test_thick_bolts_of_class_8_8(self) -> None:
        assert [strength("8.8", size).proof for size in ("M16", "M18")] == [580, 600]
        assert strength(8.8, "M10") == strength("class 8.8", "M10") == strength("8,8", "M10")

    @pytest.mark.parametrize("cls", ["4.6", "4.8", "5.6", "5.8", "6.8", "8.8", "10.9", "12.9"])
    def test_class_numbers_say_what_they_mean(self, cls: str) -> None:
        """The first number is a hundredth of the tensile strength, the product of both a tenth of the yield stress."""
        first, second = cls.split(".")
        found = strength(cls, "M10")
        assert found.tensile == int(first) * 100
        assert found.yielding == pytest.approx(int(first) * int(second) * 10, rel=0.07)
        assert found.proof < found.yielding < found.tensile

    def test_large_grade_5_is_weaker(self) -> None:
        assert strength("grade 5", "1 1/8-7").proof < strength("5", "1-8").proof

    def test_breaks_after_the_proof_load(self) -> None:
        for thread, cls in (("M10", "10.9"), ("1/2-13", "SAE 8")):
            assert proof_load(thread, cls) < Thread(thread).stress_area * strength(cls, thread).tensile


class TestPreload:
    @given(FORCE, THREAD, st.floats(0.05, 0.6))
    def test_nut_factor_there_and_back(self, force: float, thread: str, factor: float) -> None:
        there = Torque(factor * force * Thread(thread).diameter / 1000, "N·m")
        assert preload(there, thread, factor) == pytest.approx(force, rel=1e-12)

    def test_oil_raises_preload_by_a_third(self) -> None:
        assert preload("42 N·m", "M10", 0.15) / preload("42 N·m", "M10", 0.20) == pytest.approx(4 / 3)

    def test_without_twist_the_whole_yield_stress_is_there(self) -> None:
        high = assembly_preload("M10", "8.8", 0.2)
        low = assembly_preload("M10", "8.8", 0.05)
        assert high < low < 0.9 * 640 * Thread("M10").stress_area


LENGTH = st.floats(50, 1500)
ANGLE = st.floats(-180, 180)


class TestAdapters:
    @given(st.floats(0.1, 1000), LENGTH, st.floats(0, 49), ANGLE)
    def test_setting_and_true_torque_are_inverse(
        self, wanted: float, length: float, adapter: float, angle: float
    ) -> None:
        goal = Torque(wanted, "N·m")
        setting = wrench_setting(goal, length, adapter, angle)
        assert true_torque(setting, length, adapter, angle).value == pytest.approx(wanted, rel=1e-13)

    @given(LENGTH, st.floats(1, 49), st.floats(0, 89))
    def test_forward_means_a_lower_setting_and_back_a_higher(self, length: float, adapter: float, angle: float) -> None:
        goal = torque("40 N·m")
        assert wrench_setting(goal, length, adapter, angle) < goal < wrench_setting(goal, length, adapter, 180 - angle)

    @given(LENGTH, st.floats(0, 1500))
    def test_at_a_right_angle_nothing_changes(self, length: float, adapter: float) -> None:
        for angle in (90, -90, 90.0):
            assert wrench_setting("40 N·m", length, adapter, angle) == torque("40 N·m")

    @given(LENGTH, st.floats(1, 49), ANGLE)
    def test_balance_of_moments(self, length: float, adapter: float, angle: float) -> None:
        """A second way: the hand's force at the grip, square to the wrench, times its arm about the bolt."""
        setting = wrench_setting("40 N·m", length, adapter, angle).value
        force = setting / length
        bolt = (length + adapter * math.cos(math.radians(angle)), adapter * math.sin(math.radians(angle)))
        moment = bolt[0] * force  # grip at the origin, force along y
        assert moment == pytest.approx(40, rel=1e-12)

    def test_units_of_length_do_not_matter(self) -> None:
        by_inch = wrench_setting("40 N·m", QUANTITY(10, "inch"), QUANTITY(4, "inch"))
        assert by_inch.value == pytest.approx(wrench_setting("40 N·m", 254, 101.6).value, rel=1e-14)


class TestWrenches:
    wrench = Wrench("N·m", 10, 60, 1)

    def test_scale(self) -> None:
        assert self.wrench.usable_from == torque("12 N·m")
        assert self.wrench.permissible_deviation == 0.04
        assert self.wrench.settable("31 lbf·ft") == torque("42 N·m")

    def test_range(self) -> None:
        assert [self.wrench.suits(text) for text in ("11.9 N·m", "12 N·m", "60 N·m", "61 N·m", "50 lbf·ft")] == [
            "too large",
            "suits",
            "suits",
            "too small",
            "too small",
        ]

    @pytest.mark.parametrize(("wanted", "remedy"), [("11 N·m", "smaller"), ("61 N·m", "larger")])
    def test_out_of_range_is_refused(self, wanted: str, remedy: str) -> None:
        with pytest.raises(FastenerError, match="usable from 12 to 60 N·m") as caught:
            self.wrench.settable(wanted)
        assert remedy in caught.value.remedy

    def test_prevailing_in_another_unit(self) -> None:
        assert with_prevailing("40 lbf·ft", "24 lbf·in") == torque("42 lbf·ft")


NO_THREADS = [
    *("", "M", "M11", "M10x40", "M10x1.3", "M10x0", "M-10", "10", "1/2", "1/2-14", "1/2-20 UNC", "5/7-13"),
    *("M10x1.25x40", "M10-8.8", "W1/2", "M1e1", "M٨", None, 10),
]
NO_LEVERS = [
    *((0, 100, 0), (-250, 100, 0), (250, -100, 0), (math.inf, 100, 0), ("250", 100, 0)),
    *((250, 100, angle) for angle in (181, math.nan, "45", True)),
    *((250, 250, 180), (250, 300, 170)),
]
NO_SCALES = [
    *(("N·m", 60, 10, 1), ("N·m", -1, 60, 1), ("N·m", 10, 60, 0), ("N·m", 10, 60, 51), ("J", 10, 60, 1)),
    *(("N·m", 10, math.inf, 1), ("N·m", "10", 60, 1)),
]
QUANTITY = pint.get_application_registry().Quantity
EITHER = (FastenerError, QuantityError)
# What is tried with each of the values, which error comes and what it says.
REFUSED: list[tuple[Callable[[Any], object], Any, str, Sequence[Any]]] = [
    (Thread, FastenerError, ".", NO_THREADS),
    (Thread, FastenerError, "length of the screw", ["M10x40"]),
    (lambda cls: strength(cls, "M10"), FastenerError, ".", ["grade 5", "8.9", "", None, True]),
    (lambda cls: strength(cls, "1/2-13"), FastenerError, ".", ["8.8", "7"]),
    (lambda thread: strength("grade 5", thread), FastenerError, "1/4 in to 1 1/2 in", ["#10-32"]),
    (lambda nut: preload("42 N·m", "M10", nut), EITHER, ".", [0, -0.2, 0.01, 2, math.nan, "0.2", True, None]),
    (lambda wanted: preload(wanted, "M10", 0.2), QuantityError, "energy", ["42 J"]),
    (lambda lever: wrench_setting("40 N·m", *lever), EITHER, ".", NO_LEVERS),
    (lambda lever: true_torque("40 N·m", *lever), EITHER, ".", NO_LEVERS),
    (
        lambda adapter: wrench_setting("40 N·m", 250, adapter),
        QuantityError,
        "adapter length is a length",
        [QUANTITY(1, "kg")],
    ),
    (lambda scale: Wrench(*scale), EITHER, ".", NO_SCALES),
]


@pytest.mark.parametrize(
    ("attempt", "error", "says", "value"), [(*row, value) for *row, values in REFUSED for value in values]
)
def test_what_cannot_be_is_refused(attempt: Callable[[Any], object], error: Any, says: str, value: Any) -> None:
    with pytest.raises(error, match=says) as caught:
        attempt(value)
    assert isinstance(caught.value, TrainkitError)
    assert isinstance(caught.value, ValueError)
    assert caught.value.rule
    assert caught.value.remedy
