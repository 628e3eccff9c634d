"""A little SVG: elements as text, every word escaped, every number finite and short."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from html import escape

from trainkit.errors import FormError
from trainkit.figures.style import CSS


def num(value: float) -> str:
    """Return a coordinate with at most two decimals.

    Examples
    --------
    >>> num(12.0), num(1 / 3), num(-0.001)
    ('12', '0.33', '0')
    """
    if not math.isfinite(value):
        raise FormError(value, rule="A picture has finite coordinates.", remedy="Fetch the module again.")
    shown = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if shown in ("-0", "") else shown


def element(tag: str, *inner: str, **attributes: object) -> str:
    """Return an element; ``class_`` and ``text_anchor`` become ``class`` and ``text-anchor``.

    ``inner`` is markup made by this module; attribute values are escaped here.
    """
    shown = ""
    for name, value in attributes.items():
        written = num(value) if isinstance(value, int | float) else escape(str(value))
        shown += f' {name.rstrip("_").replace("_", "-")}="{written}"'
    return f"<{tag}{shown}>{''.join(inner)}</{tag}>" if inner else f"<{tag}{shown}/>"


def text(x: float, y: float, words: str, kind: str = "", anchor: str = "middle", size: float | None = None) -> str:
    """Return words at a place, escaped."""
    attributes: dict[str, object] = {"x": x, "y": y, "text_anchor": anchor}
    if kind:
        attributes["class_"] = kind
    if size is not None:
        attributes["style"] = f"font-size:{num(size)}px"
    return element("text", escape(words), **attributes)


def around(x: float, y: float, radius: float, degrees: float) -> tuple[float, float]:
    """Return the point at so many degrees clockwise from twelve o'clock.

    Examples
    --------
    >>> [round(value) for value in around(0, 0, 10, 90)]
    [10, 0]
    """
    angle = math.radians(degrees - 90)
    return x + radius * math.cos(angle), y + radius * math.sin(angle)


def polygon(points: Iterable[tuple[float, float]], kind: str) -> str:
    """Return a closed polygon."""
    return element("polygon", points=" ".join(f"{num(x)},{num(y)}" for x, y in points), class_=kind)


def arc(x: float, y: float, radius: float, start: float, end: float, kind: str) -> str:
    """Return an arc clockwise from ``start`` to ``end``, degrees clockwise from twelve."""
    (x0, y0), (x1, y1) = around(x, y, radius, start), around(x, y, radius, end)
    large = int((end - start) % 360 > 180)
    path = f"M {num(x0)} {num(y0)} A {num(radius)} {num(radius)} 0 {large} 1 {num(x1)} {num(y1)}"
    return element("path", d=path, class_=kind)


def arrowhead(x: float, y: float, degrees: float, size: float = 12) -> str:
    """Return an arrow head that points along ``degrees``, clockwise from up."""
    tip = around(x, y, size * 0.6, degrees)
    left, right = around(x, y, size * 0.6, degrees + 140), around(x, y, size * 0.6, degrees - 140)
    return polygon((tip, left, right), "arrow")


def turning_arrow(x: float, y: float, radius: float, sense: str, middle: float = 0, sweep: float = 70) -> str:
    """Return an arrow of sense of rotation: an arc about ``middle`` with its head at the leading end."""
    start, end = middle - sweep / 2, middle + sweep / 2
    clockwise = sense == "clockwise"
    head = around(x, y, radius, end if clockwise else start)
    return arc(x, y, radius, start, end, "moves") + arrowhead(*head, end + 90 if clockwise else start - 90)


def sheet(
    width: float, height: float, title: str, description: str, body: Iterable[str], *, styled: bool = True
) -> tuple[str, str]:
    """Return a whole picture for people who see it, and its description for those who do not.

    Parameters
    ----------
    width, height : float
        Size in user units, which are CSS pixels at full width.
    title, description : str
        A name of a few words, and what there is to see.
    body : iterable of str
        Markup of this module.
    styled : bool
        Whether the style sheet goes along; a page with many pictures includes it once.
    """
    drawn = "".join(body)
    # The same picture has the same identifiers wherever it is drawn, so that kept outputs can be compared.
    serial = hashlib.sha256(f"{title}\n{description}\n{drawn}".encode()).hexdigest()[:10]
    names = f"tkf-{serial}-t", f"tkf-{serial}-d"
    picture = element(
        "svg",
        element("title", escape(title), id=names[0]),
        element("desc", escape(description), id=names[1]),
        element("style", CSS) if styled else "",
        element("rect", width=width, height=height, class_="paper"),
        drawn,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {num(width)} {num(height)}",
        width=width,
        height=height,
        class_="tk-figure",
        role="img",
        aria_labelledby=" ".join(names),
    )
    return picture, description
