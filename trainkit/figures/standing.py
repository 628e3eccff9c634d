"""Where the gears of a train stand, as numbers: for a picture that moves, which the browser draws."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from trainkit.figures import layout, numbering
from trainkit.figures.gear import reach
from trainkit.figures.gearing import TrainFigure
from trainkit.figures.shown import checked

# Numbers are placed for the smallest screen: on a larger one there is more room between them.
_WIDE, _TALL = 360.0, 330.0


def standing(data: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Return where each gear of a picture sits and where its number stands, by the gear's identifier.

    Places are those of the drawings: to the right and up as seen from the front, in the unit of the layout, in which
    the pitch radius of a gear without a stated size is its number of teeth.

    Parameters
    ----------
    data : mapping
        The data of a picture, as :func:`trainkit.figures.train_figure` gives it.

    Raises
    ------
    FormError
        If they are not the data of such a picture.

    Examples
    --------
    >>> gears = [{"id": "a", "teeth": 40}, {"id": "b", "teeth": 20}]
    >>> found = standing({"seen_from": "front", "gears": gears, "meshes": [{"driver": "a", "driven": "b"}]})
    >>> found["a"]["radius"], found["b"]["radius"]
    (40.0, 20.0)
    """
    figure = checked(TrainFigure, {**data, "seen_from": "front"})
    places = layout.laid_out(figure)
    scale, left, top, height = layout.fit(places, _WIDE, _TALL, 0.0)
    order = sorted(figure.gears, key=lambda shown: (places[shown.id].level, -places[shown.id].radius))
    discs = []
    for shown in order:
        place = places[shown.id]
        x, y, radius = left + place.x * scale, top + place.y * scale, place.radius * scale
        rim = reach(radius, shown.teeth, ring=place.ring)
        # In a ring there is room, but nothing of the ring: its number stands beside it.
        inside = 0.0 if place.ring else radius * 0.72
        discs.append(numbering.Disc(x, y, rim, max(4.0, radius * 0.16), inside))
    row = [figure.gears.index(shown) for shown in order]
    arrows = [box for disc in discs if disc.inside for box in _arrow(disc)]
    spots = numbering.labels(discs, [""] * len(discs), row, arrows, _WIDE, height - 24)
    labels = {shown.id: label for shown, label in zip(order, spots, strict=True)}

    def at(x: float, y: float) -> list[float]:
        return [round((x - left) / scale, 3), round((top - y) / scale, 3)]

    return {
        shown.id: {
            "x": place.x,
            "y": -place.y,
            "radius": place.radius,
            "level": place.level,
            "inside": place.ring,
            "number": {
                "at": at(label.box.x, label.box.y),
                "leader": None if label.leader is None else at(*label.leader),
            },
        }
        for shown in figure.gears
        for place, label in ((places[shown.id], labels[shown.id]),)
    }


def _arrow(disc: numbering.Disc) -> list[numbering.Box]:
    """Return what the arrow on a gear covers: it lies about the top."""
    return [numbering.Box(disc.x + side * disc.inside * 0.4, disc.y - disc.inside * 0.7, 5, 4) for side in (-1, 0, 1)]
