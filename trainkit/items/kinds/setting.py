"""A hand or a scale that is set."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainkit.items.kinds.lines import PIECES, number_told
from trainkit.items.kinds.rules import NUMBER_MET, SLACK, recognised, slip
from trainkit.items.kinds.values import Kind, Known, NumberRule, Shown, Value
from trainkit.items.marks import Mark, not_yet, share_of, unusable


class Scale(Value):
    """What can be set: a clock hand (``round`` is true, in hours) or a wrench scale, from low to high by step."""

    low: float
    high: float
    step: Annotated[float, Field(gt=0)]
    unit: str
    round: bool = False

    @property
    def is_clock(self) -> bool:
        """Whether a clock's hand is set."""
        return self.round and self.high - self.low == 12


class SetItem(Shown):
    """A hand or a scale is to be set."""

    kind: Literal["set"] = "set"
    scale: Scale


class SetKey(Known):
    """The right setting and how near it has to be; with ``turn`` (12 for a clock hand) the scale comes round."""

    kind: Literal["set"] = "set"
    answer: float
    tolerance: Annotated[float, Field(ge=0)]
    turn: Annotated[float, Field(gt=0)] | None = None
    shown: str
    rules: tuple[NumberRule, ...] = ()


class SetResponse(Value):
    """A hand or a scale as it was set, in the unit of the item's scale."""

    kind: Literal["set"] = "set"
    value: Annotated[float, Field(ge=-1e6, le=1e6)]


def _mark(item: SetItem, key: SetKey, given: SetResponse) -> Mark:
    """Mark a hand or scale by how far it stands from where it should, the short way round."""
    scale = item.scale
    if not scale.low <= given.value <= scale.high:
        return unusable(item, f"The scale runs from {scale.low:g} to {scale.high:g} {scale.unit}. Set it again.")

    def near(where: float) -> bool:
        off = abs(given.value - where)
        if key.turn is not None:
            off = min(off % key.turn, -off % key.turn)
        return off <= key.tolerance + SLACK * max(1.0, abs(where))

    if near(key.answer):
        return share_of(item, 1.0, f"{key.shown} is right.")
    shown = recognised(key.rules, near)
    if shown:
        return slip(item, shown)
    return not_yet(item, "This setting comes from none of the usual slips. Go through the working step by step.")


def _accidents(item: SetItem, key: SetKey) -> dict[str, float]:
    scale = item.scale
    stops = round((scale.high - scale.low) / scale.step) + (key.turn is None)
    within = 2 * int(key.tolerance / scale.step) + 1
    share = within / max(stops - within, within)
    return dict.fromkeys((rule.misconception for rule in key.rules), min(share, NUMBER_MET))


def _tells(_: SetItem, key: SetKey, line: str) -> bool:
    if key.turn is None:
        return number_told(line, key.answer, key.tolerance)
    times = (piece.split(":") for piece in PIECES.findall(line) if ":" in piece)
    away = ((int(hours) + int(minutes) / 60 - key.answer) % key.turn for hours, minutes in times)
    return any(min(each, key.turn - each) <= key.tolerance for each in away)


KIND: Kind[SetItem, SetKey, SetResponse] = Kind(
    "set",
    rule="All points for a setting as near to the right one as the question asks, otherwise none.",
    mark=_mark,
    accidents=_accidents,
    tells=_tells,
)
