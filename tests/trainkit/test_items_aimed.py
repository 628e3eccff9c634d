"""Templates that are aimed at certain misconceptions draw the same sort of items, and oftener such as can show them."""

from __future__ import annotations

import pytest

from tests.trainkit.draws import drawn
from tests.trainkit.second_ways import ways
from tests.trainkit.second_ways.reading import collisions
from trainkit.items.kinds import Key, SeveralKey
from trainkit.items.template import find, names

AIMED = {
    "torque-units/which-settings": ("kgf-as-ten", "rounds-up", "whole-numbers-only"),
    "tightening/which-are-finished": ("first-for-final", "stage-skipped", "tightest-for-all"),
    "lock-pin/what-next": ("presses-and-turns-back",),
    "sequence/put-in-order": ("clean-after-mating", "seal-reused"),
    "sequence/forgotten-step": ("stiff-pin-barred",),
    "sequence/either-order": ("cover-before-count", "pin-out-last"),
    "sequence/which-missing": ("other-configuration",),
    "sequence/fate-of-parts": ("damage-overlooked", "used-seal-good-enough"),
}
DRAWS = 20


def shows(key: Key) -> set[str]:
    assert isinstance(key, SeveralKey)
    return set(key.shows.values())


@pytest.mark.parametrize("name", AIMED)
def test_aimed_draws_are_as_right_as_others_and_show_more_often(name: str) -> None:
    wanted, engine = set(AIMED[name]), "curlew" if name.startswith("tightening") else "dunlin"
    plain, aimed = find(name), find(name).aimed(AIMED[name])
    assert (aimed.name, aimed.kind) == (plain.name, plain.kind)
    hits = {"plain": 0, "aimed": 0}
    for seed in range(DRAWS):
        item, key = drawn(aimed, engine, seed)
        ways()[name](item, key, engine)
        assert collisions(item, key) == []
        assert (item, key) == drawn(find(name).aimed(AIMED[name]), engine, seed)
        hits["aimed"] += wanted <= drawn(aimed, engine, seed).could_show.keys()
        hits["plain"] += wanted <= drawn(plain, engine, seed).could_show.keys()
    assert hits["aimed"] > hits["plain"]


@pytest.mark.parametrize("name", sorted(set(names()) - set(AIMED)))
def test_other_templates_are_drawn_as_they_are(name: str) -> None:
    assert find(name).aimed(("inverse-factor",)) is find(name)


def test_no_more_errors_are_wanted_than_a_list_has_room_for() -> None:
    many = ("inverse-factor", "kgf-as-ten", "number-kept", "rough-factor", "rounds-down", "rounds-on-the-way")
    _, key = drawn(find("torque-units/which-settings").aimed(many))
    assert isinstance(key, SeveralKey)
    assert len(key.right) >= 1
