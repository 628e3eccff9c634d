"""Plays of the bench as people make them: the shortest, one with detours of one's own, and a neighbour's."""

from __future__ import annotations

import random
from functools import cache

from tests.trainkit.second_ways.reading import pack
from trainkit import lockpin
from trainkit.items import lock_pin_scenario
from trainkit.items.kinds import ActionsItem
from trainkit.items.lock_pin.playing import PinTheEngine
from trainkit.lockpin import State


@cache
def benches(count: int, engine: str = "dunlin") -> tuple[ActionsItem, ...]:
    """Return benches as they are found on so many forms."""
    drawn = (PinTheEngine().draw(random.Random(f"copied {number}"), pack(engine)).item for number in range(count))
    return tuple(item for item in drawn if isinstance(item, ActionsItem))


def shortest(item: ActionsItem) -> list[str]:
    """Return a shortest play."""
    return [action.value for action in lockpin.shortest_way(_start(item)) or ()]


def detoured(item: ActionsItem, rng: random.Random, detours: int) -> list[str]:
    """Return a safe play in which somebody leaves the shortest way so often, each time in a way of their own."""
    state = _start(item)
    done: list[str] = []
    left = detours
    while not state.finished and len(done) < item.limit:
        way = lockpin.shortest_way(state)
        assert way
        astray = [
            action
            for action in lockpin.acceptable(state)
            if action != way[0] and not lockpin.nearer(state, lockpin.step(state, action)[0])
        ]
        action = rng.choice(astray) if left and astray and rng.random() < 0.5 else way[0]
        left -= action in astray
        state, _ = lockpin.step(state, action)
        done.append(action.value)
    return done


def full_marks(item: ActionsItem, actions: list[str]) -> bool:
    """Tell whether a play earns everything; what cannot be done is passed over, as at the bench."""
    play = lock_pin_scenario.begin(item.scene)
    for action in actions:
        play, _ = play.act(action)
    return play.verdict().share == 1


def _start(item: ActionsItem) -> State:
    return lock_pin_scenario.begin(item.scene).state
