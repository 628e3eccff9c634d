"""Engines that nobody wrote by hand: the checker takes them, templates ask about them or say why not, and texts fit."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.trainkit import random_packs
from tests.trainkit.draws import drawn
from tests.trainkit.plain_engine import plain
from trainkit import cards, packs, roles
from trainkit.errors import CycleError, ItemError
from trainkit.items.template import names

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
        found["order of bolts"] += any("order" in joint for joint in document["fasteners"])
        found["stacked"] += any("on_shaft" in gear for gear in document["gears"])
        found["positions on a clock"] += "press_from" in document["lock_pin"]
        found["configurations"] += "configurations" in document
        found["many gears"] += len(document["gears"]) > 6
        found["many cylinders"] += document["engine"]["cylinders"] > 7
        found["places"] += any("at_mm" in gear for gear in document["gears"])
        found["split"] += any("split" in gear for gear in document["gears"])
        found["banks"] += "bank_angle_deg" in document["engine"]
        found["fired unevenly"] += not random_packs.pack(number).engine.fires_evenly
        found["two pins"] += "lock_pins" in document
        found["many joints"] += len(document["fasteners"]) > 4
    assert len(found) == 4 + 4 + 3 + 5 + 4 + 12
    assert min(found.values()) >= 3, found


# What these homes still ask of too few engines; a template that finds no draw should say what it needs.
_NOT_YET = ("lash-and-timing/", "lock-pin/", "tightening/")


@EACH
def test_every_template_asks_about_it_or_says_what_it_lacks(number: int) -> None:
    pack = random_packs.pack(number)
    for name in names():
        refused = None
        for seed in range(3):
            try:
                drawn(name, pack, seed)
            except ItemError as error:  # any other error is a fault of the template
                refused = error
                break
        if refused is not None:
            assert refused.rule.endswith("."), name
            assert refused.remedy.endswith("."), name
            assert "in 400" not in refused.rule or name.startswith(_NOT_YET), (name, str(refused))


def telling(text: str) -> packs.Pack:
    """Return the plain engine with something changed."""
    return packs.load_text(text, "changed.toml")


ORDER = "firing_order = [1, 3, 2]"


def test_an_uneven_engine_is_never_taught_one_interval() -> None:
    uneven = telling(plain().replace(ORDER, f"{ORDER}\nfiring_intervals_deg = [200.0, 240.0, 280.0]", 1))
    assert uneven.firing is not None
    assert not uneven.engine.fires_evenly
    assert [uneven.firing.after(1, other) for other in (1, 3, 2)] == [0, 200, 440]
    assert str(uneven.firing.reversed()) == "1-2-3"
    assert uneven.firing.reversed().after(1, 2) == 280
    with pytest.raises(CycleError, match="evenly firing"):
        _ = uneven.firing.interval
    unknown = telling(plain().replace(ORDER, f"{ORDER}\nbank_angle_deg = 60.0", 1))
    assert unknown.firing is None
    for pack in (uneven, unknown):
        assert pack.lock_pin.firing_order == ()
        card = cards.card("lash-and-timing", "Lash and timing", pack)
        assert "240° apart." not in str(card)
    assert "fires unevenly" in " ".join(roles.intervals(uneven))
    assert "From cylinder 2 to cylinder 1: 280°." in roles.intervals(uneven)
    assert "is not stated" in roles.intervals(unknown)[0]
    even = telling(
        plain().replace(ORDER, f"{ORDER}\nbank_angle_deg = 60.0\nfiring_intervals_deg = [240.0, 240.0, 240.0]")
    )
    assert even.engine.fires_evenly
    assert roles.intervals(even) == ("From one firing to the next it is 720° ÷ 3 = 240°.",)


def test_a_belt_is_told_of_neither_flanks_nor_lash() -> None:
    belt = telling(
        plain()
        .replace('kind = "external"\nlash_mm = 0.12', 'kind = "belt"\ntight_side = "left"', 1)
        .replace('turns = "anticlockwise"', 'turns = "clockwise"', 1)
    )
    assert not roles.has_lash(belt)
    assert roles.with_lash(belt).name == "dunlin"
    assert "Dunlin is taken" in roles.lash_taken(belt)[0]
    for module in ("lock-pin", "lash-and-timing"):
        card = cards.card(module, module, belt)
        rules = {rule.head: rule.text for rule in card.rules}
        assert "Take it up" not in rules
        assert "flanks" not in rules.get("Never", "")
    assert belt.train.path("crank", "pump").lash_lines() == ("Together: 0.000° at the crank gear.",)


def test_a_drive_of_its_own_is_no_hand_tool() -> None:
    powered = telling(plain().replace('\nby = "crank-nose"', '\nby = "hydraulic"', 1))
    assert not powered.barring.by_hand
    (told,) = [rule.text for rule in cards.card("turning-direction", "x", powered).rules if rule.head == "Your hand"]
    assert told == "A drive turns the engine (hydraulic). Inch it forward, and stop before the place."
