"""What an item could have shown, and how likely each kind of answer is with and without a misconception."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from trainkit.items import scenarios
from trainkit.items.facts import Facts, met_by_chance
from trainkit.items.kinds import ActionsItem, ActionsResponse, Item, Key, NumberKey, Response, kind_of
from trainkit.items.kinds.rules import NUMBER_MET
from trainkit.items.kinds.values import Met
from trainkit.items.marking import mark

__all__ = ["HOLD", "HOLD_IN_PLAY", "PRIOR", "SLIP", "Chance", "Met", "chances", "seen", "whole"]

# Judgement, no source: what an instructor would bet who knows nothing about an apprentice yet.
PRIOR = 0.02  # that a given misconception is held
HOLD = 0.85  # that a held misconception shows where it can
HOLD_IN_PLAY = 0.4  # the same in a scenario, whose play need not come by the place where it matters
SLIP = 0.1  # that an answer is a slip or a guess, where nothing is known about who gave it

_UNREADABLE = 0.01


@dataclass(frozen=True, slots=True)
class Chance:
    """How likely each kind of answer to one item is, as far as one misconception goes.

    Parameters
    ----------
    if_held, if_not : mapping of str to float
        Probability of each kind of answer from somebody who holds the misconception, and from somebody who does
        not; each sums to 1. ``"shows"`` shows the misconception, ``"another"`` shows another one,
        ``"unrecognised"`` is wrong and shows nothing known, ``"right"`` is right where the misconception would tell.
    """

    if_held: Mapping[Met, float]
    if_not: Mapping[Met, float]

    def factor(self, kind: Met) -> float:
        """Return by how much an answer of this kind multiplies the odds that the misconception is held."""
        return self.if_held[kind] / self.if_not[kind] if self.if_not[kind] else 1.0


def chances(
    item: Item, key: Key, slip: float = SLIP, beside: Collection[str] = (), facts: Facts | None = None
) -> Mapping[str, Chance]:
    """Return what an answer to an item could show, and how likely that is.

    Parameters
    ----------
    item : Item
        What is shown.
    key : Key
        What is right, of the same kind as the item.
    slip : float
        Probability that an answer is a slip or a guess.
    beside : collection of str
        Codes that cannot show in this item alone, but have shown together with another (:func:`seen`).
    facts : Facts, optional
        What is known of the draw; see :func:`trainkit.items.facts.met_by_chance`.

    Returns
    -------
    mapping of str to Chance
        By the code of the misconception; empty where a person judges the answer, or where item and key do not
        belong together.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> from trainkit.items.kinds import ChoiceKey
    >>> item = ChoiceItem(prompt="How far?", options=tuple(Option(id=name, text=name) for name in "abc"))
    >>> key = ChoiceKey(template="t/t", working=("So far.",), right="a", shows={"b": "inverse-ratio"})
    >>> {code: round(chance.factor("shows"), 1) for code, chance in chances(item, key).items()}
    {'inverse-ratio': 16.3}
    """
    met = {**dict.fromkeys(beside, NUMBER_MET), **met_by_chance(item, key, facts)}
    apart = kind_of(item.kind).apart is not None
    hold = HOLD_IN_PLAY if item.kind == "actions" else HOLD
    shown = min(1.0, sum(met.values()))
    return {
        code: _chance(share, 0.0 if apart else max(0.0, shown - share), 0 if apart else len(met) - 1, hold, slip)
        for code, share in met.items()
    }


@lru_cache(maxsize=4096)
def _chance(met: float, others_met: float, others: int, hold: float, slip: float) -> Chance:
    """Work out the model that the package describes.

    Parameters
    ----------
    met, others_met : float
        Part of the wrong answers that shows this misconception, and part that shows another.
    others : int
        How many others could show.
    hold : float
        Chance that a held misconception shows.
    slip : float
        Chance of a slip or a guess.
    """
    thought = 1.0 - slip
    rival = _any_shows(others, hold)
    slipped: dict[Met, float] = {
        "shows": slip * met,
        "another": slip * others_met,
        "unrecognised": slip * (1.0 - met - others_met),
        "right": 0.0,
    }
    if_not: dict[Met, float] = {"another": thought * rival, "right": thought * (1.0 - rival)}
    if_held: dict[Met, float] = {
        "shows": thought * hold * (1.0 - rival / 2.0),
        "another": thought * rival * (1.0 - hold / 2.0),
        "right": thought * (1.0 - hold) * (1.0 - rival),
    }
    return Chance(
        MappingProxyType({kind: share + if_held.get(kind, 0.0) for kind, share in slipped.items()}),
        MappingProxyType({kind: share + if_not.get(kind, 0.0) for kind, share in slipped.items()}),
    )


def _any_shows(count: int, hold: float) -> float:
    """Return the probability that at least one of so many misconceptions is held and shows."""
    return 1.0 - float((1.0 - PRIOR * hold) ** count)


def whole(item: Item, met: Mapping[str, float], kinds: Iterable[Met], right: bool, slip: float) -> float:
    """Return how likely an answer as a whole is from somebody of whom nothing is known but how often they slip.

    Parameters
    ----------
    item : Item
        What was shown.
    met : mapping of str to float
        What part of the wrong answers shows each misconception.
    kinds : iterable of str
        What :func:`seen` says about the answer.
    right : bool
        Whether it is right.
    slip : float
        How often they slip or guess.
    """
    shows = _any_shows(len(met), HOLD_IN_PLAY if item.kind == "actions" else HOLD)
    share = min(1.0, sum(met.values()))
    if right:
        return (1.0 - slip) * (1.0 - shows)
    if "shows" in kinds:
        return slip * share + (1.0 - slip) * shows
    # Even where every wrong option shows something an answer may be unreadable.
    return slip * max(1.0 - share, _UNREADABLE)


def seen(item: Item, key: Key, response: Response, facts: Facts | None = None) -> Mapping[str, Met]:
    """Return what kind of answer was given, for each misconception that it could have shown.

    Parameters
    ----------
    item, key : Item, Key
        What was shown and what is right.
    response : Response
        What was given.
    facts : Facts, optional
        What is known of the draw; see :func:`trainkit.items.facts.met_by_chance`.

    Returns
    -------
    mapping of str to str
        By the code of the misconception; empty for an answer of the wrong kind. A number that two wrong rules lead
        to together shows both.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> from trainkit.items.kinds import ChoiceKey
    >>> from trainkit.items.kinds import ChoiceResponse
    >>> item = ChoiceItem(prompt="How far?", options=tuple(Option(id=name, text=name) for name in "abc"))
    >>> key = ChoiceKey(template="t/t", working=("So far.",), right="a", shows={"b": "inverse-ratio"})
    >>> [seen(item, key, ChoiceResponse(option=name))["inverse-ratio"] for name in "abc"]
    ['right', 'shows', 'unrecognised']
    """
    if not item.kind == key.kind == response.kind:
        return {}
    apart = kind_of(item.kind).apart
    if apart is not None:
        return {code: apart.met(code, where, key, response) for code, where in apart.places(item, key).items()}
    could = met_by_chance(item, key, facts)
    got = mark(item, key, response, facts)
    shown = {got.misconception, _second(item, key, response, got.misconception)}
    if got.verdict == "right" or (got.misconception is None and _played_out(item, response)):
        return dict.fromkeys(could, "right")
    other: Met = "another" if got.misconception else "unrecognised"
    kinds: dict[str, Met] = {code: "shows" if code in shown else other for code in could}
    # Of two that a number shows at once one may be such that it could not have shown alone.
    return {**kinds, **dict.fromkeys(filter(None, shown if len(shown - {None}) > 1 else ()), "shows")}


def _second(item: Item, key: Key, response: Response, first: str | None) -> str | None:
    """Return the other one of two misconceptions that a number shows at once; the mark has but the first."""
    if not isinstance(key, NumberKey) or not key.pairs or first is None:
        return None
    if mark(item, key.model_copy(update={"pairs": ()}), response).misconception == first:
        return None
    alone = (
        (pair, key.model_copy(update={"rules": (), "pairs": (pair,)})) for pair in key.pairs if pair.first == first
    )
    return next((pair.second for pair, only in alone if mark(item, only, response).misconception == first), None)


def _played_out(item: Item, response: Response) -> bool:
    """Tell whether a scenario was played to its end; one that ends well may have taken a needless way round."""
    if not isinstance(item, ActionsItem) or not isinstance(response, ActionsResponse):
        return False
    play, _ = scenarios.replay(item.model, item.scene, response.actions)
    return play.finished
