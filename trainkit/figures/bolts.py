"""The bolts of one joint where they sit, seen from their heads, and which of them are tightened already."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field

from trainkit.figures.shown import Name, checked
from trainkit.figures.svg import around, element, polygon, sheet, text
from trainkit.gears import Clock
from trainkit.items.kinds import Token, Value
from trainkit.sentences import noun, opening

if TYPE_CHECKING:
    from trainkit.tightening import Pattern


_WIDTH, _TALLEST = 600.0, 300.0  # the field in which the middles of the heads lie
_HEAD = 17.0
_EDGE = 36.0  # from the middle line of the heads to the edge of the part, and room for the words between
_MARGIN = _HEAD + _EDGE + 14
_SEEN = "seen from the heads"

_Millimetres = Annotated[float, Field(ge=-5000, le=5000)]


class BoltShown(Value):
    """One bolt.

    Parameters
    ----------
    id : str
        What stands on its head.
    x, y : float
        Its place in millimetres, x to the right and y up.
    done : int, optional
        Where it came in the order of tightening, 1 for the first; left out where it is not tightened yet.
    """

    id: Token
    x: _Millimetres
    y: _Millimetres
    done: Annotated[int, Field(ge=1, le=24)] | None = None


class BoltFigure(Value):
    """The bolts of a joint.

    Parameters
    ----------
    bolts : tuple of BoltShown
        One to twenty-four of them, each in a place of its own.
    circle : float, optional
        Diameter of the circle on which they sit, in millimetres, round the point 0, 0.
    noun, nouns : str
        What one of them and several of them are called: bolt and bolts; without ``nouns`` an s is added.
    """

    draw: Literal["bolts"] = "bolts"
    bolts: Annotated[tuple[BoltShown, ...], Field(min_length=1, max_length=24)]
    circle: Annotated[float, Field(gt=0, le=10_000)] | None = None
    noun: Name = "bolt"
    nouns: Name | None = None


def bolts_figure(
    pattern: Pattern, done: Iterable[str] = (), *, circle: float | None = None, noun: str = "bolt", nouns: str = ""
) -> dict[str, Any]:
    """Return the data of a picture of a bolt pattern.

    Parameters
    ----------
    pattern : Pattern
        The bolts and where they sit.
    done : iterable of str, optional
        Names of those tightened already, in their order.
    circle : float, optional
        Diameter of the circle on which they sit, in millimetres.
    noun, nouns : str
        What one of them and several of them are called.

    Examples
    --------
    >>> from trainkit.tightening import Pattern
    >>> bolts_figure(Pattern([(0, 0), (40, 0), (80, 0)]), ["2"])["bolts"][1]
    {'id': '2', 'x': 40.0, 'y': 0.0, 'done': 1}
    """
    order = {name: place for place, name in enumerate(done, start=1)}
    return {
        "draw": "bolts",
        "noun": noun,
        **({"nouns": nouns} if nouns else {}),
        # Adding zero makes a minus zero a plain one.
        "bolts": [
            {
                "id": name,
                "x": round(x, 2) + 0.0,
                "y": round(y, 2) + 0.0,
                **({"done": order[name]} if name in order else {}),
            }
            for name, (x, y) in zip(pattern.names, pattern.points, strict=True)
        ],
        **({} if circle is None else {"circle": circle}),
    }


def draw(data: Mapping[str, Any], *, styled: bool = True) -> tuple[str, str]:
    """Return the picture and the words for it."""
    figure = checked(BoltFigure, data)
    scale, (left, top), height = _fit(figure)
    at = {bolt.id: (left + bolt.x * scale, top - bolt.y * scale) for bolt in figure.bolts}
    body = _part(figure, at, (left, top), scale)
    for bolt in figure.bolts:
        x, y = at[bolt.id]
        label = _outward(figure, x - left, y - top)
        # What can be pointed at stands in a group of its own, under its identifier.
        body.append(element("g", *_head(bolt, x, y, label), data_target=bolt.id))
    body.append(text(_WIDTH / 2, height - 12, _SEEN, "quiet"))
    return sheet(_WIDTH, height, "Bolts of a joint", _words(figure), body, styled=styled)


def _fit(figure: BoltFigure) -> tuple[float, tuple[float, float], float]:
    """Return the scale, where the point 0, 0 lies on the sheet, and the height of the sheet."""
    xs, ys = [bolt.x for bolt in figure.bolts], [bolt.y for bolt in figure.bolts]
    if figure.circle is not None:
        reach = figure.circle / 2
        xs, ys = [*xs, -reach, reach], [*ys, -reach, reach]
    wide, tall = max(xs) - min(xs), max(ys) - min(ys)
    scale = min(
        (_WIDTH - 2 * _MARGIN) / wide if wide else math.inf,
        (_TALLEST - 2 * _HEAD) / tall if tall else math.inf,
    )
    scale = scale if math.isfinite(scale) else 1.0
    height = tall * scale + 2 * _MARGIN + 24
    left = _WIDTH / 2 - (min(xs) + max(xs)) / 2 * scale
    return scale, (left, _MARGIN + max(ys) * scale), height


def _part(
    figure: BoltFigure, at: Mapping[str, tuple[float, float]], middle: tuple[float, float], scale: float
) -> list[str]:
    """Return the outline of the part, and the centre lines on which the bolts sit."""
    x, y = middle
    if figure.circle is not None:
        radius = figure.circle / 2 * scale
        over = radius + _HEAD + _EDGE + 8
        return [
            element("circle", cx=x, cy=y, r=radius + _HEAD + _EDGE, class_="edge"),
            element("circle", cx=x, cy=y, r=radius, class_="centre"),
            element("line", x1=x - over, y1=y, x2=x + over, y2=y, class_="centre"),
            element("line", x1=x, y1=y - over, x2=x, y2=y + over, class_="centre"),
        ]
    xs, ys = [place[0] for place in at.values()], [place[1] for place in at.values()]
    edge = _HEAD + _EDGE
    box = {"x": min(xs) - edge, "y": min(ys) - edge}
    wide, tall = max(xs) - min(xs) + 2 * edge, max(ys) - min(ys) + 2 * edge
    parts = [element("rect", **box, width=wide, height=tall, rx=12, class_="edge")]
    if _is_row(figure):
        parts.append(element("line", x1=min(xs) - edge - 10, y1=y, x2=max(xs) + edge + 10, y2=y, class_="centre"))
    return parts


def _is_row(figure: BoltFigure) -> bool:
    return len(figure.bolts) > 1 and all(bolt.y == 0 for bolt in figure.bolts)


def _outward(figure: BoltFigure, x: float, y: float) -> tuple[float, float]:
    """Return where the small word beside a head stands, seen from its middle: away from the middle of the part."""
    if _is_row(figure) or math.hypot(x, y) < 1:
        return 0.0, -_HEAD - 12
    length = math.hypot(x, y)
    return x / length * (_HEAD + 18), y / length * (_HEAD + 16)


def _head(bolt: BoltShown, x: float, y: float, label: tuple[float, float]) -> list[str]:
    corners = [around(x, y, _HEAD, 60 * corner) for corner in range(6)]
    if bolt.done is None:
        return [polygon(corners, "solid"), text(x, y + 5, bolt.id, "strong")]
    return [
        polygon(corners, "filled"),
        text(x, y + 5, bolt.id, "paper strong"),
        # Lines do not run through words.
        element("rect", x=x + label[0] - 15, y=y + label[1] - 9, width=30, height=18, class_="paper"),
        text(x + label[0], y + label[1] + 5, _ordinal(bolt.done), "quiet", size=13),
    ]


def _ordinal(number: int) -> str:
    """Return a number as a place in an order.

    Examples
    --------
    >>> [_ordinal(number) for number in (1, 2, 3, 4, 11, 22)]
    ['1st', '2nd', '3rd', '4th', '11th', '22nd']
    """
    ending = "th" if 10 < number % 100 < 14 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def _words(figure: BoltFigure) -> str:
    count = len(figure.bolts)
    nouns = noun(count, figure.noun, figure.nouns or "")
    sentences = [f"{count} {nouns}{'' if figure.circle is None else ' on a circle'}, {_SEEN}."]
    for bolt in figure.bolts:
        state = "not tightened yet" if bolt.done is None else f"tightened {_ordinal(bolt.done)}"
        sentences.append(f"{opening(figure.noun)} {bolt.id} {_where(figure, bolt)}: {state}.")
    return " ".join(sentences)


def _where(figure: BoltFigure, bolt: BoltShown) -> str:
    if figure.circle is not None:
        return f"at {Clock.at(math.degrees(math.atan2(bolt.x, bolt.y)))}"
    across = f"{abs(bolt.x):g}\u2009mm {'right' if bolt.x > 0 else 'left'} of" if bolt.x else ""
    upward = f"{abs(bolt.y):g}\u2009mm {'above' if bolt.y > 0 else 'below'}" if bolt.y else ""
    return f"{' and '.join(filter(None, (across, upward))) or 'in'} the middle"
