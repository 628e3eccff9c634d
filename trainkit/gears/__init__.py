"""Gear trains, the end they are seen from, clock positions, lash and the barring tool.

Every direction carries a viewpoint: ``"front"`` (the free end) or ``"flywheel"``. A positive angle is clockwise as
seen from the stated viewpoint. Signs come from the meshes and the viewpoint, never from a table of sentences.

The names live in modules of their own: :mod:`~trainkit.gears.viewpoints` (senses and ends),
:mod:`~trainkit.gears.clocks` (clock positions), :mod:`~trainkit.gears.parts` (gears and meshes),
:mod:`~trainkit.gears.train` (turning), :mod:`~trainkit.gears.paths` (working and lash along a path),
:mod:`~trainkit.gears.marks` (when marks line up again) and :mod:`~trainkit.gears.barring` (turns of the tool, what
the hand feels).

Limits: rigid gears on parallel axes with fixed centres. Planetary gears, slipping belts and shafts that twist are
outside the model.

Examples
--------
>>> train = GearTrain(
...     gears=[Gear("crank", 34), Gear("idler", 51), Gear("cam", 68)],
...     meshes=[Mesh("crank", "idler", "external"), Mesh("idler", "cam", "external")],
... )
>>> turning = train.turn("crank", 90, seen_from="front")
>>> turning.degrees("cam"), turning.sense("idler"), turning.sense("idler", seen_from="flywheel")
(45.0, 'anticlockwise', 'clockwise')
"""

from __future__ import annotations

from trainkit.gears.barring import Barring, ToolTurn
from trainkit.gears.clocks import Clock
from trainkit.gears.marks import hole_interval, lcm_turns, least_common_multiple
from trainkit.gears.parts import KINDS, Gear, Mesh, MeshKind, faults
from trainkit.gears.paths import Leg, Path, backlash_degrees
from trainkit.gears.train import GearTrain, Turning
from trainkit.gears.viewpoints import VIEWPOINTS, Sense, Viewpoint, other_end, other_sense, seen, sense_of, signed

__all__ = [
    "KINDS",
    "VIEWPOINTS",
    "Barring",
    "Clock",
    "Gear",
    "GearTrain",
    "Leg",
    "Mesh",
    "MeshKind",
    "Path",
    "Sense",
    "ToolTurn",
    "Turning",
    "Viewpoint",
    "backlash_degrees",
    "faults",
    "hole_interval",
    "lcm_turns",
    "least_common_multiple",
    "other_end",
    "other_sense",
    "seen",
    "sense_of",
    "signed",
]
