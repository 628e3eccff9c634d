"""Positions on a dial with leaders to their words, beside the dial and never over one another."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Annotated

from pydantic import Field

from trainkit.figures.shown import At, degrees
from trainkit.figures.svg import around, element, text
from trainkit.items.kinds import Value

_ROW = 36.0
# A label goes on in a further line after so many letters: about what fits between a dial and the edge of its picture.
_LETTERS = 19
_LINE = 16.0


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
            above = rows[side[place - 1]] + _high(marks[side[place - 1]]) if place else 20.0
            rows[i] = max(wanted[i], above)
        below = lowest + _ROW
        for i in reversed(side):
            below = rows[i] = min(rows[i], below - _high(marks[i]))
    return rows


def _lines(mark: DialMark) -> list[str]:
    return textwrap.wrap(mark.label, _LETTERS)


def _high(mark: DialMark) -> float:
    """Return the height of a label, one line of words in it at the least."""
    return _ROW + _LINE * max(0, len(_lines(mark)) - 1)


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
    words = enumerate(_lines(mark))
    return [*lines, *(text(start, row + 21 + _LINE * place, line, "", anchor, 14) for place, line in words)]
