"""Playing scenarios: a safe way found by search over the plays, and ways by feel."""

from __future__ import annotations

import json
import random
from collections import deque
from collections.abc import Mapping, Sequence
from functools import lru_cache

from trainkit import lockpin
from trainkit.errors import ItemError
from trainkit.items import scenarios
from trainkit.items.kinds import ActionsItem, ActionsResponse

# A scenario whose safe end lies deeper than so many plays is no question for a person either.
_SEARCHED = 200_000


def safe_way(item: ActionsItem) -> tuple[str, ...]:
    """Return a shortest run of actions that earns all the points of a scenario.

    Raises
    ------
    ItemError
        If none is found.
    """
    return _safe_way(item.model, json.dumps(item.scene, sort_keys=True), item.limit)


@lru_cache(maxsize=1024)
def _safe_way(model: str, scene: str, limit: int) -> tuple[str, ...]:
    first = scenarios.begin(model, json.loads(scene))
    state = getattr(first, "state", None)
    if isinstance(state, lockpin.State):
        # This model knows its ways itself, a hundred times faster than a search from outside.
        return tuple(action.value for action in lockpin.shortest_way(state) or ())
    waiting: deque[tuple[scenarios.Play, tuple[str, ...]]] = deque([(first, ())])
    met = {first}
    while waiting and len(met) < _SEARCHED:
        play, way = waiting.popleft()
        if len(way) == limit:
            continue
        for action in play.actions:
            after, _ = play.act(action)
            if after in met:
                continue
            met.add(after)
            if not after.finished:
                waiting.append((after, (*way, action)))
            elif after.verdict().share >= 1.0:
                return (*way, action)
    raise ItemError(
        scene,
        rule=f"No run of at most {limit} actions ends safely in the scenario model {model}.",
        remedy="Look at the scene of the item.",
    )


def way_to_show(item: ActionsItem, code: str) -> tuple[str, ...] | None:
    """Return a shortest run of actions that shows a misconception, or None where none does."""
    way = _ways_to_show(item.model, json.dumps(item.scene, sort_keys=True)).get(code)
    return way if way is not None and len(way) <= item.limit else None


@lru_cache(maxsize=1024)
def _ways_to_show(model: str, scene: str) -> Mapping[str, tuple[str, ...]]:
    return scenarios.ways_to_show(model, json.loads(scene))


def played_at_random(item: ActionsItem, begun: Sequence[str], rng: random.Random) -> ActionsResponse:
    """Return a play that begins as given and goes on by feel, until it is over or given up."""
    play, _ = scenarios.replay(item.model, item.scene, tuple(begun))
    actions = list(begun)
    patience = min(item.limit, len(actions) + rng.randint(2, 9))
    while not play.finished and len(actions) < patience:
        actions.append(rng.choice(play.actions))
        play, _ = play.act(actions[-1])
    return ActionsResponse(actions=tuple(actions), gave_up=not play.finished)
