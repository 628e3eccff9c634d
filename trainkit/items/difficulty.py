"""What makes a question hard, counted off what is shown and what is right.

A template states features of its items and what each adds to the difficulty, in steps of thought: the weights are
judgement (common practice, no source), not measured. They serve one end, that the forms of one module are equally
hard; how hard an item was in truth is told by the answers.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainkit.items.item import Item
    from trainkit.items.key import Key

__all__ = ["digits", "links", "offered", "plain_features", "row", "uneven", "words"]

_NUMBER = re.compile(r"\d+(?:\.\d+)?")
# A line of trainkit.gears that leads from one gear to the next: "crank gear (42 teeth) to idler gear (28 teeth): …".
_LINK = re.compile(r" to .+: (?:outside teeth|teeth inside|chain|toothed belt|on the same shaft)")


def offered(item: Item) -> int:
    """Return how many options, cards, lines, rows or places there are to decide about; 0 where none are.

    Examples
    --------
    >>> from trainkit.items.item import ChoiceItem, Option
    >>> offered(ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back"))))
    2
    """
    parts = ("options", "cards", "written", "rows", "targets", "steps")
    return next((len(getattr(item, part)) for part in parts if hasattr(item, part)), 0)


def row(item: Item, label: str) -> str:
    """Return what the data table says in the first line whose label begins so, or nothing."""
    return next((line.value for line in item.given if line.label.startswith(label)), "")


def digits(text: str) -> int:
    """Return how many digits of the numbers in a text have to be carried along: zeros at either end are not counted.

    Examples
    --------
    >>> digits("40\u2009N·m"), digits("0.65\u2009kgf·m"), digits("31\u2009N·m (23\u2009lbf·ft)")
    (1, 2, 4)
    """
    return sum(max(1, len(number.replace(".", "").strip("0"))) for number in _NUMBER.findall(text))


def uneven(text: str) -> bool:
    """Tell whether a step is such that counting along it takes thought: other than 0.1, 1, 10.

    Examples
    --------
    >>> uneven("1\u2009N·m"), uneven("0.5\u2009N·m")
    (False, True)
    """
    found = _NUMBER.search(text)
    return found is not None and found[0].replace(".", "").strip("0") != "1"


def words(text: str) -> int:
    """Return how many words there are to read."""
    return len(text.split())


def plain_features(item: Item, key: Key) -> dict[str, float]:
    """Return what can be said of any item: lines of its working, of its data, things to decide about, digits asked."""
    shown = getattr(key, "shown", "")
    return {
        "steps": len(key.working),
        "data": len(item.given),
        "offered": offered(item),
        "digits": digits(shown),
    }


def links(key: Key, *, others: bool = False) -> int:
    """Return how many links a way through the gear train has: lines of the working that lead from gear to gear.

    Parameters
    ----------
    key : Key
        With the working.
    others : bool
        Whether only links other than outside teeth are counted: shafts, chains, belts, rings.
    """
    found = [line for line in key.working if _LINK.search(line)]
    return sum("outside teeth" not in line for line in found) if others else len(found)
