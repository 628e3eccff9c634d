"""Questions for a number and for one of several options: what a template says, and the item and key that come of it."""

from __future__ import annotations

import random
from abc import abstractmethod
from collections.abc import Collection, Hashable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from trainkit.items.distinct_answers import Numbers, lettered
from trainkit.items.facts import Draw
from trainkit.items.kinds import ChoiceItem, ChoiceKey, Given, NumberItem, NumberKey
from trainkit.items.template import Template, Unshuffled

if TYPE_CHECKING:
    from trainkit.packs import Pack

__all__ = ["ChoiceQuestion", "ChoiceTemplate", "NumberQuestion", "NumberTemplate"]

T = TypeVar("T", bound=Hashable)


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberQuestion:
    """A number that is asked for.

    Parameters
    ----------
    prompt, given, figure
        What is shown; see :class:`trainkit.items.kinds.NumberItem`.
    to_nearest : str
        How closely to answer, in words.
    numbers : Numbers
        The right number and what wrong rules give.
    unit, shown : str
        Its unit, and how it is written for a person.
    units : tuple of str
        What the unit picker offers; the unit alone where it is empty.
    working : tuple of str
        How it comes about.
    features : mapping of str to float
        What makes it hard.
    """

    prompt: str
    given: tuple[Given, ...]
    figure: dict[str, Any] | None = None
    to_nearest: str
    numbers: Numbers
    unit: str
    shown: str
    units: tuple[str, ...] = ()
    working: tuple[str, ...]
    features: Mapping[str, float]


class NumberTemplate(Unshuffled):
    """Asks for a number with its unit.

    Class attributes
    ----------------
    quantity : str
        What is asked for; see :class:`trainkit.items.kinds.NumberKey`.
    """

    kind: ClassVar[str] = "number"
    quantity: ClassVar[str]

    def pose(self, rng: random.Random, pack: Pack) -> Draw:
        """Draw once, or raise :class:`trainkit.items.template.Redraw`."""
        asked = self.ask(rng, pack)
        item = NumberItem(
            prompt=asked.prompt,
            given=asked.given,
            figure=asked.figure,
            units=asked.units or (asked.unit,),
            to_nearest=asked.to_nearest,
        )
        answer, tolerance, rules, pairs = asked.numbers
        key = NumberKey(
            template=self.name,
            working=asked.working,
            quantity=self.quantity,
            answer=answer,
            unit=asked.unit,
            tolerance=tolerance,
            shown=asked.shown,
            rules=rules,
            pairs=pairs,
        )
        return Draw(item, key, asked.features)

    @abstractmethod
    def ask(self, rng: random.Random, pack: Pack) -> NumberQuestion:
        """Work out one question, or raise :class:`trainkit.items.template.Redraw`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceQuestion(Generic[T]):
    """One of several things that is asked for; each becomes an option.

    Parameters
    ----------
    prompt, given, figure
        What is shown; see :class:`trainkit.items.kinds.ChoiceItem`.
    texts : mapping
        What each thing says as an option.
    right : hashable
        The right one.
    shows : mapping
        The code of what choosing a thing shows, or nothing.
    critical : collection
        The things that would hurt the engine or a person.
    reasons : mapping
        Why a thing is right, or what follows from it.
    working : tuple of str
        How the right one comes about.
    features : mapping of str to float
        What makes it hard.
    """

    prompt: str
    given: tuple[Given, ...]
    figure: dict[str, Any] | None = None
    texts: Mapping[T, str]
    right: T
    shows: Mapping[T, str]
    critical: Collection[T] = ()
    reasons: Mapping[T, str]
    working: tuple[str, ...]
    features: Mapping[str, float]


class ChoiceTemplate(Template):
    """Asks for one of several options, which are shuffled."""

    kind: ClassVar[str] = "choice"

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random, /) -> Draw:
        """Draw once, or raise :class:`trainkit.items.template.Redraw`."""
        asked = self.ask(rng, pack)
        options, letters = lettered(asked.texts, shuffle)
        item = ChoiceItem(prompt=asked.prompt, given=asked.given, figure=asked.figure, options=options)
        key = ChoiceKey(
            template=self.name,
            working=asked.working,
            right=letters[asked.right],
            shows={letters[thing]: code for thing, code in asked.shows.items() if code},
            critical=tuple(letters[thing] for thing in asked.critical),
            reasons={letters[thing]: text for thing, text in asked.reasons.items()},
        )
        return Draw(item, key, asked.features)

    @abstractmethod
    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[Any]:
        """Work out one question, or raise :class:`trainkit.items.template.Redraw`."""
