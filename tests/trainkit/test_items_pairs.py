"""Two wrong rules at once: what they give together, by hand, named in the mark, and told from all else."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest

from tests.trainkit.second_ways.reading import pack
from trainkit.fasteners import Thread
from trainkit.items import gearwork
from trainkit.items.distinct_answers import paired
from trainkit.items.lash_and_timing import rules as lash
from trainkit.items.tightening import forces
from trainkit.items.turning_direction import rules as turning
from trainkit.quantities import torque


def values(rules: Any, case: Any, readings: Any, finishes: Any = None) -> dict[tuple[str, str], float]:
    found = paired(rules, case, [], float, 1e-9, readings=readings, finishes=finishes or {})
    return {(pair.first, pair.second): pair.value for pair in found}


def test_a_shaft_turns_so_far_by_two_wrong_rules() -> None:
    survey = gearwork.survey(pack("dunlin"))
    way = survey.ways["crank", "fuel"]
    crank, idler, _ = (survey.train.gear(name).teeth for name in way.path.gears)
    assert crank
    assert idler
    found = values(turning.TURN_RULES, turning.TurnedGear(way, 90), turning.TURN_READINGS)
    # The ratio of the idler, crank to idler, turned round.
    assert found["ratio-of-idler", "inverse-ratio"] == pytest.approx(90 * idler / crank)
    # The ratio of the idler is not one to one as well.
    assert not any("one-to-one" in pair for pair in found if "ratio-of-idler" in pair)


def test_a_tool_makes_so_many_turns_by_two_wrong_rules() -> None:
    way = gearwork.survey(pack("dunlin")).ways["fuel", "crank"]
    ratio = abs(way.ratio)
    bar = pack("dunlin").bar
    assert bar.ring_teeth
    assert bar.pinion_teeth
    found = values(turning.TURN_RULES, turning.TurnedGear(way, 180, bar), turning.TURN_READINGS)
    # The fuel gear's half turn is taken for the crank's, and the crank's turns for those of the tool.
    assert found["one-to-one", "bar-as-crank"] == pytest.approx(0.5)
    # The ratio the wrong way round, and so is that of ring gear and pinion.
    by_hand = Fraction(180, 360) / ratio * Fraction(bar.pinion_teeth, bar.ring_teeth)
    assert found["inverse-ratio", "bar-ratio-inverse"] == pytest.approx(float(by_hand))


def test_what_joins_a_shaft_is_an_idler_and_the_wrong_way_round() -> None:
    survey = gearwork.survey(pack("curlew"))
    way = next(
        way for way in survey.ways.values()
        if way.links("shaft") and way.first.teeth and way.last.teeth
        and Fraction(way.first.teeth, way.last.teeth) not in (1, abs(way.ratio))
    )  # fmt: skip
    assert way.first.teeth
    assert way.last.teeth
    found = values(turning.TURN_RULES, turning.TurnedGear(way, 90), turning.TURN_READINGS)
    assert found["compound-as-idler", "inverse-ratio"] == pytest.approx(90 * way.last.teeth / way.first.teeth)


def test_a_move_along_the_wrong_circle_is_not_doubled() -> None:
    case = lash.Circle(moved_mm=1.5, radius_mm=40, other_mm=60)
    found = values(lash.CIRCLE_RULES, case, lash.CIRCLE_READINGS, lash.CIRCLE_FINISHES)
    # 1.5 mm at 60 mm are 1.432 degrees of the gear, given as they are; or doubled twice.
    assert found["wrong-circle", "gear-for-crank-degrees"] == pytest.approx(math.degrees(1.5 / 60))
    assert found["wrong-circle", "doubled-twice"] == pytest.approx(4 * math.degrees(1.5 / 60))
    # A millimetre is a degree, and one of the gear counts as one of the crank.
    assert found["millimetre-as-degree", "gear-for-crank-degrees"] == pytest.approx(1.5)


def test_lash_on_the_circle_of_the_mate_is_carried_wrongly() -> None:
    case = lash.MeasuredLash(lash_mm=0.2, radius_mm=50, mate_mm=30, ratio=Fraction(2, 3))
    found = values(lash.LASH_RULES, case, lash.LASH_READINGS)
    at_mate = math.degrees(0.2 / 30)
    assert found["wrong-circle", "gear-for-crank-degrees"] == pytest.approx(at_mate)
    assert found["wrong-circle", "gear-crank-wrong-way"] == pytest.approx(at_mate * 2 / 3)
    assert found["wrong-circle", "doubled-regardless"] == pytest.approx(at_mate * 2)
    assert ("wrong-circle", "doubled-twice") not in found  # that is for gears at half speed
    # Where the mate's circle gives what doubling twice gives, nobody is said to have taken it.
    half = lash.MeasuredLash(lash_mm=0.2, radius_mm=60, mate_mm=30, ratio=Fraction(1, 2))
    assert values(lash.LASH_RULES, half, lash.LASH_READINGS) == {}


def test_a_preload_by_two_wrong_rules() -> None:
    # 50 N·m on M10, oiled: 50 ÷ (0.15 × 10) = 33.3 kN.
    case = forces.ThreadPull(torque("50 N·m"), Thread("M10"), dry=0.21, oiled=0.15, is_oiled=True)
    found = values(forces.PRELOAD_RULES, case, forces.PRELOAD_READINGS, forces.PRELOAD_FINISHES)
    assert found["other-condition", "radius-for-diameter"] == pytest.approx(50 / (0.21 * 5))
    assert found["radius-for-diameter", "nut-factor-left-out"] == pytest.approx(50 / 5)
    assert found["other-condition", "nut-factor-multiplied"] == pytest.approx(50 * 0.21 / 10)
    assert found["other-condition", "diameter-in-wrong-unit"] == pytest.approx(50 / 0.21)
    assert found["radius-for-diameter", "diameter-in-wrong-unit"] == pytest.approx(50 / (0.15 * 0.5))


def test_a_use_of_the_proof_load_by_two_wrong_rules() -> None:
    # 20 kN on 58 mm² of 640 MPa, breaking at 800; the next class has 940.
    case = forces.Stretch(force=20, diameter=10, area=58, proof=640, tensile=800, neighbour=940)
    found = values(forces.PROOF_RULES, case, forces.PROOF_READINGS, forces.PROOF_FINISHES)
    nominal = math.pi * 100 / 4
    assert found["next-class", "area-of-nominal-diameter"] == pytest.approx(2_000_000 / (nominal * 940))
    assert found["area-of-nominal-diameter", "breaking-for-proof"] == pytest.approx(2_000_000 / (nominal * 800))
    assert found["breaking-for-proof", "share-upside-down"] == pytest.approx(58 * 800 / 200)
    # Whoever takes the breaking strength reads no proof stress, of whatever class: that is the single rule.
    assert found["next-class", "breaking-for-proof"] == pytest.approx(case.share(case.tensile))
    single = [value for rule in forces.PROOF_RULES.values() if (value := rule(case)) is not None]
    told = paired(forces.PROOF_RULES, case, single, float, 1e-9, readings=forces.PROOF_READINGS)
    assert ("next-class", "breaking-for-proof") not in {(pair.first, pair.second) for pair in told}
