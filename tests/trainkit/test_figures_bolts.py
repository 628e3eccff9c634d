"""The picture of the bolts of a joint: heads where the bolts sit, words for all of it, and no data that is none."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Mapping

import pytest

from trainkit import figures
from trainkit.errors import FormError
from trainkit.tightening import Pattern

SVG = "{http://www.w3.org/2000/svg}"
ROUND = {
    "draw": "bolts",
    "circle": 120.0,
    "noun": "screw",
    "bolts": [
        {"id": "1", "x": 0.0, "y": 60.0, "done": 1},
        {"id": "2", "x": 60.0, "y": 0.0},
        {"id": "3", "x": 0.0, "y": -60.0, "done": 2},
        {"id": "4", "x": -60.0, "y": 0.0},
    ],
}
ROW = {"draw": "bolts", "bolts": [{"id": str(place), "x": 50.0 * place - 100, "y": 0.0} for place in range(5)]}
FREE = {
    "draw": "bolts",
    "bolts": [{"id": "a", "x": -80, "y": 10}, {"id": "b", "x": 0, "y": 0, "done": 1}, {"id": "c", "x": 70, "y": -40}],
}


def parsed(data: Mapping[str, object]) -> ET.Element:
    return ET.fromstring(figures.draw(data))  # noqa: S314 - our own markup


def heads(root: ET.Element) -> dict[str, tuple[float, float]]:
    """The middle of each head, from its six corners."""
    found = {}
    for group in root.iter(f"{SVG}g"):
        polygon = group.find(f"{SVG}polygon")
        assert polygon is not None
        corners = [tuple(map(float, pair.split(","))) for pair in polygon.get("points", "").split()]
        assert len(corners) == 6
        found[group.get("data-target", "")] = (sum(x for x, _ in corners) / 6, sum(y for _, y in corners) / 6)
    return found


@pytest.mark.parametrize("data", [ROUND, ROW, FREE])
def test_heads_sit_to_scale_and_on_the_sheet(data: Mapping[str, list[dict[str, float]]]) -> None:
    root = parsed(data)
    drawn = heads(root)
    bolts = {str(bolt["id"]): (bolt["x"], bolt["y"]) for bolt in data["bolts"]}
    assert list(drawn) == list(bolts)
    ratios = []
    for one in bolts:
        for other in bolts:
            if one < other:
                ratios.append(math.dist(drawn[one], drawn[other]) / math.dist(bolts[one], bolts[other]))
                # y goes up in the data and down on the sheet; nothing is mirrored from left to right.
                assert (drawn[one][0] - drawn[other][0]) * (bolts[one][0] - bolts[other][0]) >= 0
                assert (drawn[one][1] - drawn[other][1]) * (bolts[one][1] - bolts[other][1]) <= 0
    assert max(ratios) == pytest.approx(min(ratios), rel=1e-3)
    width, height = (float(root.get(side, "nan")) for side in ("width", "height"))
    for x, y in drawn.values():
        assert 30 < x < width - 30
        assert 30 < y < height - 30


def test_words_say_what_the_picture_shows() -> None:
    picture = figures.Picture(ROUND)
    assert picture.text == (
        "4 screws on a circle, seen from the heads. Screw 1 at 12:00: tightened 1st. "
        "Screw 2 at 3:00: not tightened yet. Screw 3 at 6:00: tightened 2nd. Screw 4 at 9:00: not tightened yet."
    )
    assert "Bolt a 80\u2009mm left of and 10\u2009mm above the middle" in figures.Picture(FREE).text
    assert "Bolt b in the middle: tightened 1st." in figures.Picture(FREE).text
    root = parsed(ROUND)
    assert any("seen from the heads" in "".join(words.itertext()) for words in root.iter(f"{SVG}text"))


def test_picture_of_a_pattern_has_its_bolts_and_their_order() -> None:
    data = figures.bolts_figure(Pattern.circle(4, 120), ["1", "3"], circle=120.0, noun="screw")
    assert data == ROUND
    assert "circle" not in figures.bolts_figure(Pattern([(0, 0), (40, 0), (80, 0)]))


def test_what_is_tightened_is_told_without_colour() -> None:
    filled = {
        group.get("data-target"): [words.text for words in group.iter(f"{SVG}text")]
        for group in parsed(ROUND).iter(f"{SVG}g")
        if group.find(f"{SVG}polygon[@class='filled']") is not None
    }
    assert filled == {"1": ["1", "1st"], "3": ["3", "2nd"]}


@pytest.mark.parametrize(
    "data",
    [
        {**ROUND, "bolts": []},
        {**ROUND, "circle": 0},
        {**ROUND, "circle": float("nan")},
        {**ROUND, "colour": "red"},
        {**ROUND, "bolts": [{"id": "1", "x": float("inf"), "y": 0}]},
        {**ROUND, "bolts": [{"id": "1", "x": 0}]},
        {**ROUND, "bolts": [{"id": "1", "x": 0, "y": 0, "done": 0}]},
        {**ROUND, "bolts": [{"id": "1", "x": 0, "y": 0}] * 25},
    ],
)
def test_data_that_is_no_picture_is_refused_with_a_remedy(data: dict[str, object]) -> None:
    with pytest.raises(FormError) as caught:
        figures.draw(data)
    assert caught.value.rule
    assert caught.value.remedy


def test_words_from_a_file_are_never_markup() -> None:
    nasty = "<script>alert(1)</script>"
    root = parsed({**FREE, "noun": nasty, "bolts": [{"id": nasty, "x": 1, "y": 2}]})
    assert not list(root.iter(f"{SVG}script"))
