"""Which parts may not be used again."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items import examples
from trainkit.items.difficulty import tens_of_words
from trainkit.items.distinct_answers import lettered
from trainkit.items.facts import Draw
from trainkit.items.kinds import Given, SeveralItem, SeveralKey
from trainkit.items.template import Template
from trainkit.packs import Part
from trainkit.sentences import opening

if TYPE_CHECKING:
    from trainkit.packs import Pack


_OPTIONS = 7
_LEAST, _MOST = 3, 4  # how many of them may be fitted
# What a part has been through, and whether it may be fitted then: a single-use part, and any other one.
_STATES: Mapping[str, tuple[bool, bool]] = MappingProxyType(
    {
        "taken off": (False, True),
        "new, from its bag": (True, True),
        "taken off, cracked": (False, False),
        "fitted new, then taken off again": (False, True),
    }
)
_CRACKED = "taken off, cracked"
_MAY = "Which of these parts may be fitted now?"
_MAY_NOT = "Which of these parts must not be fitted?"
# Where a pack lists too few parts, a question is about these.
_EXAMPLE_PARTS = (
    *(
        Part(id=f"once-{at}", name=name, fate="renew", single_use=True, seals=seals)
        for at, (name, seals) in enumerate(
            (
                ("sealing ring of a cover", True),
                ("gasket of a housing", True),
                ("locking nut of a lever", False),
                ("lock plate under two screws", False),
            )
        )
    ),
    *(
        Part(id=f"again-{at}", name=name, fate="refit")
        for at, name in enumerate(("cover", "bracket", "lever", "pulley", "pipe", "guide"))
    ),
)
_FEWEST = 2  # single-use parts, and others, that a pack lists at least


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


@dataclass(frozen=True, slots=True)
class _Found:
    """A part and what it has been through."""

    part: Part
    state: str

    @property
    def may(self) -> bool:
        """Whether it may be fitted."""
        return _STATES[self.state][not self.part.single_use]

    @property
    def text(self) -> str:
        """What an option says."""
        return f"{self.part.name}: {self.state}"

    @property
    def shows(self) -> str:
        """What somebody believes who judges it wrongly."""
        if self.may:
            return "renews-everything"
        return "damaged-part-fitted" if self.state == _CRACKED else shown_by(self.part)

    @property
    def reason(self) -> str:
        """Why it may be fitted or not."""
        if self.state == _CRACKED:
            return f"{_named(self.part)}: damaged, so it is renewed."
        if self.may:
            return f"{_named(self.part)}: {self.state}. It may be fitted."
        return f"{_named(self.part)}: single-use, and it has been used."


class NotAgain(Template):
    """Of several parts, each with its past, those are to be taken that may be fitted, or those that may not.

    What is used once only is told. Which of the two is asked is drawn, so that no part is right oftener than wrong.

    Difficulty: the parts to judge, and the words to read, in tens.
    """

    name = "tightening/not-again"
    skill = "tell which parts are used once only"
    kind = "several"
    weights = MappingProxyType({"parts": 0.5, "tens of words": 0.5})

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random, /) -> Draw:
        """Draw once."""
        parts, instead = _parts(pack)
        asked = rng.random() < 0.5
        found = _found(rng, parts)
        options, letters = lettered({each: each.text for each in found}, shuffle)
        about = examples.EXAMPLE if instead else pack.title
        item = SeveralItem(
            prompt="Joints have been taken apart. There may be more than one answer. " + (_MAY if asked else _MAY_NOT),
            given=(
                Given(label="Parts" if instead else "Engine", value=about),
                *(
                    Given(label=_named(part), value="single-use")
                    for part in sorted({each.part for each in found if each.part.single_use}, key=_named)
                ),
            ),
            options=options,
        )
        key = SeveralKey(
            template=self.name,
            working=(
                "A single-use part deforms or locks once. A damaged part is renewed, whatever it is.",
                *(each.reason for each in found),
            ),
            right=tuple(sorted(letters[each] for each in found if each.may == asked)),
            shows={letters[each]: each.shows for each in found},
            critical=tuple(
                sorted(letters[each] for each in found if each.shows == "single-use-reused" and may_open(each.part))
            ),
            reasons={letters[each]: each.reason for each in found},
        )
        return Draw(item, key, {"parts": len(found), "tens of words": tens_of_words(e.text for e in found)}, instead)


def _parts(pack: Pack) -> tuple[tuple[Part, ...], str]:
    """Return the parts to ask about: those of a pack that lists enough of them, else examples, and what these are."""
    # What is renewed because it is worn, or goes back for overhaul, is neither the one nor the other.
    own = tuple(part for part in pack.parts if part.single_use or part.fate in ("refit", "transfer"))
    once = sum(part.single_use for part in own)
    if once >= _FEWEST and len(own) - once >= _FEWEST and len(own) >= _OPTIONS:
        return own, ""
    return _EXAMPLE_PARTS, "example parts"


def _found(rng: random.Random, parts: Sequence[Part]) -> list[_Found]:
    """Draw parts, single-use ones as often as others, each in a state; so many of them may be fitted as is drawn."""
    count = rng.randint(_LEAST, _MOST)
    once, again = ([part for part in parts if part.single_use is single] for single in (True, False))
    mixed = [part for pair in zip_longest(_shuffled(rng, once), _shuffled(rng, again)) for part in pair if part]
    found: list[_Found] = []
    for part in _shuffled(rng, mixed[:_OPTIONS]):
        may = len(found) < count
        state = rng.choice([state for state, allowed in _STATES.items() if allowed[not part.single_use] == may])
        found.append(_Found(part, state))
    return found


def _shuffled(rng: random.Random, parts: Sequence[Part]) -> list[Part]:
    return rng.sample(parts, len(parts))


def _named(part: Part) -> str:
    return opening(part.name)
