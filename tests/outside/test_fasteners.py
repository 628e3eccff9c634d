"""Threads, classes, preload and wrenches against values from outside: rows B and W of the table.

Each row's own ``source`` is printed when its test fails. "Memory" in a row's status means that the number of a table or
clause is remembered; "common practice, no source" stands where there is none.
"""

from __future__ import annotations

import math

import pint
import pytest
import scipy.constants

from tests.outside.checks import Row, rows
from trainkit.fasteners import (
    Thread,
    assembly_preload,
    permissible_deviation,
    preload,
    proof_load,
    strength,
    true_torque,
    with_prevailing,
    wrench_setting,
)
from trainkit.quantities import Torque

NOT_TESTED = {
    "B64": "a question states its own nut factors; the product keeps no table of them",
    "B70b": "preloads are reckoned by the nut factor; nothing splits a torque into its three parts",
    "B71b": "preloads are reckoned by the nut factor; nothing splits a torque into its three parts",
    "B72b": "preloads are reckoned by the nut factor; nothing splits a torque into its three parts",
    "B76": "preloads are reckoned by the nut factor; nothing splits a torque into its three parts",
    "W11": "no wrench is calibrated in the product, so no deviation is measured",
    "W14": "no wrench is calibrated in the product, so no points are needed",
}

PSI = scipy.constants.psi / 1e6  # MPa
M10 = Thread("M10")


@rows("B01")
def test_height_of_the_triangle(check: Row) -> None:
    """ISO 68-1:1998 clause 5."""
    check.check(M10.height / M10.pitch)


@rows("B02", "B03", "B04")
def test_diameters(check: Row) -> None:
    """B02, B03: ISO 724:1993. B04: ISO 898-1 and DIN 13; no published source found for the number."""
    check.check({"B02": M10.pitch_diameter, "B03": M10.nut_minor_diameter, "B04": M10.minor_diameter}[check.id])


@rows("B10", "B11", "B12", "B13", "B14", "B15", "B20", "B21", "B22", "B24", "B25", "B26")
def test_stress_area(check: Row) -> None:
    """ISO 898-1, tables of proof loads, coarse and fine; the designation stands in the row."""
    name = check.inputs.split()[1]
    assert name.startswith("M")
    check.check(Thread(name).stress_area)


@rows("B30", "B31", "B32", "B33", "B34")
def test_proof_stress(check: Row) -> None:
    """ISO 898-1:2013 table 3."""
    name = next(word for word in check.inputs.split() if word.replace(".", "").isdigit() and "." in word)
    check.check(strength(name, "M10").proof)


@rows("B40", "B41", "B42", "B43", "B45", "B46", "B47", "B48", "B49")
def test_proof_load(check: Row) -> None:
    """ISO 898-1, tables of proof loads; they round in steps, B42 and B47 not even plainly, hence the tolerance."""
    words = check.inputs.split()
    check.check(proof_load(words[2], words[4]))


@rows("B50", "B51")
def test_tensile_load(check: Row) -> None:
    """ISO 898-1, tables of tensile loads; they cut digits off, hence the tolerance."""
    words = check.inputs.split()
    check.check(Thread(words[3]).stress_area * strength(words[4], words[3]).tensile)


@rows("B55")
def test_stress_area_of_an_inch_thread(check: Row) -> None:
    """ASME B1.1 appendix B; Shigley table 8-2."""
    check.check(Thread("1/2-13 UNC").stress_area / 25.4**2)


@rows("B57", "B58")
def test_grades(check: Row) -> None:
    """SAE J429 table 1. The row's pounds a square inch become MPa and back: a few units in the last place."""
    found = strength("grade 5" if check.id == "B57" else "grade 8", "1/2-13 UNC").proof / PSI
    assert found == pytest.approx(check.number, rel=1e-14)


@rows("B59")
def test_proof_load_of_a_grade(check: Row) -> None:
    """SAE J429."""
    check.check(proof_load("1/2-13 UNC", "grade 5") / scipy.constants.lbf)


@rows("B60")
def test_preload_stress(check: Row) -> None:
    """Shigley, example 8-3 (number from memory): 25 kip on the stress area of 3/4-16 UNF."""
    area = Thread("3/4-16 UNF").stress_area / 25.4**2
    # Shigley's table rounds the area to 0.373 in² before dividing.
    assert round(area, 3) == 0.373
    check.check(25 / round(area, 3))


@rows("B61")
def test_nut_factor_torque(check: Row) -> None:
    """Shigley equation 8-27 (number from memory): the same screw at K = 0.20."""
    found = preload(Torque(check.number, "lbf·in"), "3/4-16 UNF", 0.20)
    assert found == pytest.approx(25_000 * scipy.constants.lbf, rel=1e-14)


# VDI 2230-1 table A: M8x1, bearing face 11.63 mm, hole 9 mm; class and friction by row.
TABLE_A = {"B70": ("8.8", 0.10), "B71": ("8.8", 0.12), "B72": ("10.9", 0.12)}


@rows("B70a", "B71a", "B72a")
def test_assembly_preload(check: Row) -> None:
    """VDI 2230-1 table A, preload at 90 % of the yield stress."""
    check.check(assembly_preload("M8x1", *TABLE_A[check.id[:3]]) / 1000)


def inches(length: float) -> pint.Quantity[float]:
    found: pint.Quantity[float] = pint.get_application_registry().Quantity(length, "inch")
    return found


@rows("W01", "W03", "W04", "W08")
def test_adapter(check: Row) -> None:
    """W01, W08: US Army TM 1-1500-204-23-9 chapter 8. W04: TM 9-254 figure 4-6. W03: cos 90° is nought."""
    angle = {"W01": 0, "W03": 90, "W04": 45, "W08": 0}[check.id]
    adapter = inches(0 if check.id == "W08" else 4)
    setting = wrench_setting("300 lbf·in", inches(10), adapter, angle)
    check.check(setting.value / 300 if check.id == "W08" else setting.value)
    assert true_torque(setting, inches(10), adapter, angle).value == pytest.approx(300, rel=1e-15)


@rows("W07")
def test_prevailing_torque_is_added(check: Row) -> None:
    """FAA AC 43.13-1B paragraph 7-40d; the numbers are the table's own."""
    check.check(with_prevailing("100 lbf·in", "15 lbf·in").value)


@rows("W09", "W10")
def test_permissible_deviation(check: Row) -> None:
    """ISO 6789 type II class A, seen in a secondary text."""
    check.check(permissible_deviation("11 N·m" if check.id == "W09" else "10 N·m") * 100)


@rows("W12")
def test_lower_bound(check: Row) -> None:
    """From W09."""
    check.check(100 * (1 - permissible_deviation("100 N·m")))


@pytest.mark.parametrize("name", ["M6", "M8x1", "M10x1.25", "M16", "M30x2"])
def test_stress_area_against_an_integral(name: str) -> None:
    """A second opinion: scipy integrates rings up to the mean of pitch and minor diameter."""
    from scipy.integrate import quad

    thread = Thread(name)
    pitch_diameter = thread.diameter - 0.649519 * thread.pitch
    minor = thread.diameter - 1.226869 * thread.pitch
    area, _ = quad(lambda radius: 2 * math.pi * radius, 0, (pitch_diameter + minor) / 4)
    assert thread.stress_area == pytest.approx(area, rel=1e-6)
