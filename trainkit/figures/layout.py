"""Where the gears of a picture sit, and how their teeth stand in each other's spaces."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainkit.figures.gearing import TrainFigure


@dataclass(frozen=True, slots=True)
class Place:
    """Where a gear sits and how large it is, in pitch units (one tooth has the pitch radius 1)."""

    x: float
    y: float
    radius: float


def laid_out(figure: TrainFigure) -> dict[str, Place]:
    """Place each gear beside the one that it meshes with, so that none covers another.

    Where the picture does not say where every shaft sits in the gear case, what meshes with what is all that it says.
    From the flywheel end the same layout is mirrored.
    """
    places: dict[str, Place] = {}
    rest = {each.id: each for each in figure.gears}
    stated = {each.id: each.at for each in figure.gears if each.at is not None}
    if len(stated) == len(rest):
        places, rest = {name: Place(x, -up, radius) for name, (x, up, radius) in stated.items()}, {}
    while rest:
        first = next(iter(rest))
        edge = max((place.x + place.radius for place in places.values()), default=0.0)
        places[first] = Place(edge + (rest[first].teeth * 1.3 if places else 0.0), 0.0, float(rest[first].teeth))
        del rest[first]
        found = True
        while found:
            found = False
            for mesh in figure.meshes:
                for here, there in ((mesh.driver, mesh.driven), (mesh.driven, mesh.driver)):
                    if here in places and there in rest:
                        places[there] = _beside(places, places[here], rest.pop(there).teeth, mesh.kind)
                        found = True
    if figure.seen_from == "flywheel":
        return {name: Place(-place.x, place.y, place.radius) for name, place in places.items()}
    return places


def _beside(places: Mapping[str, Place], here: Place, teeth: int, kind: str) -> Place:
    radius = float(teeth)
    if kind == "shaft":
        return Place(here.x, here.y, radius)
    if kind == "internal":
        distance = abs(here.radius - radius)
        return Place(here.x + distance, here.y, radius)
    distance = here.radius + radius
    if kind in ("chain", "belt"):
        distance *= 1.35
    others = [place for place in places.values() if place is not here]
    candidates = [
        Place(
            here.x + distance * math.cos(math.radians(angle)), here.y + distance * math.sin(math.radians(angle)), radius
        )
        for angle in (0, -35, 35, -70, 70, -105, 105, -140, 140, 180)
    ]

    def room(place: Place) -> float:
        return min(
            (math.hypot(place.x - o.x, place.y - o.y) - (place.radius + o.radius) for o in others), default=math.inf
        )

    return next((place for place in candidates if room(place) > 0.12 * radius), max(candidates, key=room))


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
