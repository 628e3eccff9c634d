"""The scenario *lock pin*: bar an engine to the right dead centre, pin it, and tighten the component.

The scene is plain data (:mod:`.lock_pin_scene`) that the item tells in words (:mod:`trainkit.items.lock_pin`):
everything in it is shown.

What the eye sees while it is played, for the drawing ``pin-bench``:

``draw``       ``"pin-bench"``
``name``       what bears the mark, in words
``seen_from``  ``"front"`` or ``"flywheel"``: the end that everything is seen from
``tooth``      clock position of the mark now, ``"2:15"``
``marks``      fixed marks in the order in which barring forward meets them, each ``{"at": "1:55", "label": ...}``;
               labels are ``back off to``, ``press from``, ``pin seats`` and ``give up``
``forward``    sense of the watched gear when the engine is barred forward, ``"clockwise"`` or ``"anticlockwise"``
``turned``     the way the engine was barred last, ``"forward"``, ``"back"``, or ``""`` where nobody has barred yet
``bar``        ``"fitted"`` or ``"off"``
``pin``        ``"out"``, ``"pressed"`` (against metal), ``"in"`` (a hole, true or false) or ``"broken"``

The tooth is drawn where an eye would put it, to the nearest place at which barring a little stops: the flank that
the gears rest on is never shown.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any

from pydantic import ValidationError

from trainkit import lockpin
from trainkit.errors import ItemError
from trainkit.items.dial_marks import at_clock, dial_of, marks
from trainkit.items.lock_pin_scene import Scene, as_dial, start_of
from trainkit.items.scenarios import Verdict
from trainkit.lockpin import Action, Consequence, Happening, Pin, Setup, State

# What each end is worth where it is not safe, as a share of the points. Common sense of the bench, no source.
_WORTH: Mapping[Consequence, float] = {
    Consequence.UNPROVEN: 0.5,  # right by luck
    Consequence.MOVED: 0.5,  # right, and then lost
    Consequence.MISTIMED: 0.25,  # the right hole, on the wrong flank
}
_EACH_DETOUR = 0.1
_MOST_DETOURS = 4
_PINNED, _SET = 0.3, 0.5  # stopped before the end, but that far


def begin(scene: Mapping[str, Any]) -> PinPlay:
    """Begin a play.

    Raises
    ------
    ItemError
        If the scene is not well formed, cannot be, or has no safe end.
    """
    try:
        # The rules of JSON are strict about yes and no, and take a list for a tuple.
        told = Scene.model_validate_json(json.dumps(dict(scene), allow_nan=False))
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        raise ItemError(
            ".".join(str(part) for part in first["loc"]),
            rule=f"A scene of the lock pin is well formed ({first['msg']}).",
            remedy="Fetch the module again.",
        ) from None
    except (TypeError, ValueError, RecursionError) as error:
        raise ItemError(
            "scene", rule=f"A scene of the lock pin is plain data ({error}).", remedy="Fetch the module again."
        ) from None
    try:
        start = start_of(told)
    except (ValueError, ZeroDivisionError) as error:  # LockPinError is one of the first
        raise ItemError(
            "scene", rule=f"A scene of the lock pin can be ({error})", remedy="Fetch the module again."
        ) from None
    if lockpin.shortest_way(start) is None:
        raise ItemError("scene", rule="A scene has a safe end.", remedy="Check what tells the right dead centre.")
    return PinPlay(start, watched=told.watched, dial=as_dial(told.dial))


def ways_to_show(scene: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """Return a shortest play to each misconception that a play of a scene can show, found by trying everything.

    Raises
    ------
    ItemError
        If the scene is not well formed, cannot be, or has no safe end.
    """
    ways: dict[str, tuple[str, ...]] = {}
    reached: dict[State, tuple[str, ...]] = {begin(scene).state: ()}
    waiting = list(reached)
    for state in waiting:  # grows while it is walked: breadth first
        for action in lockpin.possible(state):
            after, happening = lockpin.step(state, action)
            way = (*reached[state], action.value)
            if after.outcome.lost:
                shown = _shown(state, happening)
                if shown is not None:
                    ways.setdefault(shown, way)
            elif not after.finished and after not in reached:
                reached[after] = way
                waiting.append(after)
    return ways


@lru_cache(maxsize=64)
def _pictured(setup: Setup, dial: lockpin.Dial) -> Setup:
    return replace(setup, dial=dial)


@dataclass(frozen=True, slots=True)
class PinPlay:
    """The scenario at one moment; two plays are equal where the same can follow and it is worth the same.

    Parameters
    ----------
    state : State
        Where everything stands.
    detours : int
        Actions that took the job further from a safe end, counted up to a few.
    watched : str
        What bears the mark, in words.
    last : Happening, optional
        What the last action did.
    shows : str, optional
        The misconception that the end shows.
    barred : bool
        Whether the engine was barred since the play began.
    dial : Dial, optional
        How the mark goes round in the picture; that of the setup if none is given.
    """

    state: State
    detours: int = 0
    watched: str = field(default="", compare=False)
    last: Happening | None = field(default=None, compare=False)
    shows: str | None = field(default=None, compare=False)
    barred: bool = field(default=False, compare=False)
    dial: lockpin.Dial | None = field(default=None, compare=False)

    @property
    def finished(self) -> bool:
        """Whether it is over."""
        return self.state.finished

    @property
    def actions(self) -> tuple[str, ...]:
        """Identifiers of the actions that can be tried now."""
        return tuple(action.value for action in lockpin.possible(self.state))

    @property
    def view(self) -> Mapping[str, Any]:
        """What the eye sees; the keys are described with this module."""
        state, setup = self.state, self.state.setup
        if self.dial is not None:
            setup = _pictured(setup, self.dial)
        dial = dial_of(setup)
        way = "forward" if state.last > 0 else "back"
        return {
            "draw": "pin-bench",
            "name": self.watched,
            "seen_from": dial.seen_from,
            "tooth": at_clock(setup, -self._tooth()),
            "marks": [{"at": at, "label": label} for label, at in marks(setup).items()],
            "forward": "clockwise" if dial.clockwise else "anticlockwise",
            "turned": way if self.barred else "",
            "bar": "fitted" if state.bar_on else "off",
            "pin": _PIN_SEEN[state.pin],
        }

    @property
    def behind(self) -> Mapping[str, Any]:
        """What is behind the wall, in crank degrees: how far ahead of the pin each hole is, and how far the gear is."""
        lat, state = self.state.lattice, self.state
        places = (hole + turn * lat.period - state.hole for turn in (-1, 0, 1) for hole in (0, *lat.false_holes))
        near = sorted(place for place in places if abs(place) <= _IN_VIEW * lat.scale)
        return {
            "holes": [float(lat.angle(place)) for place in near],
            "clearance": float(state.setup.clearance),
            "turned": float(state.passing * state.setup.period + lat.angle(state.hole)),
        }

    @property
    def wrecked(self) -> bool:
        """Whether it ended in what hurts a person, the pin or the gears."""
        return self.state.outcome.critical

    def _tooth(self) -> Fraction:
        """Return crank degrees that the mark stands ahead of the right place, as an eye reads it."""
        lat, state = self.state.lattice, self.state
        lines = lat.lines[state.passing]
        mark = min(lines, key=lambda line: abs(line - state.mark))
        if state.pin is not Pin.SEATED and lat.little < 2 * abs(mark - state.mark):
            mark = state.mark  # far from all marks there is nothing to compare it with
        elif state.pin is Pin.SEATED:
            mark = 0
        return state.passing * state.setup.period + lat.angle(mark)

    def act(self, action: str) -> tuple[PinPlay, str]:
        """Return the next play and what eye and hand get; what cannot be tried changes nothing."""
        if action not in self.actions:
            return self, "That cannot be done as things stand."
        after, happening = lockpin.step(self.state, action)
        detours = self.detours
        if not after.outcome.lost and Action(action) not in _LOOKING:
            detours += not lockpin.nearer(self.state, after)
        play = replace(
            self,
            state=after,
            detours=min(detours, _MOST_DETOURS),
            last=happening,
            shows=_shown(self.state, happening),
            barred=self.barred or happening.barred != 0,
        )
        return play, happening.seen

    def explain(self) -> str:
        """Say what the last action did and why it matters."""
        return self.last.truth if self.last is not None else "Nothing has been done yet."

    def verdict(self, gave_up: bool = False) -> Verdict:
        """Judge by what was lost: a sheared pin is critical, a needless back-off costs little."""
        outcome = self.state.outcome
        if outcome is Consequence.SAFE:
            said = _praise(self.detours)
            return Verdict(1.0 - _EACH_DETOUR * self.detours, said, method=said)
        if outcome.lost:
            reason = self.last.truth if self.last is not None else lockpin.OUTCOMES[outcome]
            said = lockpin.OUTCOMES[outcome]
            return Verdict(_WORTH.get(outcome, 0.0), reason, self.shows, outcome.critical, said)
        return self._unfinished(gave_up)

    def _unfinished(self, gave_up: bool) -> Verdict:
        way = lockpin.shortest_way(self.state) or ()
        share = 0.0
        if self.state.declared:
            share = _SET
        elif self.state.pin is Pin.SEATED and self.state.timing_error == 0 and not self.state.seated_back:
            share = _PINNED
        stopped = "You stopped before the component was tight." if gave_up else "The component is not tight yet."
        following = [lockpin.ACTIONS[action].lower() for action in way[:2]]
        return Verdict(share, f"{stopped} What comes next: {', then '.join(following)}.", method=f"{stopped} {_GO_BY}")


_GO_BY = "Go by the marks: press, seat, give up, back off."
_IN_VIEW = 60  # crank degrees either side of the pin: what a picture of the cut may show while it moves
_LOOKING = (Action.CHECK, Action.FREE)
_PIN_SEEN: Mapping[Pin, str] = {
    Pin.OUT: "out",
    Pin.PRESSED: "pressed",
    Pin.SEATED: "in",
    Pin.FALSE_HOLE: "in",
    Pin.SHEARED: "broken",
}


def _praise(detours: int) -> str:
    said = lockpin.OUTCOMES[Consequence.SAFE]
    if not detours:
        return said
    count = "One action" if detours == 1 else f"{detours} actions" if detours < _MOST_DETOURS else "Several actions"
    return f"{said} {count} took you further away first. {_GO_BY}"


def _shown(before: State, happening: Happening) -> str | None:
    """Return the misconception that an end shows, from what stood before the last action."""
    outcome = happening.consequence
    if outcome is Consequence.SHEARED:
        return "goes-on-after-seating" if before.pin.in_a_hole else "sweeps-with-pin-held"
    if outcome is Consequence.WRONG_CENTRE:
        exhaust = abs(before.setup.off_centre(before.passing)) == 360 and before.setup.dead_centre == "compression"
        return "exhaust-for-compression" if exhaust else "any-dead-centre"
    if outcome is Consequence.MISTIMED:
        return "presses-and-turns-back" if before.last < 0 else "backs-off-too-little"
    return _SHOWS.get(outcome)


_SHOWS: Mapping[Consequence, str] = {
    Consequence.PIN_LEFT_IN: "leaves-the-pin-in",
    Consequence.STARTER: "uses-the-starter",
    Consequence.KICKED: "leaves-the-bar-on",
    Consequence.BAR_LEFT: "leaves-the-bar-on",
    Consequence.FALSE_HOLE: "trusts-the-feel",
    Consequence.NOT_PINNED: "mark-alone",
    Consequence.UNPROVEN: "any-dead-centre",
    Consequence.PINNED_BACK: "presses-and-turns-back",
    Consequence.MOVED: "moves-after-setting",
}
