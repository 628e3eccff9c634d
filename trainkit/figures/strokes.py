"""The strokes of every cylinder over two crank turns, with their dead centres: a filled triangle is compression."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from trainkit.figures.shown import checked
from trainkit.figures.svg import element, num, polygon, sheet, text
from trainkit.items.kinds import Value

_WIDTH, _LEFT, _TOP, _ROW = 700.0, 76.0, 46.0, 30.0
_LONG = _WIDTH - _LEFT - 20
_CYCLE = 720.0
_STROKES = ("power", "exhaust", "intake", "compression")
_Degrees = Annotated[float, Field(ge=0, lt=_CYCLE)]


class CylinderShown(Value):
    """One cylinder.

    Parameters
    ----------
    number : int
        What it is called.
    fires_at : float
        Crank degrees at which it stands on compression, 0 to just under 720.
    """

    number: Annotated[int, Field(ge=1, le=24)]
    fires_at: _Degrees


class StrokesFigure(Value):
    """Two crank turns of an engine.

    Parameters
    ----------
    cylinders : tuple of CylinderShown
        In the order in which they are drawn.
    at : float, optional
        Crank degrees at which a line is drawn through all of them.
    marked : int, optional
        The cylinder whose number is drawn strong.
    """

    draw: Literal["strokes"] = "strokes"
    cylinders: Annotated[tuple[CylinderShown, ...], Field(min_length=1, max_length=24)]
    at: _Degrees | None = None
    marked: int | None = None


def draw(data: Mapping[str, Any], *, styled: bool = True) -> tuple[str, str]:
    """Return the picture and the words for it."""
    figure = checked(StrokesFigure, data)
    low = _TOP + len(figure.cylinders) * _ROW
    body = []
    for angle in range(0, 721, 90):
        body.append(element("line", x1=_at(angle), y1=_TOP - 8, x2=_at(angle), y2=_TOP, class_="thin"))
        body.append(text(_at(angle), _TOP - 14, f"{angle}°", "quiet", size=13))
    for row, cylinder in enumerate(figure.cylinders):
        body.extend(_row(cylinder, _TOP + row * _ROW, strong=cylinder.number == figure.marked))
    if figure.at is not None:
        body.append(element("line", x1=_at(figure.at), y1=_TOP - 10, x2=_at(figure.at), y2=low + 4, class_="moves"))
    body += [_triangle(_LEFT + 8, low + 27, filled=True), text(_LEFT + 22, low + 27, "compression", "quiet", "start")]
    body += [_triangle(_LEFT + 158, low + 27, filled=False), text(_LEFT + 172, low + 27, "exhaust", "quiet", "start")]
    return sheet(_WIDTH, low + 40, "Strokes of each cylinder", _words(figure), body, styled=styled)


def _at(angle: float) -> float:
    return _LEFT + angle / _CYCLE * _LONG


def _row(cylinder: CylinderShown, top: float, *, strong: bool) -> list[str]:
    name = f"cyl. {cylinder.number}"
    found = [text(_LEFT - 12, top + 20, name, "strong" if strong else "quiet", "end")]
    for place, stroke in enumerate(_STROKES):
        for again in (-_CYCLE, 0.0):
            begins = cylinder.fires_at + place * 180 + again
            start, end = max(0.0, begins), min(_CYCLE, begins + 180)
            if end <= start:
                continue
            wide = _at(end) - _at(start)
            found.append(element("rect", x=_at(start), y=top + 2, width=wide, height=_ROW - 4, class_="rim"))
            if wide > 100:
                found.append(text(_at((start + end) / 2), top + 20, stroke, size=13))
    for centre, filled in ((cylinder.fires_at, True), ((cylinder.fires_at + 360) % _CYCLE, False)):
        found += [
            _triangle(_at(angle), top + _ROW - 6, filled=filled) for angle in ([centre] if centre else [0, _CYCLE])
        ]
    return found


def _triangle(x: float, foot: float, *, filled: bool) -> str:
    return polygon(((x - 7, foot), (x + 7, foot), (x, foot - 13)), "filled" if filled else "solid")


def _words(figure: StrokesFigure) -> str:
    sentences = ["Two crank turns, 720°; each stroke takes 180°: power, exhaust, intake, compression."]
    for cylinder in figure.cylinders:
        other = (cylinder.fires_at + 360) % _CYCLE
        sentences.append(
            f"Cylinder {cylinder.number}: compression dead centre at {num(cylinder.fires_at)}°, "
            f"exhaust dead centre at {num(other)}°."
        )
    if figure.at is not None:
        sentences.append(f"A line at {num(figure.at)}°.")
    return " ".join(sentences)
