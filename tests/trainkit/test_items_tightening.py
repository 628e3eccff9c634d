"""What is particular to the questions about tightening, on both engines; see ``test_templates.py`` for the rest."""

from __future__ import annotations

import cmath
import itertools
import random
import re
from itertools import pairwise

import pytest

from tests.trainkit.draws import drawn, draws, everywhere
from tests.trainkit.pack_faults import DUNLIN
from tests.trainkit.second_ways.reading import PACKS, read, told
from tests.trainkit.second_ways.tightening import (
    SIGNS,
    allowed,
    bolts_of,
    good_orders,
    millimetres,
    next_bolt,
    next_by_trying,
)
from trainkit import fasteners, figures, packs
from trainkit.errors import TighteningError
from trainkit.items import examples
from trainkit.items.hurrying import hurried
from trainkit.items.kinds import NumberItem, NumberKey, OrderItem, OrderKey, PointKey, SeveralItem, SeveralKey
from trainkit.items.marking import mark
from trainkit.procedures import Edge, Procedure
from trainkit.quantities import dual_unit, torque
from trainkit.tightening import Pattern

EACH_PACK = pytest.mark.parametrize("engine", PACKS)


# --- the next bolt --------------------------------------------------------------------------------------------------


@EACH_PACK
def test_bolts_are_evenly_spaced_and_their_numbers_tell_nothing(engine: str) -> None:
    across = []
    for item, _ in draws("tightening/next-bolt", engine):
        assert item.figure is not None
        bolts, places, _ = bolts_of(item)
        around = "round a circle" in told(item)["Joint"]
        assert all(place.imag == 0 for place in places) is not around
        row = sorted(range(len(places)), key=lambda at: cmath.phase(places[at]) if around else places[at].real)
        closed = [*row, row[0]] if around else row
        gaps = [abs(places[one] - places[other]) for one, other in pairwise(closed)]
        assert max(gaps) - min(gaps) < 0.05
        assert "seen from the heads" in figures.draw(item.figure)
        if around and len(bolts) == 4:
            across.append(bolts[row[(row.index(0) + 2) % 4]])
    # What lies across from bolt 1 of four is not always bolt 3.
    assert {*across} == {"2", "3", "4"}


@pytest.mark.parametrize("count", [4, 5, 6])
def test_every_best_next_bolt_and_no_other_begins_a_best_rest(count: int) -> None:
    pattern = Pattern.circle(count, 100)
    for taken in range(count):
        for done in itertools.combinations(pattern.names, taken):
            places = [complex(*point) for point in pattern.points]
            right = next_by_trying(places, [int(bolt) - 1 for bolt in done])
            assert set(pattern.best_next(done)) == {str(bolt + 1) for bolt in right}
    assert pattern.best_next(pattern.names) == ()


def test_a_printed_order_counts_whatever_would_be_more_even() -> None:
    """The order of the pack is one that nobody would work out, and still what its joint is asked about."""
    engine = packs.load_text(
        DUNLIN.replace('id = "gear-screws"', 'id = "gear-screws"\norder = [2, 1, 4, 3, 6, 5]', 1), "mine.toml"
    )
    met = set[tuple[str, ...]]()
    printed = 0
    for seed in range(400):
        item, key = drawn("tightening/next-bolt", engine, seed)
        assert isinstance(key, PointKey)
        next_bolt(item, key, "")
        printed += "Printed order" in told(item)
        assert ("printed order" in item.prompt) == ("Printed order" in told(item))
        if "example" not in told(item)["Joint"]:
            assert told(item)["Printed order"] == "2, 1, 4, 3, 6, 5"
            met.add(key.right)
    # By the even order bolt 5 comes after bolt 2, and bolts across from each other follow one another.
    assert met >= {("1",), ("4",)}
    assert 120 < printed < 280


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
def test_no_torque_or_preload_goes_beyond_the_proof_load(engine: str) -> None:
    for _, key in draws("tightening/use-of-proof-load", engine):
        assert isinstance(key, NumberKey)
        assert 20 <= key.answer <= 95
    for item, _ in draws("tightening/preload", engine):
        thread, (torque, _unit) = told(item)["Thread"], read(told(item)["Torque"])
        worst = float(torque) * 1000 / (0.12 * float(millimetres(thread)))
        strongest = fasteners.proof_load(thread.replace("×", "x"), "10.9" if thread.startswith("M") else "grade 8")
        assert worst < 1.2 * strongest


def test_the_torque_of_an_example_joint_suits_its_thread() -> None:
    rng = random.Random(3)
    for _ in range(300):
        made = examples.joint(rng, ("metric", "inch"), ("finger-tight", "first", "final"), counts=(4, 6))
        first, final = (torque(stage.torque[0]) for stage in made.stages if stage.torque)
        assert 0.2 < first.value / final.value < 0.56
        use = fasteners.preload(final, made.thread, 0.20) / fasteners.proof_load(made.thread, made.grade)
        assert 0.3 < use < 0.75
        for stage in made.stages[1:]:
            assert stage.torque is not None
            assert dual_unit(*stage.torque).belongs


# --- threads and parts ----------------------------------------------------------------------------------------------


@EACH_PACK
def test_each_part_judged_wrongly_shows_its_belief(engine: str) -> None:
    beliefs = set()
    for item, key in draws("tightening/not-again", engine)[:60]:
        assert isinstance(item, SeveralItem)
        assert isinstance(key, SeveralKey)
        may = "may be fitted now" in item.prompt
        for option in item.options:
            answer = {"kind": "several", "options": sorted(set(key.right) ^ {option.id})}
            found = mark(item, key, answer)
            assert 0 < found.points < item.points
            name, _, past = option.text.partition(": ")
            if (option.id in key.right) is may:
                expected = "renews-everything"
            elif "cracked" in past:
                expected = "damaged-part-fitted"
            else:
                seal = re.match(r".*?\b(seal|gasket|washers?|ring)\b", name.partition(" of ")[0])
                expected = "used-seal-good-enough" if seal else "single-use-reused"
            assert key.shows[option.id] == found.misconception == expected
            assert found.critical is (expected == "single-use-reused")
            beliefs.add((may, expected))
    assert len(beliefs) == 8


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
