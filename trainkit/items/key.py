"""What is right: one read-only value for each kind of key.

A key says what counts as right, what each recognised wrong answer shows, and how the answer comes about
(``working``). Keys are drawn and kept on the course side; in practice, which counts for nothing, they are drawn on
the apprentice's own machine.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter

from trainkit.items.responses import Value

__all__ = [
    "ActionsKey",
    "Bond",
    "ChoiceKey",
    "GridKey",
    "InsertKey",
    "Key",
    "NumberKey",
    "NumberPair",
    "NumberRule",
    "ObservedKey",
    "OrderKey",
    "PointKey",
    "RubricLine",
    "SetKey",
    "SeveralKey",
    "TextKey",
    "read_key",
]


class _Known(Value):
    template: str  # "<module>/<name>"
    # The working, one line a step: path of meshes, signs, lash sum, broken pairs with their reasons.
    working: tuple[str, ...]


class NumberRule(Value):
    """A wrong rule of thought and the number that it gives, in the key's unit."""

    misconception: str
    value: float


class NumberPair(Value):
    """Two wrong rules of thought at once, and the number that they give together, in the key's unit."""

    first: str
    second: str
    value: float


class NumberKey(_Known):
    """The right number.

    ``answer`` is the exact value in ``unit``; an answer counts as right within ``tolerance`` of it (same unit), and
    a rule, or a pair of them, is recognised within the same distance. ``quantity`` is ``"torque"`` (any notation of
    torque is read), or the plain name of what is counted or measured in ``unit`` ("crank angle").
    """

    kind: Literal["number"] = "number"
    quantity: str = "torque"
    answer: float
    unit: str
    tolerance: Annotated[float, Field(ge=0)]
    shown: str  # the answer as it is written for a person, "42 N·m"
    rules: tuple[NumberRule, ...] = ()
    pairs: tuple[NumberPair, ...] = ()


class ChoiceKey(_Known):
    """The right option, what each other option shows, and which of them would hurt the engine or a person."""

    kind: Literal["choice"] = "choice"
    right: str
    shows: dict[str, str] = Field(default_factory=dict)
    critical: tuple[str, ...] = ()
    reasons: dict[str, str] = Field(default_factory=dict)  # for an option: why it is right, or what follows from it


class SeveralKey(_Known):
    """All right options; for each option what choosing or leaving it wrongly shows, and which would hurt."""

    kind: Literal["several"] = "several"
    right: tuple[str, ...]
    shows: dict[str, str] = Field(default_factory=dict)
    critical: tuple[str, ...] = ()
    reasons: dict[str, str] = Field(default_factory=dict)


class PointKey(_Known):
    """All right places on the picture; one of them is enough."""

    kind: Literal["point"] = "point"
    right: Annotated[tuple[str, ...], Field(min_length=1)]
    shows: dict[str, str] = Field(default_factory=dict)
    critical: tuple[str, ...] = ()
    reasons: dict[str, str] = Field(default_factory=dict)


class GridKey(_Known):
    """The right column of each row; ``shows`` has, for ``"row column"``, the misconception that it shows."""

    kind: Literal["grid"] = "grid"
    right: dict[str, str]
    shows: dict[str, str] = Field(default_factory=dict)
    critical: tuple[str, ...] = ()  # "row column" pairs
    reasons: dict[str, str] = Field(default_factory=dict)  # for a row: why it is so


class SetKey(_Known):
    """The right setting and how near it has to be; with ``turn`` (12 for a clock hand) the scale comes round."""

    kind: Literal["set"] = "set"
    answer: float
    tolerance: Annotated[float, Field(ge=0)]
    turn: Annotated[float, Field(gt=0)] | None = None
    shown: str
    rules: tuple[NumberRule, ...] = ()


class Bond(Value):
    """One precedence between two cards of an order item."""

    before: str
    after: str
    reason: str
    dangerous: bool = False
    misconception: str = ""


class OrderKey(_Known):
    """The precedence among the cards shown; any order that breaks none of it is right."""

    kind: Literal["order"] = "order"
    cards: dict[str, str]  # identifier to text
    bonds: tuple[Bond, ...]


class InsertKey(_Known):
    """All right places of the missing card; ``bonds`` says what a wrong place breaks."""

    kind: Literal["insert"] = "insert"
    right: Annotated[tuple[int, ...], Field(min_length=1)]
    written: tuple[str, ...]  # identifiers of the written cards, in their order
    missing: str
    cards: dict[str, str]
    bonds: tuple[Bond, ...]


class RubricLine(Value):
    """One thing that a person looks for, what a full answer names of it, and the points for it."""

    looks_for: str
    points: Annotated[float, Field(ge=0)]
    names: tuple[str, ...] = ()


class TextKey(_Known):
    """A rubric for the person who marks, and what that person flags; nothing is decided by the machine.

    See :func:`trainkit.items.capstone.rubric_of` for both in plain text.
    """

    kind: Literal["text"] = "text"
    rubric: Annotated[tuple[RubricLine, ...], Field(min_length=1)]
    dangerous: tuple[str, ...] = ()  # statements that would hurt the engine or a person


class ObservedKey(_Known):
    """Which observed steps are critical; a critical step that was not done means not yet competent."""

    kind: Literal["observed"] = "observed"
    critical: tuple[str, ...] = ()


class ActionsKey(_Known):
    """A scenario is judged by its model; ``goal`` holds what the model needs to judge it."""

    kind: Literal["actions"] = "actions"
    model: str
    goal: dict[str, Any] = Field(default_factory=dict)


Key = (
    NumberKey
    | ChoiceKey
    | SeveralKey
    | OrderKey
    | InsertKey
    | GridKey
    | PointKey
    | SetKey
    | ActionsKey
    | TextKey
    | ObservedKey
)
_ADAPTER: TypeAdapter[Key] = TypeAdapter(Annotated[Key, Field(discriminator="kind")])


def read_key(data: object) -> Key:
    """Read a key out of plain JSON data that the course side wrote itself.

    Raises
    ------
    pydantic.ValidationError
        If it is not well formed: keys are our own files, so this is a fault, not bad input.
    """
    return _ADAPTER.validate_python(data, strict=False)
