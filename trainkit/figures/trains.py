"""Gears that turn each other, laid out side by side, with their senses, marks and holes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field

from trainkit.errors import FormError
from trainkit.figures.gear import gear, hole, tooth
from trainkit.figures.shown import At, End, Name, Sense, checked, degrees, seen
from trainkit.figures.svg import around, element, sheet, text, turning_arrow
from trainkit.items.responses import Token, Value

if TYPE_CHECKING:
    from trainkit.gears import GearTrain

__all__ = ["GearShown", "MeshShown", "TrainFigure", "draw", "train_figure"]

# The field of the drawing; the parts list stands to the right of it.
_WIDTH, _LIST, _HEIGHT = 400.0, 240.0, 330.0
_ROW = 42.0


class GearShown(Value):
    """One gear of the picture.

    Parameters
    ----------
    id, name : str
        Identifier, and the words beside it.
    teeth : int
        Number of teeth; sizes are to scale.
    turns : str, optional
        Sense of rotation, drawn as an arrow with its word; left out where it is asked for.
    witness, hole : str, optional
        Clock positions of the witness tooth and of the hole for the lock pin.
    pinned : bool
        Whether the pin is in the hole.
    """

    id: Token
    name: Name = ""
    teeth: Annotated[int, Field(ge=3, le=1000)]
    turns: Sense | None = None
    witness: At | None = None
    hole: At | None = None
    pinned: bool = False


class MeshShown(Value):
    """Two gears that turn each other."""

    driver: Token
    driven: Token
    kind: Literal["external", "internal", "chain", "belt", "shaft"] = "external"


class TrainFigure(Value):
    """A gear train seen from one end."""

    draw: Literal["gear-train"] = "gear-train"
    seen_from: End
    gears: Annotated[tuple[GearShown, ...], Field(min_length=1, max_length=12)]
    meshes: Annotated[tuple[MeshShown, ...], Field(max_length=24)] = ()


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a gear sits and how large it is, in pitch units (one tooth has the pitch radius 1)."""

    x: float
    y: float
    radius: float


def train_figure(
    train: GearTrain,
    *,
    seen_from: str,
    turning: tuple[str, str] | None = None,
    gears: Iterable[str] = (),
) -> dict[str, Any]:
    """Return the data of a picture of a gear train.

    Parameters
    ----------
    train : GearTrain
        The train.
    seen_from : str
        The end it is seen from.
    turning : (str, str), optional
        A gear and its sense of rotation as seen from there; the sense of every other gear follows from the meshes.
    gears : iterable of str, optional
        Identifiers of the gears to show; all of those with teeth by default.

    Examples
    --------
    >>> from trainkit.gears import Gear, GearTrain, Mesh
    >>> train = GearTrain([Gear("crank", 34), Gear("idler", 51)], [Mesh("crank", "idler")])
    >>> figure = train_figure(train, seen_from="front", turning=("crank", "clockwise"))
    >>> figure["gears"][1]["turns"]
    'anticlockwise'
    """
    wanted = list(gears) or [each.id for each in train.gears if each.teeth]
    turned = None
    if turning is not None:
        turned = train.turn(turning[0], 360 if turning[1] == "clockwise" else -360, seen_from)
    return {
        "draw": "gear-train",
        "seen_from": seen_from,
        "gears": [
            {
                "id": name,
                "name": train.gear(name).title,
                "teeth": train.gear(name).teeth,
                **({"turns": turned.sense(name)} if turned is not None else {}),
            }
            for name in wanted
        ],
        "meshes": [
            {"driver": mesh.driver, "driven": mesh.driven, "kind": mesh.kind}
            for mesh in train.meshes
            if mesh.driver in wanted and mesh.driven in wanted
        ],
    }


def draw(data: Mapping[str, Any], *, styled: bool = True) -> tuple[str, str]:
    """Return the picture and the words for it."""
    figure = checked(TrainFigure, data)
    known = {each.id for each in figure.gears}
    for mesh in figure.meshes:
        if not {mesh.driver, mesh.driven} <= known:
            raise FormError(
                f"{mesh.driver}–{mesh.driven}",
                rule="A mesh in a picture joins gears of the picture.",
                remedy="Fetch the module again.",
            )
    places = _laid_out(figure)
    scale, left, top, height = _fit(places, 24 + _ROW * len(figure.gears))
    body: list[str] = []
    at = {name: (left + p.x * scale, top + p.y * scale, p.radius * scale) for name, p in places.items()}
    body.extend(_strands(mesh, at) for mesh in figure.meshes if mesh.kind in ("chain", "belt"))
    # Larger gears first, so that a small one on the same shaft stands before it.
    body.extend(
        element("g", *_gear(each, *at[each.id]), data_target=each.id)
        for each in sorted(figure.gears, key=lambda shown: -at[shown.id][2])
    )
    for number, each in enumerate(figure.gears, start=1):
        body.extend(_numbered(number, each, *at[each.id], row=28 + _ROW * (number - 1)))
    body.append(text(_WIDTH / 2, height - 12, seen(figure.seen_from), "quiet"))
    words = _words(figure)
    return sheet(_WIDTH + _LIST, height, "Gear train", words, body, styled=styled), words


def _gear(shown: GearShown, x: float, y: float, radius: float) -> list[str]:
    parts = [gear(x, y, radius, shown.teeth)]
    if shown.hole is not None:
        parts.append(hole(x, y, radius, degrees(shown.hole), pinned=shown.pinned))
    if shown.witness is not None:
        parts.append(tooth(x, y, radius, shown.teeth, degrees(shown.witness)))
    if shown.turns is not None:
        inside = radius >= 20
        parts.append(turning_arrow(x, y, radius * 0.72 if inside else radius + 13, shown.turns, middle=0, sweep=80))
    return parts


def _numbered(number: int, shown: GearShown, x: float, y: float, radius: float, row: float) -> list[str]:
    """Return the number at the gear and its line of the parts list, as a workshop drawing has them."""
    fits = radius >= 24
    place = (x + 0.34 * radius, y + 0.34 * radius + 6) if fits else (x, y + radius + 26)
    label = [text(*place, str(number), "strong")]
    if fits:
        label.insert(0, element("circle", cx=place[0], cy=place[1] - 5, r=9, class_="paper"))
    start = _WIDTH + 8
    sense = text(start + 110, row + 18, shown.turns, "moving", "start", 14) if shown.turns else ""
    return [
        *label,
        text(start, row, str(number), "strong", "start"),
        text(start + 24, row, shown.name or shown.id, "strong", "start"),
        text(start + 24, row + 18, f"{shown.teeth} teeth", "", "start", 14),
        sense,
    ]


def _laid_out(figure: TrainFigure) -> dict[str, _Place]:
    """Place each gear beside the one that it meshes with, so that none covers another.

    The picture says what meshes with what; where the shafts sit in the gear case it does not say. From the flywheel
    end the same layout is mirrored.
    """
    places: dict[str, _Place] = {}
    rest = {each.id: each for each in figure.gears}
    while rest:
        first = next(iter(rest))
        edge = max((place.x + place.radius for place in places.values()), default=0.0)
        places[first] = _Place(edge + (rest[first].teeth * 1.3 if places else 0.0), 0.0, float(rest[first].teeth))
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
        return {name: _Place(-place.x, place.y, place.radius) for name, place in places.items()}
    return places


def _beside(places: Mapping[str, _Place], here: _Place, teeth: int, kind: str) -> _Place:
    radius = float(teeth)
    if kind == "shaft":
        return _Place(here.x, here.y, radius)
    if kind == "internal":
        distance = abs(here.radius - radius)
        return _Place(here.x + distance, here.y, radius)
    distance = here.radius + radius
    if kind in ("chain", "belt"):
        distance *= 1.35
    others = [place for place in places.values() if place is not here]
    candidates = [
        _Place(
            here.x + distance * math.cos(math.radians(angle)), here.y + distance * math.sin(math.radians(angle)), radius
        )
        for angle in (0, -35, 35, -70, 70, -105, 105, -140, 140, 180)
    ]

    def room(place: _Place) -> float:
        return min(
            (math.hypot(place.x - o.x, place.y - o.y) - (place.radius + o.radius) for o in others), default=math.inf
        )

    return next((place for place in candidates if room(place) > 0.12 * radius), max(candidates, key=room))


def _fit(places: Mapping[str, _Place], least: float) -> tuple[float, float, float, float]:
    """Return the scale and the shift that bring all gears into the field, and the height of the sheet."""
    left = min(p.x - p.radius for p in places.values())
    right = max(p.x + p.radius for p in places.values())
    top = min(p.y - p.radius for p in places.values())
    bottom = max(p.y + p.radius for p in places.values())
    scale = min((_WIDTH - 50) / (right - left), (_HEIGHT - 90) / (bottom - top))
    height = max(least, (bottom - top) * scale + 90)
    return scale, _WIDTH / 2 - (left + right) / 2 * scale, (height - 30) / 2 - (top + bottom) / 2 * scale, height


def _strands(mesh: MeshShown, at: Mapping[str, tuple[float, float, float]]) -> str:
    """Return the two straight strands of a chain or belt: the outer tangents of the two pitch circles."""
    (x0, y0, r0), (x1, y1, r1) = at[mesh.driver], at[mesh.driven]
    way = math.degrees(math.atan2(y1 - y0, x1 - x0)) + 90  # clockwise from up
    lean = math.degrees(math.asin(max(-1.0, min(1.0, (r0 - r1) / math.hypot(x1 - x0, y1 - y0)))))
    lines = []
    for side in (-1, 1):
        angle = way + side * (90 - lean)
        (a, b), (c, d) = around(x0, y0, r0, angle), around(x1, y1, r1, angle)
        lines.append(element("line", x1=a, y1=b, x2=c, y2=d, class_="edge"))
    return "".join(lines)


def _words(figure: TrainFigure) -> str:
    name = {each.id: each.name or each.id for each in figure.gears}
    sentences = [f"A gear train, {seen(figure.seen_from)}."]
    for each in figure.gears:
        facts = [f"{each.teeth} teeth"]
        if each.turns:
            facts.append(f"turns {each.turns}")
        if each.witness:
            facts.append(f"witness tooth at {each.witness}")
        if each.hole:
            facts.append(f"{'pinned ' if each.pinned else ''}hole at {each.hole}")
        sentences.append(f"{name[each.id]}: {', '.join(facts)}.")
    joins = {
        "external": "outside teeth",
        "internal": "inside teeth",
        "chain": "a chain",
        "belt": "a toothed belt",
        "shaft": "the same shaft",
    }
    sentences += [f"{name[m.driver]} and {name[m.driven]} are joined by {joins[m.kind]}." for m in figure.meshes]
    return " ".join(sentences)
