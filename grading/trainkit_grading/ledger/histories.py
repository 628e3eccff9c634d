"""Two journals with one history: what shows that somebody's answers were written by somebody else's hand.

A journal has a number of its own, drawn at random, and dates every answer to the millisecond. Two people's journals
never share the number, nor a run of answers to the same items at the same moments, unless one came out of the other
or both were written in one folder. That may have an honest reason, a shared machine above all: so it is told to a
person, and changes no mark. Whoever gives every answer a moment of its own is not found this way.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, TypeVar

from trainkit_grading.ledger.flags import Flag

if TYPE_CHECKING:
    from trainkit.journal import Reading


# So many answers to the same items at the same milliseconds are no accident; two or three are, in a large class
# that starts on a word of command.
ALIKE = 5


T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Trace:
    """What of a journal can be found again in another; small enough to keep for a whole cohort.

    Parameters
    ----------
    files : frozenset of str
        The numbers that the journal's lines say it has.
    moments : frozenset of (str, str)
        Time and item of every answer.
    """

    files: frozenset[str]
    moments: frozenset[tuple[str, str]]

    @classmethod
    def of(cls, reading: Reading) -> Trace:
        """Return the trace of a journal."""
        return cls(
            frozenset(entry.journal for entry in reading.entries),
            frozenset((entry.at, entry.item) for entry in reading.entries),
        )


def shared(traces: Mapping[str, Trace]) -> dict[str, tuple[Flag, ...]]:
    """Return, for each apprentice whose journal shares its history with another's, what to look at.

    Parameters
    ----------
    traces : mapping of str to Trace
        Of the journals of one module, by apprentice. One apprentice's own hand-ins are not compared with each other.

    Returns
    -------
    dict of str to tuple of Flag
        Of the kind ``"history"``; whoever shares nothing is not in it.

    Examples
    --------
    >>> from trainkit.journal import Reading
    >>> shared({"amir": Trace.of(Reading()), "bo": Trace.of(Reading())})
    {}
    """
    pairs: dict[tuple[str, str], str] = {}
    for _, holders in _holders((name, file) for name, trace in traces.items() for file in trace.files):
        pairs |= dict.fromkeys(combinations(sorted(holders), 2), "answers out of one file")
    alike: Counter[tuple[str, str]] = Counter()
    for _, holders in _holders((name, moment) for name, trace in traces.items() for moment in trace.moments):
        alike.update(combinations(sorted(holders), 2))
    for pair, count in alike.items():
        if count >= ALIKE:
            pairs.setdefault(pair, f"{_answers(count)} at the same milliseconds")
    found: dict[str, list[Flag]] = defaultdict(list)
    for (one, other), what in sorted(pairs.items()):
        for name, whose in ((one, other), (other, one)):
            text = f"This is the same history as {whose}’s: {what}. Ask both how that came."
            found[name].append(Flag("history", text))
    return {name: tuple(flags) for name, flags in sorted(found.items())}


def _holders(named: Iterable[tuple[str, T]]) -> Iterable[tuple[T, set[str]]]:
    """Return everything that more than one name stands beside, with these names."""
    by_thing: dict[T, set[str]] = defaultdict(set)
    for name, thing in named:
        by_thing[thing].add(name)
    return [(thing, holders) for thing, holders in by_thing.items() if len(holders) > 1]


def _answers(count: int) -> str:
    return "1 answer" if count == 1 else f"{count} answers"
