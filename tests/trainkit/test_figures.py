"""Pictures: well formed, named for people who do not see them, true to their data, and readable in light and dark."""

from __future__ import annotations

import json
import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainkit import figures, gears
from trainkit.errors import FormError
from trainkit.figures import layout
from trainkit.figures.gearing import TrainFigure
from trainkit.figures.style import PALETTE

SVG = "{http://www.w3.org/2000/svg}"
NASTY = "<script>alert('x')</script> & \"quotes\""

TRAIN = {
    "draw": "gear-train",
    "seen_from": "front",
    "gears": [
        {"id": "a", "name": "crank gear", "teeth": 30, "turns": "clockwise", "witness": "2:00"},
        {"id": "b", "name": "idler", "teeth": 44, "hole": "10:00", "pinned": True},
        {"id": "c", "name": "cam gear", "teeth": 60},
    ],
    "meshes": [{"driver": "a", "driven": "b"}, {"driver": "b", "driven": "c", "kind": "chain"}],
}
CLOCK = {
    "draw": "clock",
    "seen_from": "flywheel",
    "hand": "1:10",
    "turns": "anticlockwise",
    "name": "idler",
    "marks": [{"at": "2:10", "label": "begin to press"}, {"at": "2:40", "label": "seats"}, {"at": "8:00"}],
}
BENCH = {
    "draw": "pin-bench",
    "name": "drive gear",
    "seen_from": "front",
    "tooth": "9:05",
    "marks": [{"at": "1:55", "label": "back off to"}, {"at": "2:15", "label": "press from"}],
    "forward": "clockwise",
    "turned": "back",
    "bar": "fitted",
    "pin": "pressed",
}


def parsed(data: Mapping[str, Any]) -> ET.Element:
    return ET.fromstring(figures.draw(data))  # noqa: S314 - our own markup


@pytest.mark.parametrize("data", [TRAIN, CLOCK, BENCH], ids=lambda data: data["draw"])
def test_a_picture_has_a_role_a_name_a_description_and_its_viewpoint(data: dict[str, object]) -> None:
    root = parsed(data)
    assert root.get("role") == "img"
    names = root.get("aria-labelledby", "").split()
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert description is not None
    assert [title.get("id"), description.get("id")] == names
    assert description.text == figures.Picture(data).text
    viewpoint = "seen from the front" if data["seen_from"] == "front" else "seen from the flywheel end"
    assert viewpoint in (description.text or "")
    assert any(viewpoint in "".join(words.itertext()) for words in root.iter(f"{SVG}text"))


@pytest.mark.parametrize("data", [TRAIN, CLOCK, BENCH], ids=lambda data: data["draw"])
def test_the_same_picture_is_the_same_text_and_needs_nothing_from_outside(data: dict[str, object]) -> None:
    assert figures.draw(data) == figures.draw(data)
    markup = figures.draw(data).replace("http://www.w3.org/2000/svg", "")
    assert "http" not in markup
    assert "url(" not in markup
    assert "<style" not in figures.draw(data, styled=False)


def test_words_from_a_file_are_never_markup() -> None:
    for data in (
        {**TRAIN, "gears": [{"id": NASTY[:40], "name": NASTY, "teeth": 20}], "meshes": []},
        {**CLOCK, "name": NASTY, "marks": [{"at": "1:00", "label": NASTY}]},
        {**BENCH, "marks": [{"at": "1:00", "label": NASTY}]},
    ):
        root = parsed(data)
        assert not list(root.iter(f"{SVG}script"))
        # A long label goes on in a further line, so lines and spaces are left out of it.
        words = "".join("".join(part.itertext()) for part in root.iter(f"{SVG}text"))
        assert "".join(NASTY.split()) in "".join(words.split())
        assert "<script" not in figures.Picture(data, caption=NASTY)._repr_mimebundle_()["text/html"]


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"draw": "portrait"},
        {"draw": ["clock"]},
        {**CLOCK, "seen_from": "above"},
        {**CLOCK, "hand": "13:00"},
        {**CLOCK, "marks": [{"at": "1:60"}]},
        {**CLOCK, "colour": "red"},
        {**BENCH, "pin": "lost"},
        {**BENCH, "flank": "driven"},
        {**TRAIN, "gears": []},
        {**TRAIN, "gears": [{"id": "a", "teeth": 2}]},
        {**TRAIN, "gears": [{"id": "a", "teeth": float("nan")}]},
        {**TRAIN, "meshes": [{"driver": "a", "driven": "z"}]},
        {**TRAIN, "meshes": [{"driver": "a", "driven": "b", "kind": "magnet"}]},
    ],
)
def test_data_that_is_no_picture_is_refused_with_a_remedy(data: dict[str, object]) -> None:
    with pytest.raises(FormError) as caught:
        figures.draw(data)
    assert caught.value.rule
    assert caught.value.remedy


def test_the_senses_of_a_picture_follow_from_the_meshes() -> None:
    chain = [gears.Gear(f"g{number}", 20 + number) for number in range(5)]
    train = gears.GearTrain(chain, [gears.Mesh(one.id, two.id) for one, two in pairwise(chain)])
    shown = figures.train_figure(train, seen_from="flywheel", turning=("g1", "clockwise"))["gears"]
    assert [each["turns"] for each in shown] == [
        "anticlockwise" if number % 2 == 0 else "clockwise" for number in range(5)
    ]
    assert all("turns" not in each for each in figures.train_figure(train, seen_from="front")["gears"])
    few = figures.train_figure(train, seen_from="front", gears=["g0", "g1"])
    assert [each["id"] for each in few["gears"]] == ["g0", "g1"]
    assert few["meshes"] == [{"driver": "g0", "driven": "g1", "kind": "external"}]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(12, 120), min_size=1, max_size=7),
    st.lists(st.integers(0, 100), min_size=7, max_size=7),
    st.sampled_from(["front", "flywheel"]),
)
def test_gears_touch_at_their_pitch_circles_and_stay_on_the_sheet(teeth: list[int], joins: list[int], end: str) -> None:
    data: dict[str, Any] = {
        "draw": "gear-train",
        "seen_from": end,
        "gears": [{"id": f"g{number}", "teeth": count} for number, count in enumerate(teeth)],
        "meshes": [{"driver": f"g{joins[number] % number}", "driven": f"g{number}"} for number in range(1, len(teeth))],
    }
    places = layout.laid_out(TrainFigure.model_validate(data, strict=False))
    for mesh in data["meshes"]:
        one, two = places[mesh["driver"]], places[mesh["driven"]]
        assert math.isclose(math.hypot(one.x - two.x, one.y - two.y), one.radius + two.radius)
    root = parsed(data)
    width, height = (float(root.get(side, "0")) for side in ("width", "height"))
    for circle in root.iter(f"{SVG}circle"):
        x, y, r = (float(circle.get(key, "nan")) for key in ("cx", "cy", "r"))
        assert r <= x <= width - r
        assert r <= y <= height - r


def test_from_the_other_end_the_picture_is_mirrored() -> None:
    front = layout.laid_out(TrainFigure.model_validate(TRAIN, strict=False))
    back = layout.laid_out(TrainFigure.model_validate({**TRAIN, "seen_from": "flywheel"}, strict=False))
    assert {name: (-place.x, place.y) for name, place in front.items()} == {
        name: (place.x, place.y) for name, place in back.items()
    }


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 11), st.integers(0, 59)), max_size=8, unique=True))
def test_the_labels_of_a_clock_never_cover_each_other(times: list[tuple[int, int]]) -> None:
    marks = [{"at": f"{hour}:{minute:02d}", "label": "a word"} for hour, minute in times]
    root = parsed({"draw": "clock", "seen_from": "front", "marks": marks})
    labels = [words for words in root.iter(f"{SVG}text") if words.get("class") == "strong"]
    assert len(labels) == len(marks)
    for side in ("start", "end"):
        heights = sorted(float(words.get("y", "nan")) for words in labels if words.get("text-anchor") == side)
        assert all(lower - upper >= 30 for upper, lower in pairwise(heights))
        assert all(0 < height < 310 for height in heights)


def test_a_long_label_of_a_clock_goes_on_in_a_further_line() -> None:
    long = "cylinder 1 on compression"
    for draw in (CLOCK, BENCH):
        root = parsed({**draw, "marks": [{"at": "1:00", "label": long}, {"at": "1:10", "label": "next"}]})
        texts = ["".join(part.itertext()) for part in root.iter(f"{SVG}text")]
        assert long not in texts
        lines = texts[texts.index("1:00") + 1 : texts.index("1:10")]
        assert " ".join(lines) == long
        heights = {"".join(part.itertext()): float(part.get("y", "nan")) for part in root.iter(f"{SVG}text")}
        stood = [heights[line] for line in ("1:00", *lines, "1:10", "next")]
        assert all(lower - upper >= 14 for upper, lower in pairwise(stood))


def _luminance(colour: str) -> float:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
def test_every_colour_can_be_read_on_its_paper(theme: int) -> None:
    paper = _luminance(PALETTE["paper"][theme])
    for role, pair in PALETTE.items():
        if role != "paper":
            lighter, darker = sorted((paper, _luminance(pair[theme])), reverse=True)
            assert (lighter + 0.05) / (darker + 0.05) >= 4.5, role


def test_every_class_and_colour_used_is_in_the_style_sheet() -> None:
    for data in (TRAIN, CLOCK, BENCH, {**BENCH, "pin": "broken", "bar": "off"}):
        for element in parsed(data).iter():
            for name in (element.get("class") or "").split():
                assert name == "tk-figure" or re.search(rf"\.{name}\b", figures.CSS), name
    assert set(re.findall(r"var\(--tk-(\w+)\)", figures.CSS)) <= set(PALETTE)


def test_the_warning_sign_stands_beside_words_and_is_silent_itself() -> None:
    root = ET.fromstring(figures.warning_sign(32))  # noqa: S314 - our own markup
    assert root.get("aria-hidden") == "true"
    assert root.get("width") == "32"


def test_the_bench_draws_and_tells_every_state_of_pin_and_bar_differently() -> None:
    drawn, told = set(), set()
    for pin in ("out", "pressed", "in", "broken"):
        for bar in ("fitted", "off"):
            picture = figures.Picture({**BENCH, "pin": pin, "bar": bar})
            drawn.add(re.sub(r"<(title|desc|text)\b.*?</\1>|id=\"[^\"]*\"|aria-labelledby=\"[^\"]*\"", "", picture.svg))
            told.add(picture.text)
    assert len(drawn) == len(told) == 8


def test_the_mark_is_drawn_where_the_clock_says() -> None:
    root = parsed({**BENCH, "tooth": "3:00"})
    tooth = next(shape for shape in root.iter(f"{SVG}polygon") if shape.get("class") == "accent")
    points = [tuple(map(float, point.split(","))) for point in tooth.get("points", "").split()]
    middle = [sum(axis) / len(points) for axis in zip(*points, strict=True)]
    face = next(shape for shape in root.iter(f"{SVG}circle"))
    assert middle[1] == pytest.approx(float(face.get("cy", "0")))  # at three o'clock: to the right, as high as the axis
    assert middle[0] - float(face.get("cx", "0")) == pytest.approx(96, abs=6)


def test_gears_sit_where_their_shafts_do_and_mirrored_from_the_other_end() -> None:
    train = gears.GearTrain(
        [
            gears.Gear("crank", 36, module_mm=2.5, at_mm=(0.0, 0.0)),
            gears.Gear("idler", 44, module_mm=2.5, at_mm=(60.0, 80.0)),
        ],
        [gears.Mesh("crank", "idler")],
    )
    for end, side in (("front", 1), ("flywheel", -1)):
        shown = TrainFigure.model_validate_json(json.dumps(figures.train_figure(train, seen_from=end)))
        places = layout.laid_out(shown)
        assert (places["crank"].radius, places["idler"].radius) == (45, 55)
        assert (places["idler"].x - places["crank"].x, places["idler"].y - places["crank"].y) == (side * 60, -80)
        assert parsed(figures.train_figure(train, seen_from=end)).get("role") == "img"
    half = gears.GearTrain(
        [gears.Gear("crank", 36, at_mm=(0.0, 0.0)), gears.Gear("idler", 44)], [gears.Mesh("crank", "idler")]
    )
    assert "at" not in figures.train_figure(half, seen_from="front")["gears"][0]
