"""Items of the module *tightening*: every key a second time, every wrong rule recognised, on both engines.

The second ways stand in ``second_ways.tightening``.
"""

from __future__ import annotations

import cmath
import itertools
import math
import os
import random
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from typing import Any

import pytest

from tests.outside.linear_train import raw
from tests.trainkit.second_ways.reading import PACKS, collisions, pack, read, told
from tests.trainkit.second_ways.tightening import (
    SIGNS,
    WAYS,
    allowed,
    bolts_of,
    entry_of,
    good_orders,
    millimetres,
    next_by_trying,
    thread_read,
)
from trainkit import figures, packs
from trainkit.errors import ItemError, TighteningError
from trainkit.items.hurrying import hurried
from trainkit.items.item import Item, NumberItem, OrderItem, SeveralItem, read_item
from trainkit.items.key import ChoiceKey, Key, NumberKey, OrderKey, PointKey, SeveralKey, read_key
from trainkit.items.marking import mark
from trainkit.items.misconceptions import MANUAL, Misconception, misconception
from trainkit.items.template import find, names
from trainkit.items.tightening import MISCONCEPTIONS, TEMPLATES
from trainkit.procedures import Edge, Procedure
from trainkit.tightening import Pattern

NAMES = [template.name for template in TEMPLATES]
DRAWS = 100
OTHER_HOMES = {"stage-out-of-order", "mark-before-fixing"}  # shown here too, cured in the module on sequence
EACH_PACK = pytest.mark.parametrize("engine", PACKS)
EACH_TEMPLATE = pytest.mark.parametrize("name", NAMES)


@cache
def drawn(name: str, engine: str, count: int = DRAWS) -> tuple[tuple[Item, Key], ...]:
    return tuple(find(f"tightening/{name}").draw(random.Random(seed), pack(engine)) for seed in range(count))


def met(name: str, engine: str, count: int = DRAWS) -> set[Any]:
    """Hold every draw against the second way, and return what sorts of cases were met."""
    way = WAYS[f"tightening/{name}"]
    return {way(item, key, engine) for item, key in drawn(name, engine, count)}


def everywhere(name: str, count: int = DRAWS) -> Iterator[tuple[Item, Key]]:
    for engine in PACKS:
        yield from drawn(name.removeprefix("tightening/"), engine, count)


# --- what state the joint is in -------------------------------------------------------------------------------------


@EACH_PACK
def test_state_agrees_with_following_each_bolt(engine: str) -> None:
    seen = met("after-history", engine, 250)
    assert len({flaw for _, _, flaw in seen}) == 5
    assert {("final", "final", ""), ("first", "first", "")} <= seen


@EACH_PACK
def test_finished_joints_agree_with_following_each_bolt(engine: str) -> None:
    flaws = frozenset().union(*met("which-are-finished", engine))
    assert len(flaws) == (6 if engine == "curlew" else 5)  # nothing on the one engine is used once at such a joint


# --- the next bolt --------------------------------------------------------------------------------------------------


@EACH_PACK
def test_next_bolt_agrees_with_trying_every_order(engine: str) -> None:
    asked = met("next-bolt", engine, 120)
    patterns = {"circle", "line", "free"}
    wanted = [each for each in raw(engine)["fasteners"] if each.get("pattern") in patterns and each["count"] > 2]
    own = {f"{each['name']} ({each['count']})" for each in wanted}
    others = asked - own
    assert asked >= own
    # Joints that a question takes beside them: round a circle and in a row.
    assert all(joint.startswith("another one, taken for this question: ") for joint in others)
    assert {joint.rpartition("s ")[2] for joint in others} == {"round a circle", "in a row"}


@EACH_PACK
def test_bolts_stand_where_the_pack_has_them(engine: str) -> None:
    for item, _ in drawn("next-bolt", engine, 40):
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
def test_exactly_the_orders_of_a_good_mechanic_are_right(engine: str) -> None:
    tried = met("stages-in-order", engine, 60)
    assert len(tried) > 4


@EACH_PACK
def test_marks_follow_the_orders_of_a_good_mechanic(engine: str) -> None:
    tried = set()
    for item, key in drawn("stages-in-order", engine, 60):
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
def test_preload_agrees_with_the_file(engine: str) -> None:
    conditions = met("preload", engine)
    assert conditions == {"dry", "oiled"}


@EACH_PACK
def test_use_of_proof_load_agrees_with_published_tables(engine: str) -> None:
    assert met("use-of-proof-load", engine) == {None}


@EACH_PACK
def test_preload_of_the_proof_load_item_comes_from_the_pack(engine: str) -> None:
    for item, _ in drawn("use-of-proof-load", engine, 40):
        entry = entry_of(item, engine)
        printed = [column for stage in entry["stages"] for column in stage.get("torque", ()) if column.endswith("N·m")]
        force = float(read(told(item)["Preload of one"])[0])
        diameter = float(millimetres(entry["thread"]))
        factors = [0.13, 0.14, 0.15, 0.16, 0.18, 0.19, 0.20, 0.21, 0.22]
        could = [float(column.split()[0]) / (factor * diameter) for column in printed for factor in factors]
        assert min(abs(each - force) for each in could) < 0.051


# --- threads and parts ----------------------------------------------------------------------------------------------


@EACH_PACK
def test_only_the_right_jacking_screw_fits(engine: str) -> None:
    sizes = met("jacking-screw", engine)
    of_pack = {thread_read(each["thread"].replace("x", "×"))[0] for each in raw(engine)["fasteners"]}
    assert sizes <= of_pack


@EACH_PACK
def test_parts_used_once_are_those_of_the_file(engine: str) -> None:
    asked = frozenset().union(*met("not-again", engine))
    assert asked == {part["name"] for part in raw(engine)["parts"] if part.get("single_use", False)}


@EACH_PACK
def test_each_part_judged_wrongly_shows_its_belief(engine: str) -> None:
    for item, key in drawn("not-again", engine, 30):
        assert isinstance(item, SeveralItem)
        assert isinstance(key, SeveralKey)
        for option in item.options:
            given = sorted(set(key.right) ^ {option.id})
            found = mark(item, key, {"kind": "several", "options": given})
            assert found.misconception == key.shows[option.id]
            assert 0 < found.points < item.points
            assert found.critical == (option.id in key.critical)
            seal = re.match(r".*?\b(seal|gasket|washers?|ring)\b", option.text.partition(" of ")[0])
            if option.id in key.right:
                assert found.misconception == ("used-seal-good-enough" if seal else "single-use-reused")
        assert mark(item, key, {"kind": "several", "options": list(key.right)}).verdict == "right"


# --- what holds for all ---------------------------------------------------------------------------------------------


def test_templates_and_their_tests() -> None:
    assert list(names("tightening")) == NAMES
    assert len(NAMES) == 8
    assert len(MISCONCEPTIONS) >= 10


@EACH_TEMPLATE
def test_no_two_answers_collide(name: str) -> None:
    for item, key in everywhere(name, 250):
        assert collisions(item, key) == []
        if isinstance(key, NumberKey):
            assert key.rules
            values = sorted([key.answer, *(rule.value for rule in key.rules)])
            assert all(later - earlier > 2 * key.tolerance for earlier, later in pairwise(values))
            assert values[0] > 0
        for shown in (getattr(item, "options", ()), getattr(item, "cards", ()), getattr(item, "targets", ())):
            assert len({part.text for part in shown}) == len({part.id for part in shown}) == len(shown)
        if isinstance(key, ChoiceKey):
            assert key.shows
            assert key.right not in key.shows
            assert len(set(key.shows.values())) == len(key.shows)
        if isinstance(key, PointKey):
            assert set(key.shows).isdisjoint(key.right)


@EACH_TEMPLATE
def test_marks_name_what_an_answer_shows(name: str) -> None:
    for item, key in everywhere(name, 50):
        if isinstance(key, NumberKey):
            answers = {f"{rule.value:.9f}".rstrip("0").rstrip("."): rule.misconception for rule in key.rules}
            for text, code in answers.items():
                found = mark(item, key, {"kind": "number", "text": text, "unit": key.unit})
                assert (found.points, found.misconception) == (0, code)
                assert found.reason.endswith(MANUAL)
            right = mark(item, key, {"kind": "number", "text": f"{key.answer:.10g}", "unit": key.unit})
            assert (right.points, right.verdict) == (item.points, "right")
        elif isinstance(key, ChoiceKey | PointKey):
            field, rights = ("option", (key.right,)) if isinstance(key, ChoiceKey) else ("target", key.right)
            for part in (*getattr(item, "options", ()), *getattr(item, "targets", ())):
                found = mark(item, key, {"kind": item.kind, field: part.id})
                assert (found.verdict == "right") == (part.id in rights)
                assert found.misconception == key.shows.get(part.id)
                assert found.critical == (part.id in key.critical)
                assert key.reasons[part.id] in found.reason
        elif isinstance(key, OrderKey):
            procedure = Procedure(tuple(key.cards), [Edge(b.before, b.after, b.reason, b.dangerous) for b in key.bonds])
            natural = procedure.repair(procedure.steps).order
            for bond in key.bonds:
                order = [card for card in natural if card != bond.before]
                order.insert(order.index(bond.after) + 1, bond.before)
                found = mark(item, key, {"kind": "order", "cards": order})
                assert found.points < item.points
                if bond.misconception:
                    assert found.misconception is not None
                    assert misconception(found.misconception).cure in found.reason


def test_who_does_not_wait_at_one_pair_is_recognised_by_it() -> None:
    """With the cards in the natural order of the work, each belief about the stages gives itself away."""
    seen = set()
    natural = ["finger", "snug", "fit", "move", "set", "first", "check", "final", "mark"]
    for item, key in everywhere("stages-in-order", 60):
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


def test_every_misconception_is_met() -> None:
    met: set[str] = set()
    for name in NAMES:
        for _, key in everywhere(name, 250):
            met |= set(getattr(key, "shows", {}).values())
            met |= {rule.misconception for rule in getattr(key, "rules", ())}
            met |= {bond.misconception for bond in getattr(key, "bonds", ())}
    assert met - {""} == {entry.code for entry in MISCONCEPTIONS} | OTHER_HOMES


@EACH_TEMPLATE
@EACH_PACK
def test_items_show_no_more_than_they_must(name: str, engine: str) -> None:
    ids = {entry["id"] for table in ("fasteners", "parts", "steps", "tools") for entry in raw(engine)[table]}
    for item, key in drawn(name.removeprefix("tightening/"), engine)[:30]:
        dumped = item.model_dump(mode="json")
        assert read_item(dumped) == item
        assert read_key(key.model_dump(mode="json")) == key
        shown = item.model_dump_json()
        assert name not in shown
        assert not any(f'"{each}"' in shown for each in ids)
        assert not any(entry.code in shown for entry in MISCONCEPTIONS)
        assert key.template == name
        assert item.kind == key.kind == find(name).kind
        assert len(key.working) >= 2
        assert all(line.strip() for line in key.working)
        parts = (*getattr(item, "options", ()), *getattr(item, "cards", ()))
        assert [part.id for part in parts] == list("abcdefgh"[: len(parts)])


@EACH_TEMPLATE
def test_where_things_stand_depends_on_the_shuffle_alone(name: str) -> None:
    def texts(item: Item) -> list[str]:
        return [part.text for part in (*getattr(item, "options", ()), *getattr(item, "cards", ()))]

    template = find(name)
    drawings = [template.draw(random.Random(3), pack("curlew"), shuffle=random.Random(seed))[0] for seed in range(12)]
    assert all(item.given == drawings[0].given and item.prompt == drawings[0].prompt for item in drawings)
    assert all(sorted(texts(item)) == sorted(texts(drawings[0])) for item in drawings)
    if texts(drawings[0]):
        assert len({tuple(texts(item)) for item in drawings}) > 6


@pytest.mark.parametrize("name", ["after-history", "jacking-screw"])
def test_right_option_stands_anywhere(name: str) -> None:
    places = [key.right for _, key in everywhere(name, 250) if isinstance(key, ChoiceKey)]
    assert all(places.count(letter) > len(places) / 10 for letter in "abcd")


def test_numbers_to_the_step_and_with_their_unit() -> None:
    for name in ("preload", "use-of-proof-load"):
        for item, key in everywhere(name):
            assert isinstance(item, NumberItem)
            assert isinstance(key, NumberKey)
            assert item.units == (key.unit,)
            assert key.shown.endswith(f"\u2009{key.unit}")
            assert any(key.shown in line for line in key.working)
            bare = mark(item, key, {"kind": "number", "text": key.shown.partition("\u2009")[0], "unit": ""})
            assert bare.verdict == "right"
            off = mark(item, key, {"kind": "number", "text": str(key.answer + 2.5 * key.tolerance), "unit": key.unit})
            assert off.points == 0


def test_draws_do_not_depend_on_the_hash_seed() -> None:
    script = (
        "import random, hashlib\nfrom trainkit import packs\nfrom trainkit.items.tightening import TEMPLATES\n"
        "found = hashlib.sha256()\npack = packs.load('dunlin')\n"
        "for template in TEMPLATES:\n    for seed in range(8):\n"
        "        item, key = template.draw(random.Random(seed), pack)\n"
        "        found.update((item.model_dump_json() + key.model_dump_json()).encode())\n"
        "print(found.hexdigest())"
    )
    digests = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(digests) == 1


@EACH_TEMPLATE
def test_same_seed_same_draw(name: str) -> None:
    for seed in range(5):
        assert find(name).draw(random.Random(seed), pack("dunlin")) == find(name).draw(
            random.Random(seed), pack("dunlin")
        )


REFUSED = {
    "after-history": ("fasteners", "a fastener of more than one"),
    "next-bolt": ("fasteners", "a pattern of bolts"),
    "stages-in-order": ("fasteners", "several stages"),
    "preload": ("fasteners", "a torque in N·m"),
    "use-of-proof-load": ("fasteners", "a torque in N·m"),
    "jacking-screw": ("fasteners", "a thread from 5 to 16 mm"),
    "not-again": ("parts", "single-use parts"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_pack_without_the_matter_is_refused(name: str) -> None:
    table, says = REFUSED[name]
    bare = pack("dunlin").model_copy(update={table: ()})
    with pytest.raises(ItemError, match=says) as caught:
        find(f"tightening/{name}").draw(random.Random(1), bare)
    assert caught.value.value == "dunlin"
    assert caught.value.remedy


@EACH_TEMPLATE
def test_starting_point_of_a_new_pack_can_be_asked_about_or_says_why_not(name: str) -> None:
    new = packs.load_text(packs.starting_point(), "new.toml")
    try:
        said = str(find(name).draw(random.Random(2), new)[0].kind)
    except ItemError as error:
        said = error.remedy
    assert said == find(name).kind or "blueprint" in said


@pytest.mark.parametrize("entry", MISCONCEPTIONS, ids=lambda entry: entry.code)
def test_texts_are_short_and_kind(entry: Misconception) -> None:
    text = entry.advice()
    assert entry.area == "tightening"
    assert text.endswith(MANUAL)
    assert entry.shows.startswith("This ")
    assert not re.search(r"\b(wrong|stupid|careless|error|fail)", text)
    for sentence in re.split(r"(?<=[.?!])\s", text):
        assert len(sentence.split()) <= 20, sentence
