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
from trainkit.items.kinds import Value


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
    to_turn : str, optional
        Identifier of the gear, where a control will turn the hand: it stands in a group ``data-turns``, with the
        middle of the face in ``data-middle``, and the arrows of both senses in groups ``data-arrow``.
    """

    draw: Literal["clock"] = "clock"
    seen_from: End
    marks: Annotated[tuple[DialMark, ...], Field(max_length=8)] = ()
    hand: At | None = None
    turns: Sense | None = None
    name: Name = ""
    to_turn: Name = ""


def marks_figure(pin: lockpin.Setup, name: str, *, hand: str = "", seen_from: str = "") -> dict[str, Any]:
    """Return the data of a picture of a lock pin's marks, as they stand round the watched gear.

    Parameters
    ----------
    pin : lockpin.Setup
        The engine's lock pin.
    name : str
        What bears the mark that is watched, in words.
    hand : str, optional
        Clock position of that mark now, as seen from the end the marks are read from.
    seen_from : str, optional
        The end that the picture is seen from; the one that the marks are read from by default.

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
    end = seen_from or dial.seen_from

    def at(place: Clock) -> str:
        return str(place.seen(stated_from=dial.seen_from, seen_from=end))

    return {
        "draw": "clock",
        "seen_from": end,
        "name": name,
        "turns": "clockwise" if dial.clockwise == (end == dial.seen_from) else "anticlockwise",
        "marks": [{"at": at(Clock.at(dial.at(before))), "label": label} for label, before in places.items()],
        **({"hand": at(Clock.parse(hand))} if hand else {}),
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
    moving = [] if figure.hand is None else _hand(x, y, radius, figure.hand)
    if figure.to_turn:
        senses = [_sense(x, y, radius, sense, hidden=sense != figure.turns) for sense in ("clockwise", "anticlockwise")]
        # The unseen disc below the hand is what a finger takes hold of.
        grip = element("circle", cx=x, cy=y, r=radius, class_="unseen")
        turned = element("g", *moving, data_turns=figure.to_turn, data_middle=f"{x:g} {y:g}")
        body.append(element("g", grip, *senses, turned, data_target=figure.to_turn))
    else:
        body.extend(moving)
        if figure.turns is not None:
            body.append(_sense(x, y, radius, figure.turns))
    body.append(text(x, 304, f"{figure.name + ', ' if figure.name else ''}{seen(figure.seen_from)}", "quiet"))
    return sheet(600, 316, "Clock face", _words(figure), body, styled=styled)


def _hand(x: float, y: float, radius: float, at: str) -> list[str]:
    tip = around(x, y, radius - 8, degrees(at))
    return [
        element("line", x1=x, y1=y, x2=tip[0], y2=tip[1], class_="moves"),
        arrowhead(*tip, degrees(at)),
        element("circle", cx=x, cy=y, r=5, class_="arrow"),
    ]


def _sense(x: float, y: float, radius: float, sense: str, *, hidden: bool = False) -> str:
    arrow = turning_arrow(x, y, radius * 0.45, sense, middle=0, sweep=90)
    word = text(x, y + radius * 0.42, sense, "moving")
    return element("g", arrow, word, data_arrow=sense, **({"visibility": "hidden"} if hidden else {}))


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
