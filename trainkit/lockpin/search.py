"""From which states a safe pinning can still be reached, found by search over the model."""

from __future__ import annotations

import heapq
from fractions import Fraction
from threading import Lock

from trainkit.errors import LockPinError
from trainkit.lockpin.motion import act_unchecked, possible
from trainkit.lockpin.setup import Setup
from trainkit.lockpin.state import Action, Consequence, State

# Barring a quarter turn of the crank counts as one more action: else two whole turns would be "shorter" than backing
# off a little and coming forward again. Backwards it counts four times: an engine is made to turn one way, and is
# barred back for a run-up only (common practice, no source).
_QUARTER_TURN = 90
_BACKWARDS = 4
# Barring back by eye counts as five actions: the model knows the lash, a person does not, and goes by the mark.
_BY_EYE = 5


class _Atlas:
    """Every state that was looked into, what follows from it, and the effort left to a safe pinning."""

    __slots__ = ("_looking", "left", "ways")

    def __init__(self) -> None:
        self._looking = Lock()  # a control on the screen may ask from another thread
        self.ways: dict[State, tuple[tuple[Action, State, int], ...]] = {}
        self.left: dict[State, int] = {}  # in ticks; a state from which nothing safe can be reached has no entry

    def look(self, start: State) -> None:
        """Look into a state and into everything that can follow from it.

        What was looked into before is closed: nothing new follows from it, so its effort stands.
        """
        with self._looking:
            if start not in self.ways:
                self._explore(start)

    def _explore(self, start: State) -> None:
        price = _QUARTER_TURN * start.lattice.scale
        fresh: list[State] = [start]
        back: dict[State, list[tuple[State, int]]] = {}
        seen = {start}
        for state in fresh:  # grows while it is walked: breadth first
            ways = []
            for action in possible(state):
                effect = act_unchecked(state, action)
                after = effect.state
                if after.outcome.lost:
                    continue
                swept = effect.swept
                cost = price * (_BY_EYE if action is Action.BACK else 1)
                cost += swept if swept >= 0 else -_BACKWARDS * swept
                ways.append((action, after, cost))
                back.setdefault(after, []).append((state, cost))
                if after not in seen and after not in self.ways:
                    seen.add(after)
                    fresh.append(after)
            self.ways[state] = tuple(ways)
        self._measure(back)

    def _measure(self, back: dict[State, list[tuple[State, int]]]) -> None:
        count = 0  # states have no order of their own
        heap: list[tuple[int, int, State]] = []
        for state in back:
            if state.outcome is Consequence.SAFE:
                self.left[state] = 0
            if state in self.left:
                heap.append((self.left[state], count, state))
                count += 1
        heapq.heapify(heap)
        while heap:
            left, _, state = heapq.heappop(heap)
            if left > self.left[state]:
                continue
            for before, cost in back.get(state, ()):
                if left + cost < self.left.get(before, left + cost + 1):
                    self.left[before] = left + cost
                    count += 1
                    heapq.heappush(heap, (left + cost, count, before))


def _atlas(setup: Setup) -> _Atlas:
    found: _Atlas = setup._memo.setdefault("atlas", _Atlas())
    return found


def acceptable(state: State) -> tuple[Action, ...]:
    """Return the actions after which a safe pinning can still be reached.

    Parameters
    ----------
    state : State
        Any state; one that has ended has no actions.

    Returns
    -------
    tuple of Action
        In the order of :class:`Action`; empty where nothing safe can follow any more.

    Notes
    -----
    Found by looking into every state that can follow, once for each setup. No author lists them.

    Examples
    --------
    >>> from trainkit.lockpin.motion import act
    >>> setup = Setup(press_from=6, give_up=4, back_off=15, lash_to_pin=0.5, lash_to_component=1.25)
    >>> state = State.start(setup, before=6)
    >>> for action in (Action.PRESS, Action.ON, Action.ON, Action.ON):
    ...     state = act(state, action).state
    >>> print(state.pin, *acceptable(state), sep=", ")
    seated, check-stroke, bar-off, declare
    """
    if state.finished:
        return ()
    atlas = _atlas(state.setup)
    atlas.look(state)
    return tuple(action for action, after, _ in atlas.ways[state] if after in atlas.left)


def shortest_way(state: State) -> tuple[Action, ...] | None:
    """Return a safe way with the least effort, or None where there is none.

    Effort is the number of actions; every quarter turn that the crank is barred on counts as one more, and as four
    more where it is barred back. Barring back by eye counts as five actions: it is right to go by the back-off mark.
    Of equal ways the one whose actions come first in :class:`Action` is returned.

    Parameters
    ----------
    state : State
        Any state.

    Returns
    -------
    tuple of Action or None
        Empty where it has ended safely.

    Examples
    --------
    >>> setup = Setup(press_from=6, give_up=4, back_off=15, lash_to_pin=0.5, lash_to_component=1.25, stiff=True)
    >>> print(*shortest_way(State.start(setup, before=40)), sep=", ")
    free-pin, on-to-press-mark, press, on-a-little, on-a-little, on-a-little, bar-off, declare, pin-out, tighten
    """
    if state.finished:
        return () if state.outcome is Consequence.SAFE else None
    atlas = _atlas(state.setup)
    atlas.look(state)
    if state not in atlas.left:
        return None
    way = []
    while not state.finished:
        left = atlas.left[state]
        action, state = next(
            (action, after)
            for action, after, cost in atlas.ways[state]
            if after in atlas.left and atlas.left[after] + cost == left
        )
        way.append(action)
    return tuple(way)


def nearer(before: State, after: State) -> bool:
    """Tell whether less effort is left to a safe pinning after than before.

    Examples
    --------
    >>> setup = Setup(press_from=6, give_up=4, back_off=15)
    >>> nearer(State.start(setup, before=30), State.start(setup, before=6))
    True
    """
    return _left(after) < _left(before)


def effort(state: State) -> Fraction:
    """Return the effort that a safe pinning still takes: actions, and quarter turns of the crank.

    Raises
    ------
    LockPinError
        If none can be reached.
    """
    return Fraction(_left(state), _QUARTER_TURN * state.lattice.scale)


def _left(state: State) -> int:
    """Return the effort in ticks."""
    if state.outcome is Consequence.SAFE:
        return 0
    atlas = _atlas(state.setup)
    if not state.finished:
        atlas.look(state)
    left = atlas.left.get(state)
    if left is None:
        raise LockPinError(
            str(state.outcome), rule="No safe pinning can follow from here.", remedy="Begin again from the start."
        )
    return left
