"""What one fixed list of actions comes to on a bench that is found in many ways.

A list is played as an apprentice could play it from memory: what cannot be done as things stand is passed over, as the
bench does. It passes a start where the component is tight in the end and nothing was lost, needless actions or not.

The search covers: every shortest way of every start, alone and behind each of a few openings that make most ways of
being found alike; and a beam over all lists of any of the actions up to a length, in which those lists are kept on that
have passed most starts or still may. It proves no upper limit; what it finds is a list that does pass so many.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable, Sequence
from functools import cache
from itertools import chain

from trainkit import lockpin
from trainkit.items import lock_pin_scenario
from trainkit.items.kinds import ActionsItem
from trainkit.items.template import find
from trainkit.lockpin import Action, Consequence, State
from trainkit.packs import Pack

A = Action
Line = tuple[Action, ...]

# Whatever can be left undone is passed over: each of these brings a bench nearer to how it is found most often.
OPENINGS: tuple[Line, ...] = (
    (),
    (A.FREE,),
    (A.FIT_BAR,),
    (A.FREE, A.FIT_BAR),
    (A.LET_GO, A.FREE, A.FIT_BAR),
    (A.BAR_OFF, A.PIN_OUT, A.FREE, A.LET_GO, A.FIT_BAR),
    (A.BAR_OFF, A.PIN_OUT, A.FREE, A.LET_GO, A.FIT_BAR, A.BACK_OFF),
)


def starts(pack: Pack, count: int, seed: int = 1) -> list[State]:
    """Return how a bench is found in so many draws."""
    found = []
    template = find("lock-pin/pin-the-engine")
    for number in range(count):
        item = template.draw(random.Random(f"{seed} {number}"), pack).item
        assert isinstance(item, ActionsItem)
        found.append(lock_pin_scenario.begin(item.scene).state)
    return found


@cache
def after(state: State, action: Action) -> State:
    """Return the state after an action; what cannot be done changes nothing."""
    return lockpin.step(state, action)[0] if action in lockpin.possible(state) else state


def passed(found: Iterable[State], line: Line) -> float:
    """Return what part of the starts a list passes."""
    ends = []
    for state in found:
        for action in line:
            state = after(state, action)
        ends.append(state.outcome is Consequence.SAFE)
    return sum(ends) / len(ends)


@cache
def _left(state: State) -> int | None:
    way = lockpin.shortest_way(state)
    return None if way is None else len(way)


def _hope(states: Sequence[State]) -> float:
    """Return what may become of a list: starts that were passed, and those that still may, the nearer the more."""
    return sum(0.0 if (left := _left(state)) is None else 0.85**left for state in states)


def beam(found: Sequence[State], width: int = 60, length: int = 20) -> tuple[float, Line]:
    """Return the best list that a beam of this width finds, and what part it passes."""
    # What holds of equal starts is reckoned once.
    counted = Counter(found)
    first = tuple(chain.from_iterable([state] * number for state, number in counted.items()))
    lines: dict[tuple[State, ...], Line] = {first: ()}
    best: tuple[float, Line] = (0.0, ())
    for _ in range(length):
        grown: dict[tuple[State, ...], Line] = {}
        for states, line in lines.items():
            for action in Action:
                to = tuple(after(state, action) for state in states)
                if to != states:
                    grown.setdefault(to, (*line, action))
        kept = sorted(grown, key=_hope, reverse=True)[:width]
        lines = {states: grown[states] for states in kept}
        for states, line in lines.items():
            share = sum(state.outcome is Consequence.SAFE for state in states) / len(states)
            if share > best[0]:
                best = (share, line)
    return best


def best_list(found: Sequence[State], width: int = 60) -> tuple[float, Line]:
    """Return the fixed list that passes most of the starts, of all that are looked at, and what part it passes."""
    ways = {lockpin.shortest_way(state) or () for state in found}
    tried = {(*opening, *way) for opening in OPENINGS for way in ways}
    known = max(((passed(found, line), line) for line in sorted(tried)), default=(0.0, ()))
    return max(known, beam(found, width))
