"""A torque wrench with an adapter, its lever from grip to bolt, and the setting on its scale."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from trainkit.figures.shown import Name, checked
from trainkit.figures.svg import arc, around, arrowhead, element, num, polygon, sheet, text
from trainkit.items.kinds import Value
from trainkit.quantities import THIN, plain

_WIDTH, _ROOM, _LEFT = 640.0, 540.0, 54.0
_BOLT, _TOP = 15.0, 44.0
_FINGER = 26.0  # radius of the unseen disc by which something is dragged
_DIMENSIONS, _SCALE = 104.0, 92.0  # room below the wrench for the dimension lines, and below them for the scale

_Millimetres = Annotated[float, Field(ge=0, le=5000)]
_Torque = Annotated[float, Field(ge=0, le=1_000_000)]


class LeverFigure(Value):
    """A wrench with its adapter, seen from the head of the bolt.

    Parameters
    ----------
    length, adapter : float
        From the middle of the grip to the drive, and from the drive to the middle of the bolt, in millimetres.
    angle : float
        Degrees between the adapter and the line of the wrench: 0 straight on, 180 back along the wrench.
    longest : (float, float)
        The greatest lengths that the picture has room for: two pictures with the same have the same scale.
    unit, low, high : str, float
        The scale of the wrench.
    setting : float, optional
        What it is set to; left out where no setting is right.
    """

    draw: Literal["wrench"] = "wrench"
    length: _Millimetres
    adapter: _Millimetres
    angle: Annotated[float, Field(ge=0, le=180)] = 0.0
    longest: tuple[_Millimetres, _Millimetres]
    unit: Name
    low: _Torque
    high: _Torque
    setting: _Torque | None = None


def draw(data: Mapping[str, Any], *, styled: bool = True) -> tuple[str, str]:
    """Return the picture and the words for it."""
    figure = checked(LeverFigure, data)
    scale = _ROOM / max(sum(figure.longest), 1.0)
    x, y = _LEFT + figure.longest[0] * scale, _TOP + figure.longest[1] * scale
    grip = x - figure.length * scale
    bolt = around(x, y, figure.adapter * scale, 90 - figure.angle)
    height = y + _DIMENSIONS + _SCALE
    body = [
        element("line", x1=_LEFT - 30, y1=y, x2=_WIDTH - 24, y2=y, class_="centre"),
        *_angle(figure, x, y),
        *_adapter(figure, (x, y), bolt),
        *[
            element("rect", x=grip, y=y - 6, width=max(x - grip, 0), height=12, class_="solid"),
            element("rect", x=x - 13, y=y - 13, width=26, height=26, rx=4, class_="solid"),
            element("rect", x=x - 6, y=y - 6, width=12, height=12, class_="filled"),
            element(
                "g",
                element("circle", cx=grip, cy=y, r=_FINGER, class_="unseen"),
                element("rect", x=grip - 40, y=y - 11, width=80, height=22, rx=9, class_="accent"),
                element("line", x1=grip, y1=y + 30, x2=grip, y2=y - 28, class_="moves"),
                arrowhead(grip, y - 28, 0),
                data_drag="grip",
            ),
        ],
        *_dimensions(figure, grip, x, bolt, y),
        *_scale(figure, y + _DIMENSIONS + 30),
    ]
    # By these a control turns the place of a pointer into millimetres and degrees.
    placed = element("g", *body, data_drive=f"{num(x)} {num(y)}", data_scale=f"{scale:.6g}")
    return sheet(_WIDTH, height, "Torque wrench with adapter", _words(figure), [placed], styled=styled)


def _adapter(figure: LeverFigure, drive: tuple[float, float], bolt: tuple[float, float]) -> list[str]:
    x1, y1 = bolt
    way = 90 - figure.angle
    corners = [around(*end, 9, way + side) for end, sides in ((drive, (-90, 90)), (bolt, (90, -90))) for side in sides]
    return [
        polygon(corners, "solid") if figure.adapter else "",
        element(
            "g",
            element("circle", cx=x1, cy=y1, r=_FINGER, class_="unseen"),
            element("circle", cx=x1, cy=y1, r=_BOLT + 8, class_="accent"),
            polygon([around(x1, y1, _BOLT, 60 * corner) for corner in range(6)], "solid"),
            data_drag="bolt",
        ),
    ]


def _angle(figure: LeverFigure, x: float, y: float) -> list[str]:
    if not figure.angle:
        return []
    return [
        arc(x, y, 44, 90 - figure.angle, 90, "thin"),
        text(x + 24, y + 34, f"angle {figure.angle:g}°", "strong", "start"),
    ]


def _dimensions(figure: LeverFigure, grip: float, x: float, bolt: tuple[float, float], y: float) -> list[str]:
    """Return the dimension lines: the wrench, the adapter along it, and the whole lever."""
    lever = figure.length + (0.0 if figure.angle == 90 else figure.adapter * math.cos(math.radians(figure.angle)))
    one, two = y + 46, y + 84
    parts = [
        *(element("line", x1=at, y1=y + 14, x2=at, y2=two + 6, class_="thin") for at in (grip, bolt[0])),
        element("line", x1=x, y1=y + 14, x2=x, y2=one + 6, class_="thin"),
        *_measure(grip, x, one, f"L = {plain(round(figure.length, 1))}{THIN}mm"),
        *_measure(grip, bolt[0], two, f"lever {plain(round(lever, 1))}{THIN}mm" if lever > 0 else "no lever is left"),
    ]
    words = f"A = {plain(round(figure.adapter, 1))}{THIN}mm"
    return [*parts, text(bolt[0], bolt[1] - _BOLT - 16, words, "", size=14)]


def _measure(start: float, end: float, y: float, words: str) -> list[str]:
    left, right = min(start, end), max(start, end)
    heads = (
        f"M {num(at + inward)} {num(y - 4)} L {num(at)} {num(y)} L {num(at + inward)} {num(y + 4)}"
        for at, inward in ((left, 9), (right, -9))
    )
    return [
        element("line", x1=left, y1=y, x2=right, y2=y, class_="thin"),
        *(element("path", d=head, class_="thin") for head in heads),
        text((left + right) / 2, y - 6, words, "", size=14),
    ]


def _scale(figure: LeverFigure, y: float) -> list[str]:
    """Return the scale of the wrench, and what it is set to."""

    def at(value: float) -> float:
        return 90 + (value - figure.low) / (figure.high - figure.low) * 460 if figure.high > figure.low else 90

    parts = [element("line", x1=at(figure.low), y1=y, x2=at(figure.high), y2=y, class_="edge")]
    for tick in range(11):
        place = at(figure.low + (figure.high - figure.low) * tick / 10)
        parts.append(element("line", x1=place, y1=y, x2=place, y2=y + (8 if tick % 5 else 14), class_="thin"))
    numbered = (figure.low, (figure.low + figure.high) / 2, figure.high)
    parts += [text(at(value), y + 30, plain(value), "quiet") for value in numbered]
    parts.append(text(at(figure.high) + 26, y + 5, figure.unit, "quiet", "start"))
    if figure.setting is None or not figure.low <= figure.setting <= figure.high:
        return [*parts, text(320, y - 14, "not on this scale", "strong caution")]
    x = at(figure.setting)
    return [
        *parts,
        polygon([(x, y - 2), (x - 9, y - 20), (x + 9, y - 20)], "accent"),
        text(max(150.0, min(x, 490.0)), y - 26, f"set {plain(figure.setting)}{THIN}{figure.unit}", "strong"),
    ]


def _words(figure: LeverFigure) -> str:
    angle = "straight on" if figure.angle == 0 else f"at {plain(figure.angle)}° to the line of the wrench"
    set_to = (
        "no mark of the scale is right" if figure.setting is None else f"set to {plain(figure.setting)} {figure.unit}"
    )
    return (
        f"A torque wrench, {plain(figure.length)} mm from the middle of its grip to its drive, "
        f"with an adapter of {plain(figure.adapter)} mm, {angle}. "
        f"Its scale goes from {plain(figure.low)} to {plain(figure.high)} {figure.unit}; {set_to}."
    )
