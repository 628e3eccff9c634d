"""A part on its seal, as a line drawing from above and one side: how it leans and gapes after some presses."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import Field

from trainkit.figures.shown import Name, checked
from trainkit.figures.svg import element, polygon, sheet, text
from trainkit.items.kinds import Token, Value
from trainkit.sentences import listed, opening

_WIDTH, _TALL = 350.0, 268.0  # of one state
_SCALE = 108.0  # user units to the distance of the furthest bolt
_RAISED = math.radians(27)  # the eye over the face
_LARGER = 9 / 70  # of a gap of 1 mm, in that distance
_THICK, _HEAD, _HIGH = 24 / 70, 11 / 70, 10 / 70

_Share = Annotated[float, Field(ge=-2, le=2)]
_Place = tuple[_Share, _Share]
_Height = Annotated[float, Field(ge=-50, le=50)]


class FlangeState(Value):
    """How the part stands.

    Parameters
    ----------
    title : str
        What was done.
    pose : (float, float, float)
        Height in the middle in mm, and its rise to the right and to the back, as the model has it.
    tight : tuple of str
        The bolts that a tool has tightened.
    """

    title: Name
    pose: tuple[_Height, _Height, _Height]
    tight: Annotated[tuple[Token, ...], Field(max_length=24)] = ()


class FlangeFigure(Value):
    """One part in one or two states.

    Parameters
    ----------
    names : tuple of str
        The bolts.
    bolts, outline : tuple of (float, float)
        Their places and the edge of the part, in units of the distance to the furthest bolt.
    nouns : str
        What they are called.
    states : tuple of FlangeState
        From left to right.
    """

    draw: Literal["flange"] = "flange"
    names: Annotated[tuple[Token, ...], Field(min_length=3, max_length=24)]
    bolts: Annotated[tuple[_Place, ...], Field(min_length=3, max_length=24)]
    outline: Annotated[tuple[_Place, ...], Field(min_length=8, max_length=200)]
    nouns: Name = "bolts"
    states: Annotated[tuple[FlangeState, ...], Field(min_length=1, max_length=2)]


def draw(data: Mapping[str, Any], *, styled: bool = True) -> tuple[str, str]:
    """Return the picture and the words for it."""
    figure = checked(FlangeFigure, data)
    body = []
    for place, state in enumerate(figure.states):
        body.append(element("g", *_state(figure, state), transform=f"translate({place * _WIDTH:g} 0)"))
    wide = _WIDTH * len(figure.states)
    return sheet(wide, _TALL, "A part on its seal", _words(figure), body, styled=styled)


def _put(x: float, y: float, z: float) -> tuple[float, float]:
    up = y * math.sin(_RAISED) + z * math.cos(_RAISED)
    return _WIDTH / 2 + _SCALE * x, 150 - _SCALE * up


def _gap(state: FlangeState, place: _Place) -> float:
    return max(0.0, state.pose[0] + state.pose[1] * place[0] + state.pose[2] * place[1])


def _state(figure: FlangeFigure, state: FlangeState) -> list[str]:
    def under(place: _Place) -> float:
        return _LARGER * _gap(state, place)

    face = [_put(x, y, 0) for x, y in figure.outline]
    low = [_put(*place, under(place)) for place in figure.outline]
    high = [_put(*place, under(place) + _THICK) for place in figure.outline]
    pad = [_put(1.08 * x, 1.08 * y, 0) for x, y in figure.outline]
    found = [polygon(pad, "rim"), polygon(_hull([*face, *low]), "filled"), polygon(_hull([*low, *high]), "solid")]
    found.append(polygon(high, "rim"))
    size = min(
        _HEAD, 0.4 * min(math.dist(one, two) for at, one in enumerate(figure.bolts) for two in figure.bolts[:at])
    )
    for name, (x, y) in sorted(zip(figure.names, figure.bolts, strict=True), key=lambda each: -each[1][1]):
        tight = name in state.tight
        foot = under((x, y)) + _THICK + (0 if tight else 0.07)
        corners = [(x + size * math.cos(turn), y + size * math.sin(turn)) for turn in _TURNS]
        base, top = ([_put(*corner, foot + over) for corner in corners] for over in (0.0, _HIGH))
        found += [polygon(_hull([*base, *top]), "solid"), polygon(top, "filled" if tight else "rim")]
        u, v = _put(x, y, foot + _HIGH)
        found.append(text(u, v + 4, name, "paper strong" if tight else "strong", size=12))
    gaps = [_gap(state, place) for place in figure.outline]
    return [
        *found,
        text(_WIDTH / 2, 22, state.title, "strong"),
        text(_WIDTH / 2, _TALL - 12, f"gap {min(gaps):.1f} to {max(gaps):.1f}\u2009mm, drawn larger", "quiet"),
    ]


_TURNS = [math.tau * corner / 6 for corner in range(6)]


def _hull(points: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the convex hull of points, by the monotone chain."""
    ordered = sorted(set(points))

    def half(row: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
        kept: list[tuple[float, float]] = []
        for point in row:
            while len(kept) > 1 and _left(kept[-2], kept[-1], point) <= 0:
                kept.pop()
            kept.append(point)
        return kept[:-1]

    return half(ordered) + half(ordered[::-1])


def _left(one: tuple[float, float], two: tuple[float, float], three: tuple[float, float]) -> float:
    return (two[0] - one[0]) * (three[1] - one[1]) - (two[1] - one[1]) * (three[0] - one[0])


def _words(figure: FlangeFigure) -> str:
    sentences = [f"A part with {len(figure.names)} {figure.nouns} on its seal; gaps are drawn larger than they are."]
    for state in figure.states:
        gaps = [_gap(state, place) for place in figure.outline]
        tight = f"tight: {listed(state.tight)}" if state.tight else "none is tight"
        sentences.append(f"{opening(state.title)} ({tight}): the gap is {min(gaps):.1f} to {max(gaps):.1f}\u2009mm.")
    return " ".join(sentences)
