"""Practical work that a person watches."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainkit.items.kinds.values import Kind, Known, Option, Shown, Token, Value
from trainkit.items.marks import Mark, not_yet, share_of, unusable

# A step done after a prompt was done, but not alone.
_WORTH = {"unprompted": 1.0, "prompted": 0.5}


class ObservedItem(Shown):
    """Practical work is watched step by step and signed off by a person."""

    kind: Literal["observed"] = "observed"
    steps: Annotated[tuple[Option, ...], Field(min_length=1, max_length=60)]
    critical: tuple[str, ...] = ()


class ObservedKey(Known):
    """Which observed steps are critical; a critical step that was not done means not yet competent."""

    kind: Literal["observed"] = "observed"
    critical: tuple[str, ...] = ()


class ObservedResponse(Value):
    """Practical work as it was observed, step by step, by the person named."""

    kind: Literal["observed"] = "observed"
    steps: Annotated[
        dict[Token, Literal["unprompted", "prompted", "not done", "stopped for safety"]], Field(max_length=60)
    ]
    observer: Annotated[str, Field(min_length=1, max_length=80)]


def _mark(item: ObservedItem, key: ObservedKey, given: ObservedResponse) -> Mark:
    """Mark observed work by its steps; a critical step not done, or a stop for safety, means not yet."""
    steps = [step.id for step in item.steps]
    if not set(given.steps) <= set(steps):
        return unusable(item, "The record names steps that are not on this sheet. Enter it again.")
    stopped = [step for step in steps if given.steps.get(step) == "stopped for safety"]
    missed = [step for step in key.critical if given.steps.get(step, "not done") == "not done"]
    if stopped or missed:
        text = {step.id: step.text.rstrip(".") for step in item.steps}
        what = "was stopped for safety" if stopped else "is critical and was not done"
        step = (stopped or missed)[0]
        reason = f"“{text[step]}” {what}. Practise it under supervision, then show it again."
        return not_yet(item, reason, None, True, method=reason)
    share = sum(_WORTH.get(given.steps.get(step, "not done"), 0.0) for step in steps) / len(steps)
    alone = sum(given.steps.get(step) == "unprompted" for step in steps)
    reason = f"{alone} of {len(steps)} steps were done without a prompt."
    return share_of(item, share, reason, method=reason)


KIND: Kind[ObservedItem, ObservedKey, ObservedResponse] = Kind(
    "observed",
    rule="A person watches the work. A step done alone counts whole, with a prompt half.",
    mark=_mark,
    named=lambda item: item.steps,
    by_person=True,
)
