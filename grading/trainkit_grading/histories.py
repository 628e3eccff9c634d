"""Two journals with one history: what shows that somebody's answers were written by somebody else's hand.

A journal has a number of its own, drawn at random, and dates every answer to the millisecond. Two people's journals
never share the number, nor a run of answers to the same items at the same moments, unless one came out of the other
or both were written in one folder. That may have an honest reason, a shared machine above all: so it is told to a
person, and changes no mark. Whoever gives every answer a moment of its own is not found this way.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from itertools import combinations
from typing import TYPE_CHECKING

from trainkit_grading.flags import Flag

if TYPE_CHECKING:
    from trainkit.journal import Reading

__all__ = ["ALIKE", "shared"]

# So many answers to the same items at the same milliseconds are no accident; two or three are, in a large class
# that starts on a word of command.
ALIKE = 5


def shared(readings: Mapping[str, Reading]) -> dict[str, tuple[Flag, ...]]:
    """Return, for each apprentice whose journal shares its history with another's, what to look at.

    Parameters
    ----------
    readings : mapping of str to Reading
        The journals of one module, by apprentice. One apprentice's own hand-ins are not compared with each other.

    Returns
    -------
    dict of str to tuple of Flag
        Of the kind ``"history"``; whoever shares nothing is not in it.

    Examples
    --------
    >>> from trainkit.journal import Reading
    >>> shared({"amir": Reading(), "bo": Reading()})
    {}
    """
    written = [(name, entry) for name, reading in readings.items() for entry in reading.entries]
    pairs: dict[tuple[str, str], str] = {}
    for one, other in _together((name, entry.journal) for name, entry in written):
        both = {entry.journal for entry in readings[one].entries} & {entry.journal for entry in readings[other].entries}
        count = min(sum(entry.journal in both for entry in readings[name].entries) for name in (one, other))
        pairs[one, other] = f"{_answers(count)} from one file"
    alike: Counter[tuple[str, str]] = Counter()
    for holders in _holders((name, (entry.at, entry.item)) for name, entry in written):
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


def _together(named: Iterable[tuple[str, object]]) -> Iterable[tuple[str, str]]:
    """Yield each pair of names that stand beside the same thing, once."""
    return sorted({pair for holders in _holders(named) for pair in combinations(sorted(holders), 2)})


def _holders(named: Iterable[tuple[str, object]]) -> Iterable[set[str]]:
    by_thing: dict[object, set[str]] = defaultdict(set)
    for name, thing in named:
        by_thing[thing].add(name)
    return [holders for holders in by_thing.values() if len(holders) > 1]


def _answers(count: int) -> str:
    return "1 answer" if count == 1 else f"{count} answers"
