"""The parts of a job as an exploded drawing: each joint along its own axis, what comes off first farthest out.

Shapes are those of the trade for the sort of thing: ring, plate, body, bolt, pin, bar, strap, tray. A number stands
beside each; the list that goes with the picture names them. A piece stands in a group ``data-piece``, drawn where it
sits when it is on; ``data-off`` says how far it lies from there when it is off.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from trainkit.figures.shown import Name, checked
from trainkit.figures.svg import element, num, polygon, sheet, text
from trainkit.items.kinds import Value
from trainkit.sentences import counted

Sort = Literal["body", "ring", "plate", "cover", "several", "bolt", "pin", "bar", "strap", "tray"]
_Name40 = Annotated[str, Field(min_length=1, max_length=80)]

_WIDE = 560.0
_SHORT = 3  # an axis with so many pieces or fewer shares its row with another one
_ROW, _TALL_ROW = 104.0, 164.0
_DROP = 0.22  # so much an axis comes down for what it goes to the left
_CLOSE, _STEP = 14.0, 62.0  # from piece to piece on the axis: put together, and apart
_BALLOON = 11.0
_LEAN = (-0.55, 0.4)  # where the sides of a body lead, towards the reader


class PieceShown(Value):
    """One piece: its identifier, name, sort and count, and whether it is on."""

    id: _Name40
    name: Name
    sort: Sort
    count: Annotated[int, Field(ge=1, le=200)] = 1
    on: bool = True


class PartsFigure(Value):
    """The pieces of a job, axis by axis, each from the inside out."""

    draw: Literal["parts"] = "parts"
    axes: Annotated[
        tuple[Annotated[tuple[PieceShown, ...], Field(min_length=1, max_length=60)], ...], Field(max_length=60)
    ]


def draw(data: Mapping[str, Any], *, styled: bool = True) -> tuple[str, str]:
    """Return the picture and the words for it."""
    figure = checked(PartsFigure, data)
    body: list[str] = []
    number = 0
    top = 8.0
    for share, row in _rows(figure):
        tall = _TALL_ROW if share == 1 else _ROW
        for place, axis in enumerate(row):
            body.extend(_axis(axis, (place * _WIDE / share, top), (_WIDE / share, tall), number))
            number += len(axis)
        top += tall
    return sheet(_WIDE, top + 8, "The parts of the job", _words(figure), body, styled=styled)


def _rows(figure: PartsFigure) -> list[tuple[int, list[tuple[PieceShown, ...]]]]:
    """Return the axes row by row, each row with how many have room beside each other."""
    rows: list[tuple[int, list[tuple[PieceShown, ...]]]] = []
    for axis in figure.axes:
        share = 4 if len(axis) == 1 else 2 if len(axis) <= _SHORT else 1
        if not rows or rows[-1][0] != share or len(rows[-1][1]) == share:
            rows.append((share, []))
        rows[-1][1].append(axis)
    return rows


def _axis(
    axis: tuple[PieceShown, ...], corner: tuple[float, float], size: tuple[float, float], number: int
) -> list[str]:
    """Return the patch of the engine that an axis leads to, its line, and the pieces from the inside out."""
    wall = (corner[0] + size[0] - 44, corner[1] + (52 if len(axis) > _SHORT else 38))
    apart = min(_STEP, (size[0] - (130 if len(axis) > 1 else 100)) / len(axis))
    drop = min(_DROP, (size[1] - 84) / max(apart * len(axis), 1))
    end = (wall[0] - apart * len(axis) - 34, wall[1] + drop * (apart * len(axis) + 34))
    made = [
        *_block(*wall, 46, 46, "thin"),
        element("line", x1=wall[0], y1=wall[1], x2=end[0], y2=end[1], class_="centre"),
    ]
    # What is nearer to the reader is drawn later; it lies farther out.
    for place, piece in enumerate(axis, start=1):
        close, far = _CLOSE * place, apart * place + 8
        x, y = wall[0] - close, wall[1] + drop * close
        off = (close - far, drop * (far - close))
        drawn = _piece(piece, x, y, number + place, below=bool(place % 2))
        moved = {} if piece.on else {"transform": f"translate({num(off[0])} {num(off[1])})"}
        made.append(element("g", *drawn, data_piece=piece.id, data_off=f"{num(off[0])} {num(off[1])}", **moved))
    return made


def _piece(piece: PieceShown, x: float, y: float, number: int, *, below: bool) -> list[str]:
    shapes, reach = _SHAPES[piece.sort](x, y, piece.count)
    away = (reach + _BALLOON + 5) * (1 if below else -1)
    return [
        *shapes,
        element("line", x1=x, y1=y + (reach if below else -reach), x2=x, y2=y + away, class_="thin"),
        element("circle", cx=x, cy=y + away, r=_BALLOON, class_="rim"),
        text(x, y + away + 5, str(number), "strong", size=14),
    ]


def _block(x: float, y: float, wide: float, tall: float, kind: str = "rim", deep: float = 10) -> list[str]:
    """Return a plate in oblique view, its face towards the reader."""
    left, top = x - wide / 2, y - tall / 2
    dx, dy = -_LEAN[0] * deep, -_LEAN[1] * deep
    side = [
        (left + wide, top),
        (left + wide + dx, top + dy),
        (left + wide + dx, top + tall + dy),
        (left + wide, top + tall),
    ]
    roof = [(left, top), (left + dx, top + dy), (left + wide + dx, top + dy), (left + wide, top)]
    return [
        polygon(side, "rim shade"),
        polygon(roof, "rim"),
        element("rect", x=left, y=top, width=wide, height=tall, rx=3, class_="rim" if kind == "rim" else "rim metal"),
    ]


def _disc(x: float, y: float, radius: float, deep: float = 8, kind: str = "rim metal") -> list[str]:
    """Return a disc in oblique view."""
    dx, dy = -_LEAN[0] * deep, -_LEAN[1] * deep
    out = f"l {num(dx)} {num(dy)} A {num(radius)} {num(radius)} 0 0 1 "
    hull = f"M {num(x - radius * 0.6)} {num(y - radius * 0.8)} {out}"
    hull += f"{num(x + dx + radius * 0.6)} {num(y + dy + radius * 0.8)} l {num(-dx)} {num(-dy)} Z"
    return [element("path", d=hull, class_="rim shade"), element("circle", cx=x, cy=y, r=radius, class_=kind)]


_Drawn = tuple[list[str], float]


def _ring(x: float, y: float, _: int) -> _Drawn:
    whole = f"M {num(x - 17)} {num(y)} a 17 17 0 1 0 34 0 a 17 17 0 1 0 -34 0 Z "
    whole += f"M {num(x - 11)} {num(y)} a 11 11 0 1 1 22 0 a 11 11 0 1 1 -22 0 Z"
    return [element("path", d=whole, class_="filled", fill_rule="evenodd")], 17


def _plate(x: float, y: float, _: int) -> _Drawn:
    tab = polygon([(x - 5, y - 14), (x - 9, y - 22), (x + 3, y - 22), (x + 7, y - 14)], "rim shade")
    holes = [element("circle", cx=x + at, cy=y, r=4, class_="rim deep") for at in (-8, 8)]
    return [tab, *_block(x, y, 34, 28, deep=4), *holes], 20


def _cover(x: float, y: float, _: int) -> _Drawn:
    holes = [element("circle", cx=x + a, cy=y + b, r=2.6, class_="rim deep") for a in (-16, 16) for b in (-14, 14)]
    return [
        *_block(x, y, 44, 40, "metal", 7),
        *holes,
        element("rect", x=x - 10, y=y - 8, width=20, height=16, rx=3, class_="rim"),
    ], 21


def _body(x: float, y: float, _: int) -> _Drawn:
    holes = [
        element("circle", cx=x + a, cy=y + b, r=2.8, class_="rim deep")
        for a, b in ((0, -20), (20, 0), (0, 20), (-20, 0))
    ]
    barrel = [
        *_disc(x - 6, y + 4, 14, 12),
        *_disc(x - 14, y + 9, 8, 12),
        element("circle", cx=x - 14, cy=y + 9, r=2, class_="filled"),
    ]
    return [*_disc(x, y, 27, 10), *holes, *barrel], 27


def _several(x: float, y: float, count: int) -> _Drawn:
    some = min(count, 4)
    return [part for at in range(some) for part in _disc(x + 7 * (some - 1) / 2 - 7 * at, y + 3 * at, 12, 5)], 18


def _bolt(x: float, y: float, count: int) -> _Drawn:
    some = 1 if count == 1 else 2 if count < 4 else 3
    made: list[str] = []
    for at in range(some):
        mx, my = x + 4, y + (at - (some - 1) / 2) * 17
        made.append(polygon([(mx, my - 3), (mx + 16, my - 6.5), (mx + 16, my - 0.5), (mx, my + 3)], "rim shade"))
        head = [(mx + a, my + b) for a, b in ((-7, 0), (-3.5, -6.5), (3.5, -6.5), (7, 0), (3.5, 6.5), (-3.5, 6.5))]
        made.append(polygon(head, "rim metal"))
    return made, 8 + 9.0 * (some - 1)


def _pin(x: float, y: float, _: int) -> _Drawn:
    rod = polygon([(x, y - 4), (x + 26, y - 10), (x + 26, y - 2), (x, y + 4)], "rim metal")
    return [rod, *_disc(x, y, 9, 6)], 12


def _bar(x: float, y: float, _: int) -> _Drawn:
    handle = polygon([(x - 3, y + 2), (x - 34, y + 22), (x - 30, y + 27), (x + 2, y + 7)], "rim shade")
    return [handle, *_disc(x, y, 12, 8), element("circle", cx=x, cy=y, r=4, class_="rim deep")], 14


def _strap(x: float, y: float, _: int) -> _Drawn:
    loop = element(
        "path", d=f"M {num(x - 14)} {num(y + 14)} L {num(x)} {num(y - 12)} L {num(x + 14)} {num(y + 14)}", class_="mark"
    )
    hook = element("path", d=f"M {num(x)} {num(y - 22)} v 10", class_="mark")
    return [hook, loop, element("circle", cx=x, cy=y - 14, r=4, class_="rim")], 24


def _tray(x: float, y: float, _: int) -> _Drawn:
    return [
        polygon([(x - 20, y - 6), (x + 12, y - 6), (x + 20, y - 13), (x - 12, y - 13)], "rim deep"),
        polygon([(x - 20, y - 6), (x + 12, y - 6), (x + 9, y + 10), (x - 17, y + 10)], "rim metal"),
        polygon([(x + 12, y - 6), (x + 20, y - 13), (x + 17, y + 3), (x + 9, y + 10)], "rim shade"),
    ], 15


_SHAPES = {
    "body": _body,
    "ring": _ring,
    "plate": _plate,
    "cover": _cover,
    "several": _several,
    "bolt": _bolt,
    "pin": _pin,
    "bar": _bar,
    "strap": _strap,
    "tray": _tray,
}


def _words(figure: PartsFigure) -> str:
    pieces = [piece for axis in figure.axes for piece in axis]
    there = f"{counted(len(pieces), 'piece')} on {counted(len(figure.axes), 'axis', 'axes')}, drawn apart."
    named = [f"{place}: {piece.name}, {'on' if piece.on else 'off'}." for place, piece in enumerate(pieces, start=1)]
    return " ".join((there, *named))
