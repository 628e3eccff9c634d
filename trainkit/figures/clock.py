"""A gear's face read like a clock, with positions marked on it."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import Field

from trainkit import lockpin
from trainkit.errors import FormError
from trainkit.figures.leaders import DialMark, leaders
from trainkit.figures.shown import At, End, Name, Sense, checked, degrees, seen
from trainkit.figures.svg import around, arrowhead, element, sheet, text, turning_arrow
from trainkit.gears import Clock
from trainkit.items.responses import Value

__all__ = ["ClockFigure", "draw", "marks_figure"]


class ClockFigure(Value):
    """A clock face.

    Parameters
    ----------
    seen_from : str
        The end it is read from.
    marks : tuple of DialMark
        Positions with what they are.
    hand : str, optional
        Where the mark stands now, drawn as a hand in the accent.
    turns : str, optional
        Sense of rotation, drawn as an arrow.
    name : str, optional
        What the face belongs to.
    """

    draw: Literal["clock"] = "clock"
    seen_from: End
    marks: Annotated[tuple[DialMark, ...], Field(max_length=8)] = ()
    hand: At | None = None
    turns: Sense | None = None
    name: Name = ""


def marks_figure(pin: lockpin.Setup, name: str, *, hand: str = "") -> dict[str, Any]:
    """Return the data of a picture of a lock pin's marks, as they stand round the watched gear.

    Parameters
    ----------
    pin : lockpin.Setup
        The engine's lock pin.
    name : str
        What bears the mark that is watched, in words.
    hand : str, optional
        Clock position of that mark now.

    Raises
    ------
    FormError
        If the setup does not say how its mark goes round.

    Examples
    --------
    >>> dial = lockpin.Dial(seen_from="front", clockwise=True, turns_per_crank=Fraction(1, 2), seats_at=Fraction(90))
    >>> pin = lockpin.Setup(press_from=10, give_up=6, back_off=30, dial=dial)
    >>> [mark["at"] for mark in marks_figure(pin, "camshaft gear")["marks"]]
    ['2:30', '2:50', '3:00', '3:06']
    """
    dial = pin.dial
    if dial is None:
        raise FormError(name, rule="The mark goes round on a dial.", remedy="Give the lock pin its clock positions.")
    places = {
        "back off to": pin.back_off,
        "press from": pin.press_from,
        "pin seats": Fraction(),
        "give up": -pin.give_up,
    }
    return {
        "draw": "clock",
        "seen_from": dial.seen_from,
        "name": name,
        "turns": "clockwise" if dial.clockwise else "anticlockwise",
        "marks": [{"at": str(Clock.at(dial.at(before))), "label": label} for label, before in places.items()],
        **({"hand": hand} if hand else {}),
    }


def draw(data: Mapping[str, Any], *, styled: bool = True) -> tuple[str, str]:
    """Return the picture and the words for it."""
    figure = checked(ClockFigure, data)
    x, y, radius = 300.0, 158.0, 108.0
    body = [
        element("circle", cx=x, cy=y, r=radius, class_="edge"),
        element("line", x1=x - radius - 12, y1=y, x2=x + radius + 12, y2=y, class_="centre"),
        element("line", x1=x, y1=y - radius - 12, x2=x, y2=y + radius + 12, class_="centre"),
    ]
    for hour in range(12):
        (x0, y0), (x1, y1) = around(x, y, radius, hour * 30), around(x, y, radius - (12 if hour % 3 else 18), hour * 30)
        body.append(element("line", x1=x0, y1=y0, x2=x1, y2=y1, class_="thin" if hour % 3 else "edge"))
        if hour % 3 == 0:
            body.append(text(*_below(around(x, y, radius - 32, hour * 30)), str(hour or 12), "quiet"))
    body.extend(leaders(figure.marks, x, y, radius, lowest=276))
    if figure.hand is not None:
        tip = around(x, y, radius - 8, degrees(figure.hand))
        body.append(element("line", x1=x, y1=y, x2=tip[0], y2=tip[1], class_="moves"))
        body.append(arrowhead(*tip, degrees(figure.hand)))
        body.append(element("circle", cx=x, cy=y, r=5, class_="arrow"))
    if figure.turns is not None:
        body.append(turning_arrow(x, y, radius * 0.45, figure.turns, middle=0, sweep=90))
        body.append(text(x, y + radius * 0.42, figure.turns, "moving"))
    body.append(text(x, 304, f"{figure.name + ', ' if figure.name else ''}{seen(figure.seen_from)}", "quiet"))
    words = _words(figure)
    return sheet(600, 316, "Clock face", words, body, styled=styled), words


def _below(point: tuple[float, float]) -> tuple[float, float]:
    return point[0], point[1] + 5  # letters stand on their base line, so their middle is a little higher


def _words(figure: ClockFigure) -> str:
    sentences = [f"A clock face{' of ' + figure.name if figure.name else ''}, {seen(figure.seen_from)}."]
    if figure.turns:
        sentences.append(f"It turns {figure.turns}.")
    if figure.hand:
        sentences.append(f"The mark stands at {figure.hand}.")
    sentences += [f"At {mark.at}: {mark.label}." if mark.label else f"Marked: {mark.at}." for mark in figure.marks]
    return " ".join(sentences)
