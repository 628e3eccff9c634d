"""Which parts may not be used again."""

from __future__ import annotations

import random
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import tens_of_words
from trainkit.items.distinct_answers import lettered
from trainkit.items.facts import Draw
from trainkit.items.kinds import Given, SeveralItem, SeveralKey
from trainkit.items.template import Template, lacking
from trainkit.sentences import opening

if TYPE_CHECKING:
    from trainkit.packs import Pack, Part


_OPTIONS = 7
_LEAST, _MOST = 2, 4  # how many of them may not be used again


def shown_by(part: Part) -> str:
    """Return what somebody believes who judges this part wrongly: fits it again, or throws it away.

    Examples
    --------
    >>> from trainkit.packs import Part
    >>> shown_by(Part(id="a", name="gasket of a cover", fate="renew", single_use=True, seals=True))
    'used-seal-good-enough'
    >>> shown_by(Part(id="b", name="locking nut", fate="renew", single_use=True))
    'single-use-reused'
    >>> shown_by(Part(id="c", name="cover", fate="refit"))
    'renews-everything'
    """
    if not part.single_use:
        return "renews-everything"
    return "used-seal-good-enough" if part.seals else "single-use-reused"


def may_open(part: Part) -> bool:
    """Tell whether a joint may open while the engine runs where this part is used again: it holds, and serves once."""
    return part.single_use and part.seals is False


class NotAgain(Template):
    """Of several parts those are to be named that may not be used again.

    Difficulty: the parts to judge, and the words to read, in tens.
    """

    name = "tightening/not-again"
    skill = "tell which parts are used once only"
    kind = "several"
    weights = MappingProxyType({"parts": 0.5, "tens of words": 0.5})

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> Draw:
        """Draw once."""
        once = [part for part in pack.parts if part.single_use]
        # What is renewed because it is worn, or goes back for overhaul, is neither the one nor the other.
        again = [part for part in pack.parts if not part.single_use and part.fate in ("refit", "transfer")]
        if len(once) < _LEAST or len(again) < _OPTIONS - _MOST:
            raise lacking(
                pack,
                f"{_LEAST} single-use parts and {_OPTIONS - _MOST} that go back",
                "Add them under [[parts]] with single_use and fate",
            )
        count = rng.randint(_LEAST, min(_MOST, len(once)))
        gone = rng.sample(once, count)
        parts = [*gone, *rng.sample(again, min(_OPTIONS - count, len(again)))]
        options, letters = lettered({part.id: part.name for part in parts}, shuffle)
        item = SeveralItem(
            prompt="The joints have been taken apart. Which of these parts may not be used again? "
            "There may be more than one.",
            given=(Given(label="Engine", value=pack.title),),
            options=options,
        )
        key = SeveralKey(
            template=self.name,
            working=(
                "Parts that deform or lock when they are tightened hold or seal once.",
                *(f"{_named(part)}: {'renew' if part.single_use else 'refit'}." for part in parts),
            ),
            right=tuple(sorted(letters[part.id] for part in gone)),
            shows={letters[part.id]: shown_by(part) for part in parts},
            critical=tuple(sorted(letters[part.id] for part in gone if may_open(part))),
            reasons={letters[part.id]: _reason(part) for part in parts},
        )
        return Draw(item, key, {"parts": len(parts), "tens of words": tens_of_words(part.name for part in parts)})


def _named(part: Part) -> str:
    return opening(part.name)


def _reason(part: Part) -> str:
    if part.single_use:
        return f"{_named(part)}: to be used once only."
    return f"{_named(part)}: sound parts like this go back."
