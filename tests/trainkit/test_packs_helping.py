"""What a finding says so that one mistake is told once, and so that a remedy never turns the work round."""

from __future__ import annotations

import re

import pytest

from tests.trainkit import random_packs
from tests.trainkit.pack_faults import DUNLIN, START
from trainkit import packs
from trainkit.packs.near import OPPOSITES, meant, opposite

EDGE = re.compile(r"\n\[\[precedence\]\]\n(?:[^\[\n][^\n]*\n)+")
ORDER = ("stages-unordered", "part-fitted-before-removal")
TEXTS = {"dunlin": DUNLIN, "start": START, **{f"random {number}": random_packs.text(number) for number in range(4)}}


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_one_missing_precedence_is_told_once_and_its_remedy_mends_it(text: str) -> None:
    told = 0
    for edge in EDGE.findall(text):
        left = text.replace(edge, "\n", 1)
        found = [finding for finding in packs.examine_text(left).findings if finding.code in ORDER]
        assert len(found) <= 1, [str(finding) for finding in found]
        for finding in found:
            told += 1
            before, after = re.findall(r"by way of others: (\S+) before (\S+)\.", finding.remedy)[0]
            mended = f'{left}\n[[precedence]]\nbefore = "{before}"\nafter = "{after}"\nreason = "It must be so."\n'
            assert not [each for each in packs.examine_text(mended).findings if each.code in ORDER]
    assert told


def test_two_precedences_that_have_nothing_to_do_with_each_other_are_told_apart() -> None:
    text = DUNLIN
    for before, after in (("flange-first", "flange-final"), ("support-first", "support-final")):
        (edge,) = [edge for edge in EDGE.findall(text) if f'before = "{before}"\nafter = "{after}"' in edge]
        text = text.replace(edge, "\n", 1)
    found = [finding for finding in packs.examine_text(text).findings if finding.code in ORDER]
    assert sorted(finding.value for finding in found) == ["flange-final", "support-final"]


def test_what_holds_a_tool_may_be_tightened_first_and_the_finding_says_how() -> None:
    text = START.replace('loosens = "gear-nut"', 'fastener = "gear-nut"\nstage = "final"', 1)
    text = text.replace(
        'fastener = "gear-nut"\nstage = "final"\n\n[[steps]]\nid = "sensor',
        'loosens = "gear-nut"\n\n[[steps]]\nid = "sensor',
    )
    (found,) = [finding for finding in packs.examine_text(text).findings if finding.code in ORDER]
    assert "the precedences say the other way round" in found.rule
    assert "write temporary = true" in found.remedy


@pytest.mark.parametrize("pair", OPPOSITES, ids="-".join)
def test_the_opposite_is_never_suggested(pair: tuple[str, str]) -> None:
    for one, other in (pair, pair[::-1]):
        for name, wrong in ((f"pin-{one}", f"pin-{other}"), (f"{one}-the-pin", f"{other}-the-pin"), (one, other)):
            assert opposite(name, wrong)
            assert meant(name, [wrong]) == ""
            assert meant(name, [wrong, f"{name}s"]) == f"{name}s"


def test_a_slip_of_the_pen_is_still_understood() -> None:
    assert meant("pinn", ["bar", "pin"]) == "pin"
    assert meant("pin-inn", ["pin-in", "pin-out"]) == "pin-in"
    assert meant("nut_final", ["nut-first", "nut-final"]) == "nut-final"
    assert meant("flange-frist", ["flange-final", "flange-first"]) == "flange-first"


def test_the_pack_suggests_no_opposite_step() -> None:
    text = START.replace('before = "pin-out"', 'before = "pin-off"', 1).replace('id = "pin-in"', 'id = "bar-up"', 1)
    told = {finding.value: finding.remedy for finding in packs.examine_text(text).findings}
    assert told["pin-off"] == "Did you mean pin-out? Otherwise declare this step."
    assert "pin-out" not in told["pin-in"]
