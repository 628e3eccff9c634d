"""What is particular to the questions about tightening, on both engines; see ``test_templates.py`` for the rest."""

from __future__ import annotations

import cmath
import itertools
import math
import random
import re
from itertools import pairwise

import pytest

from tests.outside.linear_train import raw
from tests.trainkit.draws import draws, everywhere
from tests.trainkit.second_ways.reading import PACKS, read, told
from tests.trainkit.second_ways.tightening import (
    SIGNS,
    allowed,
    bolts_of,
    entry_of,
    good_orders,
    millimetres,
    next_by_trying,
)
from trainkit import figures
from trainkit.errors import TighteningError
from trainkit.items.hurrying import hurried
from trainkit.items.kinds import NumberItem, NumberKey, OrderItem, OrderKey, SeveralItem, SeveralKey
from trainkit.items.marking import mark
from trainkit.procedures import Edge, Procedure
from trainkit.tightening import Pattern

EACH_PACK = pytest.mark.parametrize("engine", PACKS)


# --- the next bolt --------------------------------------------------------------------------------------------------


@EACH_PACK
def test_bolts_stand_where_the_pack_has_them(engine: str) -> None:
    for item, _ in draws("tightening/next-bolt", engine)[:40]:
        assert item.figure is not None
        _, places, _ = bolts_of(item)
        joint = told(item)["Joint"]
        if joint.startswith("another one"):
            # As many as it says, and those next to each other sit equally far apart.
            assert f": {len(places)} " in joint
            row = [*places, places[0]] if joint.endswith("circle") else places
            gaps = [abs(one - other) for one, other in pairwise(row)]
            assert max(gaps) - min(gaps) < 0.05
            assert all(place.imag == 0 for place in places) is joint.endswith("row")
            continue
        (entry,) = [each for each in raw(engine)["fasteners"] if joint.startswith(f"{each['name']} (")]
        if entry["pattern"] == "circle":
            expected = [
                1j * entry["spread_mm"] / 2 * cmath.exp(-2j * math.pi * k / len(places)) for k in range(len(places))
            ]
        elif entry["pattern"] == "line":
            gap = entry["spread_mm"] / (len(places) - 1)
            expected = [complex(k * gap - entry["spread_mm"] / 2, 0) for k in range(len(places))]
        else:
            expected = [complex(*place) for place in entry["at"]]
        assert all(abs(one - other) < 0.01 for one, other in zip(places, expected, strict=True))
        assert "seen from the heads" in figures.draw(item.figure)


@pytest.mark.parametrize("count", [4, 5, 6])
def test_every_best_next_bolt_and_no_other_begins_a_best_rest(count: int) -> None:
    pattern = Pattern.circle(count, 100)
    for taken in range(count):
        for done in itertools.combinations(pattern.names, taken):
            places = [complex(*point) for point in pattern.points]
            right = next_by_trying(places, [int(bolt) - 1 for bolt in done])
            assert set(pattern.best_next(done)) == {str(bolt + 1) for bolt in right}
    assert pattern.best_next(pattern.names) == ()


@pytest.mark.parametrize("tightened", [["1", "1"], ["9"], "12"])
def test_bolts_that_cannot_be_tightened_already_are_refused(tightened: list[str]) -> None:
    with pytest.raises(TighteningError) as caught:
        Pattern.circle(4, 100).best_next(tightened)
    assert caught.value.remedy


# --- stages and the work between them -------------------------------------------------------------------------------


@EACH_PACK
def test_marks_follow_the_orders_of_a_good_mechanic(engine: str) -> None:
    tried = set()
    for item, key in draws("tightening/stages-in-order", engine)[:60]:
        assert isinstance(item, OrderItem)
        cards = {card.id: next(short for sign, short in SIGNS.items() if sign in card.text) for card in item.cards}
        kind = tuple(sorted(cards.values()))
        if kind in tried:
            continue
        tried.add(kind)
        letters = {short: letter for letter, short in cards.items()}
        right = [[letters[short] for short in order] for order in sorted(good_orders(kind))]
        others = [list(order) for order in random.Random(4).sample(list(itertools.permutations(cards)), 120)]
        for order in [*right, *others]:
            found = mark(item, key, {"kind": "order", "cards": order})
            assert (found.verdict == "right") == allowed([cards[card] for card in order])
            at = {cards[card]: place for place, card in enumerate(order)}
            harm = [("set", "final"), ("check", "mark"), ("final", "mark")]
            assert found.critical == any({a, b} <= set(at) and at[a] > at[b] for a, b in harm)


# --- preload and proof load -----------------------------------------------------------------------------------------


@EACH_PACK
def test_preload_of_the_proof_load_item_comes_from_the_pack(engine: str) -> None:
    for item, _ in draws("tightening/use-of-proof-load", engine)[:40]:
        entry = entry_of(item, engine)
        printed = [column for stage in entry["stages"] for column in stage.get("torque", ()) if column.endswith("N·m")]
        force = float(read(told(item)["Preload of one"])[0])
        diameter = float(millimetres(entry["thread"]))
        factors = [0.13, 0.14, 0.15, 0.16, 0.18, 0.19, 0.20, 0.21, 0.22]
        could = [float(column.split()[0]) / (factor * diameter) for column in printed for factor in factors]
        assert min(abs(each - force) for each in could) < 0.051


# --- threads and parts ----------------------------------------------------------------------------------------------


@EACH_PACK
def test_each_part_judged_wrongly_shows_its_belief(engine: str) -> None:
    for item, key in draws("tightening/not-again", engine)[:30]:
        assert isinstance(item, SeveralItem)
        assert isinstance(key, SeveralKey)
        for option in item.options:
            left_out = {"kind": "several", "options": sorted(set(key.right) ^ {option.id})}
            assert mark(item, key, left_out).points > 0
            if option.id in key.right:
                seal = re.match(r".*?\b(seal|gasket|washers?|ring)\b", option.text.partition(" of ")[0])
                assert key.shows[option.id] == ("used-seal-good-enough" if seal else "single-use-reused")


def test_who_does_not_wait_at_one_pair_is_recognised_by_it() -> None:
    """With the cards in the natural order of the work, each belief about the stages gives itself away."""
    seen = set()
    natural = ["finger", "snug", "fit", "move", "set", "first", "check", "final", "mark"]
    for item, key in everywhere("tightening/stages-in-order"):
        assert isinstance(item, OrderItem)
        assert isinstance(key, OrderKey)
        cards = {card.id: next(short for sign, short in SIGNS.items() if sign in card.text) for card in item.cards}
        if {"finger", "snug"}.isdisjoint(cards.values()):
            continue
        ordered = tuple(sorted(cards, key=lambda card: natural.index(cards[card])))
        procedure = Procedure(ordered, [Edge(b.before, b.after, b.reason, b.dangerous) for b in key.bonds])
        for bond, edge in zip(key.bonds, procedure.before, strict=True):
            if bond.misconception:
                found = mark(item, key, {"kind": "order", "cards": list(hurried(procedure, edge))})
                assert found.misconception == bond.misconception
                seen.add(bond.misconception)
    assert seen >= {"first-for-final", "moves-at-first", "sets-loose-parts", "checks-before-held", "final-still-moves"}


def test_numbers_to_the_step_and_with_their_unit() -> None:
    for name in ("tightening/preload", "tightening/use-of-proof-load"):
        for item, key in everywhere(name):
            assert isinstance(item, NumberItem)
            assert isinstance(key, NumberKey)
            assert item.units == (key.unit,)
            assert key.shown.endswith(f"\u2009{key.unit}")
            bare = mark(item, key, {"kind": "number", "text": key.shown.partition("\u2009")[0], "unit": ""})
            assert bare.verdict == "right"
            off = mark(item, key, {"kind": "number", "text": str(key.answer + 2.5 * key.tolerance), "unit": key.unit})
            assert off.points == 0
