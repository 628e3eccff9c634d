"""What is shown: one read-only value for each kind of item.

An item holds what the screen or the page shows and nothing else. Its template, its parameters and everything that
tells right from wrong live in the key, which never leaves the course side. Text is plain: paragraphs are separated
by an empty line, and no markup is interpreted anywhere.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter, ValidationError

from trainkit.errors import FormError
from trainkit.items.responses import Token, Value

__all__ = [
    "ActionsItem",
    "Card",
    "ChoiceItem",
    "Given",
    "Item",
    "NumberItem",
    "Option",
    "OrderItem",
    "read_item",
]


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


class _Shown(Value):
    prompt: str
    given: tuple[Given, ...] = ()
    # Parameters for the renderer in trainkit.figures: {"draw": "<name of the drawing>", ...}, or none.
    figure: dict[str, Any] | None = None
    points: Annotated[float, Field(gt=0, le=20)] = 1.0


class NumberItem(_Shown):
    """A number with its unit is asked.

    ``units`` are what the unit picker offers, in the order shown; ``to_nearest`` says in words how closely to
    answer ("to the nearest 1 N·m, the step of the wrench").
    """

    kind: Literal["number"] = "number"
    units: tuple[str, ...]
    to_nearest: str


class ChoiceItem(_Shown):
    """One of several options is asked."""

    kind: Literal["choice"] = "choice"
    options: Annotated[tuple[Option, ...], Field(min_length=2, max_length=6)]


class OrderItem(_Shown):
    """At most eight cards are to be put in order, first to last."""

    kind: Literal["order"] = "order"
    cards: Annotated[tuple[Card, ...], Field(min_length=3, max_length=8)]


class ActionsItem(_Shown):
    """A scenario is played, one action at a time, until it is decided or given up.

    ``model`` names the scenario model (:mod:`trainkit.items.scenarios`), ``scene`` is its starting point, all of it
    told to the apprentice in ``prompt`` and ``given``; ``limit`` is the largest number of actions.
    """

    kind: Literal["actions"] = "actions"
    model: str
    scene: dict[str, Any]
    actions: tuple[Option, ...]
    limit: Annotated[int, Field(ge=1, le=200)] = 60


Item = NumberItem | ChoiceItem | OrderItem | ActionsItem
_ADAPTER: TypeAdapter[Item] = TypeAdapter(Annotated[Item, Field(discriminator="kind")])


def read_item(data: object) -> Item:
    """Read an item out of plain JSON data.

    Raises
    ------
    FormError
        If it is not well formed.

    Examples
    --------
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> read_item(item.model_dump(mode="json")) == item
    True
    """
    try:
        return _ADAPTER.validate_python(data, strict=False)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        raise FormError(
            ".".join(str(part) for part in first["loc"]),
            rule=f"A form holds well-formed items ({first['msg']}).",
            remedy="Fetch the module again, or build it again on the course side.",
        ) from None
