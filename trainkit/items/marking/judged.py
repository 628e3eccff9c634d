"""Played scenarios, texts that a person marks, and observed practical work."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.items import scenarios
from trainkit.items.marking.marks import Mark, not_yet, share_of, unusable, waiting
from trainkit.items.misconceptions import MANUAL, misconception

if TYPE_CHECKING:
    from trainkit.items.item import ActionsItem, ObservedItem, TextItem
    from trainkit.items.key import ActionsKey, ObservedKey, TextKey
    from trainkit.items.responses import ActionsResponse, ObservedResponse, TextResponse

__all__ = ["mark_actions", "mark_observed", "mark_text"]

# A step done after a prompt was done, but not alone.
PROMPTED_SHARE = 0.5


def mark_actions(item: ActionsItem, key: ActionsKey, given: ActionsResponse) -> Mark:
    """Replay a scenario against its model and mark it by what was lost."""
    offered = {option.id for option in item.actions}
    if len(given.actions) > item.limit or not offered.issuperset(given.actions):
        return unusable(item, "The record holds actions that this scenario does not offer. Play it again.")
    play, _ = scenarios.replay(key.model, item.scene, given.actions)
    verdict = play.verdict(given.gave_up)
    shown = verdict.misconception
    method = " ".join((verdict.method, misconception(shown).method() if shown else MANUAL)).strip()
    return share_of(item, verdict.share, verdict.reason, shown, verdict.critical, method)


def mark_text(item: TextItem, key: TextKey, given: TextResponse) -> Mark:
    """Hold a text for the person who marks it by the rubric."""
    if len(given.text) > item.limit:
        return unusable(item, f"The text is longer than {item.limit} characters. Shorten it.")
    if not given.text.strip():
        return unusable(item, "The text is empty. Write a sentence or two.")
    things = "one thing" if len(key.rubric) == 1 else f"{len(key.rubric)} things"
    return waiting(item, f"A person reads this text and looks for {things} in it.")


def mark_observed(item: ObservedItem, key: ObservedKey, given: ObservedResponse) -> Mark:
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
    worth = {"unprompted": 1.0, "prompted": PROMPTED_SHARE}
    share = sum(worth.get(given.steps.get(step, "not done"), 0.0) for step in steps) / len(steps)
    alone = sum(given.steps.get(step) == "unprompted" for step in steps)
    reason = f"{alone} of {len(steps)} steps were done without a prompt."
    return share_of(item, share, reason, method=reason)
