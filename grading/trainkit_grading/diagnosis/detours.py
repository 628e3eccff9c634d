"""Plays of a bench that share more detours than chance gives.

A *detour* is an action that leaves more to do than before, by the mechanics: it lies beyond a shortest way from where
the bench was found. It is known by itself and the two actions before it, and counts once in a play. Two people who know
the work play a shortest way, and such plays are equal for good reason; a shortest play holds no detour, so it is never
named here. What is named changes no points and holds nothing back: a person looks at it.

The model
---------
Chance is what the other plays of the same question show. After the same two actions somebody makes this very detour
with the probability (detours seen + 1) / (decisions seen + :data:`CHOICES`), both counted over everybody except the two
that are compared; from that follows how likely somebody who decided so often after those two made it at least once.
Detours are taken as independent of each other, so the number that two plays share is a sum of independent events. Its
upper tail, times the number of pairs that are compared, is the chance that *any* pair is so alike: it has to be at most
:data:`LEVEL`, and at least :data:`LEAST` detours are shared. The tail is taken in both directions, and the larger one
counts.

Its limits
----------
People who were taught together share habits; a class of four shows little of them. Whoever copies a shortest play, or
leaves the detours out, is not found. The level and the least number are judgement (common practice, no source).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Any

from trainkit.items import lock_pin_scenario

CHOICES = 14
"""So many actions a bench offers."""
LEAST = 3
LEVEL = 0.01

Decision = tuple[str, str, str]
"""An action, behind the two before it; these are empty at the start."""


@dataclass(frozen=True, slots=True)
class Play:
    """One play of a bench: what was decided, and which of it was a detour.

    Parameters
    ----------
    person : str
        Who played it.
    decisions : tuple of (str, str, str)
        Each action that was done, behind the two before it.
    detours : frozenset of (str, str, str)
        Those that were a detour at least once.
    after : mapping of (str, str) to int
        How often something was decided after each two actions.
    """

    person: str
    decisions: tuple[Decision, ...]
    detours: frozenset[Decision]
    after: Mapping[tuple[str, str], int] = field(default_factory=dict, compare=False)

    @classmethod
    def of(cls, person: str, scene: Mapping[str, Any], actions: Sequence[str]) -> Play:
        """Play the actions of somebody on the scene of their form.

        Raises
        ------
        ItemError
            If the scene cannot be.
        """
        play = lock_pin_scenario.begin(scene)
        decisions: list[Decision] = []
        detours: set[Decision] = set()
        before = ("", "")
        for action in actions:
            if play.finished or action not in play.actions:
                continue  # it was passed over at the bench, too
            play, _ = replace(play, detours=0).act(action)
            decisions.append((*before, action))
            if play.detours:
                detours.add((*before, action))
            before = (before[1], action)
        return cls(person, tuple(decisions), frozenset(detours), Counter(each[:2] for each in decisions))


@dataclass(frozen=True, slots=True)
class Alike:
    """Two plays that share more detours than chance gives.

    Parameters
    ----------
    people : tuple of str
        Whose they are.
    shared : tuple of (str, str, str)
        The detours that both made.
    chance : float
        How likely any pair of the class would be so alike by chance, at most 1.
    """

    people: tuple[str, str]
    shared: tuple[Decision, ...]
    chance: float


def alike(plays: Sequence[Play]) -> tuple[Alike, ...]:
    """Return the pairs of plays of one question that share more detours than chance gives, the least likely first.

    Examples
    --------
    >>> alike(())
    ()
    """
    made = Counter(detour for play in plays for detour in play.detours)
    decided: Counter[tuple[str, str]] = Counter()
    for play in plays:
        decided.update(play.after)
    pairs = len(plays) * (len(plays) - 1) // 2
    found = []
    for one, other in combinations([play for play in plays if len(play.detours) >= LEAST], 2):
        shared = one.detours & other.detours
        if len(shared) < LEAST:
            continue
        tails = []
        for held, met in ((one, other), (other, one)):
            chances = []
            for detour in held.detours:
                before = detour[:2]
                seen = made[detour] - (detour in one.detours) - (detour in other.detours)
                of = decided[before] - one.after.get(before, 0) - other.after.get(before, 0)
                once = (seen + 1) / (of + CHOICES)
                chances.append(1 - (1 - min(once, 1.0)) ** met.after.get(before, 0))
            tails.append(_at_least(len(shared), chances))
        chance = min(1.0, max(tails) * pairs)
        if chance <= LEVEL:
            found.append(Alike((one.person, other.person), tuple(sorted(shared)), chance))
    return tuple(sorted(found, key=lambda each: (each.chance, each.people)))


def _at_least(count: int, chances: Sequence[float]) -> float:
    """Return the probability that at least so many of independent events happen.

    Examples
    --------
    >>> _at_least(2, [0.5, 0.5]), round(_at_least(1, [0.5, 0.5]), 2)
    (0.25, 0.75)
    """
    ways = [1.0]  # by how many have happened
    for chance in chances:
        ways = [
            (ways[k] * (1 - chance) if k < len(ways) else 0.0) + (ways[k - 1] * chance if k else 0.0)
            for k in range(len(ways) + 1)
        ]
    return sum(ways[count:])
