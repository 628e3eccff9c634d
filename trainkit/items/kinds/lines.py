"""What a line of a working tells; in doubt it tells what is asked."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainkit.items.kinds.values import Option


# They tell no option from another.
_IDLE = frozenset(("a", "an", "and", "it", "of", "the", "then", "to"))
PIECES = re.compile(r"\d+:\d{2}|\d+(?:\.\d+)?|[^\W\d_]+")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")


def number_told(line: str, answer: float, tolerance: float) -> bool:
    """Tell whether a number stands in a line that would be marked right."""
    # As far as would be marked right, and a hair more for numbers that were rounded to be shown.
    near = max(tolerance, 0.005 * abs(answer))
    return any(abs(float(found) - abs(answer)) <= near for found in _NUMBER.findall(line))


def option_told(line: str, options: Sequence[Option], right: Iterable[str]) -> bool:
    """Tell whether all pieces of a right option stand in a line, by which it differs from some other one."""
    texts = {option.id: option.text for option in options}
    pieces = {name: _pieces(text) for name, text in texts.items()}
    common = frozenset.intersection(*pieces.values())
    there = _pieces(line)
    for name in right:
        own = pieces[name] - common or pieces[name]
        head = _pieces(texts[name].partition(":")[0])  # "Clockwise: one change of sense" is told by "clockwise"
        numbers = frozenset(piece for piece in own if _NUMBER.fullmatch(piece))
        # Two numbers are enough to know an option by, whatever words stand with them.
        for wanted in (own, head - common, numbers if len(numbers) > 1 else frozenset()):
            if wanted and all(_stands(piece, there) for piece in wanted):
                return True
    return False


def holds(line: str, text: str) -> bool:
    """Tell whether a line holds a text, whatever its capitals."""
    return text.rstrip(".").casefold() in line.casefold()


def _pieces(text: str) -> frozenset[str]:
    return frozenset(PIECES.findall(text.casefold())) - _IDLE


def _stands(piece: str, there: frozenset[str]) -> bool:
    """Tell whether a piece of a text stands among others: a number also where it is one of them rounded."""
    if piece in there:
        return True
    if not _NUMBER.fullmatch(piece):
        return False
    half = 0.5 * 10.0 ** -len(piece.partition(".")[2])
    return any(abs(float(each) - float(piece)) < half for each in there if _NUMBER.fullmatch(each))
