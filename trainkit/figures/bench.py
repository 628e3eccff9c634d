"""The bench of the lock pin: the watched mark among the fixed ones, the pin and the barring tool.

It shows what the eye gets and nothing else: not which flank the gears rest on, not whether a hole is the right one.
The data is described with the scenario, :mod:`trainkit.items.lock_pin_scenario`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from trainkit.figures.gear import gear, tooth
from trainkit.figures.leaders import DialMark, leaders
from trainkit.figures.shown import At, End, Name, Sense, checked, degrees, seen
from trainkit.figures.svg import element, polygon, sheet, text, turning_arrow
from trainkit.items.kinds import Value

_WIDTH, _HEIGHT = 748.0, 316.0
_X, _Y, _RADIUS = 244.0, 150.0, 96.0
_TEETH = 44  # how fine the teeth of the drawing are; the gear stands for whatever bears the mark
_SIDE = 536.0


class BenchFigure(Value):
    """What the eye sees at the bench."""

    draw: Literal["pin-bench"] = "pin-bench"
    name: Name
    seen_from: End
    tooth: At
    marks: Annotated[tuple[DialMark, ...], Field(max_length=8)] = ()
    forward: Sense
    turned: Literal["forward", "back", ""] = ""
    bar: Literal["fitted", "off"]
    pin: Literal["out", "pressed", "in", "broken"]


_PIN = {"out": "out", "pressed": "against metal", "in": "in a hole", "broken": "broken"}
_TURNED = {"forward": "Barred last: forward", "back": "Barred last: back", "": "Not barred yet"}


def draw(data: Mapping[str, Any], *, styled: bool = True) -> tuple[str, str]:
    """Return the picture and the words for it."""
    figure = checked(BenchFigure, data)
    body = [
        gear(_X, _Y, _RADIUS, _TEETH),
        tooth(_X, _Y, _RADIUS, _TEETH, degrees(figure.tooth), "accent"),
        turning_arrow(_X, _Y, _RADIUS * 0.52, figure.forward, middle=0, sweep=100),
        text(_X, _Y + 42, f"forward: {figure.forward}", "moving"),
        *leaders(figure.marks, _X, _Y, _RADIUS + 14, lowest=262),
        text(_X, _HEIGHT - 28, f"mark on the {figure.name}, {seen(figure.seen_from)}", "quiet"),
        text(_X, _HEIGHT - 10, _TURNED[figure.turned], "quiet"),
        *_pin(figure.pin),
        *_bar(figure.bar),
    ]
    return sheet(_WIDTH, _HEIGHT, "Lock pin bench", _words(figure), body, styled=styled)


def _pin(pin: str) -> list[str]:
    """Return the pin in its bore, cut along: the gear behind, the wall of the case, the pin with its handle."""
    x, y = _SIDE, 66.0
    tip = {"out": x + 86, "pressed": x + 31, "in": x + 8, "broken": x + 8}[pin]
    handle = tip + 62 if pin != "broken" else x + 120
    parts = [
        text(x, 20, f"Lock pin: {_PIN[pin]}", "strong danger" if pin == "broken" else "strong", "start"),
        element("rect", x=x, y=y - 28, width=30, height=56, class_="solid"),
        *_wall(x + 44, y),
    ]
    if pin == "broken":
        parts += [
            element("rect", x=x + 8, y=y - 6, width=36, height=12, class_="hidden"),
            polygon(
                [(x + 80, y - 6), (handle, y - 6), (handle, y + 6), (x + 80, y + 6), (x + 86, y + 2), (x + 80, y - 2)],
                "accent",
            ),
        ]
    else:
        if pin == "in":
            parts.append(element("rect", x=x + 8, y=y - 6, width=22, height=12, class_="hidden"))
        front = x + 31 if pin == "in" else tip
        parts.append(element("rect", x=front, y=y - 6, width=handle - front, height=12, class_="accent"))
    parts.append(element("rect", x=handle, y=y - 17, width=8, height=34, class_="accent"))
    return parts


def _wall(x: float, y: float) -> list[str]:
    """Return the wall of the case, cut and hatched as ISO 128 has it, above and below the bore."""
    parts = []
    for top in (y - 36, y + 8):
        parts.append(element("rect", x=x, y=top, width=26, height=28, class_="edge"))
        parts += [
            element("line", x1=x + start, y1=top + 28 - foot, x2=x + end, y2=top + 28 - head, class_="thin")
            for start, foot, end, head in ((0, 16, 12, 28), (0, 4, 24, 28), (8, 0, 26, 18), (20, 0, 26, 6))
        ]
    return parts


def _bar(bar: str) -> list[str]:
    """Return the barring tool on its hub, or lying beside it.

    No arrow: which way the hand goes depends on the meshes and on where the person stands.
    """
    x, y = _SIDE + 26, 206.0
    parts = [
        text(_SIDE, 158, f"Barring tool: {'fitted' if bar == 'fitted' else 'taken off'}", "strong", "start"),
        element("circle", cx=x, cy=y, r=20, class_="edge"),
        polygon([(x - 9, y - 5), (x, y - 10), (x + 9, y - 5), (x + 9, y + 5), (x, y + 10), (x - 9, y + 5)], "thin"),
    ]
    if bar == "fitted":
        parts.append(element("rect", x=x + 20, y=y - 6, width=124, height=12, class_="accent"))
    else:
        parts.append(element("rect", x=x + 20, y=y + 42, width=124, height=12, class_="accent"))
    return parts


def _words(figure: BenchFigure) -> str:
    sentences = [
        f"The bench, {seen(figure.seen_from)}.",
        f"The mark on the {figure.name} stands at {figure.tooth}.",
        f"Barring forward turns it {figure.forward}.",
        *(
            f"Fixed mark at {mark.at}: {mark.label}." if mark.label else f"Fixed mark at {mark.at}."
            for mark in figure.marks
        ),
        f"{_TURNED[figure.turned]}.",
        f"Barring tool {'fitted' if figure.bar == 'fitted' else 'taken off'}.",
        f"Lock pin {_PIN[figure.pin]}.",
    ]
    return " ".join(sentences)
