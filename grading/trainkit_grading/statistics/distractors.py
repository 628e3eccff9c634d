"""Which options of a template are taken, and which by nobody.

An option is known by what it shows (the code of a misconception, or :data:`RIGHT`), not by its letter: letters are
shuffled, and each draw has options of its own. So it is counted over all draws of a template, out of those answers in
which it stood there to be taken. Rules of a number that was typed in count alike: each was there to be shown.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from trainkit_grading.errors import StatisticsError
from trainkit_grading.statistics.shares import share, wilson
from trainkit_grading.statistics.values import CONFIDENCE, LEAST, Figure

RIGHT = "right"
# Nobody takes an option where none has, and where it is as good as sure that fewer than this part ever would.
NOBODY = 0.1


class Taken(NamedTuple):
    """One answer: which template it is of, what stood there to be taken, and what was.

    Examples
    --------
    >>> Taken("gears/ratio", ("right", "inverse-ratio"), ("right",)).taken
    ('right',)
    """

    template: str
    offered: tuple[str, ...]
    taken: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OptionChosen:
    """What became of one option of a template.

    Parameters
    ----------
    template, label : str
        Of which template, and what it shows.
    offered, taken : int
        In how many answers it stood there, and in how many it was taken.
    share : Estimate or Withheld
        The part of those who could that took it.
    nobody : bool or None
        Whether it is one that nobody takes; None where too few could have for that to be said.
    """

    template: str
    label: str
    offered: int
    taken: int
    share: Figure
    nobody: bool | None

    @property
    def right(self) -> bool:
        """Whether it is the right one."""
        return self.label == RIGHT

    def __str__(self) -> str:
        told = {True: ", nobody takes it", False: "", None: ", too few to say whether anybody takes it"}[self.nobody]
        return f"{self.template}, {self.label}: taken {self.taken:,} of {self.offered:,} times{told}"


def options(
    answers: Iterable[Taken] | Mapping[Taken, int],
    *,
    confidence: float = CONFIDENCE,
    least: int = LEAST["share"],
) -> tuple[OptionChosen, ...]:
    """Count for each template and label how often it could be taken and how often it was.

    *Nobody* takes an option that none took, where the upper limit of Wilson's interval lies below :data:`NOBODY`: at
    95 per cent that is from 35 answers on. Such a distractor does no work; write another.

    Parameters
    ----------
    answers : iterable of Taken, or mapping of Taken to int
        All answers, or how many there are of each.
    confidence : float
        How sure the intervals are meant to be.
    least : int
        From how many answers a share is given.

    Returns
    -------
    tuple of Option
        By template, then by how often they were taken, the most first.

    Raises
    ------
    StatisticsError
        If something was taken that did not stand there.

    Examples
    --------
    >>> answers = [Taken("ratio", ("right", "inverse"), ("right",))] * 39 + [Taken("ratio", ("right", "one"), ("one",))]
    >>> for found in options(answers):
    ...     print(found)
    ratio, right: taken 39 of 40 times
    ratio, one: taken 1 of 1 times
    ratio, inverse: taken 0 of 39 times, nobody takes it
    """
    offered: Counter[tuple[str, str]] = Counter()
    taken: Counter[tuple[str, str]] = Counter()
    # Equal answers are counted first: there are few different ones, however many people.
    for answer, times in Counter(answers).items():
        there = set(answer.offered)
        if strange := set(answer.taken) - there:
            raise StatisticsError(
                sorted(strange)[0],
                rule="What is taken stood there to be taken.",
                remedy="Add it to `offered`.",
                place=answer.template,
            )
        for label in there:
            offered[answer.template, label] += times
        for label in set(answer.taken):
            taken[answer.template, label] += times
    found = []
    for (template, label), could in offered.items():
        did = taken[template, label]
        part = share(
            did,
            could,
            name="taken",
            what="The part of those who could that took it.",
            of="answers",
            subject=f"{template}, {label}",
            confidence=confidence,
            least=least,
        )
        never = did == 0 and wilson(0, could, confidence).high < NOBODY
        found.append(OptionChosen(template, label, could, did, part, never if did or never else None))
    return tuple(sorted(found, key=lambda option: (option.template, -option.taken, option.label)))
