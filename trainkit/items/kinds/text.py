"""An answer in the apprentice's own words."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainkit.items.kinds.values import Kind, Known, Shown, Value
from trainkit.items.marks import Mark, unusable, waiting


class TextItem(Shown):
    """An answer in the apprentice's own words is asked; a person marks it."""

    kind: Literal["text"] = "text"
    limit: Annotated[int, Field(ge=40, le=4000)] = 600


class RubricLine(Value):
    """One thing that a person looks for, what a full answer names of it, and the points for it."""

    looks_for: str
    points: Annotated[float, Field(ge=0)]
    names: tuple[str, ...] = ()


class TextKey(Known):
    """A rubric for the person who marks, and what that person flags; nothing is decided by the machine.

    See :func:`trainkit.items.capstone.rubric_of` for both in plain text.
    """

    kind: Literal["text"] = "text"
    rubric: Annotated[tuple[RubricLine, ...], Field(min_length=1)]
    dangerous: tuple[str, ...] = ()  # statements that would hurt the engine or a person


class TextResponse(Value):
    """A text in the apprentice's own words; a person marks it."""

    kind: Literal["text"] = "text"
    text: Annotated[str, Field(min_length=1, max_length=4000)]


def _mark(item: TextItem, key: TextKey, given: TextResponse) -> Mark:
    """Hold a text for the person who marks it by the rubric."""
    if len(given.text) > item.limit:
        return unusable(item, f"The text is longer than {item.limit} characters. Shorten it.")
    if not given.text.strip():
        return unusable(item, "The text is empty. Write a sentence or two.")
    things = "one thing" if len(key.rubric) == 1 else f"{len(key.rubric)} things"
    return waiting(item, f"A person reads this text and looks for {things} in it.")


KIND: Kind[TextItem, TextKey, TextResponse] = Kind(
    "text", rule="A person gives the points, by a rubric.", mark=_mark, by_person=True
)
