"""Positions on a dial with leaders to their words, beside the dial and never over one another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from pydantic import Field

from trainkit.figures.shown import At, degrees
from trainkit.figures.svg import around, element, text
from trainkit.items.responses import Value

__all__ = ["DialMark", "leaders"]

_ROW = 36.0


class DialMark(Value):
    """One marked position: where, and what it is."""

    at: At
    label: Annotated[str, Field(max_length=80)] = ""


def leaders(marks: Sequence[DialMark], x: float, y: float, radius: float, *, lowest: float) -> list[str]:
    """Return the marks on a dial with their times and words to the left and right of it.

    Parameters
    ----------
    marks : sequence of DialMark
        At most eight.
    x, y, radius : float
        The circle that the marks stand on.
    lowest : float
        Where the lowest line of words may stand.
    """
    rows = _rows(marks, y, radius, lowest)
    return [part for mark, row in zip(marks, rows, strict=True) for part in _leader(mark, x, y, radius, row)]


def _rows(marks: Sequence[DialMark], y: float, radius: float, lowest: float) -> list[float]:
    """Return the height of each label: beside its mark, but never over the label next to it or off the sheet."""
    wanted = [around(0, y, radius + 20, degrees(mark.at))[1] for mark in marks]
    rows = list(wanted)
    for right in (True, False):
        side = sorted((i for i, mark in enumerate(marks) if _right(mark) == right), key=lambda i: wanted[i])
        for place, i in enumerate(side):
            rows[i] = max(wanted[i], 20 + _ROW * place, rows[side[place - 1]] + _ROW if place else 0)
        for place, i in enumerate(reversed(side)):
            rows[i] = min(rows[i], lowest - _ROW * place)
    return rows


def _right(mark: DialMark) -> bool:
    return degrees(mark.at) < 180


def _leader(mark: DialMark, x: float, y: float, radius: float, row: float) -> list[str]:
    right = _right(mark)
    inner, edge = around(x, y, radius - 7, degrees(mark.at)), around(x, y, radius + 7, degrees(mark.at))
    foot = x + radius + 44 if right else x - radius - 44
    anchor = "start" if right else "end"
    start = foot + (6 if right else -6)
    lines = [
        element("line", x1=inner[0], y1=inner[1], x2=edge[0], y2=edge[1], class_="mark"),
        element("line", x1=edge[0], y1=edge[1], x2=foot, y2=row, class_="thin"),
        text(start, row + 5, mark.at, "strong", anchor),
    ]
    if mark.label:
        lines.append(text(start, row + 21, mark.label, "", anchor, 14))
    return lines
