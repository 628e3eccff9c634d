"""Joints and tools of a random pack: every torque has a wrench that suits it."""

from __future__ import annotations

import json
import random
from typing import Any

from tests.trainkit.random_packs.writing import Document
from trainkit.fasteners import Thread, preload, proof_load
from trainkit.packs import Fastener
from trainkit.quantities import Torque, dual_unit, torque
from trainkit.tightening import Pattern

# Thread and the grades that go with it; invented torques follow from them.
_METRIC = ("M5", "M6", "M8", "M8x1", "M10", "M10x1.25", "M12", "M14x1.5", "M16", "M20")
_INCH = ("1/4-20", "5/16-18", "3/8-16", "7/16-14", "1/2-13", "5/8-18")
_JOINTS = ("cover screws", "flange bolts", "gear nut", "hub screws", "bracket bolts", "union nuts", "strap screws")
# Largest value of the wrenches in N·m; each is usable from a fifth of it.
_WRENCHES = (2.0, 8.0, 25.0, 80.0, 250.0, 800.0, 2500.0)


def joints(rng: random.Random, document: Document) -> None:
    """Fill in one to six joints, and the tools that they and the rest of the work need."""
    names = rng.sample(_JOINTS, rng.randrange(1, 7))
    document["fasteners"] = [_joint(rng, name) for name in names]
    document["tools"] = [
        {"id": "bar", "name": "barring tool", "kind": "bar"},
        {"id": "pin", "name": "lock pin", "kind": "pin"},
        {"id": "spanners", "name": "set of spanners", "kind": "spanner"},
        {"id": "angle-disc", "name": "angle disc", "kind": "angle-gauge"},
        *_wrenches(rng, document["fasteners"]),
    ]
    if rng.random() < 0.4:
        document["tools"].append({"id": "jaw", "name": "jaw adapter", "kind": "adapter", "adapter_length": 60.0})
    for fastener in document["fasteners"]:
        if fastener["pattern"] != "single" and fastener["count"] > 2 and rng.random() < 0.3:
            fastener["order"] = _printed_order(rng, fastener)


def _joint(rng: random.Random, name: str) -> Document:
    inch = rng.random() < 0.25
    thread = rng.choice(_INCH if inch else _METRIC)
    grade = rng.choice(["grade 5", "grade 8"] if inch else ["5.8", "8.8", "10.9"])
    condition = rng.choice(["dry", "dry", "oiled"])
    joint: Document = {"id": name.replace(" ", "-"), "name": name, "thread": thread, "grade": grade}
    joint |= {"condition": condition, **_pattern(rng)}
    full = _torque_at_proof(thread, grade, {"dry": 0.20, "oiled": 0.15}[condition])
    final = full * rng.uniform(0.35, 0.85)
    stages: list[Document] = []
    if rng.random() < 0.4:
        stages.append({"name": rng.choice(["finger-tight", "snug"])})
    if rng.random() < 0.6:
        stages.append({"name": "first", "torque": _printed(rng, final * rng.uniform(0.25, 0.6), inch)})
    if len(stages) > 1 and rng.random() < 0.25:
        stages.append({"name": "final", "angle": float(rng.choice([30, 45, 60, 90]))})
    else:
        stages.append({"name": "final", "torque": _printed(rng, final, inch)})
    joint["stages"] = stages
    return joint


def _pattern(rng: random.Random) -> dict[str, Any]:
    kind = rng.choice(["single", "circle", "circle", "line", "free"])
    count = {"single": rng.choice([1, 1, 2, 4]), "circle": rng.choice([2, 3, 4, 5, 6, 8, 10, 12, 16, 18, 24])}.get(
        kind, rng.randrange(2, 9)
    )
    found: dict[str, Any] = {"count": count, "pattern": kind}
    if kind in ("circle", "line"):
        found["spread_mm"] = float(rng.randrange(20 * count, 30 * count + 100))
    if kind == "free":
        found["at"] = [[float(30 * place), float(rng.randrange(-80, 81))] for place in range(count)]
    return found


def _printed_order(rng: random.Random, joint: Document) -> list[int]:
    """Return an order of the bolts that is as even as any; where all are, one of them by chance."""
    places = Fastener.model_validate_json(json.dumps(joint)).positions
    pattern = Pattern(places)
    if pattern.has_question:
        return [int(bolt) for bolt in pattern.best_order()]
    return rng.sample(range(1, len(places) + 1), len(places))


def _torque_at_proof(thread: str, grade: str, nut_factor: float) -> float:
    unit = Torque(1.0, "N·m")
    return float(proof_load(Thread(thread), grade) / preload(unit, Thread(thread), nut_factor))


def _printed(rng: random.Random, newton_metres: float, inch: bool) -> list[str]:
    """Write a torque in two units, the second converted from the first."""
    small = "lbf·in" if newton_metres < 20 else "lbf·ft"
    first, second = ("N·m", small) if not inch else (small, "N·m")
    if not inch and rng.random() < 0.1:
        second = "kgf·m"
    master = Torque(newton_metres, "N·m").to(first)
    pair = [_rounded(master), ""]
    pair[1] = _rounded(torque(pair[0]).to(second))
    assert dual_unit(pair[0], pair[1]).belongs, pair
    return pair


def _rounded(value: Torque) -> str:
    digits = 2 if value.value < 5 else 1 if value.value < 20 else 0
    return f"{value.value:.{digits}f} {value.unit}"


def _wrenches(rng: random.Random, fasteners: list[Document]) -> list[Document]:
    wanted = sorted({wrench_for(stage) for joint in fasteners for stage in joint["stages"] if "torque" in stage})
    found = []
    for most in wanted:
        wrench: Document = {"id": _id(most), "name": f"torque wrench to {most:g} N·m", "kind": "torque-wrench"}
        wrench |= {"unit": "N·m", "low": most / 5, "high": most, "step": most / 100}
        if rng.random() < 0.7:
            wrench["length"] = float(rng.randrange(200, 900))
        found.append(wrench)
    return found


def wrench_for(stage: Document) -> float:
    """Return the largest value of the wrench that suits a stage."""
    value = torque(stage["torque"][0]).to("N·m").value
    return next(most for most in _WRENCHES if value <= most * 0.95)


def tool_for(stage: Document) -> str:
    """Return the identifier of the tool by which a stage is reached."""
    return _id(wrench_for(stage)) if "torque" in stage else "angle-disc" if "angle" in stage else "spanners"


def _id(most: float) -> str:
    return f"wrench-{most:g}"
