"""What items, keys and responses of all kinds are made of, and what a layer knows of one kind."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Generic, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field

if TYPE_CHECKING:
    from trainkit.items.marks import Mark


Token = Annotated[str, Field(min_length=1, max_length=40)]


class Value(BaseModel):
    """A read-only value that refuses keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class Given(Value):
    """One line of the data table that stands under the question: what it is, and its value with its unit."""

    label: str
    value: str


class Option(Value):
    """One option or action that can be chosen."""

    id: Token
    text: str


class Card(Value):
    """One card to be put in its place."""

    id: Token
    text: str


class Shown(Value):
    """What items of all kinds show."""

    prompt: str
    given: tuple[Given, ...] = ()
    # Parameters for the renderer in trainkit.figures: {"draw": "<name of the drawing>", ...}, or none.
    figure: dict[str, Any] | None = None
    points: Annotated[float, Field(gt=0, le=20)] = 1.0


class Known(Value):
    """What keys of all kinds hold."""

    template: str  # "<module>/<name>"
    # The working, one line a step: path of meshes, signs, lash sum, broken pairs with their reasons.
    working: tuple[str, ...]


class NumberRule(Value):
    """A wrong rule of thought and the number that it gives, in the key's unit."""

    misconception: str
    value: float


class Bond(Value):
    """One precedence between two cards of an order item."""

    before: str
    after: str
    reason: str
    dangerous: bool = False
    misconception: str = ""


I = TypeVar("I")  # noqa: E741 - item, key and response of one kind
K = TypeVar("K")
R = TypeVar("R")

Met = Literal["shows", "another", "unrecognised", "right"]
"""What kind of answer was given, for one misconception that it could have shown."""


def _nothing_named(_: object) -> Sequence[Option | Card]:
    return ()


def _as_it_is(item: I, key: K, _: random.Random) -> tuple[I, K]:
    return item, key


def _nothing_shown(_: object, __: object) -> Mapping[str, float]:
    return {}


@dataclass(frozen=True, slots=True)
class Apart(Generic[I, K, R]):
    """How an answer of several parts is told apart: each row or option is an answer of its own.

    Parameters
    ----------
    places : callable
        Where each misconception could show, by its code.
    met : callable
        What was given where a misconception could show: takes its code, the places, the key and the response.
    """

    places: Callable[[I, K], Mapping[str, frozenset[str]]]
    met: Callable[[str, frozenset[str], K, R], Met]


@dataclass(frozen=True, slots=True)
class Kind(Generic[I, K, R]):
    """What is right about one kind of answer: how it is marked, and what can be told from item and key.

    Parameters
    ----------
    name : str
        The ``kind`` of its item, key and response.
    rule : str
        How it is marked, as the person who was marked is told; ``grading/docs/marking.md`` has the same in a table.
    mark : callable
        Marks a response.
    named : callable
        What of an item an answer names by its identifier.
    accidents : callable
        What part of the wrong answers shows each misconception, 0 to 1; nothing where a person judges.
    relettered : callable
        Gives options, cards or rows another order and new letters.
    tells : callable, optional
        Tells whether a line of the working states what is asked; None where a working cannot be begun in lines.
    apart : Apart, optional
        For answers of several parts.
    offers : bool
        Whether wrong answers stand there to be taken.
    by_person : bool
        Whether a person marks it.
    """

    name: str
    rule: str
    mark: Callable[[I, K, R], Mark]
    named: Callable[[I], Sequence[Option | Card]] = _nothing_named
    accidents: Callable[[I, K], Mapping[str, float]] = _nothing_shown
    relettered: Callable[[I, K, random.Random], tuple[I, K]] = _as_it_is
    tells: Callable[[I, K, str], bool] | None = None
    apart: Apart[I, K, R] | None = None
    offers: bool = False
    by_person: bool = False
