"""What is right: one read-only value for each kind of key.

A key says what counts as right, what each recognised wrong answer shows, and how the answer comes about
(``working``). Keys are drawn and kept on the course side; in practice, which counts for nothing, they are drawn on
the apprentice's own machine.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter

from trainkit.items.responses import Value

__all__ = ["ActionsKey", "Bond", "ChoiceKey", "Key", "NumberKey", "NumberRule", "OrderKey", "read_key"]


class _Known(Value):
    template: str  # "<module>/<name>"
    # The working, one line a step: path of meshes, signs, lash sum, broken pairs with their reasons.
    working: tuple[str, ...]


class NumberRule(Value):
    """A wrong rule of thought and the number that it gives, in the key's unit."""

    misconception: str
    value: float


class NumberKey(_Known):
    """The right number.

    ``answer`` is the exact value in ``unit``; an answer counts as right within ``tolerance`` of it (same unit), and
    a rule is recognised within the same distance. ``quantity`` is ``"torque"`` (any notation of torque is read),
    or the plain name of what is counted or measured in ``unit`` ("crank angle").
    """

    kind: Literal["number"] = "number"
    quantity: str = "torque"
    answer: float
    unit: str
    tolerance: Annotated[float, Field(ge=0)]
    shown: str  # the answer as it is written for a person, "42 N·m"
    rules: tuple[NumberRule, ...] = ()


class ChoiceKey(_Known):
    """The right option, what each other option shows, and which of them would hurt the engine or a person."""

    kind: Literal["choice"] = "choice"
    right: str
    shows: dict[str, str] = Field(default_factory=dict)
    critical: tuple[str, ...] = ()
    reasons: dict[str, str] = Field(default_factory=dict)  # for an option: why it is right, or what follows from it


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


class ActionsKey(_Known):
    """A scenario is judged by its model; ``goal`` holds what the model needs to judge it."""

    kind: Literal["actions"] = "actions"
    model: str
    goal: dict[str, Any] = Field(default_factory=dict)


Key = NumberKey | ChoiceKey | OrderKey | ActionsKey
_ADAPTER: TypeAdapter[Key] = TypeAdapter(Annotated[Key, Field(discriminator="kind")])


def read_key(data: object) -> Key:
    """Read a key out of plain JSON data that the course side wrote itself.

    Raises
    ------
    pydantic.ValidationError
        If it is not well formed: keys are our own files, so this is a fault, not bad input.
    """
    return _ADAPTER.validate_python(data, strict=False)
