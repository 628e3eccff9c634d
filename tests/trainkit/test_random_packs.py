"""Engines that nobody wrote by hand: the checker takes them."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.trainkit import random_packs
from trainkit import packs

NUMBERS = range(25)
EACH = pytest.mark.parametrize("number", NUMBERS)


@EACH
def test_the_checker_takes_it(number: int) -> None:
    text = random_packs.text(number)
    assert text == random_packs.text(number)
    found = packs.examine_text(text)
    assert [str(finding) for finding in found.findings if finding.severity != "note"] == []
    assert found.pack is not None


def test_they_are_of_every_sort() -> None:
    found: Counter[str] = Counter()
    for number in range(100):
        document = random_packs.document(number)
        found.update({f"mesh {mesh['kind']}" for mesh in document["meshes"]})
        found.update({f"bar {document['barring']['by']}", f"tells {document['lock_pin']['tells_stroke']}"})
        roles = {gear["id"]: gear["role"] for gear in document["gears"]}
        found[f"pin in {roles.get(document['lock_pin']['hole_in'], 'flywheel')}"] += 1
        found.update({f"pattern {joint['pattern']}" for joint in document["fasteners"]})
        found["stacked"] += any("on_shaft" in gear for gear in document["gears"])
        found["positions on a clock"] += "press_from" in document["lock_pin"]
        found["configurations"] += "configurations" in document
        found["many gears"] += len(document["gears"]) > 6
        found["many cylinders"] += document["engine"]["cylinders"] > 7
        found["many joints"] += len(document["fasteners"]) > 4
    assert len(found) == 4 + 2 + 3 + 5 + 4 + 6
    assert min(found.values()) >= 3, found
