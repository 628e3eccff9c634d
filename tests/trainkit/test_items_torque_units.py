"""Items of the module *torque units*: every key against a second way, every wrong rule recognised.

The second ways stand in ``second_ways.torque_units``.
"""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

import pytest

from tests.trainkit.second_ways.reading import PACKS, collisions, pack, read, told
from tests.trainkit.second_ways.torque_units import CHOICES, NUMBERS, WAYS, nearest
from trainkit.errors import ItemError
from trainkit.items import find, mark, misconception, names, read_item, read_key
from trainkit.items.distinct_answers import paired
from trainkit.items.item import ChoiceItem, Item
from trainkit.items.key import ChoiceKey, Key, NumberKey
from trainkit.items.misconceptions import MANUAL, Misconception
from trainkit.items.torque_units import MISCONCEPTIONS, TEMPLATES
from trainkit.items.torque_units import rules as wrong_ways
from trainkit.quantities import Torque

DRAWS = 120
CONVERSION = wrong_ways.Conversion(Torque(96.0, "lbf·in"), "N·m", 0.5)
LEVER = wrong_ways.Lever(Torque(70.0, "N·m"), length=250.0, adapter=100.0, end=310.0)
BAND = wrong_ways.Band(Torque(40.0, "N·m"), high=60.0, share=0.04)
NAMES = [template.name for template in TEMPLATES]


def drawn(name: str, count: int = DRAWS) -> Iterator[tuple[Item, Key]]:
    for seed in range(count):
        yield find(name).draw(random.Random(seed), pack(PACKS[seed % 2]))


def test_every_template_has_a_second_way() -> None:
    assert sorted(WAYS) == sorted(NAMES) == sorted(names("torque-units"))


@pytest.mark.parametrize("name", NAMES)
def test_key_agrees_with_the_second_way_and_nothing_collides(name: str) -> None:
    for seed, (item, key) in enumerate(drawn(name)):
        WAYS[name](item, key, PACKS[seed % 2])
        assert collisions(item, key) == []


def test_printed_factors_lead_to_the_same_mark() -> None:
    """An apprentice has the factors of the data table, four digits each."""
    for item, key in drawn("torque-units/convert"):
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


@pytest.mark.parametrize("name", NUMBERS)
def test_right_number_earns_all_and_each_wrong_rule_is_recognised(name: str) -> None:
    for item, key in drawn(name):
        assert isinstance(key, NumberKey)
        right = mark(item, key, {"kind": "number", "text": repr(key.answer), "unit": key.unit})
        assert (right.points, right.verdict) == (item.points, "right")
        assert key.rules
        for rule in key.rules:
            given = mark(
                item, key, {"kind": "number", "text": f"{rule.value:.9f}".rstrip("0").rstrip("."), "unit": key.unit}
            )
            assert given.points == 0
            assert given.misconception == rule.misconception
            assert given.reason.endswith(MANUAL)


@pytest.mark.parametrize("name", NUMBERS)
def test_two_wrong_rules_at_once_are_both_named(name: str) -> None:
    met = set()
    for item, key in drawn(name):
        assert isinstance(key, NumberKey)
        for pair in key.pairs:
            found = mark(
                item, key, {"kind": "number", "text": f"{pair.value:.9f}".rstrip("0").rstrip("."), "unit": key.unit}
            )
            assert (found.points, found.verdict, found.misconception) == (0, "not yet", pair.first)
            assert misconception(pair.first).shows in found.reason
            assert misconception(pair.second).cure in found.reason
            assert found.reason.count(MANUAL) == 1
            met.add((pair.first, pair.second))
    assert len(met) >= {"torque-units/nearest-mark": 0, "torque-units/adapter-forgotten": 1}.get(name, 2)


@pytest.mark.parametrize("name", NUMBERS)
def test_pairs_are_told_apart_from_all_else(name: str) -> None:
    for _, key in drawn(name):
        assert isinstance(key, NumberKey)
        single = [key.answer, *(rule.value for rule in key.rules)]
        for pair in key.pairs:
            assert all(abs(pair.value - other) > 2 * key.tolerance for other in single)
            assert all(
                abs(pair.value - other.value) > 2 * key.tolerance
                for other in key.pairs
                if {other.first, other.second} != {pair.first, pair.second}
            )


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
    rules = {"plus-one": lambda case: case + 1, "plus-two": lambda case: case + 2}
    readings = {"one-more": lambda case: case + 1, "as-it-is": lambda case: case, "nothing": lambda _: None}
    found = paired(rules, 10, [10, 11, 12], float, 0.5, readings=readings)
    assert [(pair.first, pair.second, pair.value) for pair in found] == [("one-more", "plus-two", 13.0)]


@pytest.mark.parametrize("name", NUMBERS)
def test_rules_and_key_are_told_apart(name: str) -> None:
    for _, key in drawn(name):
        assert isinstance(key, NumberKey)
        values = sorted([key.answer, *(rule.value for rule in key.rules)])
        assert all(later - earlier > 2 * key.tolerance for earlier, later in pairwise(values))


@pytest.mark.parametrize("name", CHOICES)
def test_right_option_earns_all_and_each_other_shows_its_misconception(name: str) -> None:
    for item, key in drawn(name):
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        assert len({option.text for option in item.options}) == len(item.options)
        assert key.right not in key.shows
        assert key.shows
        for option in item.options:
            given = mark(item, key, {"kind": "choice", "option": option.id})
            assert given.points == (item.points if option.id == key.right else 0)
            assert given.misconception == key.shows.get(option.id)


def test_right_option_stands_anywhere() -> None:
    for name in CHOICES:
        places = [key.right for _, key in drawn(name, 200) if isinstance(key, ChoiceKey)]
        options = sorted(set(places))
        assert all(places.count(option) > 200 / len(options) / 2 for option in options)


@pytest.mark.parametrize("name", NAMES)
def test_same_seed_same_draw_and_order_from_the_other_generator(name: str) -> None:
    template = find(name)
    first, second = (template.draw(random.Random(7), pack("dunlin"), shuffle=random.Random(1)) for _ in range(2))
    assert first == second
    item, other = first[0], template.draw(random.Random(7), pack("dunlin"), shuffle=random.Random(2))[0]
    assert item.given == other.given
    if isinstance(item, ChoiceItem) and isinstance(other, ChoiceItem):
        assert {option.text for option in item.options} == {option.text for option in other.options}


def test_draws_do_not_depend_on_the_process() -> None:
    """Sets of words come in another order in every process; no draw may hang on it."""
    script = (
        "import random, hashlib\n"
        "from trainkit import packs\n"
        "from trainkit.items.torque_units import TEMPLATES\n"
        "pack = packs.load('dunlin')\n"
        "drawn = [t.draw(random.Random(seed), pack) for t in TEMPLATES for seed in range(12)]\n"
        "text = ''.join(part.model_dump_json() for both in drawn for part in both)\n"
        "print(hashlib.sha256(text.encode()).hexdigest())\n"
    )
    digests = {
        subprocess.run(
            [sys.executable, "-c", script],
            env=os.environ | {"PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(digests) == 1


@pytest.mark.parametrize("name", NAMES)
def test_item_shows_no_more_than_it_must(name: str) -> None:
    for item, key in drawn(name, 30):
        dumped = item.model_dump(mode="json")
        assert read_item(dumped) == item
        assert read_key(key.model_dump(mode="json")) == key
        assert set(dumped) <= {"kind", "prompt", "given", "figure", "points", "units", "to_nearest", "options"}
        text = str(dumped)
        assert name not in text
        assert not any(entry.code in text for entry in MISCONCEPTIONS)


@pytest.mark.parametrize("name", NAMES)
def test_working_is_whole_sentences_that_end_in_the_answer(name: str) -> None:
    for _, key in drawn(name, 30):
        assert len(key.working) >= 2
        assert all(key.working)
        if isinstance(key, NumberKey):
            assert any(key.shown in line for line in key.working)


def test_every_misconception_can_be_shown() -> None:
    """Each entry of the catalogue comes up in some draw: none is there for show."""
    seen = set()
    for name in NAMES:
        for _, key in drawn(name, 300):
            seen |= (
                {rule.misconception for rule in key.rules} if isinstance(key, NumberKey) else set(key.shows.values())
            )
    assert seen == {entry.code for entry in MISCONCEPTIONS}


def test_every_rule_is_in_the_catalogue() -> None:
    for table in ("CONVERSION_RULES", "MARK_RULES", "ADAPTER_RULES", "FORGOTTEN_RULES", "BAND_RULES"):
        assert set(getattr(wrong_ways, table)) <= {entry.code for entry in MISCONCEPTIONS}


@pytest.mark.parametrize("entry", MISCONCEPTIONS, ids=lambda entry: entry.code)
def test_texts_are_short_and_kind(entry: Misconception) -> None:
    text = entry.advice()
    assert text.endswith(MANUAL)
    assert not re.search(r"\b(wrong|stupid|careless|error)\b(?! way)", text.replace(MANUAL, ""))
    for sentence in re.split(r"(?<=[.?!])\s", text):
        assert len(sentence.split()) <= 20, sentence


@pytest.mark.parametrize("name", NAMES)
def test_pack_without_wrenches_is_refused(name: str) -> None:
    bare = pack("dunlin").model_copy(update={"tools": ()})
    with pytest.raises(ItemError) as caught:
        find(name).draw(random.Random(1), bare)
    assert caught.value.rule
    assert caught.value.remedy


@pytest.mark.parametrize("name", ["torque-units/odd-pair", "torque-units/master-column"])
def test_pack_without_printed_pairs_is_refused(name: str) -> None:
    bare = pack("dunlin").model_copy(update={"fasteners": ()})
    with pytest.raises(ItemError, match="two units"):
        find(name).draw(random.Random(1), bare)


def test_a_job_sheet_prints_ounces_for_small_screws_only_and_the_working_names_each_wrench() -> None:
    ounces = set()
    for item, key in drawn("torque-units/which-wrench"):
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        texts = {option.id: option.text.partition(",")[0] for option in item.options}
        assert all(f"the {texts[option]} " in reason for option, reason in key.reasons.items())
        value, unit, *_ = read(item.given[0].value)
        if unit == "ozf·in":
            assert Torque(float(value), unit).newton_metres <= 20
            ounces.add(texts[key.right])
    assert len(ounces) > 1, "the unit alone must not tell the tool"
