"""Letters and places given anew: the same question with its options, cards or rows in another order.

Where things stand, and by which letter they go, must tell nothing about what is right. So one draw can serve many
forms, each with an order of its own. The working discusses options in the order in which they are shown.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from trainkit.items.kinds import ChoiceItem, ChoiceKey, GridItem, GridKey, SeveralItem, SeveralKey, kind_of

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Key, Option


_QUOTED = re.compile(r"“[^”]*”")


def relettered(item: Item, key: Key, shuffle: random.Random) -> tuple[Item, Key]:
    """Return the same question and key with options, cards or rows in an order that depends on ``shuffle`` alone.

    Parameters
    ----------
    item, key : Item, Key
        What was drawn; in which order it stands does not matter.
    shuffle : random.Random
        Stream for the order.

    Returns
    -------
    item, key : Item, Key
        Options and cards are lettered a, b, c … by where they stand; the lines of a written order stay where they
        are. Kinds without options, and places on a picture, come back as they are.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> from trainkit.items.kinds import ChoiceKey
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> key = ChoiceKey(template="t/t", working=("On.",), right="a", shows={"b": "c"})
    >>> other, its_key = relettered(item, key, random.Random(5))
    >>> [(option.id, option.text) for option in other.options], its_key.right, its_key.shows
    ([('a', 'back'), ('b', 'on')], 'b', {'a': 'c'})
    """
    anew: tuple[Item, Key] = kind_of(item.kind).relettered(item, key, shuffle)
    return anew[0], discussed_as_shown(*anew)


def discussed_as_shown(item: Item, key: Key) -> Key:
    """Return the key with those lines of its working that are each about one option in the order of the options.

    Such a line opens with the words of the option, or is the reason that the key holds for it; a reason may also stand
    in several lines. All other lines stay where they are.

    Examples
    --------
    >>> from trainkit.items.kinds import SeveralItem, Option
    >>> item = SeveralItem(prompt="Which?", options=(Option(id="a", text="Nut"), Option(id="b", text="Pin")))
    >>> key = SeveralKey(template="t/t", working=("Look.", "Pin: loose.", "Nut: tight.", "So."), right=("a",))
    >>> discussed_as_shown(item, key).working
    ('Look.', 'Nut: tight.', 'Pin: loose.', 'So.')
    """
    if isinstance(item, ChoiceItem | SeveralItem) and isinstance(key, ChoiceKey | SeveralKey):
        things: Sequence[Option] = item.options
    elif isinstance(item, GridItem) and isinstance(key, GridKey):
        things = item.rows
    else:
        return key
    pieces = list(_pieces(key.working, things, key.reasons))
    about = iter(sorted((piece for piece in pieces if piece[0] is not None), key=lambda piece: piece[0] or 0))
    ordered = [piece if piece[0] is None else next(about) for piece in pieces]
    working = tuple(line for _, lines in ordered for line in lines)
    return key if working == key.working else key.model_copy(update={"working": working})


def _pieces(
    working: Sequence[str], things: Sequence[Option], reasons: Mapping[str, str]
) -> Iterator[tuple[int | None, Sequence[str]]]:
    """Yield a working piece by piece, each with the place of the option that it is about, or None."""
    left = dict(enumerate(things))
    at = 0
    while at < len(working):
        place, count = _about(working[at:], left, reasons)
        if place is not None:
            del left[place]
        yield place, working[at : at + count]
        at += count


def _about(working: Sequence[str], left: Mapping[int, Option], reasons: Mapping[str, str]) -> tuple[int | None, int]:
    """Return the place of the option that the next lines are about, or None, and how many lines these are."""
    for place, thing in left.items():
        reason = reasons.get(thing.id, "")
        if reason.startswith(working[0]):
            for count in range(1, len(working) + 1):
                if " ".join(working[:count]) == reason:
                    return place, count
    line = working[0].casefold()
    opening = [place for place, thing in left.items() if _opens(line, thing.text.rstrip(".").casefold())]
    # The longest: "first" opens what is said of "first, then final", too.
    return max(opening, key=lambda place: len(left[place].text), default=None), 1


def _opens(line: str, text: str) -> bool:
    """Tell whether a line opens with a text; one that quotes two steps, “A” and “B”, may turn them round."""
    steps = _QUOTED.findall(text)
    return line.startswith(text) or (len(steps) > 1 and line.startswith("“") and all(step in line for step in steps))
