"""Where the gears of a picture sit, and how their teeth stand in each other's spaces."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.figures import shafts

if TYPE_CHECKING:
    from trainkit.figures.gearing import TrainFigure


@dataclass(frozen=True, slots=True)
class Place:
    """Where a gear sits and how large it is, in pitch units (one tooth has the pitch radius 1).

    ``level`` says how near its plane is to the reader; a ``ring`` has its teeth inside.
    """

    x: float
    y: float
    radius: float
    level: int = 0
    ring: bool = False


def laid_out(figure: TrainFigure) -> dict[str, Place]:
    """Place each gear so that what meshes touches and nothing else does.

    Where the picture does not say where every shaft sits in the gear case, what meshes with what is all that it says.
    From the flywheel end the same layout is mirrored.
    """
    stated = [each.at for each in figure.gears if each.at is not None]
    teeth, joints = train_of(figure)
    if len(stated) == len(figure.gears):
        spots = [(x, -up) for x, up, _ in stated]
        radii = [radius for *_, radius in stated]
    else:
        spots, radii = list(shafts.placed(teeth, joints)), [float(each) for each in teeth]
    ring, levels = shafts.rings(teeth, joints), shafts.planes(teeth, joints)
    side = -1 if figure.seen_from == "flywheel" else 1
    return {
        each.id: Place(side * x, y, radius, levels[number], ring=number in ring)
        for number, (each, (x, y), radius) in enumerate(zip(figure.gears, spots, radii, strict=True))
    }


def train_of(figure: TrainFigure) -> tuple[tuple[int, ...], tuple[shafts.Joint, ...]]:
    """Return the teeth of a picture's gears and what joins them, by their places in the row."""
    row = {each.id: number for number, each in enumerate(figure.gears)}
    joints = tuple(shafts.Joint(row[mesh.driver], row[mesh.driven], mesh.kind) for mesh in figure.meshes)
    return tuple(each.teeth for each in figure.gears), joints


def fit(places: Mapping[str, Place], width: float, tall: float, least: float) -> tuple[float, float, float, float]:
    """Return the scale and the shift that bring all gears into the field, and the height of the sheet."""
    left = min(p.x - p.radius for p in places.values())
    right = max(p.x + p.radius for p in places.values())
    top = min(p.y - p.radius for p in places.values())
    bottom = max(p.y + p.radius for p in places.values())
    scale = min((width - 50) / (right - left), (tall - 90) / (bottom - top))
    height = max(least, (bottom - top) * scale + 90)
    return scale, width / 2 - (left + right) / 2 * scale, (height - 30) / 2 - (top + bottom) / 2 * scale, height


def phases(figure: TrainFigure, at: Mapping[str, tuple[float, float, float]]) -> dict[str, float]:
    """Return where a tooth of each gear stands, so that the teeth of gears that mesh stand in each other's spaces."""
    teeth = {each.id: each.teeth for each in figure.gears}
    found: dict[str, float] = {}
    for each in figure.gears:
        waiting = [] if each.id in found else [each.id]
        found.setdefault(each.id, 0.0)
        while waiting:
            here = waiting.pop()
            for mesh in figure.meshes:
                there = {mesh.driver: mesh.driven, mesh.driven: mesh.driver}.get(here)
                if there is None or there in found:
                    continue
                waiting.append(there)
                (x0, y0, _), (x1, y1, _) = at[here], at[there]
                way = math.degrees(math.atan2(y1 - y0, x1 - x0)) + 90  # clockwise from up
                off = found[here] - way
                # A tooth that stands so far clockwise of the line of centres meets a space so far the other way.
                facing = way + 180 - (off * teeth[here] - 180) / teeth[there]
                found[there] = facing if mesh.kind == "external" else 0.0
    return found
