"""Two answers in one picture: the one that was given and the right one, told apart by shape and word.

They are laid over a picture that is drawn already, round what can be pointed to, or drawn as two hands of one scale.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Collection, Sequence

from trainkit.figures.svg import around, element, sheet, text

YOURS, RIGHT = "your answer", "right"
_SVG = "{http://www.w3.org/2000/svg}"
_GAP = 6.0
_Ring = tuple[float, float, float]


def pointed(svg: str, yours: str, right: Collection[str]) -> str:
    """Return a picture with the place that was pointed to, and the right ones.

    Parameters
    ----------
    svg : str
        The picture; what can be pointed to stands in groups with ``data-target``.
    yours : str
        What was pointed to; nothing where it is empty or not on the picture.
    right : collection of str
        All right places.

    Examples
    --------
    >>> from trainkit.figures import draw
    >>> bolts = [{"id": "1", "x": 0, "y": 0}, {"id": "2", "x": 60, "y": 0}]
    >>> both = pointed(draw({"draw": "bolts", "bolts": bolts}), "1", ["2"])
    >>> both.count("compared-yours"), both.count("compared-right")
    (1, 1)
    """
    places = _places(svg)
    # The picture is drawn by this package, from values that were checked.
    _, _, wide, tall = (float(each) for each in ET.fromstring(svg).get("viewBox", "0 0 0 0").split())  # noqa: S314
    marks = [_mark(places[name], RIGHT, (wide, tall)) for name in right if name in places]
    if yours in places and yours not in right:
        marks.append(_mark(places[yours], YOURS, (wide, tall)))
    return svg.removesuffix("</svg>") + "".join(marks) + "</svg>"


def _places(svg: str) -> dict[str, _Ring]:
    """Return the middle and the reach of everything that can be pointed to."""
    found = {}
    for group in ET.fromstring(svg).iter(f"{_SVG}g"):  # noqa: S314 - as above
        name = group.get("data-target")
        corners = [corner for shape in group.iter() for corner in _corners(shape)]
        if name is None or not corners:
            continue
        xs, ys = zip(*corners, strict=True)
        wide, tall = max(xs) - min(xs), max(ys) - min(ys)
        found[name] = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, max(wide, tall) / 2)
    return found


def _corners(shape: ET.Element) -> Sequence[tuple[float, float]]:
    if shape.tag == f"{_SVG}circle":
        x, y, r = (float(shape.get(name, "0")) for name in ("cx", "cy", "r"))
        return (x - r, y - r), (x + r, y + r)
    if shape.tag == f"{_SVG}polygon":
        pairs = (pair.split(",") for pair in shape.get("points", "").split())
        return [(float(x), float(y)) for x, y in pairs]
    return ()


def _mark(ring: _Ring, word: str, size: tuple[float, float]) -> str:
    x, y, reach = ring
    radius = reach + _GAP
    # The right one has two whole rings and a tick, the given one a broken ring and a cross.
    if word == RIGHT:
        rings = [element("circle", cx=x, cy=y, r=each, class_="compared") for each in (radius, radius + 4)]
    else:
        rings = [element("circle", cx=x, cy=y, r=radius, class_="compared broken")]
    below = y + radius + 22
    at = below if below < size[1] - 4 else y - radius - 12
    wide = 4.2 * len(word) + 14
    kind = "compared-right" if word == RIGHT else "compared-yours"
    return element("g", *rings, _sign(min(max(x, wide), size[0] - wide), at, word), class_=kind)


def _sign(x: float, y: float, word: str) -> str:
    return text(x, y, f"{'✓' if word == RIGHT else '✗'} {word}", "strong")


def hands(low: float, high: float, yours: float | None, right: float, words: tuple[str, str], *, clock: bool) -> str:
    """Return a scale with the value that was set and the right one.

    Parameters
    ----------
    low, high : float
        Ends of the scale, in its unit; of a clock the hours of one turn.
    yours, right : float
        What was set, if anything was, and what is right.
    words : (str, str)
        Both as they are read.
    clock : bool
        Whether it is the face of a clock.

    Examples
    --------
    >>> "✗ your answer 3:00" in hands(0, 12, 3, 9, ("3:00", "9:00"), clock=True)
    True
    """
    told = [f"✓ {RIGHT} {words[1]}"] + [f"✗ {YOURS} {words[0]}"] * (yours is not None)
    drawing = _face(low, high, yours, right) if clock else _straight(low, high, yours, right)
    tall = 330.0 if clock else 150.0
    body = [
        *drawing,
        *(
            text(300 if clock else 24, 60 + 28 * n if clock else 24 + 24 * n, line, "strong", "start")
            for n, line in enumerate(told)
        ),
    ]
    return sheet(560, tall, "Your answer and the right one", ". ".join(each[2:] for each in told) + ".", body)[0]


def _face(low: float, high: float, yours: float | None, right: float) -> list[str]:
    x, y, radius = 150.0, 165.0, 108.0
    body = [element("circle", cx=x, cy=y, r=radius, class_="edge")]
    for hour in range(12):
        (x1, y1), (x2, y2) = (around(x, y, reach, 30 * hour) for reach in (radius, radius - (8 if hour % 3 else 14)))
        body.append(element("line", x1=x1, y1=y1, x2=x2, y2=y2, class_="thin"))
        if hour % 3 == 0:
            xt, yt = around(x, y, radius + 18, 30 * hour)
            body.append(text(xt, yt + 5, str(hour or 12), "quiet"))
    for value, word in ((right, RIGHT), (yours, YOURS)):
        if value is None:
            continue
        degrees = (value - low) / (high - low) * 360
        (xe, ye), (xs, ys) = around(x, y, radius - 22, degrees), around(x, y, radius - 40, degrees)
        body.append(element("line", x1=x, y1=y, x2=xs, y2=ys, class_="compared" + " broken" * (word == YOURS)))
        body.append(text(xe, ye + 6, "✓" if word == RIGHT else "✗", "strong", size=20))
    return [*body, element("circle", cx=x, cy=y, r=6, class_="filled")]


def _straight(low: float, high: float, yours: float | None, right: float) -> list[str]:
    def at(value: float) -> float:
        return 40 + (value - low) / (high - low) * 480

    body = [element("line", x1=40, y1=112, x2=520, y2=112, class_="edge")]
    for tick in range(11):
        x = at(low + (high - low) * tick / 10)
        body.append(element("line", x1=x, y1=112, x2=x, y2=124 if tick % 5 == 0 else 119, class_="thin"))
        if tick % 5 == 0:
            body.append(text(x, 142, f"{low + (high - low) * tick / 10:g}", "quiet"))
    for value, word in ((right, RIGHT), (yours, YOURS)):
        if value is not None and math.isfinite(value):
            x = at(value)
            body.append(element("line", x1=x, y1=94, x2=x, y2=112, class_="compared" + " broken" * (word == YOURS)))
            body.append(text(x, 90, "✓" if word == RIGHT else "✗", "strong", size=18))
    return body
