"""What is particular to the questions about torque units; see ``test_templates.py`` for the rest."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from decimal import Decimal

import pytest

from tests.trainkit.draws import everywhere
from tests.trainkit.second_ways.reading import read, told
from tests.trainkit.second_ways.torque_units import nearest
from trainkit.items.distinct_answers import paired
from trainkit.items.kinds import ChoiceItem, ChoiceKey, NumberKey
from trainkit.items.torque_units import MISCONCEPTIONS
from trainkit.items.torque_units import rules as wrong_ways
from trainkit.quantities import Torque

CONVERSION = wrong_ways.Conversion(Torque(96.0, "lbf·in"), "N·m", 0.5)
LEVER = wrong_ways.LeverChain(Torque(70.0, "N·m"), length=250.0, adapter=100.0, end=310.0)
BAND = wrong_ways.Band(Torque(40.0, "N·m"), high=60.0, share=0.04)


def test_printed_factors_lead_to_the_same_mark() -> None:
    """An apprentice has the factors of the data table, four digits each."""
    for item, key in everywhere("torque-units/convert"):
        lines = told(item)
        worth = {"N·m": Decimal(1)}
        factors = re.findall(r"1\u2009(\S+) = ([0-9.]+)\u2009([^;]+)", lines["Factors"])
        for _ in factors:  # they may stand in any order
            for larger, number, smaller in factors:
                if smaller in worth:
                    worth[larger] = Decimal(number) * worth[smaller]
                elif larger in worth:
                    worth[smaller] = worth[larger] / Decimal(number)
                elif len(factors) == 1:
                    worth |= {larger: Decimal(number), smaller: Decimal(1)}
        value, unit = read(lines["Job sheet"])
        step, into = read(lines["From mark to mark"])
        assert isinstance(key, NumberKey)
        assert float(nearest(value * worth[unit] / worth[into], step)) == pytest.approx(key.answer)


@pytest.mark.parametrize(
    ("rules", "case", "readings", "pair", "by_hand"),
    [
        # 96 lbf·in read as 96 lbf·ft, and divided by 1.3558 where it should be multiplied.
        ("CONVERSION_RULES", CONVERSION, "CONVERSION_READINGS", ("inch-for-foot", "inverse-factor"), 96 / 1.355818),
        # Read so, multiplied by the rough 1.4.
        ("CONVERSION_RULES", CONVERSION, "CONVERSION_READINGS", ("inch-for-foot", "rough-factor"), 96 * 1.4),
        # 70 × (310 + 100) ÷ 310.
        ("ADAPTER_RULES", LEVER, "LEVER_READINGS", ("wrench-to-its-end", "adapter-multiplied"), 70 * 410 / 310),
        # 70 × (310 − 100) ÷ 310.
        ("ADAPTER_RULES", LEVER, "LEVER_READINGS", ("wrench-to-its-end", "adapter-subtracted"), 70 * 210 / 310),
        # Half of 4 % of the 60 N·m at which the scale ends.
        ("BAND_RULES", BAND, "BAND_READINGS", ("tolerance-halved", "tolerance-of-full-scale"), 40 + 60 * 0.02),
    ],
)
def test_pairs_by_hand(rules: str, case: object, readings: str, pair: tuple[str, str], by_hand: float) -> None:
    found = paired(getattr(wrong_ways, rules), case, [], float, 1e-3, readings=getattr(wrong_ways, readings))
    assert {(p.first, p.second): p.value for p in found}[pair] == pytest.approx(by_hand, rel=1e-6)


def test_a_last_step_goes_wrong_after_another_rule() -> None:
    found = paired(wrong_ways.CONVERSION_RULES, CONVERSION, [], float, 1e-3, finishes=wrong_ways.CONVERSION_FINISHES)
    values = {(pair.first, pair.second): pair.value for pair in found}
    # 96 lbf·in by the wrong way round: 96 ÷ 0.112985 = 849.67 N·m, and the mark below on a scale of halves.
    assert values["inverse-factor", "rounds-down"] == 849.5
    assert not any(first == "rounds-down" for first, _ in values)


def test_pairs_that_agree_name_nobody() -> None:
    """Two pairs with one number, and a pair with the number of a single rule, are left out; no draw is lost."""
    rules: dict[str, Callable[[int], int]] = {"plus-one": lambda case: case + 1, "plus-two": lambda case: case + 2}
    readings: dict[str, Callable[[int], int | None]] = {
        "one-more": lambda case: case + 1,
        "as-it-is": lambda case: case,
        "nothing": lambda _: None,
    }
    found = paired(rules, 10, [10, 11, 12], float, 0.5, readings=readings)
    assert [(pair.first, pair.second, pair.value) for pair in found] == [("one-more", "plus-two", 13.0)]


def test_every_rule_is_in_the_catalogue() -> None:
    for table in ("CONVERSION_RULES", "MARK_RULES", "ADAPTER_RULES", "FORGOTTEN_RULES", "BAND_RULES"):
        assert set(getattr(wrong_ways, table)) <= {entry.code for entry in MISCONCEPTIONS}


def test_the_working_names_each_wrench_and_neither_unit_nor_number_tells_which_suits() -> None:
    right = []
    for item, key in everywhere("torque-units/which-wrench"):
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        shown = {option.id: option.text for option in item.options}
        # By its whole scale, so that the working can be put in the order in which the wrenches are shown.
        assert all(f"the wrench from {shown[option]} " in reason for option, reason in key.reasons.items())
        texts = {option: text.partition(" to ")[2] for option, text in shown.items()}
        order = sorted(texts, key=lambda letter: read(texts[letter])[0])
        right.append((order.index(key.right), read(texts[key.right])[1]))
    places, units = (Counter(each) for each in zip(*right, strict=True))
    assert all(0.12 < places[place] / len(right) < 0.4 for place in range(4))
    assert {*units} == {"N·m", "lbf·ft", "lbf·in", "kgf·m"}


@pytest.mark.parametrize(
    ("setting", "per_cent", "step", "least", "most"),
    [
        # 50 ± 2: on the step, and so both limits pass.
        ("50", 4, "0.5", "48", "52"),
        # 37 ± 1.48 is 35.52 to 38.48.
        ("37", 4, "0.1", "35.6", "38.4"),
        ("37", 4, "1", "36", "38"),
        # 1.7 ± 0.034 is 1.666 to 1.734.
        ("1.7", 2, "0.01", "1.67", "1.73"),
    ],
)
def test_limits_are_rounded_inward(setting: str, per_cent: int, step: str, least: str, most: str) -> None:
    for upper, right in ((False, least), (True, most)):
        case = wrong_ways.Band(Torque(float(setting), "N·m"), 60.0, per_cent / 100, upper, float(step))
        assert case.inward(case.limit) == float(right)
        off = abs(Decimal(right) - Decimal(setting))
        assert off <= Decimal(setting) * per_cent / 100 < off + Decimal(step)


def test_who_rounds_a_limit_outward_is_recognised_by_it() -> None:
    sides = set()
    for item, key in everywhere("torque-units/tolerance-band"):
        assert isinstance(key, NumberKey)
        upper = "largest" in item.prompt
        step = key.tolerance / 0.4
        for rule in key.rules:
            if rule.misconception == "limit-rounded-outward":
                assert rule.value == pytest.approx(key.answer + (step if upper else -step))
                sides.add(upper)
    assert sides == {True, False}
