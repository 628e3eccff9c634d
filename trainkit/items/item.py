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
    "GridItem",
    "InsertItem",
    "Item",
    "NumberItem",
    "ObservedItem",
    "Option",
    "OrderItem",
    "PointItem",
    "Scale",
    "SetItem",
    "SeveralItem",
    "TextItem",
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


class SeveralItem(_Shown):
    """Any number of several options is asked; the prompt says that there may be more than one."""

    kind: Literal["several"] = "several"
    options: Annotated[tuple[Option, ...], Field(min_length=2, max_length=12)]


class OrderItem(_Shown):
    """At most eight cards are to be put in order, first to last."""

    kind: Literal["order"] = "order"
    cards: Annotated[tuple[Card, ...], Field(min_length=3, max_length=8)]


class InsertItem(_Shown):
    """One card is missing from a written order and is to be put where it belongs."""

    kind: Literal["insert"] = "insert"
    written: Annotated[tuple[Card, ...], Field(min_length=2, max_length=12)]
    missing: Card


class GridItem(_Shown):
    """Each row is to be put into one of the columns: each part against its fate."""

    kind: Literal["grid"] = "grid"
    rows: Annotated[tuple[Option, ...], Field(min_length=2, max_length=12)]
    columns: Annotated[tuple[Option, ...], Field(min_length=2, max_length=6)]


class PointItem(_Shown):
    """A place on the picture is asked: a bolt, a gear, a hole. ``figure`` draws the targets under their identifiers."""

    kind: Literal["point"] = "point"
    targets: Annotated[tuple[Option, ...], Field(min_length=2, max_length=24)]


class Scale(Value):
    """What can be set: a clock hand (``round`` is true, in hours) or a wrench scale, from low to high by step."""

    low: float
    high: float
    step: Annotated[float, Field(gt=0)]
    unit: str
    round: bool = False


class SetItem(_Shown):
    """A hand or a scale is to be set."""

    kind: Literal["set"] = "set"
    scale: Scale


class TextItem(_Shown):
    """An answer in the apprentice's own words is asked; a person marks it."""

    kind: Literal["text"] = "text"
    limit: Annotated[int, Field(ge=40, le=4000)] = 600


class ObservedItem(_Shown):
    """Practical work is watched step by step and signed off by a person."""

    kind: Literal["observed"] = "observed"
    steps: Annotated[tuple[Option, ...], Field(min_length=1, max_length=60)]
    critical: tuple[str, ...] = ()


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


Item = (
    NumberItem
    | ChoiceItem
    | SeveralItem
    | OrderItem
    | InsertItem
    | GridItem
    | PointItem
    | SetItem
    | ActionsItem
    | TextItem
    | ObservedItem
)
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
