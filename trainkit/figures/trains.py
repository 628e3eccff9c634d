"""Gears that turn each other, laid out side by side, with their senses, marks and holes."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Iterator, Mapping
from html import escape
from itertools import groupby
from typing import TYPE_CHECKING, Any

from trainkit.errors import FormError
from trainkit.figures import layout, numbering
from trainkit.figures.gear import addendum, gear, hole, pin_place, reach, rim, tooth
from trainkit.figures.gearing import GearShown, MeshShown, TrainFigure
from trainkit.figures.shown import checked, degrees, seen
from trainkit.figures.svg import around, element, sheet, text, turning_arrow

if TYPE_CHECKING:
    from trainkit.gears import GearTrain


# The field of the drawing; the parts list stands to the right of it.
_WIDTH, _LIST, _HEIGHT = 400.0, 240.0, 330.0
# A line of the list holds so many letters; a longer name goes on in the next.
_LETTERS, _LINE, _ROW = 20, 18.0, 42.0
# A picture whose gears turn has no list: what turns, stands beside it and changes.
_WIDE, _TALL = 560.0, 430.0


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
    sits = {each.id: (*each.at_mm, each.radius_mm) for each in map(train.gear, wanted) if each.at_mm and each.radius_mm}
    return {
        "draw": "gear-train",
        "seen_from": seen_from,
        "gears": [
            {
                "id": name,
                "name": train.gear(name).title,
                "teeth": train.gear(name).teeth,
                **({"at": list(sits[name])} if len(sits) == len(wanted) else {}),
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
    places = layout.laid_out(figure)
    wide, tall = (_WIDE, _TALL) if figure.to_turn else (_WIDTH, _HEIGHT)
    rows = [] if figure.to_turn else _rows(figure)
    scale, left, top, height = layout.fit(places, wide, tall, rows[-1] if rows else 0.0)
    body: list[str] = []
    at = {name: (left + p.x * scale, top + p.y * scale, p.radius * scale) for name, p in places.items()}
    phases = layout.phases(figure, at) if figure.to_turn else {}
    # What lies farther away comes first, in one plane the larger: what is drawn later covers it.
    order = sorted(figure.gears, key=lambda shown: (places[shown.id].level, -at[shown.id][2]))
    for level, plane in groupby(order, key=lambda shown: places[shown.id].level):
        gears = list(plane)
        # Gears that mesh cross at their tip circles, and neither covers the other.
        body.extend(element("circle", cx=d.x, cy=d.y, r=d.reach, class_="paper") for d in _discs(gears, places, at))
        strands = (mesh for mesh in figure.meshes if mesh.kind in ("chain", "belt"))
        body.extend(_strands(mesh, at) for mesh in strands if places[mesh.driver].level == level)
        for each in gears:
            ring = places[each.id].ring
            if figure.to_turn:
                drawn = _to_turn(each, *at[each.id], phases[each.id], ring)
            else:
                drawn = _gear(each, *at[each.id], ring)
            body.append(element("g", *drawn, data_target=each.id))
    words = {each.id: f"{each.teeth} teeth" if figure.to_turn else "" for each in figure.gears}
    row = [figure.gears.index(each) for each in order]
    taken = [box for each in order for box in _taken(each, *at[each.id], to_turn=figure.to_turn)]
    taken += [box for mesh in figure.meshes if mesh.kind in ("chain", "belt") for box in _along(mesh, at)]
    spots = numbering.labels(_discs(order, places, at), [words[e.id] for e in order], row, taken, wide, height - 24)
    for each, number, label in zip(order, row, spots, strict=True):
        body.extend(numbering.drawn(number + 1, label, words[each.id]))
    for number, each in enumerate(figure.gears, start=1):
        if rows:
            body.extend(_listed(number, each, rows[number - 1]))
    body.append(text(wide / 2, height - 12, seen(figure.seen_from), "quiet"))
    return sheet(wide + (_LIST if rows else 0), height, "Gear train", _words(figure), body, styled=styled)


def _discs(
    gears: Iterable[GearShown], places: Mapping[str, layout.Place], at: Mapping[str, tuple[float, float, float]]
) -> list[numbering.Disc]:
    return [
        numbering.Disc(x, y, far, max(4.0, radius * 0.12), radius - 1.25 * addendum(radius, each.teeth) - 2)
        for each in gears
        for x, y, radius in (at[each.id],)
        for far in (reach(radius, each.teeth, ring=places[each.id].ring),)
    ]


def _taken(shown: GearShown, x: float, y: float, radius: float, *, to_turn: bool) -> Iterator[numbering.Box]:
    """Yield where marks and arrows are drawn on a gear."""
    marks = ((shown.hole, 0.62), (shown.pin, 0.62), (shown.chalk, 0.87), (shown.witness, 1.0))
    for clock, share in marks:
        if clock is not None:
            yield numbering.Box(*around(x, y, share * radius, degrees(clock)), 9, 9)
    if to_turn or shown.turns is not None:
        turns = 0.55 * radius if to_turn else _arrow_at(radius)
        for lean in range(-45, 46, 15):
            yield numbering.Box(*around(x, y, turns, lean), 5, 5)


def _gear(shown: GearShown, x: float, y: float, radius: float, ring: bool) -> list[str]:
    parts = [gear(x, y, radius, shown.teeth, ring=ring), *_marks(shown, x, y, radius)]
    if shown.turns is not None:
        parts.append(turning_arrow(x, y, _arrow_at(radius), shown.turns, middle=0, sweep=80))
    return parts


def _arrow_at(radius: float) -> float:
    return radius * 0.72 if radius >= 20 else radius + 13


def _marks(shown: GearShown, x: float, y: float, radius: float) -> list[str]:
    parts = []
    if shown.hole is not None:
        parts.append(hole(x, y, radius, degrees(shown.hole), pinned=shown.pinned))
    if shown.witness is not None:
        parts.append(tooth(x, y, radius, shown.teeth, degrees(shown.witness)))
    if shown.chalk is not None:
        inner, outer = (around(x, y, share * radius, degrees(shown.chalk)) for share in (0.78, 0.96))
        parts.append(element("line", x1=inner[0], y1=inner[1], x2=outer[0], y2=outer[1], class_="mark"))
    return parts


def _to_turn(shown: GearShown, x: float, y: float, radius: float, phase: float, ring: bool) -> list[str]:
    """Return a gear in parts: what turns with it, what stays, and the arrows of both senses."""
    over = radius + addendum(radius, shown.teeth) + 5
    middle = f"{x:.2f} {y:.2f}"
    arrows = [
        element(
            "g",
            turning_arrow(x, y, radius * 0.55, sense, middle=0, sweep=90),
            data_arrow=sense,
            **({} if shown.turns == sense else {"visibility": "hidden"}),
        )
        for sense in ("clockwise", "anticlockwise")
    ]
    return [
        element(
            "g",
            rim(x, y, radius, shown.teeth, phase, ring=ring),
            element("circle", cx=x, cy=y, r=max(4.0, radius * 0.12), class_="edge"),
            *_marks(shown, x, y, radius),
            data_turns=shown.id,
            data_middle=middle,
        ),
        element("circle", cx=x, cy=y, r=radius, class_="centre"),
        element("line", x1=x - over, y1=y, x2=x + over, y2=y, class_="centre"),
        element("line", x1=x, y1=y - over, x2=x, y2=y + over, class_="centre"),
        "" if shown.pin is None else pin_place(x, y, radius, degrees(shown.pin)),
        *arrows,
    ]


def _lines(shown: GearShown) -> list[str]:
    # The spaces stay, so that the words of a picture are its words.
    return textwrap.wrap(shown.name or shown.id, _LETTERS, drop_whitespace=False)


def _rows(figure: TrainFigure) -> list[float]:
    """Return where each line of the parts list begins, and after them where the list ends."""
    rows = [28.0]
    for each in figure.gears:
        rows.append(rows[-1] + _ROW + _LINE * (len(_lines(each)) - 1))
    return rows


def _listed(number: int, shown: GearShown, row: float) -> list[str]:
    """Return a gear's line of the parts list."""
    start = _WIDTH + 8
    lines = _lines(shown)
    foot = row + _LINE * len(lines)
    return [
        text(start, row, str(number), "strong", "start"),
        _lettered(start + 24, row, lines),
        text(start + 24, foot, f"{shown.teeth} teeth", "", "start", 14),
        text(start + 110, foot, shown.turns, "moving", "start", 14) if shown.turns else "",
    ]


def _lettered(x: float, y: float, lines: list[str]) -> str:
    """Return one text in several lines."""
    spans = (element("tspan", escape(line), x=x, dy=_LINE if place else 0) for place, line in enumerate(lines))
    return element("text", *spans, x=x, y=y, text_anchor="start", class_="strong")


def _tangents(
    mesh: MeshShown, at: Mapping[str, tuple[float, float, float]]
) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    """Yield both outer tangents of two pitch circles."""
    (x0, y0, r0), (x1, y1, r1) = at[mesh.driver], at[mesh.driven]
    way = math.degrees(math.atan2(y1 - y0, x1 - x0)) + 90  # clockwise from up
    lean = math.degrees(math.asin(max(-1.0, min(1.0, (r0 - r1) / math.hypot(x1 - x0, y1 - y0)))))
    for side in (-1, 1):
        angle = way + side * (90 - lean)
        yield around(x0, y0, r0, angle), around(x1, y1, r1, angle)


def _strands(mesh: MeshShown, at: Mapping[str, tuple[float, float, float]]) -> str:
    """Return the two straight strands of a chain or belt."""
    return "".join(element("line", x1=a, y1=b, x2=c, y2=d, class_="edge") for (a, b), (c, d) in _tangents(mesh, at))


def _along(mesh: MeshShown, at: Mapping[str, tuple[float, float, float]]) -> Iterator[numbering.Box]:
    """Yield what the strands cover."""
    for (a, b), (c, d) in _tangents(mesh, at):
        steps = max(1, round(math.hypot(c - a, d - b) / 8))
        for step in range(steps + 1):
            yield numbering.Box(a + (c - a) * step / steps, b + (d - b) * step / steps, 4, 4)


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
