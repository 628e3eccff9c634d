"""Reading, converting, comparing and writing torques; printed pairs; the bench's pint as a second opinion."""

from __future__ import annotations

import math
import pickle
from collections.abc import Callable, Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

import trainkit
from trainkit.errors import QuantityError, TrainkitError
from trainkit.quantities import (
    THIN,
    UNITS,
    Torque,
    dual_unit,
    factor,
    from_edge,
    millimetres,
    number,
    plain,
    round_to_step,
    settable,
    torque,
    torque_unit,
)

UNIT = st.sampled_from(UNITS)
VALUE = st.floats(min_value=1e-3, max_value=1e5, allow_nan=False)


@pytest.fixture(autouse=True, scope="module")
def registry() -> None:
    """Build pint's registry once, so that no generated example is timed with it."""
    factor("lbf·ft")
    _ = torque("1 N·m").quantity


class TestReading:
    @pytest.mark.parametrize(
        ("value", "unit", "texts"),
        [
            (
                31,
                "lbf·ft",
                [
                    "31 ft-lb",
                    "31 lb ft",
                    "31 lbf·ft",
                    "31ftlb",
                    "31 Ft-Lbs",
                    "31 FT LB",
                    "31 lb.ft.",
                    "31 foot-pounds",
                    "31 pound-force feet",
                ],
            ),
            (96, "lbf·in", ["96 in-lb", "96 inch pounds", "96 in. lbs."]),
            (
                42,
                "N·m",
                [
                    "42 Nm",
                    "42 N-m",
                    "42 N·m",
                    "42 N.m",
                    "42 N m",
                    "42 N*m",
                    "42 NM",
                    "42 newton metres",
                    "42 Newton-meter",
                    "+42 N·m",
                ],
            ),
            (4.2, "kgf·m", ["4,2 kgf·m", "4,2 kg m", "4.2 mkp"]),
            (420, "kgf·cm", ["420 kgf·cm", "420 kg-cm"]),
            (50, "ozf·in", ["50 ozf·in", "50 oz-in"]),
            (900, "dyn·cm", ["900 dyn·cm"]),
            (1250, "N·m", ["1 250 N·m"]),
            (1.25, "N·m", ["1.250 N·m"]),
            (0.125, "kgf·m", ["0,125 kgf·m"]),
            (0.5, "N·m", [".5 N·m"]),
            (0, "N·m", ["0 N·m"]),
        ],
    )
    def test_notation_of_the_workshop(self, value: float, unit: str, texts: list[str]) -> None:
        for text in texts:
            read = torque(text)
            assert (read.value, read.unit) == (value, unit), text

    @pytest.mark.parametrize("space", ["", " ", "\u00a0", "\u2009", "\u202f", "  ", "\t"])
    @pytest.mark.parametrize(
        "dot", ["·", "⋅", "•", "∙", "‧", ".", "-", "\u2010", "\u2011", "\u2212", " ", "\u2009", "*"]
    )
    def test_every_dot_and_space(self, space: str, dot: str) -> None:
        assert torque(f"31{space}lbf{dot}ft") == Torque(31.0, "lbf·ft")

    def test_marks_without_width_are_overlooked(self) -> None:
        assert torque("\ufeff31\u200b lbf\u00ad·ft\u200e") == Torque(31.0, "lbf·ft")

    @pytest.mark.parametrize(
        ("rule", "remedy", "texts"),
        [
            ("mass or a force", "lbf·ft or lbf·in", ["31 lb"]),
            ("mass or a force", "kgf·m or kgf·cm", ["31 kg"]),
            ("a force, no torque", "N·m", ["31 N"]),
            ("prefix", "N·m", ["3 mN", "3 mN·m", "3 mNm", "3 kN·m", "3 daNm"]),
            ("too like mN", "N·m", ["3 m·N"]),
            ("nanometre", "N·m", ["42 nm", "42 n·m"]),
            ("a length", "N·m", ["42 mm", "42 ft"]),
            ("energy", "N·m", ["42 J", "42 joules"]),
            ("does not divide", "lbf·ft", ["31 lb/ft", "31 lb per ft"]),
            (
                "The torque units are",
                "once",
                ["42 N·m²", "42 N·cm", "31 lbf·ft 42 N·m", "31 lbf·ft (42 N·m)", "42 ± 2 N·m", "42 °"],
            ),
            ("A number alone is no torque", "N·m", ["42"]),
            ("begins with a number", "42 N·m", ["", "N·m 42", "½ N·m", "٣١ N·m", "４２ N·m"]),
            ("no sign", "without a sign", ["-3 N·m", "−3 N·m", "– 3 N·m"]),
            ("finite", "42", ["nan N·m", "inf N·m", "-∞ N·m"]),
            ("power of ten", "Write it out", ["1e3 N·m", "4×10 N·m"]),
            ("not a fraction", "0.5", ["1/2 N·m", "1½ N·m"]),
            ("A space may only", "1250", ["1 1/2 N·m", "1 2 N·m"]),
            ("at most one decimal mark", "1250", ["1_250 N·m", "1'250 N·m", "1,250.5 N·m", "1.250,5 N·m", "31. N·m"]),
            ("at most 1000000 N·m", "digits", ["2000000 N·m", "1" * 40 + " N·m"]),
            ("at most 60 characters", "alone", ["1" * 80]),
        ],
    )
    def test_what_is_no_torque_is_refused(self, rule: str, remedy: str, texts: list[str]) -> None:
        for text in texts:
            with pytest.raises(QuantityError) as caught:
                torque(text)
            assert rule in caught.value.rule
            assert remedy in caught.value.remedy
            assert caught.value.value == text
            assert isinstance(caught.value, TrainkitError)
            assert isinstance(caught.value, ValueError)

    @pytest.mark.parametrize(
        ("text", "readings"), [("1,250 N·m", ("1250", "1.250")), ("12,500 Nm", ("12500", "12.500"))]
    )
    def test_comma_before_three_digits_is_refused(self, text: str, readings: tuple[str, str]) -> None:
        with pytest.raises(QuantityError, match="part thousands or be a decimal mark") as caught:
            torque(text)
        assert all(reading in caught.value.remedy for reading in readings)

    def test_more_or_fewer_digits_after_a_comma_are_clear(self) -> None:
        assert [number(text) for text in ("1,25", "1,2500", "0,125", "1250,125")] == [1.25, 1.25, 0.125, 1250.125]

    @pytest.mark.parametrize("given", [42, 42.0, Fraction(42), Decimal(42)])
    def test_number_with_its_unit(self, given: float) -> None:
        read = torque(given, "Nm")
        assert read == Torque(42.0, "N·m")
        assert type(read.value) is float

    def test_unit_in_the_text_goes_before_the_one_picked(self) -> None:
        assert torque("31 lbf·ft", "N·m").unit == "lbf·ft"
        assert torque("31", "N·m").unit == "N·m"

    @given(st.text(max_size=70))
    def test_any_text_is_read_or_refused(self, text: str) -> None:
        for read in (torque, number):
            found: object
            try:
                found = read(text)
            except QuantityError as error:
                found = error
            match found:
                case QuantityError():
                    assert found.rule.endswith(".")
                    assert found.remedy.endswith(".")
                case Torque():
                    assert math.isfinite(found.value)
                case float():
                    assert math.isfinite(found)
                case _:
                    pytest.fail(f"{text!r} was read as {found!r}")

    @given(VALUE, UNIT)
    def test_what_is_written_is_read_again(self, value: float, unit: str) -> None:
        written = Torque(float(f"{value:.5g}"), unit)
        assert torque(str(written)) == written


class TestTorque:
    def test_lazy_public_name(self) -> None:
        assert trainkit.quantities.torque("31 lbf·ft").unit == "lbf·ft"

    @given(VALUE, UNIT, UNIT)
    def test_conversion_round_trips(self, value: float, unit: str, other: str) -> None:
        first = Torque(value, unit)
        assert first.to(other).to(unit).value == pytest.approx(value, rel=1e-15)

    @given(VALUE, UNIT, UNIT)
    def test_conversion_agrees_with_pint(self, value: float, unit: str, other: str) -> None:
        first = Torque(value, unit)
        second = first.to(other)
        assert second.value == pytest.approx(first.quantity.to(second.quantity.units).magnitude, rel=1e-14)

    def test_twelve_inches_a_foot(self) -> None:
        assert torque("8 lbf·ft").to("lbf·in").value == 96.0
        assert factor("lbf·ft") == 12 * factor("lbf·in")
        assert factor("lbf·in") == 16 * factor("ozf·in")

    @given(VALUE, UNIT, VALUE, UNIT)
    def test_order_is_that_of_the_exact_values(self, one: float, unit: str, two: float, other: str) -> None:
        first, second = Torque(one, unit), Torque(two, other)
        exact_first = Fraction(repr(one)) * factor(unit)
        exact_second = Fraction(repr(two)) * factor(other)
        assert (first < second) is (exact_first < exact_second)
        assert (first >= second) is (exact_first >= exact_second)
        assert (first == second) is (exact_first == exact_second)

    def test_equal_torques_hash_alike(self) -> None:
        assert len({torque("1 kgf·m"), torque("100 kgf·cm"), torque("1,0 mkp")}) == 1
        assert torque("0.1 kgf·m") == torque("10 kgf·cm")
        assert torque("1 N·m") != torque("2 N·m")
        assert torque("1 N·m") != 1

    def test_comparison_with_a_number_is_refused(self) -> None:
        with pytest.raises(TypeError):
            _ = torque("1 N·m") < 2  # type: ignore[operator]  # the point of the test

    def test_writing(self) -> None:
        value = torque("31 lb ft")
        assert str(value) == f"31{THIN}lbf·ft"
        assert str(value.to("N·m")) == f"42.03{THIN}N·m"
        assert f"{value:.1f}" == f"31.0{THIN}lbf·ft"
        assert value.shown(0.5) == f"31.0{THIN}lbf·ft"
        assert repr(value) == "Torque(value=31.0, unit='lbf·ft')"

    def test_read_only_and_picklable(self) -> None:
        value = torque("31 lbf·ft")
        with pytest.raises(AttributeError):
            value.value = 3.0  # type: ignore[misc]  # the point of the test
        assert pickle.loads(pickle.dumps(value)) == value  # noqa: S301 - its own bytes

    def test_pint_quantities(self) -> None:
        registry = pint.get_application_registry()
        assert torque(registry.Quantity(31, "lbf*ft")) == torque("31 lbf·ft")
        assert torque("31 lbf·ft").quantity == registry.Quantity(31.0, "foot * force_pound")
        assert torque(torque("420 kgf·cm").quantity) == torque("420 kgf·cm")
        for unit in ("joule", "lb*ft", "newton", "meter", "newton*meter**2", "dimensionless"):
            with pytest.raises(QuantityError, match="force times a length"):
                torque(registry.Quantity(1, unit))
        with pytest.raises(QuantityError):
            torque(registry.Quantity(-1, "newton*meter"))


class TestNumbers:
    @pytest.mark.parametrize(
        ("text", "value"),
        [
            ("22,5", 22.5),
            ("22.5", 22.5),
            ("−3", -3.0),
            ("- 3", -3.0),
            ("1 250", 1250.0),
            ("1\u202f250,5", 1250.5),
            (" 7 ", 7.0),
        ],
    )
    def test_read(self, text: str, value: float) -> None:
        assert number(text) == value

    def test_minus_nought_is_nought(self) -> None:
        assert math.copysign(1, number("-0")) == 1

    @given(st.decimals(min_value=-10000, max_value=10000, places=4), st.sampled_from([".", ","]))
    def test_every_plain_decimal_is_read(self, value: Decimal, mark: str) -> None:
        assert number(str(value).replace(".", mark)) == float(value)

    @given(st.floats(-1e6, 1e6), st.sampled_from([0.1, 0.25, 0.5, 1, 2, 2.5, 5, 10]))
    def test_step_agrees_with_the_decimal_module(self, value: float, step: float) -> None:
        steps = (Decimal(repr(value)) / Decimal(repr(step))).quantize(Decimal(1), ROUND_HALF_UP)
        assert round_to_step(value, step) == float(steps * Decimal(repr(step)))

    def test_half_goes_up(self) -> None:
        assert [round_to_step(value, 1) for value in (0.5, 1.5, 2.5, -0.5)] == [1, 2, 3, -1]
        assert round_to_step(0.15, 0.1) == 0.2
        assert round_to_step(0.35, 0.1) == 0.4

    @given(st.floats(0, 1e4), st.sampled_from([0.1, 0.5, 1, 2, 5]))
    def test_edge_is_where_rounding_turns_over(self, value: float, step: float) -> None:
        away = from_edge(value, step)
        assert 0 <= away <= 0.5
        if away > 1e-6:
            nearer = 0.9 * away * step
            assert round_to_step(value - nearer, step) == round_to_step(value + nearer, step)

    @pytest.mark.parametrize(
        ("value", "written"),
        [
            (31.0, "31"),
            (42.030356, "42.03"),
            (123456.0, "123456"),
            (1234567.8, "1234568"),
            (0.5, "0.5"),
            (0.0, "0"),
            (1e-7, "0.0000001"),
            (0.00012345678, "0.0001235"),
            (99999.96, "100000"),
            (12345.678, "12346"),
            (3e20, "3" + "0" * 20),
        ],
    )
    def test_written_without_a_power_of_ten(self, value: float, written: str) -> None:
        assert plain(value) == written

    def test_written_at_a_step(self) -> None:
        assert [plain(42.0, step) for step in (1, 0.5, 0.25, 5)] == ["42", "42.0", "42.00", "42"]

    def test_lengths(self) -> None:
        assert millimetres(250) == 250.0
        assert millimetres(pint.get_application_registry().Quantity(10, "inch")) == pytest.approx(254, rel=1e-15)
        assert millimetres(0, zero=True) == 0
        for wrong in (0, -1, math.nan, "250", True, None, pint.get_application_registry().Quantity(1, "kg")):
            with pytest.raises(QuantityError):
                millimetres(wrong)  # type: ignore[arg-type]  # the point of the test


class TestSettable:
    @given(VALUE, UNIT, UNIT, st.sampled_from([0.1, 0.5, 1.0, 2.0, 5.0]))
    def test_no_mark_is_nearer(self, value: float, unit: str, other: str, step: float) -> None:
        wanted, mark = Torque(value, unit), Torque(step, other)
        found = settable(wanted, mark)
        exact_wanted, exact_step = wanted.newton_metres, mark.newton_metres
        marks = round(found.value / step)
        gap = abs(marks * exact_step - exact_wanted)
        assert gap <= abs((marks + 1) * exact_step - exact_wanted)
        assert gap <= abs((marks - 1) * exact_step - exact_wanted)

    def test_half_goes_up(self) -> None:
        assert settable("42.5 N·m", "1 N·m") == torque("43 N·m")
        assert settable("0.425 kgf·m", "1 kgf·cm") == torque("43 kgf·cm")


class TestPairs:
    @pytest.mark.parametrize(
        ("first", "second", "master"),
        [
            ("42 N·m", "31 lbf·ft", "either"),
            ("42 N·m", "30 lbf·ft", "neither"),
            ("57 N·m", "42 lbf·ft", "either"),
            ("29 N·m", "262 lbf·in", "neither"),
            ("29 N·m", "257 lbf·in", "either"),
            ("29 N·m", "258 lbf·in", "second"),
            ("258 lbf·in", "29 N·m", "first"),
            ("4.3 kgf·m", "42 N·m", "either"),
            ("4.30 kgf·m", "42 N·m", "first"),
            ("8.5 lbf·ft", "102 lbf·in", "either"),
            ("8 lbf·ft", "103 lbf·in", "neither"),
            ("8 lbf·ft", "102 lbf·in", "second"),
            ("9 lbf·ft", "102 lbf·in", "second"),
        ],
    )
    def test_master(self, first: str, second: str, master: str) -> None:
        assert dual_unit(first, second).master == master

    def test_both_neighbours_of_an_exact_half_count_as_rounded(self) -> None:
        for second in ("0.42 kgf·m", "0.43 kgf·m"):
            assert dual_unit("42.5 kgf·cm", second).master in ("first", "either")

    def test_overlapping_intervals_are_not_enough(self) -> None:
        """What 45 N·m and 34 lbf·ft could have been overlaps, yet neither is the other one rounded."""
        pair = dual_unit("45 N·m", "34 lbf·ft")
        assert torque("45.5 N·m") > torque("33.5 lbf·ft")
        assert pair.master == "neither"
        assert not pair.belongs

    def test_declared_step(self) -> None:
        assert dual_unit("80 lbf·ft", "110 N·m").master == "neither"
        assert dual_unit("80 lbf·ft", "110 N·m", step_second=10).master == "first"
        assert dual_unit("80 lbf·ft", "110 N·m", step_second=(1, 10)).master == "undecidable"
        assert dual_unit("80 lbf·ft", "110 N·m", coarser=True).master == "undecidable"

    def test_trailing_zeros_behind_the_mark_tell_the_step(self) -> None:
        assert dual_unit("42.0 N·m", "31 lbf·ft").steps_first == (0.1,)
        assert dual_unit("42.5 N·m", "31 lbf·ft").master == "first"
        assert dual_unit("120 N·m", "89 lbf·ft", coarser=True).steps_first == (1, 2, 5, 10)

    def test_coarser_step_that_all_agree_is_decidable(self) -> None:
        assert dual_unit("120 N·m", "70 lbf·ft", coarser=True).master == "neither"

    @given(VALUE, UNIT, UNIT)
    def test_a_rounded_conversion_always_belongs(self, value: float, unit: str, other: str) -> None:
        step = {"lbf·ft": 1, "N·m": 1, "lbf·in": 1, "ozf·in": 1, "kgf·cm": 1, "kgf·m": 0.01, "dyn·cm": 1000}
        first = Torque(round_to_step(value, step[unit]), unit)
        second = settable(first, Torque(step[other], other))
        if unit == other or not first.value or not second.value:
            return
        pair = dual_unit(first, second, step[unit], step[other])
        assert pair.master in ("first", "either")
        assert dual_unit(second, first, step[other], step[unit]).master == {"first": "second"}.get(
            pair.master, "either"
        )

    def test_gap_and_working(self) -> None:
        pair = dual_unit("29 N·m", "258 lbf·in")
        assert pair.gap == pytest.approx(258 * 0.1129848290276167 / 29 - 1, rel=1e-12)
        assert [line.replace(THIN, " ") for line in pair.working] == [
            "29 N·m = 256.672 lbf·in. To the nearest 1 lbf·in that is 257, but 258 is printed.",
            "258 lbf·in = 29.1501 N·m. To the nearest 1 N·m that is 29, as printed.",
            "Only the N·m column is the other one rounded, so lbf·in is the master.",
        ]


NO_NUMBERS = ["", "four", "7 mm", "1,250", "0x10", "1e3", "7%", "--3", "1 25", "1 2500", "nan", "7.", "7,"]
NO_TORQUES: list[Any] = [True, None, [], b"42 N.m", float("nan"), float("inf"), -1.0, 10**400, 2e6]
NO_VALUES = [(-1.0, "N·m"), (math.nan, "N·m"), (1.0, "Nm"), ("1", "N·m"), (True, "N·m")]
# What is tried with each of the values, and what the refusal says.
REFUSED: list[tuple[Callable[[Any], object], str, Sequence[Any]]] = [
    (number, ".", NO_NUMBERS),
    (lambda value: torque(value, "N·m"), ".", NO_TORQUES),
    (lambda unit: torque(42, unit), "A number alone", ["", " ", None, 3]),
    (torque, r"'31 lb': A lb alone is a mass or a force, no torque\. Write lbf·ft", ["31 lb"]),
    (torque_unit, "name of a unit is text", [3]),
    (lambda parts: Torque(*parts), ".", NO_VALUES),
    (Torque(1e308, "kgf·m").to, "finite", ["dyn·cm"]),
    (Torque(42.0, "N·m").to, "energy", ["J"]),
    (lambda step: round_to_step(1.0, step), ".", [0, -1, math.nan, math.inf, "1", True, None]),
    (lambda step: settable("42 N·m", step), "step is greater", ["0 N·m"]),
    (lambda other: dual_unit("42 N·m", other), "two different units", ["42 Nm"]),
    (lambda other: dual_unit("0 N·m", other), "greater than nought", ["0 lbf·ft"]),
    (lambda other: dual_unit("42 N·m", other), "A number alone", ["31"]),
    (lambda step: dual_unit("42 N·m", "31 lbf·ft", step), "prints multiples", [5]),
    (lambda step: dual_unit("42 N·m", "31 lbf·ft", step), "step is greater", [0]),
    (lambda step: dual_unit("42 N·m", "31 lbf·ft", None, step), "finite", [math.nan]),
]


@pytest.mark.parametrize(("attempt", "rule", "value"), [(*row, value) for *row, values in REFUSED for value in values])
def test_value_that_cannot_be_is_refused(attempt: Callable[[Any], object], rule: str, value: Any) -> None:
    with pytest.raises(QuantityError, match=rule):
        attempt(value)
