"""Practical work that a person watches; nobody answers it on the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.items.kinds.observed import ObservedItem, ObservedKey, ObservedResponse
from trainkit.widgets.kinds.look import Look, text_of

if TYPE_CHECKING:
    from trainkit.items.kinds import Item
    from trainkit.widgets.kinds.look import Named


_CRITICAL = " “Critical” marks a step that can hurt a person or the engine if it goes wrong."


def _steps(item: ObservedItem) -> list[str]:
    """Return the steps, with a word at those that must be done."""
    return [f"{step.text}{' (critical)' if step.id in item.critical else ''}" for step in item.steps]


def _words(item: ObservedItem, response: ObservedResponse) -> str:
    steps = "; ".join(f"{text_of(item.steps, step)}: {how}" for step, how in response.steps.items())
    return f"{steps or 'no step'}, observed by {response.observer}"


def _said(_: Item, response: ObservedResponse, named: Named) -> tuple[str, ...]:
    steps = (f"{named(step)}: {how}" for step, how in response.steps.items())
    return (*steps, f"Observed by {response.observer}.")


LOOK: Look[ObservedItem, ObservedKey, ObservedResponse] = Look(
    "observed",
    task=lambda item: (f"These steps are watched.{_CRITICAL if item.critical else ''}", _steps(item)),
    words=_words,
    said=_said,
    worked=lambda item, _: _steps(item),
)
