"""Torque units and printed pairs against values from outside: rows T and D of the table.

Where a row says "common practice, no source", so does its test: the D rows are pairs met in practice, used here for
their arithmetic alone. "Memory" in a row's status means that the place in the source is remembered, not the value.
"""

from __future__ import annotations

from fractions import Fraction

import pint
import pytest
import scipy.constants

from tests.outside.checks import Row, row, rows
from trainkit.errors import QuantityError
from trainkit.fasteners.classes import MPA_PER_KSI
from trainkit.quantities import DualUnit, dual_unit, factor, torque, torque_unit

NOT_TESTED: dict[str, str] = {}

# The exact value that each column of a factor row states, by row: from one unit into another.
FACTORS = {
    "T02": ("lbf·ft", "N·m"),  # NIST SP 811 (2008) B.8
    "T03": ("lbf·in", "N·m"),  # NIST SP 811 (2008) B.8
    "T04": ("ozf·in", "N·m"),  # NIST SP 811 (2008) B.8
    "T05": ("kgf·m", "N·m"),  # NIST SP 811 (2008) B.8; standard gravity, 3rd CGPM 1901
    "T06": ("kgf·cm", "N·m"),  # from T05
    "T07": ("dyn·cm", "N·m"),  # NIST SP 811 (2008) B.8
    "T08": ("N·m", "lbf·ft"),  # inverse of T02
    "T09": ("N·m", "lbf·in"),  # inverse of T03
    "T10": ("kgf·m", "lbf·ft"),  # T05 over T02
    "T11": ("lbf·ft", "lbf·in"),  # a foot has twelve inches; NIST SP 811
}


@rows("T02", "T03", "T04", "T05", "T06", "T07", "T08", "T09", "T10", "T11")
def test_factor(check: Row) -> None:
    unit, into = FACTORS[check.id]
    check.check(torque(1, unit).to(into).value)


@pytest.mark.parametrize("unit", ["lbf·ft", "lbf·in", "ozf·in", "kgf·m", "kgf·cm", "dyn·cm"])
def test_factor_against_scipy(unit: str) -> None:
    """A second opinion: scipy.constants (CODATA and NIST definitions) on force and length."""
    constants = scipy.constants
    force = {"lbf": constants.lbf, "ozf": constants.lbf / 16, "kgf": constants.kgf, "dyn": constants.dyn}
    length = {"ft": constants.foot, "in": constants.inch, "m": 1.0, "cm": 0.01}
    name, over = unit.split("·")
    assert float(factor(unit)) == pytest.approx(force[name] * length[over], rel=4e-16)


@pytest.mark.parametrize("unit", ["N·m", "lbf·ft", "lbf·in", "ozf·in", "kgf·m", "kgf·cm", "dyn·cm"])
def test_quantity_is_worth_the_same_to_pint(unit: str) -> None:
    """pint's own conversion in floats may be one unit in the last place off the exact value."""
    assert torque(1, unit).quantity.to("N*m").magnitude == pytest.approx(float(factor(unit)), rel=4e-16)


@rows("T01", "T15")
def test_pound_force(check: Row) -> None:
    """T01: NIST SP 811 B.8. T15 is a trap: a library whose pound force goes through a rounded slug."""
    newtons = float(factor("lbf·in") / Fraction("0.0254"))
    assert check.agrees(newtons) is (check.id == "T01"), check.refusal(newtons)


def test_exact_fraction() -> None:
    """T02 states the exact fraction in words."""
    assert "3389544870828501/2500000000000000" in row("T02").inputs
    assert factor("lbf·ft") == Fraction(3389544870828501, 2500000000000000)


@rows("T12")
def test_pound_times_foot_is_read_as_a_torque(check: Row) -> None:
    """A trap: pint reads lb*ft as mass times length. Here the list decides, and a mass times a length is refused."""
    check.check(pint.UnitRegistry()("lb*ft").to_base_units().magnitude)
    assert torque_unit("lb*ft") == "lbf·ft"
    with pytest.raises(QuantityError, match="force times a length"):
        torque(pint.get_application_registry().Quantity(1, "lb*ft"))


@rows("T13")
def test_ftlb_is_no_femto_troy_pound(check: Row) -> None:
    """A trap: pint reads ftlb as a femto-troy-pound."""
    check.check(pint.UnitRegistry()("ftlb").to("kg").magnitude)
    assert torque("31 ftlb") == torque("31 lbf·ft")


@rows("T14")
def test_energy_is_refused(check: Row) -> None:
    """A trap: torque and energy share a dimension, and pint converts without a word."""
    check.check(torque("1 N·m").quantity.to("J").magnitude)
    with pytest.raises(QuantityError, match="energy"):
        torque("1 J")
    with pytest.raises(QuantityError, match="energy"):
        torque(torque("1 N·m").quantity.to("J"))


@rows("T16")
def test_milli_is_refused(check: Row) -> None:
    """A trap: ``mN·m`` and ``m·N`` are a thousand apart and look alike; the workshop's list has neither."""
    check.check(pint.UnitRegistry()("mN*m").to("N*m").magnitude)
    for text in ("1 mN·m", "1 mN.m", "1 mNm", "1 m·N", "1 m.N", "1 mN"):
        with pytest.raises(QuantityError, match="Write"):
            torque(text)


@rows("T17")
def test_pound_on_a_square_inch(check: Row) -> None:
    """T17: NIST SP 811; scipy.constants.psi."""
    check.check(MPA_PER_KSI * 1e6 / 1000)


@rows("T18")
def test_seven_digits_are_not_exact(check: Row) -> None:
    """The printed factor of NIST SP 811 is off by what its last digit hides; no code of ours uses it."""
    check.check(abs(float(Fraction("1.355818") / factor("lbf·ft") - 1)))


# The pair that each D row is about, second column last. Common practice, no source.
PAIRS = {
    "D01": ("18 lbf·ft", "24 N·m"),
    "D02": ("108 lbf·in", "12 N·m"),
    "D03": ("48 lbf·ft", "65 N·m"),
    "D04": ("10 lbf·ft", "13 N·m"),
}


def pair(check: Row) -> DualUnit:
    return dual_unit(*PAIRS[check.id[:3]])


@rows("D01a", "D02a", "D03a", "D04a")
def test_first_column_converted(check: Row) -> None:
    """The row's status says whether rounding forward gives the printed second column."""
    read = pair(check)
    check.check(read.first_converted.value)
    assert (read.master in ("first", "either")) is ("NOT consistent" not in check.status)


@rows("D01b", "D02b", "D03b", "D04b")
def test_second_column_converted(check: Row) -> None:
    """The row's status says whether rounding back gives the printed first column."""
    read = pair(check)
    check.check(read.second_converted.value)
    assert (read.master in ("second", "either")) is ("NOT consistent" not in check.status)


@rows("D07")
def test_gap_of_a_pair(check: Row) -> None:
    """Just outside a tool's 4 %. Common practice, no source; the factor from T02."""
    check.check(dual_unit("10 lbf·ft", "13 N·m").gap * 100)
