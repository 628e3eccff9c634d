"""The flanks of two gears in mesh, much enlarged: on which of them the teeth rest, and where the play lies."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from trainkit.figures.shown import Name, checked
from trainkit.figures.svg import element, num, polygon, sheet, text
from trainkit.items.kinds import Value

_WIDTH, _HEIGHT = 204.0, 64.0
GAP = 22.0
"""All of the play of a mesh on the sheet, in its units."""


class FlankFigure(Value):
    """A tooth of the gear that drives, between two teeth of the gear that is driven.

    Parameters
    ----------
    driver, driven : str
        The gears in words.
    back : float
        How much of the play lies before the driving tooth: 0 while it drives forward, 1 once it drives back.
    """

    draw: Literal["flank"] = "flank"
    driver: Name
    driven: Name
    back: Annotated[float, Field(ge=0, le=1)] = 0.0


def draw(data: Mapping[str, Any], *, styled: bool = True) -> tuple[str, str]:
    """Return the picture and the words for it."""
    figure = checked(FlankFigure, data)
    middle, half = _WIDTH / 2, 14.0
    # Two teeth of the driven gear come from below, between them one of the driving gear from above. At the height of
    # the pitch line the space between the two is as wide as the tooth and the play together.
    driven = (middle + side * (2 * half + GAP / 2) for side in (-1, 1))
    body = [
        *(_tooth(x, half, foot=60.0, tip=18.0, kind="solid") for x in driven),
        element("line", x1=4, y1=60, x2=_WIDTH - 4, y2=60, class_="edge"),
        element(
            "g",
            _tooth(middle + GAP / 2, half, foot=4.0, tip=46.0, kind="accent"),
            data_slides=GAP,
            transform=f"translate({num(-GAP * figure.back)} 0)",
        ),
        text(_WIDTH - 8, 24, "→", "quiet", "end", 22),
    ]
    words = f"{figure.driver} drives {figure.driven}, forward to the right: {_WHERE.get(figure.back, _BETWEEN)}."
    return sheet(_WIDTH, _HEIGHT, "Flanks, much enlarged", words, body, styled=styled)


_WHERE = {0.0: "the teeth rest on the forward flank", 1.0: "the teeth rest on the back flank"}
_BETWEEN = "no flank touches; there is play left on both sides"


def _tooth(x: float, half: float, *, foot: float, tip: float, kind: str) -> str:
    return polygon([(x - half - 6, foot), (x - half + 5, tip), (x + half - 5, tip), (x + half + 6, foot)], kind)
