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
    """Return the pin in its bush, cut along: the gear behind, the wall of the case, collar, spring and knob.

    A hole is only drawn where the pin is in one: an eye sees no other.
    """
    x, y = _SIDE, 82.0
    tip = {"out": x + 52, "pressed": x + 31, "in": x + 8, "broken": x + 8}[pin]
    collar, knob = tip + 68, tip + 68 + (34 if pin == "out" else 24)
    parts = [text(x, 20, f"Lock pin: {_PIN[pin]}", "strong danger" if pin == "broken" else "strong", "start")]
    if pin in ("in", "broken"):
        parts += [*_cut(x, y - 46, 30, 36, 1), *_cut(x, y + 10, 30, 36, 1)]
    else:
        parts += _cut(x, y - 46, 30, 92, 1)
    for side in (-1, 1):
        parts += _cut(x + 44, y - 46 if side < 0 else y + 18, 26, 28, -1)
        parts += _cut(x + 40, y - 18 if side < 0 else y + 9, 36, 9, 1)
    if pin == "broken":
        parts += [
            polygon(_ragged(x + 34, y + 3, [(x + 8, y + 9), (x + 8, y - 3)]), "accent"),
            polygon(_ragged(x + 44, y, [(collar, y + 8), (collar, y - 8)]), "accent"),
        ]
    else:
        shank = [(tip, y - 5), (tip + 4, y - 8), (collar, y - 8), (collar, y + 8), (tip + 4, y + 8), (tip, y + 5)]
        parts.append(polygon(shank, "accent"))
    coils = 5
    step = (knob - collar - 6) / coils
    parts += [
        element("rect", x=collar, y=y - 12, width=6, height=24, class_="accent"),
        *(
            element(
                "line",
                x1=collar + 6 + turn * step,
                y1=y + 8,
                x2=collar + 6 + (turn + 1) * step,
                y2=y - 8,
                class_="thin",
            )
            for turn in range(coils)
        ),
        element("rect", x=knob, y=y - 15, width=15, height=30, rx=6, class_="accent"),
    ]
    return parts


def _ragged(x: float, y: float, sound: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return half a broken pin: its ragged end at a place, and the corners of its sound end, the lower one first."""
    return [*sound, (x, y - 6 if sound[0][0] < x else y - 8), (x + 4, y - 2), (x - 3, y + 2), (x + 2, sound[0][1])]


def _cut(x: float, y: float, width: float, height: float, way: int) -> list[str]:
    """Return a part that is cut, hatched at 45 degrees as ISO 128 has it; what it touches is hatched the other way."""
    parts = [element("rect", x=x, y=y, width=width, height=height, class_="edge")]
    gap = 9.0 if height > 12 else 6.0
    off = gap - height
    while off < width:
        left, right = max(0.0, off), min(width, off + height)
        low, high = left - off, right - off  # how far up the line is where it begins and where it ends
        if right > left:
            ends = (y + height - low, y + height - high) if way > 0 else (y + low, y + high)
            parts.append(element("line", x1=x + left, y1=ends[0], x2=x + right, y2=ends[1], class_="thin"))
        off += gap
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
