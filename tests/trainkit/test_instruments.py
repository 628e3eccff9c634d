"""Instruments: what they say is worked out a second way, and nothing that the screen sends can break them."""

from __future__ import annotations

import json
import math
import xml.etree.ElementTree as ET
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.trainkit.plain_engine import plain
from trainkit import figures, modules, packs, workbook
from trainkit.errors import FormError, ItemError
from trainkit.widgets.instruments import INSTRUMENTS, instrument
from trainkit.widgets.instruments.faces import ClockFace
from trainkit.widgets.instruments.lever import WrenchTried
from trainkit.widgets.instruments.turning import TrainTurned, larger, turned_by_crank

DUNLIN = packs.load("dunlin")
MINE = plain()
THIN = "\u2009"


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> packs.Pack:
    """The pack that an instructor begins with."""
    path = tmp_path_factory.mktemp("pack") / "my-engine.toml"
    path.write_text(MINE, "utf-8")
    return packs.load(path)


def walked(pack: packs.Pack) -> dict[str, tuple[Fraction, int, float]]:
    """Return rate, sense and lash of each gear behind its driver, walked from the crank by the tables alone."""
    tables = {gear.id: gear for gear in pack.gears}
    found: dict[str, tuple[Fraction, int, float]] = {pack.crank: (Fraction(1), 1, 0.0)}
    while len(found) < len(tables):
        for mesh in pack.meshes:
            for here, there in ((mesh.driver, mesh.driven), (mesh.driven, mesh.driver)):
                if here in found and there not in found:
                    one, other = tables[here], tables[there]
                    rate, sense, _ = found[here]
                    flip = -1 if mesh.kind == "external" else 1
                    same = mesh.kind == "shaft"
                    module = other.module_mm or one.module_mm or 0.0
                    play = 0.0 if same or not module else math.degrees(mesh.lash_mm / (module * other.teeth / 2))
                    turns = rate if same else rate * one.teeth / other.teeth
                    found[there] = (turns, sense * flip, play)
        for one in tables.values():
            for other in tables.values():
                if one.id in found and other.id not in found and one.shaft == other.shaft:
                    found[other.id] = (*found[one.id][:2], 0.0)
    return found


def test_ratios_senses_and_lash_are_those_of_the_tables(own: packs.Pack) -> None:
    for pack in (DUNLIN, own):
        second = walked(pack)
        forward = 1 if (pack.engine.rotation == "clockwise") == (pack.engine.seen_from == "front") else -1
        gears = turned_by_crank(pack)
        assert {gear.id for gear in gears} == set(second)
        placed: set[str] = set()
        for gear in gears:
            rate, sense, play = second[gear.id]
            assert gear.rate == rate
            assert gear.clockwise == (sense * forward > 0)
            assert gear.lash == pytest.approx(play)
            assert gear.driver in placed or not gear.driver  # never before the one that drives it
            placed.add(gear.id)


def test_lash_adds_up_to_what_the_train_says_of_the_whole_path() -> None:
    gears = {gear.id: gear for gear in turned_by_crank(DUNLIN)}
    for gear in gears.values():
        here, crank_degrees = gear, 0.0
        while here.driver:
            crank_degrees += here.lash / here.rate
            here = gears[here.driver]
        assert crank_degrees == pytest.approx(DUNLIN.train.path("crank", gear.id).lash)


def test_lash_is_drawn_larger_only_as_far_as_teeth_allow() -> None:
    gears = turned_by_crank(DUNLIN)
    size = larger(gears)
    assert size > 1
    assert max(gear.lash * size / (360 / gear.teeth) for gear in gears) <= 0.4
    assert larger([]) == 1


@pytest.mark.parametrize("kind", ["gears", "clock"])
def test_from_the_other_end_marks_are_mirrored_and_senses_flip(kind: str) -> None:
    made = instrument(kind, DUNLIN)
    assert isinstance(made, TrainTurned)
    for gear in made.gears:
        front, other = made.mark_at(gear.id, "front"), made.mark_at(gear.id, "flywheel")
        assert (front.hours + other.hours) % 12 == 0
    drawn = [instrument(kind, DUNLIN, seen_from=end).shown()["views"][end] for end in ("front", "flywheel")]
    views = [ET.fromstring(each) for each in drawn]  # noqa: S314 - our own markup
    turned = [{part.get("data-turns") for part in view.iter() if part.get("data-turns")} for view in views]
    assert turned[0] == turned[1] != set()
    at_first = [
        [
            arrow.get("data-arrow")
            for arrow in view.iter()
            if arrow.get("data-arrow") and arrow.get("visibility") != "hidden"
        ]
        for view in views
    ]
    flip = {"clockwise": "anticlockwise", "anticlockwise": "clockwise"}
    # Larger gears are drawn first and the order is that of sizes, from either end.
    assert [flip[str(sense)] for sense in at_first[0]] == at_first[1]


def test_the_start_is_where_the_pin_seats() -> None:
    table = DUNLIN.lock_pin_table
    made = instrument("gears", DUNLIN)
    assert isinstance(made, TrainTurned)
    assert str(made.mark_at(table.watched, table.seen_from)) == table.seats
    assert made.mark_name(table.watched) == "witness tooth"
    assert made.mark_name(table.hole_in) == "lock pin hole"
    hole = made.shown()["hole"]
    # The idler makes three turns for two of the crank: its hole comes by every 240 degrees of the crank.
    assert Fraction(*hole["every"]) / walked(DUNLIN)[hole["gear"]][0] == DUNLIN.lock_pin.period
    assert made.shown()["stroke"] == {"cylinder": 1, "at": "compression"}
    assert "after 110 turns" in made.shown()["back"]
    assert math.lcm(28, 42, 84, 35, 33) // 42 == 110  # a simple train: all teeth meet again together


def test_what_to_do_in_each_part_of_the_turn_follows_from_the_positions() -> None:
    zones = instrument("clock", DUNLIN).shown()["zones"]
    ends = [zone["to"] for zone in zones]
    assert ends == sorted(ends)
    # Two degrees of the crank are one of the watched gear, and a minute of the clock is half a degree of it.
    positions = {"back_off_to": ends[0], "press_from": ends[1], "give_up": ends[4]}
    for name, crank_degrees in positions.items():
        hours, minutes = map(int, getattr(DUNLIN.lock_pin_table, name).split(":"))
        assert crank_degrees == (hours * 60 + minutes - 150) * 0.5 * 2
    # Two meshes lie between crank and mark: 0.15 mm on 28 teeth and 0.14 mm on 84, both of module 2.5.
    whole = math.degrees(0.15 / 35) / 1.5 + math.degrees(0.14 / 105) / 0.5
    assert instrument("clock", DUNLIN).shown()["sum"][-1] == f"Together: {whole:.3f}° at the crank gear."
    assert isinstance(ClockFace(DUNLIN, gear="oil"), ClockFace)
    assert instrument("clock", DUNLIN, gear="oil").shown()["zones"] == []


# The torque wrench ---------------------------------------------------------------------------------------------------

numbers = st.fixed_dictionaries(
    {"length": st.integers(100, 500), "adapter": st.integers(0, 150), "angle": st.integers(0, 36).map(lambda n: n * 5)}
)


@settings(max_examples=120, deadline=None)
@given(numbers)
def test_the_setting_is_reckoned_along_the_line_of_the_wrench(put: dict[str, int]) -> None:
    made = WrenchTried(DUNLIN)
    lever = made.hear({"type": "put", **put})["lever"]
    # By coordinates: the hand pushes square to the wrench, so only what lies along it counts.
    bolt_x = put["adapter"] * math.sin(math.radians(90 - put["angle"]))
    reach = put["length"] + bolt_x
    if reach <= 0.001:
        assert lever["set"] == "No right setting"
        assert lever["lines"] == [] or reach > -0.001
        return
    wanted = 44.0
    exact = wanted * put["length"] / reach
    usable = 12.0 <= exact <= 60.0  # a fifth of the largest value, and the largest
    if abs(exact - 12.0) < 0.3 or abs(exact - 60.0) < 0.3:
        return
    if not usable:
        assert lever["set"] == "No right setting"
        assert "usable from 12 to 60" in lever["limits"][0]
        return
    shown = float(lever["set"].removeprefix("Set ").split(THIN)[0])
    assert abs(shown - exact) <= 0.25 + 1e-9  # half a mark
    assert f"= {exact:.4g}" in lever["lines"][1].replace(THIN, " ") or exact == round(exact)
    longer = "longer" if reach > put["length"] + 1e-9 else "shorter" if reach < put["length"] - 1e-9 else "adds nothing"
    assert longer in lever["limits"][0]
    assert [lever[name] for name in put] == list(put.values())


def test_both_units_are_reckoned_and_a_forgotten_adapter_is_told() -> None:
    lines = WrenchTried(DUNLIN).settled()["lines"]
    assert [line.replace(THIN, " ") for line in lines] == [
        "Lever: 320 + 48 = 368 mm.",
        "Setting: 44 N·m × 320 ÷ 368 = 38.26 N·m.",
        "Setting: 32 lbf·ft × 320 ÷ 368 = 27.83 lbf·ft.",
        "The nearest mark of the scale is 38.5 N·m.",
        "Set to 44 N·m, as if there were no adapter, the bolt would get 50.6 N·m: 15 % too much.",
    ]


def test_an_adapter_that_points_back_beyond_the_hand_has_no_setting() -> None:
    made = WrenchTried(DUNLIN)
    lever = made.hear({"type": "put", "length": 100, "adapter": 120, "angle": 180})["lever"]
    assert lever["set"] == "No right setting"
    assert "shorter adapter, or turn it forward" in lever["limits"][0]
    assert "no lever is left" in lever["figure"]
    assert made.hear({"type": "again"})["lever"]["set"] == f"Set 38.5{THIN}N·m"


@pytest.mark.parametrize(
    "message",
    [
        {"length": 99},
        {"length": 501},
        {"adapter": -1},
        {"angle": 181},
        {"angle": "30"},
        {"angle": True},
        {"length": float("nan")},
        {"length": None},
        {"wrench": "none"},
        {"wrench": ["large-wrench"]},
        {"job": "none"},
    ],
)
def test_what_cannot_be_set_is_refused_and_changes_nothing(message: dict[str, Any]) -> None:
    made = WrenchTried(DUNLIN)
    before = made.lever
    reply = made.hear({"type": "put", "ticket": 7, **message})
    assert reply["type"] == "refused"
    assert reply["ticket"] == 7
    assert made.lever == before


# All of them ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", INSTRUMENTS)
def test_every_instrument_is_plain_data_and_has_a_static_form(kind: str, own: packs.Pack) -> None:
    for pack in (DUNLIN, own):
        if pack is own and kind == "wrench":
            with pytest.raises(ItemError, match="This needs a"):
                instrument(kind, pack)
            continue
        made = instrument(kind, pack)
        shown = made.shown()
        assert json.loads(json.dumps(shown)) == shown
        assert shown["kind"] == shown["name"] == made.kind == kind
        text, html = made.text(), made.html()
        assert made.heading in text
        assert "<svg " in html
        assert "<table>" in html
        ET.fromstring(html.replace("&nbsp;", " "))  # noqa: S314 - our own markup, well formed


@pytest.mark.parametrize("kind", INSTRUMENTS)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
        max_leaves=6,
    )
    | st.fixed_dictionaries(
        {"type": st.sampled_from(["put", "again", "hint", "judge", "joint", "save", "act"])},
        optional={
            "length": st.floats(),
            "joint": st.none() | st.just("gear-screws") | st.lists(st.text(max_size=2)),
            "done": st.lists(st.sampled_from("1236")) | st.integers(),
            "order": st.permutations("123456") | st.lists(st.integers()),
        },
    )
)
@settings(max_examples=60, deadline=None)
def test_no_message_breaks_an_instrument(kind: str, message: object) -> None:
    made = _MADE[kind]
    reply = made.hear(message)
    assert reply["type"] in ("refused", "put", "told")
    json.dumps(made.shown())


_MADE = {kind: instrument(kind, DUNLIN) for kind in INSTRUMENTS}


def test_words_of_a_pack_are_never_markup() -> None:
    nasty = "<img src=x onerror=alert(1)> & \"'"
    gears = tuple(gear.model_copy(update={"name": nasty}) for gear in DUNLIN.gears)
    pack = packs.Pack.model_construct(
        **{**{name: getattr(DUNLIN, name) for name in type(DUNLIN).model_fields}, "gears": gears}
    )
    for kind in ("gears", "clock"):
        made = instrument(kind, pack)
        assert "<img" not in made.html()
        assert all("<img" not in svg for svg in made.shown()["views"].values())


def test_what_a_pack_lacks_is_said_in_its_place() -> None:
    book = workbook.Book(modules.load("torque-units"), Path("nowhere"))
    book.pack = book.pack.model_copy(update={"tools": (), "fasteners": book.pack.fasteners[3:5]})
    for kind, words in (("wrench", "torque wrench"), ("bolts", "three or more bolts"), ("levers", "gears, clock")):
        note = book.instrument(kind)
        assert isinstance(note, workbook.NotebookNote)
        assert words in str(note)
    assert "no crank" not in str(book.instrument("gears"))
    note = book.instrument("gears", seen_from="above")
    assert isinstance(note, workbook.NotebookNote)
    assert "seen from" in str(note)


def test_pictures_of_instruments_refuse_what_cannot_be_drawn() -> None:
    for data in ({"draw": "flank", "driver": "a", "driven": "b", "back": 2}, {"draw": "wrench", "length": -1}):
        with pytest.raises(FormError):
            figures.draw(data)
