"""Pictures by the name of their drawing, and as an output of a notebook."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from html import escape
from typing import Any

from trainkit.errors import FormError

# The module that holds each drawing; loaded when a picture needs it.
_HOMES = {
    "bolts": "trainkit.figures.bolts",
    "clock": "trainkit.figures.clock",
    "flange": "trainkit.figures.flange",
    "flank": "trainkit.figures.flank",
    "gear-train": "trainkit.figures.trains",
    "pin-bench": "trainkit.figures.bench",
    "strokes": "trainkit.figures.strokes",
    "wrench": "trainkit.figures.lever",
}


def draw(data: Mapping[str, Any], *, styled: bool = True) -> str:
    """Return a picture as SVG.

    Parameters
    ----------
    data : mapping
        ``{"draw": "<name>", ...}``; see the module of each drawing.
    styled : bool
        Whether the style sheet goes along; a page with many pictures includes :data:`~trainkit.figures.CSS` once.

    Raises
    ------
    FormError
        If there is no such drawing, or its data is not well formed.

    Examples
    --------
    >>> "seen from the front" in draw({"draw": "clock", "seen_from": "front"})
    True
    """
    return _drawn(data, styled)[0]


def _drawn(data: Mapping[str, Any], styled: bool) -> tuple[str, str]:
    name = data.get("draw")
    if not isinstance(name, str) or name not in _HOMES:
        raise FormError(
            name, rule=f"The drawings are {', '.join(_HOMES)}.", remedy="Fetch the module again, or name one of them."
        )
    drawn: tuple[str, str] = importlib.import_module(_HOMES[name]).draw(data, styled=styled)
    return drawn


class Picture:
    """A picture as an output of a notebook: SVG where it can be shown, words everywhere.

    Parameters
    ----------
    data : mapping
        What to draw.
    caption : str, optional
        A line under the picture.

    Attributes
    ----------
    svg, text : str
        The picture, and the words for it.
    """

    def __init__(self, data: Mapping[str, Any], caption: str = "") -> None:
        self.svg, self.text = _drawn(data, styled=True)
        self.caption = caption

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        under = f"<figcaption>{escape(self.caption)}</figcaption>" if self.caption else ""
        return {
            "text/html": f'<figure style="margin: 0">{self.svg}{under}</figure>',
            "text/plain": f"{self.caption}\n{self.text}".strip(),
        }

    def __repr__(self) -> str:
        return f"<Picture: {self.text}>"
