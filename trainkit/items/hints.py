"""What is said between a wrong answer and the next try: one hint that never tells the answer.

It is the cure of the wrong rule that the answer shows, else the first line of the question's own working. Each is
held against the key first (:func:`~trainkit.items.halfworked.tells`), and left out where it would tell.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.items.halfworked import quiet_lines, tells
from trainkit.items.kinds import ChoiceItem, SeveralItem
from trainkit.items.kinds.lines import option_told
from trainkit.items.marks import UNRECOGNISED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainkit.items.kinds import Item, Key, Option
    from trainkit.items.marks import Mark


LOOK_AGAIN = "Read the question and its data once more: the units, the direction and where it is seen from."
"""The hint where everything else would tell the answer."""


def hint(item: Item, key: Key, mark: Mark) -> str:
    """Return one hint after an answer that was not right.

    Parameters
    ----------
    item, key : Item, Key
        What was asked and what is right.
    mark : Mark
        What the answer earned and why. Of an unsafe answer the reason is said, unless it tells what is right.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, ChoiceKey, Option
    >>> from trainkit.items.marking import mark
    >>> options = (Option(id="a", text="Cylinder 3"), Option(id="b", text="Cylinder 4"))
    >>> item = ChoiceItem(prompt="Which one?", options=options)
    >>> key = ChoiceKey(template="t/t", working=("Half of 360° is 180°.", "So it is cylinder 3."), right="a")
    >>> hint(item, key, mark(item, key, {"kind": "choice", "option": "b"}))
    'Half of 360° is 180°.'
    """
    told = mark.method.replace(UNRECOGNISED, "").strip()
    found = [mark.reason] * mark.critical + [told]
    if mark.misconception or mark.critical:
        quiet = next((text for text in found if text and not tells(item, key, text)), "")
        if quiet:
            return quiet
    # A count of what is right so far is no step yet: the first line of the working goes with it.
    lines = [told] if told and not mark.misconception and not tells(item, key, told) else []
    lines += key.working[: min(1, quiet_lines(item, key))]
    return " ".join(lines) or LOOK_AGAIN


def discussed(item: Item, key: Key) -> tuple[str, ...]:
    """Return the working of a question, its options discussed in the order in which they are shown."""
    return in_order_shown(item.options, key.working) if isinstance(item, ChoiceItem | SeveralItem) else key.working


def in_order_shown(options: Sequence[Option], working: Sequence[str]) -> tuple[str, ...]:
    """Return a working that discusses every option, in the order in which the options were shown.

    A working that does not discuss each of them once stays as it is: its lines may follow from one another.

    Examples
    --------
    >>> from trainkit.items.kinds import Option
    >>> options = (Option(id="b", text="Idler gear"), Option(id="a", text="Crank gear"))
    >>> in_order_shown(options, ("Look at the sense.", "Crank gear: opposite.", "Idler gear: alike."))
    ('Look at the sense.', 'Idler gear: alike.', 'Crank gear: opposite.')
    """
    about = [_about(line, options) for line in working]
    heads = [number for number, found in enumerate(about) if len(found) == 1]
    begun = {about[number][0]: number for number in reversed(heads)}  # by option, its first line
    starts = sorted(begun.values())
    if len(begun) < len(options) or any(about[n][0] != about[max(s for s in starts if s <= n)][0] for n in heads):
        return tuple(working)
    ends = [*starts[1:], len(working)]
    sizes = [end - start for start, end in zip(starts, ends, strict=True)]
    # What comes after the last one goes with it only as far as something goes with each of the others.
    ends[-1] = starts[-1] + min(sizes[-1], max(sizes[:-1], default=sizes[-1]))
    blocks = sorted(zip(starts, ends, strict=True), key=lambda block: about[block[0]][0])
    moved = [line for start, end in blocks for line in working[start:end]]
    return (*working[: starts[0]], *moved, *working[ends[-1] :])


def _about(line: str, options: Sequence[Option]) -> list[int]:
    """Return the places of the options that a line may be about; one where it is sure."""
    begun = line.casefold()
    for texts in ([one.text.rstrip(".") for one in options], [one.text.partition(":")[0] for one in options]):
        found = [place for place, text in enumerate(texts) if begun.startswith(text.casefold())]
        if found:
            longest = max(len(texts[place]) for place in found)
            return [place for place in found if len(texts[place]) == longest]
    return [place for place, one in enumerate(options) if option_told(line, options, (one.id,))]
