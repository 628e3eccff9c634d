"""Questions for a number and for one of several options: what a template says, and the item and key that come of it."""

from __future__ import annotations

import random
from abc import abstractmethod
from collections.abc import Collection, Hashable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from trainkit.items.distinct_answers import Numbers, lettered
from trainkit.items.facts import Draw
from trainkit.items.kinds import ChoiceItem, ChoiceKey, Given, NumberItem, NumberKey, SeveralItem, SeveralKey
from trainkit.items.template import Template, Unshuffled

if TYPE_CHECKING:
    from trainkit.packs import Pack


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
    instead : str
        What it is about where that is not the pack; see :class:`trainkit.items.facts.Draw`.
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
    instead: str = ""


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
        return Draw(item, key, asked.features, asked.instead)

    @abstractmethod
    def ask(self, rng: random.Random, pack: Pack, /) -> NumberQuestion:
        """Work out one question, or raise :class:`trainkit.items.template.Redraw`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionsQuestion(Generic[T]):
    """Several things, each of which becomes an option.

    Parameters
    ----------
    prompt, given, figure
        What is shown; see :class:`trainkit.items.kinds.ChoiceItem`.
    texts : mapping
        What each thing says as an option.
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
    instead : str
        What it is about where that is not the pack; see :class:`trainkit.items.facts.Draw`.
    """

    prompt: str
    given: tuple[Given, ...]
    figure: dict[str, Any] | None = None
    texts: Mapping[T, str]
    shows: Mapping[T, str]
    critical: Collection[T] = ()
    reasons: Mapping[T, str]
    working: tuple[str, ...]
    features: Mapping[str, float]
    instead: str = ""

    def lettered(self, shuffle: random.Random) -> tuple[dict[str, Any], dict[T, str], dict[str, Any]]:
        """Return what the item holds, the letter of each thing, and what the key holds beside what is right."""
        options, letters = lettered(self.texts, shuffle)
        item = {"prompt": self.prompt, "given": self.given, "figure": self.figure, "options": options}
        key = {
            "working": self.working,
            "shows": {letters[thing]: code for thing, code in self.shows.items() if code},
            "critical": tuple(letters[thing] for thing in self.critical),
            "reasons": {letters[thing]: text for thing, text in self.reasons.items()},
        }
        return item, letters, key


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceQuestion(OptionsQuestion[T]):
    """One of several things is right: ``right``."""

    right: T


@dataclass(frozen=True, slots=True, kw_only=True)
class SeveralQuestion(OptionsQuestion[T]):
    """Any number of several things are right: ``right``, in the order in which the key names them."""

    right: Collection[T]


class SeveralTemplate(Template):
    """Asks for all that are right of several options, which are shuffled."""

    kind: ClassVar[str] = "several"

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random, /) -> Draw:
        """Draw once, or raise :class:`trainkit.items.template.Redraw`."""
        asked = self.ask(rng, pack)
        item, letters, key = asked.lettered(shuffle)
        right = tuple(letters[thing] for thing in asked.right)
        built = SeveralKey(template=self.name, right=right, **key)
        return Draw(SeveralItem(**item), built, asked.features, asked.instead)

    @abstractmethod
    def ask(self, rng: random.Random, pack: Pack, /) -> SeveralQuestion[Any]:
        """Work out one question, or raise :class:`trainkit.items.template.Redraw`."""


class ChoiceTemplate(Template):
    """Asks for one of several options, which are shuffled."""

    kind: ClassVar[str] = "choice"

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random, /) -> Draw:
        """Draw once, or raise :class:`trainkit.items.template.Redraw`."""
        asked = self.ask(rng, pack)
        item, letters, key = asked.lettered(shuffle)
        return Draw(
            ChoiceItem(**item),
            ChoiceKey(template=self.name, right=letters[asked.right], **key),
            asked.features,
            asked.instead,
        )

    @abstractmethod
    def ask(self, rng: random.Random, pack: Pack, /) -> ChoiceQuestion[Any]:
        """Work out one question, or raise :class:`trainkit.items.template.Redraw`."""
