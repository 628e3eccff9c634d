"""One out of several options."""

from __future__ import annotations

import random
from typing import Annotated, Literal

from pydantic import Field

from trainkit.items.kinds import options
from trainkit.items.kinds.letters import mixed
from trainkit.items.kinds.lines import option_told
from trainkit.items.kinds.values import Kind, Known, Option, Shown, Token, Value
from trainkit.items.marks import Mark, unusable


class ChoiceItem(Shown):
    """One of several options is asked."""

    kind: Literal["choice"] = "choice"
    options: Annotated[tuple[Option, ...], Field(min_length=2, max_length=6)]


class ChoiceKey(Known):
    """The right option, what each other option shows, and which of them would hurt the engine or a person."""

    kind: Literal["choice"] = "choice"
    right: str
    shows: dict[str, str] = Field(default_factory=dict)
    critical: tuple[str, ...] = ()
    reasons: dict[str, str] = Field(default_factory=dict)  # for an option: why it is right, or what follows from it


class ChoiceResponse(Value):
    """One option out of those offered, by its identifier."""

    kind: Literal["choice"] = "choice"
    option: Token


def _mark(item: ChoiceItem, key: ChoiceKey, given: ChoiceResponse) -> Mark:
    if given.option not in {option.id for option in item.options}:
        return unusable(item, "This option was not offered. Choose one of those shown.")
    return options.mark_one(item, key, given.option, given.option == key.right)


def _relettered(item: ChoiceItem, key: ChoiceKey, shuffle: random.Random) -> tuple[ChoiceItem, ChoiceKey]:
    offered, to = mixed(item.options, shuffle)
    changed = {**options.judged_anew(key, to), "right": to[key.right]}
    return item.model_copy(update={"options": offered}), key.model_copy(update=changed)


KIND: Kind[ChoiceItem, ChoiceKey, ChoiceResponse] = Kind(
    "choice",
    rule="All points for the right option, none for another.",
    mark=_mark,
    named=lambda item: item.options,
    accidents=lambda item, key: options.met_by_chance(item.options, {key.right}, key),
    relettered=_relettered,
    tells=lambda item, key, line: option_told(line, item.options, (key.right,)),
    offers=True,
)
