r"""Counts, lists and numbers with units, written the same in every text of the product.

Directions are written by :mod:`trainkit.gears.viewpoints`.

Examples
--------
>>> f"{counted(2, 'gear')}: {listed(['crank', 'cam'])}, {with_unit('12.5', 'mm')} apart"
'2 gears: crank and cam, 12.5\u2009mm apart'
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

THIN = "\u2009"
"""The thin space that stands between a number and its unit."""


def noun(count: float, one: str, many: str = "") -> str:
    """Return the word that goes with a count: ``one``, or ``many``, which is ``one`` with an s where it is not given.

    Examples
    --------
    >>> noun(1, "point"), noun(0, "point"), noun(2, "person", "people")
    ('point', 'points', 'people')
    """
    return one if count == 1 else many or f"{one}s"


def counted(count: float, one: str, many: str = "", *, grouped: bool = False) -> str:
    """Return a count with its word; ``grouped`` sets a comma between thousands.

    Examples
    --------
    >>> counted(1, "person", "people"), counted(2.50, "point"), counted(1400, "mark", grouped=True)
    ('1 person', '2.5 points', '1,400 marks')
    """
    number = f"{count:,}" if grouped else f"{count}" if isinstance(count, int) else f"{count:g}"
    return f"{number} {noun(count, one, many)}"


def opening(text: str) -> str:
    """Return a text as it opens a sentence: its first letter is a capital, and every other letter stays as it is.

    Examples
    --------
    >>> opening("flange bolt"), opening("Zylinderkopfschraube M10"), opening("UNF stud"), opening("")
    ('Flange bolt', 'Zylinderkopfschraube M10', 'UNF stud', '')
    """
    return text[:1].upper() + text[1:]


def listed(words: Sequence[str], last: str = "and") -> str:
    """Return words as a list.

    Examples
    --------
    >>> listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"], "or")
    ('a', 'a and b', 'a, b or c')
    """
    return f" {last} ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def decimal(value: float) -> str:
    """Return a number with as many decimals as it needs, at most two.

    Examples
    --------
    >>> decimal(2.0), decimal(1.25), decimal(33.333)
    ('2', '1.25', '33.33')
    """
    return f"{value:.2f}".rstrip("0").rstrip(".")


def with_unit(number: str, unit: str) -> str:
    r"""Return a written number with its unit, a thin space between them.

    Examples
    --------
    >>> with_unit("31", "N·m")
    '31\u2009N·m'
    """
    return f"{number}{THIN}{unit}"


def span(minutes: int) -> str:
    r"""Return a span of time in the largest unit of which there are at least two.

    Examples
    --------
    >>> span(119), span(120), span(2880)
    ('119\u2009min', '2\u2009h', '2 days')
    """
    if minutes < 120:
        return with_unit(str(minutes), "min")
    return with_unit(str(minutes // 60), "h") if minutes < 2880 else f"{minutes // 1440} days"


NEWER = "Install the release of trainkit that wrote it, or a later one."
"""What to do about a file of a newer format."""


def newer_format(errors: Iterable[Mapping[str, Any]]) -> str:
    """Say that a file is of a newer format than is known, as pydantic found it; nothing where that is not it.

    Examples
    --------
    >>> newer_format([{"loc": ("format",), "type": "literal_error", "input": 9, "ctx": {"expected": "1, 2 or 3"}}])
    'The file has format 9, and this release of trainkit reads 1, 2 or 3.'
    """
    for error in errors:
        if error["loc"] != ("format",) or error["type"] != "literal_error":
            continue
        if said := newer_than(error["input"], str(error["ctx"]["expected"])):
            return said
    return ""


def newer_than(met: object, known: str) -> str:
    """Say that a file is of a newer format than is known; nothing where that is not it.

    Examples
    --------
    >>> newer_than(2, "1")
    'The file has format 2, and this release of trainkit reads 1.'
    >>> newer_than(1, "1"), newer_than("two", "1")
    ('', '')
    """
    if isinstance(met, int) and met > max(map(int, re.findall(r"\d+", known))):
        return f"The file has format {met}, and this release of trainkit reads {known}."
    return ""
