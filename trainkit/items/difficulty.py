"""What makes a question hard, counted while it is drawn.

A template states features of its items and what each adds to the difficulty, in steps of thought: the weights are
judgement (common practice, no source), not measured. They serve one end, that the forms of one module are equally
hard; how hard an item was in truth is told by the answers.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

_NUMBER = re.compile(r"\d+(?:\.\d+)?")


def digits(*texts: str) -> int:
    """Return how many digits of the numbers in texts have to be carried along: zeros at either end are not counted.

    Examples
    --------
    >>> digits("40\u2009N·m"), digits("0.65\u2009kgf·m"), digits("31\u2009N·m", "23\u2009lbf·ft")
    (1, 2, 4)
    """
    found = (number for text in texts for number in _NUMBER.findall(text))
    return sum(max(1, len(number.replace(".", "").strip("0"))) for number in found)


def uneven(text: str) -> bool:
    """Tell whether a step is such that counting along it takes thought: other than 0.1, 1, 10.

    Examples
    --------
    >>> uneven("1\u2009N·m"), uneven("0.5\u2009N·m")
    (False, True)
    """
    found = _NUMBER.search(text)
    return found is not None and found[0].replace(".", "").strip("0") != "1"


def tens_of_words(texts: Iterable[str]) -> float:
    """Return how many words there are to read, in tens.

    Examples
    --------
    >>> tens_of_words(["Bar the engine", "forward"])
    0.4
    """
    return sum(len(text.split()) for text in texts) / 10
