"""Scenarios that are played one action at a time, whatever the model behind them.

A model registers a function that begins a play from an item's ``scene``. A play is a read-only value; acting on it
gives the next play and what eye and hand get, in words. The same code runs under the control on the screen, in
marking and in the tests.
"""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from dataclasses import dataclass
from types import ModuleType
from typing import Any, Protocol

from trainkit.errors import ItemError


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a finished or abandoned play is worth.

    Parameters
    ----------
    share : float
        Part of the points earned, 0 to 1.
    reason : str
        What happened and what to do next, in whole sentences.
    misconception : str or None
        Code of the misconception that the play shows, if one is recognised.
    critical : bool
        Whether something happened that would hurt the engine or a person.
    method : str
        What may be told of it while another attempt is open: what happened, not what should have come next.
    """

    share: float
    reason: str
    misconception: str | None = None
    critical: bool = False
    method: str = ""


class Play(Protocol):
    """A scenario at one moment; read-only."""

    @property
    def finished(self) -> bool:
        """Whether the scenario is over, decided or damaged; further actions are then ignored."""
        ...

    @property
    def view(self) -> Mapping[str, Any]:
        """What the eye sees, as parameters for :mod:`trainkit.figures`: ``{"draw": ..., ...}``."""
        ...

    @property
    def behind(self) -> Mapping[str, Any]:
        """What no eye sees, for a picture that is cut open; shown in practice only."""
        ...

    @property
    def wrecked(self) -> bool:
        """Whether it ended in what hurts a person or the engine."""
        ...

    @property
    def actions(self) -> tuple[str, ...]:
        """Identifiers of the actions that can be tried now."""
        ...

    def act(self, action: str) -> tuple[Play, str]:
        """Return the next play and what eye and hand get from the action, in words."""
        ...

    def explain(self) -> str:
        """Say what the last action did and why it matters; shown in practice only."""
        ...

    def verdict(self, gave_up: bool = False) -> Verdict:
        """Judge the play as it stands."""
        ...


# The module that holds each model; loaded when a scene needs it.
_MODELS = {"lock-pin": "trainkit.items.lock_pin_scenario"}


def begin(model: str, scene: Mapping[str, Any]) -> Play:
    """Begin a play of ``model`` from ``scene``.

    Raises
    ------
    ItemError
        If no such model exists or the scene is not one of its.
    """
    play: Play = _of(model).begin(scene)
    return play


def ways_to_show(model: str, scene: Mapping[str, Any]) -> Mapping[str, tuple[str, ...]]:
    """Return a shortest play to each misconception that a play of ``scene`` can show.

    Raises
    ------
    ItemError
        If no such model exists or the scene is not one of its.
    """
    ways: Mapping[str, tuple[str, ...]] = _of(model).ways_to_show(scene)
    return ways


def _of(model: str) -> ModuleType:
    if model not in _MODELS:
        raise ItemError(model, rule=f"The scenario models are {', '.join(_MODELS)}.", remedy="Name one of them.")
    return importlib.import_module(_MODELS[model])


def replay(model: str, scene: Mapping[str, Any], actions: tuple[str, ...]) -> tuple[Play, tuple[str, ...]]:
    """Play ``actions`` from ``scene`` and return the last play and what was seen and felt after each action."""
    play = begin(model, scene)
    log: list[str] = []
    for action in actions:
        if play.finished:
            break
        play, seen = play.act(action)
        log.append(seen)
    return play, tuple(log)
