"""A place on a picture."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainkit.items.kinds import options
from trainkit.items.kinds.lines import option_told
from trainkit.items.kinds.values import Kind, Known, Option, Shown, Token, Value
from trainkit.items.marks import Mark, unusable


class PointItem(Shown):
    """A place on the picture is asked: a bolt, a gear, a hole. ``figure`` draws the targets under their identifiers."""

    kind: Literal["point"] = "point"
    targets: Annotated[tuple[Option, ...], Field(min_length=2, max_length=24)]


class PointKey(Known):
    """All right places on the picture; one of them is enough."""

    kind: Literal["point"] = "point"
    right: Annotated[tuple[str, ...], Field(min_length=1)]
    shows: dict[str, str] = Field(default_factory=dict)
    critical: tuple[str, ...] = ()
    reasons: dict[str, str] = Field(default_factory=dict)


class PointResponse(Value):
    """One place on a picture, by its identifier."""

    kind: Literal["point"] = "point"
    target: Token


def _mark(item: PointItem, key: PointKey, given: PointResponse) -> Mark:
    if given.target not in {target.id for target in item.targets}:
        return unusable(item, "This place is not on the picture. Choose one of those marked.")
    return options.mark_one(item, key, given.target, given.target in key.right)


KIND: Kind[PointItem, PointKey, PointResponse] = Kind(
    "point",
    rule="All points for a right place on the picture, none for another.",
    mark=_mark,
    named=lambda item: item.targets,
    accidents=lambda item, key: options.met_by_chance(item.targets, key.right, key),
    tells=lambda item, key, line: option_told(line, item.targets, key.right),
    offers=True,
)
