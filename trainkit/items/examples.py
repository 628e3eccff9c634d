"""Joints, threads and wrenches that belong to no engine: drawn for one question, and named so.

A value of a real manual is never varied, so a question that varies its data is about one of these. Torques lie near
what the joint can take and stay below its proof load.

Examples
--------
>>> import random
>>> made = joint(random.Random(1), ("metric",), ("finger-tight", "first", "final"), counts=(4, 6))
>>> made.name, made.count, made.final.torque
('bolts of a cooler', 6, ('21 N·m', '15 lbf·ft'))
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from trainkit.fasteners import Thread, Wrench, proof_load
from trainkit.items.kinds import Given
from trainkit.packs import Fastener, Stage
from trainkit.quantities import Torque, plain, round_to_step

if TYPE_CHECKING:
    from trainkit.packs import Pack


EXAMPLE = "example for this question only"
JOINT = "an example joint"
WRENCH = "an example joint and wrench"
SCREW = "an example part"

NOUNS = ("bolts", "screws", "nuts")
_PLACES = (
    *("a bracket", "a bearing cap", "a belt guard", "a blower", "a cooler", "a coupling", "a cover", "a cross member"),
    *("a damper", "an elbow", "a fan hub", "a filter head", "a flange", "a foot", "a gear case", "a guide", "a heater"),
    *("a housing", "a lever", "a lifting eye", "a manifold", "an oil pump", "an oil sump", "a pipe clamp", "a pulley"),
    *("a reservoir", "a seat", "a sensor plate", "a shield", "a spacer", "a strainer", "a strut", "a support"),
    *("a tensioner", "a thermostat", "a valve cover"),
)
# Threads of the joints, by system; each with a grade in which such fasteners are made.
_THREADS = {
    "metric": (
        *("M6", "M8", "M8x1", "M10", "M10x1.25", "M10x1", "M12", "M12x1.5", "M12x1.25", "M14", "M14x1.5", "M16"),
        "M16x1.5",
    ),
    "inch": (
        *("1/4-20", "1/4-28", "5/16-18", "5/16-24", "3/8-16", "3/8-24", "7/16-14", "7/16-20", "1/2-13", "1/2-20"),
        *("9/16-12", "9/16-18", "5/8-11", "5/8-18"),
    ),
}
_GRADES = {"metric": ("5.8", "8.8", "10.9"), "inch": ("grade 2", "grade 5", "grade 8")}
# Use of the proof load that a final torque makes of a dry thread with K = 0.20: common practice, no source.
_LEAST_USE, _MOST_USE, _NUT_FACTOR = 0.35, 0.7, 0.20
# The first stage as a share of the final one: common practice, no source.
_FIRST = (0.25, 0.3, 0.35, 0.4, 0.45, 0.5)
# Scales of click wrenches by unit: the ends of their upper ends, the grain of both ends, and steps from mark to mark.
_SCALES = {
    "N·m": ((20, 200), 2.0, (0.2, 0.5, 1.0, 2.0)),
    "lbf·ft": ((16, 150), 2.0, (0.2, 0.5, 1.0, 2.0)),
    "lbf·in": ((50, 300), 5.0, (1.0, 2.0, 5.0)),
    "kgf·m": ((2, 20), 0.2, (0.02, 0.05, 0.1, 0.2)),
}
_SHARES = (3, 3, 2, 2)  # how often each unit is drawn
_FEWEST_MARKS, _MOST_MARKS = 40, 200
UNITS = tuple(_SCALES)


def named(name: str) -> Given:
    """Return the line that names an example joint as one."""
    return Given(label="Joint", value=f"{name}, {EXAMPLE}")


def name(rng: random.Random) -> str:
    """Draw what the fasteners of a joint are called."""
    return f"{rng.choice(NOUNS)} of {rng.choice(_PLACES)}"


def systems(pack: Pack) -> tuple[str, ...]:
    """Return the thread systems that an engine has, or both where its pack states none."""
    found = {"metric" if each.thread.lstrip().upper().startswith("M") else "inch" for each in pack.fasteners}
    return tuple(sorted(found)) or ("inch", "metric")


def thread(rng: random.Random, of: Sequence[str]) -> tuple[str, str]:
    """Draw the designation of a thread and a grade for it.

    Parameters
    ----------
    rng : random.Random
        Chooses.
    of : sequence of str
        Thread systems to choose from; see :func:`systems`.
    """
    system = rng.choice(of)
    return rng.choice(_THREADS[system]), rng.choice(_GRADES[system])


@lru_cache(maxsize=256)
def proof(designation: str, grade: str) -> float:
    """Return the proof load of a thread in newtons."""
    return proof_load(designation, grade)


def final_torque(rng: random.Random, designation: str, grade: str) -> Torque:
    """Draw a final torque in N·m that stays well below the proof load of a thread, on a step that sheets print."""
    diameter = Thread(designation).diameter
    value = rng.uniform(_LEAST_USE, _MOST_USE) * proof(designation, grade) * _NUT_FACTOR * diameter / 1000
    return Torque(round_to_step(value, 1.0 if value >= 10 else 0.5), "N·m")


def printed(torque: Torque) -> tuple[str, str]:
    """Return a torque in N·m as a sheet prints it, in two units."""
    other = "lbf·ft" if torque.value >= 20 else "lbf·in"
    return f"{plain(torque.value)} N·m", f"{plain(round_to_step(torque.to(other).value, 1.0))} {other}"


def joint(rng: random.Random, of: Sequence[str], stages: Sequence[str], *, counts: Sequence[int]) -> Fastener:
    """Draw a joint that belongs to no engine.

    Parameters
    ----------
    rng : random.Random
        Draws it.
    of : sequence of str
        Thread systems to choose from.
    stages : sequence of str
        Names of its stages in their order, the last one ``final``; those by hand take no torque.
    counts : sequence of int
        How many fasteners it may have.
    """
    words = name(rng)
    noun = words.partition(" ")[0]
    designation, grade = thread(rng, of)
    final = final_torque(rng, designation, grade)
    torques = {"final": final}
    if "first" in stages:
        share = rng.choice(_FIRST) * final.value
        torques["first"] = Torque(round_to_step(share, 1.0 if share >= 4 else 0.5), "N·m")
    return Fastener(
        id="example",
        name=words,
        one=noun.removesuffix("s"),
        many=noun,
        thread=designation,
        grade=grade,
        count=rng.choice(counts),
        stages=tuple(
            Stage.model_validate({"name": each, "torque": printed(torques[each]) if each in torques else None})
            for each in stages
        ),
    )


def wrench(rng: random.Random, units: Sequence[str] = UNITS) -> Wrench:
    """Draw the scale of a torque wrench that belongs to no workshop.

    Parameters
    ----------
    rng : random.Random
        Draws it.
    units : sequence of str
        Units that its scale may have, of :data:`UNITS`.
    """
    unit = rng.choices(units, [_SHARES[UNITS.index(each)] for each in units])[0]
    return rng.choice(_wrenches(unit))


@lru_cache(maxsize=8)
def _wrenches(unit: str) -> tuple[Wrench, ...]:
    """Return the scales of a unit: the lower end from a tenth to a quarter of the upper one."""
    (least, most), grain, steps = _SCALES[unit]
    found = []
    for times in range(round(least / grain), round(most / grain) + 1):
        high = times * grain
        for low in sorted({max(1, round(share * times)) * grain for share in (0.1, 0.15, 0.2, 0.25)}):
            marks = ((high - low) / step for step in steps)
            found += [
                Wrench(unit, low, high, step)
                for step, many in zip(steps, marks, strict=True)
                if _FEWEST_MARKS <= many <= _MOST_MARKS and abs(low / step - round(low / step)) < 1e-9
            ]
    return tuple(found)
