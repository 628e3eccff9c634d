"""A scenario that is played, one action at a time."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import Field

from trainkit.items import scenarios
from trainkit.items.kinds.values import Kind, Known, Option, Shown, Token, Value
from trainkit.items.marks import Mark, share_of, unusable
from trainkit.items.misconceptions import MANUAL, misconception


class ActionsItem(Shown):
    """A scenario is played, one action at a time, until it is decided or given up.

    ``model`` names the scenario model (:mod:`trainkit.items.scenarios`), ``scene`` is its starting point, all of it
    told to the apprentice in ``prompt`` and ``given``; ``limit`` is the largest number of actions.
    """

    kind: Literal["actions"] = "actions"
    model: str
    scene: dict[str, Any]
    actions: tuple[Option, ...]
    limit: Annotated[int, Field(ge=1, le=200)] = 60


class ActionsKey(Known):
    """A scenario is judged by its model; ``goal`` holds what the model needs to judge it."""

    kind: Literal["actions"] = "actions"
    model: str
    goal: dict[str, Any] = Field(default_factory=dict)


class ActionsResponse(Value):
    """A scenario as it was played: the actions in turn, and whether it was given up."""

    kind: Literal["actions"] = "actions"
    actions: Annotated[tuple[Token, ...], Field(max_length=200)]
    gave_up: bool = False


def _mark(item: ActionsItem, key: ActionsKey, given: ActionsResponse) -> Mark:
    """Replay a scenario against its model and mark it by what was lost."""
    offered = {option.id for option in item.actions}
    if len(given.actions) > item.limit or not offered.issuperset(given.actions):
        return unusable(item, "The record holds actions that this scenario does not offer. Play it again.")
    play, _ = scenarios.replay(key.model, item.scene, given.actions)
    verdict = play.verdict(given.gave_up)
    shown = verdict.misconception
    method = " ".join((verdict.method, misconception(shown).method() if shown else MANUAL)).strip()
    return share_of(item, verdict.share, verdict.reason, shown, verdict.critical, method)


def _accidents(item: ActionsItem, key: ActionsKey) -> dict[str, float]:
    codes = _plays(key.model, json.dumps(item.scene, sort_keys=True))
    return dict.fromkeys(codes, 1 / len(codes)) if codes else {}


@lru_cache(maxsize=1024)
def _plays(model: str, scene: str) -> frozenset[str]:
    return frozenset(scenarios.ways_to_show(model, json.loads(scene)))


KIND: Kind[ActionsItem, ActionsKey, ActionsResponse] = Kind(
    "actions",
    rule="All points for a safe end. A needless way back costs a little, what is lost costs the most.",
    mark=_mark,
    named=lambda item: item.actions,
    accidents=_accidents,
)
