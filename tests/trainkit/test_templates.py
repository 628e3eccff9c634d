"""What holds for every template on every engine: one contract, and the table of what is particular to a name.

Each draw is held against the second way to its answer (``second_ways``). What only one module has is in the file of
that module, ``test_items_<module>.py``.
"""

from __future__ import annotations

import json
import os
import random
import re
import subprocess
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from tests.outside.linear_train import raw
from tests.trainkit.answers import Given, right_answer
from tests.trainkit.draws import PAIRS, drawn, draws, everywhere, met
from tests.trainkit.second_ways import MODULES, sorts, ways
from tests.trainkit.second_ways.reading import PACKS, answered, collisions, pack
from trainkit import figures
from trainkit.items import scenarios
from trainkit.items.kinds import (
    ActionsItem,
    ChoiceKey,
    GridItem,
    GridKey,
    InsertKey,
    Item,
    Key,
    NumberItem,
    NumberKey,
    ObservedItem,
    OrderKey,
    PointKey,
    SetKey,
    SeveralKey,
    TextKey,
)
from trainkit.items.marking import mark, no_answer
from trainkit.items.misconceptions import MANUAL, Misconception, all_misconceptions, misconception
from trainkit.items.reading import read_item, read_key
from trainkit.items.template import find, names
from trainkit.widgets import paper
from trainkit.widgets.practised import Practised
from trainkit.widgets.watched import Watched

EACH = pytest.mark.parametrize(("name", "engine"), PAIRS)
EACH_MODULE = pytest.mark.parametrize("module", [module.replace("_", "-") for module in MODULES])
# Cured in the module they belong to, and shown in others as well.
OTHER_HOMES = {
    "torque-units": {"right-number-wrong-unit"},
    "tightening": {"stage-out-of-order", "mark-before-fixing"},
    "turning-direction": {"bar-as-crank", "bar-ratio-inverse"},
    "lash-and-timing": {
        *("cam-for-crank", "clock-backwards", "exhaust-for-compression", "gear-crank-wrong-way"),
        "gear-for-crank-degrees",
    },
    "sequence": {"any-dead-centre", "renews-everything", "single-use-reused", "used-seal-good-enough"},
}
# The first is shown by a way of playing that no search takes, see test_items_lock_pin. The second wants a start path
# with a link that another source holds open, as neither engine has; test_derived_precedence shows it.
UNMET = {"backs-off-too-little", "attempt-spoilt"}
COMMON = {"kind", "prompt", "given", "figure", "points"}
SHOWN = {
    "number": {"units", "to_nearest"},
    "choice": {"options"},
    "several": {"options"},
    "order": {"cards"},
    "insert": {"written", "missing"},
    "grid": {"rows", "columns"},
    "point": {"targets"},
    "set": {"scale"},
    "actions": {"model", "scene", "actions", "limit"},
    "text": {"limit"},
    "observed": {"steps", "critical"},
}
# On both engines together so many different pairs of wrong rules are met at least; elsewhere two or more.
FEW_PAIRS = {"torque-units/nearest-mark": 0, "lock-pin/turns-of-the-bar": 1}


def home(module: str) -> ModuleType:
    return import_module(f"trainkit.items.{module.replace('-', '_')}")


def own_codes(name: str) -> set[str]:
    return {entry.code for entry in home(name.partition("/")[0]).MISCONCEPTIONS}


def parts_of(item: Item) -> list[Any]:
    """Return what stands in an order of its own: options, cards, rows."""
    return [part for name in ("options", "cards", "rows") for part in getattr(item, name, ())]


def texts_of(item: Item) -> list[str]:
    return [part.text for part in parts_of(item)]


@EACH_MODULE
def test_a_module_has_its_templates_and_each_a_second_way(module: str) -> None:
    assert [template.name for template in home(module).TEMPLATES] == list(names(module))
    assert {name for name in ways() if name.startswith(f"{module}/")} == set(names(module))


def test_nothing_is_left_out() -> None:
    assert sorted(ways()) == sorted(names())
    assert len(PAIRS) == 2 * len(names()) >= 102


# --- the key --------------------------------------------------------------------------------------------------------


@EACH
def test_the_key_agrees_with_the_second_way_and_all_sorts_of_cases_come_up(name: str, engine: str) -> None:
    seen = met(name, engine)
    assert seen
    assert name not in sorts() or sorts()[name](seen, engine), seen


@EACH
def test_no_two_answers_collide(name: str, engine: str) -> None:
    for item, key in draws(name, engine):
        assert collisions(item, key) == []
        for shown in (parts_of(item), getattr(item, "targets", ())):
            assert len({part.text for part in shown}) == len({part.id for part in shown}) == len(shown)
        if isinstance(key, NumberKey | SetKey):
            assert key.rules
        if isinstance(key, ChoiceKey):
            assert key.shows or name == "sequence/find-fault"
            if name.startswith(("tightening/", "turning-direction/", "lash-and-timing/")):
                assert len(set(key.shows.values())) == len(key.shows)
        if isinstance(key, NumberKey) and name.startswith("tightening/"):
            assert min([key.answer, *(rule.value for rule in key.rules)]) > 0


@EACH
def test_the_working_is_whole_and_the_key_is_of_its_template(name: str, engine: str) -> None:
    template = find(name)
    for item, key in draws(name, engine):
        assert item.kind == key.kind == template.kind
        assert key.template == name
        assert len(key.working) >= (1 if name.startswith("lock-pin/") else 2)
        assert all(line.strip() and "None" not in line for line in key.working)
        if isinstance(key, NumberKey) and not name.startswith("lock-pin/"):  # where the line goes on with its unit
            assert any(key.shown in line for line in key.working)
        if isinstance(item, NumberItem):
            assert item.to_nearest.startswith(("to the nearest ", "in steps of "))


@EACH
def test_features_are_those_that_are_weighed(name: str, engine: str) -> None:
    template = find(name)
    for draw in draws(name, engine):
        assert set(draw.features) == set(template.weights)
        assert template.difficulty(draw.features) >= 0


# --- marks ----------------------------------------------------------------------------------------------------------


@EACH
def test_right_earns_everything_and_nothing_earns_nothing(name: str, engine: str) -> None:
    for item, key in draws(name, engine)[: 2 if find(name).kind == "actions" else None]:  # a search takes long
        found = mark(item, key, right_answer(item, key))
        right = (0.0, "waiting") if isinstance(key, TextKey) else (item.points, "right")
        assert (found.points, found.verdict, found.misconception, found.critical) == (*right, None, False)
        assert (no_answer(item).points, no_answer(item).verdict) == (0, "no answer")
        if isinstance(key, NumberKey):
            for text in (repr(key.answer), f"{key.answer:.10g}"):
                assert mark(item, key, {"kind": "number", "text": text, "unit": key.unit}).points == item.points
            assert mark(item, key, {"kind": "number", "text": "", "unit": key.unit}).points == 0


def wrong_rules(  # noqa: C901 - one short case for each kind of answer
    item: Item, key: Key
) -> Iterator[tuple[Given, str | None, bool]]:
    """Yield wrong answers, each with what it shows and whether it does harm."""
    match key:
        case NumberKey():
            for rule in key.rules:
                text = f"{rule.value:.9f}".rstrip("0").rstrip(".")
                yield {"kind": "number", "text": text, "unit": key.unit}, rule.misconception, False
        case SetKey():
            for rule in key.rules:
                yield answered(item, rule.value), rule.misconception, False
        case ChoiceKey() | PointKey():
            field, rights = ("option", (key.right,)) if isinstance(key, ChoiceKey) else ("target", key.right)
            for part in (*getattr(item, "options", ()), *getattr(item, "targets", ())):
                if part.id not in rights:
                    yield {"kind": key.kind, field: part.id}, key.shows.get(part.id) or None, part.id in key.critical
        case SeveralKey():
            for letter, code in key.shows.items():
                yield {"kind": "several", "options": sorted({*key.right} ^ {letter})}, code, letter in key.critical
        case GridKey():
            assert isinstance(item, GridItem)
            for row in item.rows:
                for column in item.columns:
                    if column.id != key.right[row.id]:
                        pair = f"{row.id} {column.id}"
                        rows = {**key.right, row.id: column.id}
                        yield {"kind": "grid", "rows": rows}, key.shows.get(pair), pair in key.critical


@EACH
def test_a_wrong_answer_is_told_what_it_shows(name: str, engine: str) -> None:
    whole = ("choice", "point", "number", "set")  # kinds in which an answer is right or earns nothing
    harmless = name.partition("/")[0] in ("torque-units", "turning-direction", "lash-and-timing")
    for item, key in draws(name, engine):
        for response, code, harm in wrong_rules(item, key):
            found = mark(item, key, response)
            assert (found.verdict == "right", found.misconception, found.critical) == (False, code, harm)
            assert found.points == 0 if item.kind in whole else found.points < item.points
            if code:
                assert misconception(code).shows in found.reason
                assert found.reason.endswith(MANUAL)
            for part in (response.get("option"), response.get("target")):
                assert getattr(key, "reasons", {}).get(part, "") in found.reason
            assert not (harm and harmless)


@pytest.mark.parametrize("name", [name for name in names() if find(name).kind == "number"])
def test_two_wrong_rules_at_once_are_both_named(name: str) -> None:
    found_pairs = set()
    for item, key in everywhere(name):
        assert isinstance(key, NumberKey)
        for pair in key.pairs:
            assert pair.first != pair.second
            found = mark(item, key, {"kind": "number", "text": f"{pair.value:.9f}", "unit": key.unit})
            assert (found.points, found.verdict, found.misconception) == (0, "not yet", pair.first)
            for code in (pair.first, pair.second):
                assert misconception(code).shows in found.reason
                assert misconception(code).cure in found.reason
            assert found.reason.count(MANUAL) == 1
            found_pairs.add(frozenset((pair.first, pair.second)))
            if name.partition("/")[0] not in ("torque-units", "lock-pin"):
                step = key.tolerance / 0.4
                assert pair.value > 0
                assert abs(pair.value / step - round(pair.value / step)) < 1e-6
    assert len(found_pairs) >= FEW_PAIRS.get(name, 2)


@pytest.mark.parametrize(("name", "engine"), [pair for pair in PAIRS if find(pair[0]).kind in ("order", "insert")])
def test_a_broken_pair_of_cards_costs_points_and_is_told_its_cure(name: str, engine: str) -> None:
    for item, key in draws(name, engine):
        if not isinstance(key, OrderKey):
            assert isinstance(key, InsertKey)
            for place in range(len(key.written) + 1):
                found = mark(item, key, {"kind": "insert", "place": place})
                assert found.points == (item.points if place in key.right else 0)
            continue
        natural = right_answer(item, key)["cards"]
        for bond in key.bonds:
            order = [card for card in natural if card != bond.before]
            order.insert(order.index(bond.after) + 1, bond.before)
            found = mark(item, key, {"kind": "order", "cards": order})
            assert found.points < item.points
            if bond.misconception:
                assert found.misconception is not None
                assert misconception(found.misconception).cure in found.reason


@pytest.mark.parametrize("engine", PACKS)
def test_each_play_that_ends_badly_is_told_what_it_shows(engine: str) -> None:
    for item, key in draws("lock-pin/pin-the-engine", engine)[:4]:
        assert isinstance(item, ActionsItem)
        for code, way in scenarios.ways_to_show(item.model, item.scene).items():
            found = mark(item, key, {"kind": "actions", "actions": list(way), "gave_up": True})
            assert (found.misconception, found.verdict == "right") == (code, False)


@EACH
def test_another_kind_of_answer_is_said_so(name: str, engine: str) -> None:
    item, key = draws(name, engine)[0]
    other = {"kind": "choice", "option": "a"} if item.kind != "choice" else {"kind": "set", "value": 1}
    found = mark(item, key, other)
    assert found.points == 0
    assert "of the kind" in found.reason


# --- what is drawn depends on seed and engine alone -------------------------------------------------------------------


@EACH
def test_the_same_seed_gives_the_same_draw(name: str, engine: str) -> None:
    for seed in range(8 if name != "lock-pin/pin-the-engine" else 3):
        assert drawn(name, engine, seed) == draws(name, engine)[seed]
        assert drawn(name, engine, seed, shuffle=1) == drawn(name, engine, seed, shuffle=1)


@EACH
def test_where_things_stand_depends_on_the_shuffle_alone(name: str, engine: str) -> None:
    items = [drawn(name, engine, 3, shuffle=seed)[0] for seed in range(12)]
    first = items[0]
    for item in items:
        assert (item.given, item.prompt) == (first.given, first.prompt)
        assert sorted(texts_of(item)) == sorted(texts_of(first))
        if item.kind in ("choice", "several", "order"):
            assert [part.id for part in parts_of(item)] == [part.id for part in parts_of(first)]
    if texts_of(first):
        assert len({tuple(texts_of(item)) for item in items}) > 5


@pytest.mark.parametrize("name", [name for name in names() if find(name).kind == "choice"])
def test_the_right_option_stands_anywhere(name: str) -> None:
    stood: Counter[int] = Counter()
    expected: dict[int, float] = defaultdict(float)
    for item, key in everywhere(name):
        assert isinstance(key, ChoiceKey)
        options = [part.id for part in parts_of(item)]
        stood[options.index(key.right)] += 1
        for place in range(len(options)):
            expected[place] += 1 / len(options)
    assert all(stood[place] > expected[place] / 2 for place in expected)


def test_draws_do_not_depend_on_the_process() -> None:
    """Sets of words come in another order in every process; no draw may hang on it."""
    script = (
        "import hashlib\nfrom tests.trainkit.draws import PAIRS, drawn\nfound = hashlib.sha256()\n"
        "for name, engine in PAIRS:\n"
        "    count = 2 if name == 'lock-pin/pin-the-engine' else 12 if engine == 'dunlin' else 5\n"
        "    for seed in range(count):\n"
        "        for part in drawn(name, engine, seed):\n"
        "            found.update(part.model_dump_json().encode())\n"
        "print(found.hexdigest())"
    )
    running = [
        subprocess.Popen(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(Path(__file__).parents[2])},
            stdout=subprocess.PIPE,
            text=True,
        )
        for seed in ("1", "2", "3")
    ]
    said = [process.communicate()[0] for process in running]
    assert [process.returncode for process in running] == [0, 0, 0]
    assert len(set(said)) == 1
    assert re.fullmatch(r"[0-9a-f]{64}\n", said[0])


# --- what is shown ----------------------------------------------------------------------------------------------------


@EACH
def test_an_item_shows_no_more_than_it_must(name: str, engine: str) -> None:
    module = name.partition("/")[0]
    tables = ("fasteners", "parts", "steps", "tools", "gears")
    ids = {entry["id"] for table in tables for entry in raw(engine)[table]}
    if module != "tightening":  # elsewhere such words as "pin" and "driver" mean what they say
        ids = {one for one in ids if "-" in one and module != "lock-pin"}
    if module in ("sequence", "capstone"):
        ids |= {entry["id"] for entry in raw(engine)["steps"]}
    ids |= {*all_misconceptions()}
    for item, key in draws(name, engine):
        shown = item.model_dump_json()
        dumped = json.loads(shown)
        assert read_item(dumped) == item
        assert read_key(json.loads(key.model_dump_json())) == key
        assert read_key(key.model_dump(mode="json")) == key
        assert set(dumped) <= COMMON | SHOWN[item.kind]
        assert name not in shown
        assert not any(f'"{one}"' in shown for one in ids)
        assert not any(code in shown for code in own_codes(name))
        assert [part.id for part in parts_of(item)] == list("abcdefgh"[: len(parts_of(item))])


@EACH
def test_it_can_be_drawn_printed_and_put_on_the_screen(name: str, engine: str) -> None:
    template = find(name)
    for item, _ in draws(name, engine)[:3]:
        if item.figure is not None:
            assert figures.draw(item.figure).startswith("<svg ")
        if isinstance(item, ObservedItem):  # watched, not answered on the screen
            assert item.prompt in str(Watched("A1", item))
            continue
        assert item.prompt in paper.item_text("Question A1", item)
        assert "<" in paper.item_html("Question A1", item, "")
    if template.kind in ("text", "observed"):
        return  # what a person judges is refused in practice
    state = Practised("All", [template], pack(engine), random.Random(7))
    json.dumps(state.shown())
    assert state.item.prompt.split("\n\n")[0] in state.text()


# --- misconceptions ---------------------------------------------------------------------------------------------------


@EACH_MODULE
def test_every_misconception_of_a_module_is_met_and_no_other(module: str) -> None:
    own = {entry.code for entry in home(module).MISCONCEPTIONS}
    assert len(own) == len(home(module).MISCONCEPTIONS)
    seen: dict[str, set[str]] = {engine: set() for engine in PACKS}
    for name, engine in PAIRS:
        if name.startswith(f"{module}/"):
            for draw in draws(name, engine)[: 4 if find(name).kind == "actions" else None]:
                seen[engine] |= {*draw.could_show}
    assert set().union(*seen.values()) == (own | OTHER_HOMES.get(module, set())) - UNMET
    # Some beliefs about gears and about the pin can be shown on Curlew alone.
    assert module in ("turning-direction", "lock-pin") or own - UNMET <= seen["dunlin"]


def each_misconception() -> list[Misconception]:
    return [entry for module in MODULES for entry in home(module).MISCONCEPTIONS]


@pytest.mark.parametrize("entry", each_misconception(), ids=lambda entry: entry.code)
def test_texts_of_a_misconception_are_short_and_kind(entry: Misconception) -> None:
    text = entry.advice()
    assert entry in home(entry.area).MISCONCEPTIONS
    assert text.endswith(MANUAL)
    assert entry.shows.startswith("This ") or entry.area in ("sequence", "torque-units", "lock-pin")
    assert entry.shows.endswith(".")
    if entry.area != "lock-pin":  # where an error is one of timing
        said = text.replace("the wrong way round", "") if entry.area == "torque-units" else text
        assert not re.search(r"\b(wrong|stupid|careless|error|fail)", said)
    if entry.area in ("turning-direction", "lash-and-timing"):
        assert entry.shows.startswith("This answer ")
        assert len(entry.shows.split()) <= 15
        assert max(len(part.split()) for part in entry.cure.split(". ")) <= 17
    for sentence in re.split(r"(?<=[.?!])\s", text):
        assert len(sentence.split()) <= 20, sentence
