"""What a person marks a text by: criteria with their points, what a full answer names, what has to be flagged.

It stands in the key alone and is for the person who marks; an apprentice's copy and feedback never hold it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainkit.errors import ItemError
from trainkit.items.kinds import TextKey
from trainkit.sentences import counted, decimal

if TYPE_CHECKING:
    from trainkit.items.kinds import Key


@dataclass(frozen=True, slots=True)
class RubricPoint:
    """One thing that a person looks for in a text.

    Parameters
    ----------
    looks_for : str
        What it is, a few words.
    names : tuple of str
        What a full answer names, whole sentences; the apprentice's words may be others.
    points : float
        What it earns in full.
    """

    looks_for: str
    names: tuple[str, ...]
    points: float


@dataclass(frozen=True, slots=True)
class Rubric:
    """What a person marks one text by.

    Parameters
    ----------
    criteria : tuple of Criterion
        What earns points.
    dangerous : tuple of str
        Statements that would hurt the engine or a person; one of them is flagged, whatever else the text says.
    working : tuple of str
        How facts and figures come about.
    """

    criteria: tuple[RubricPoint, ...]
    dangerous: tuple[str, ...]
    working: tuple[str, ...]

    @property
    def points(self) -> float:
        """Sum of the points of all criteria."""
        return math.fsum(each.points for each in self.criteria)

    def out_of(self, points: float) -> Rubric:
        """Return the same rubric with the points of its criteria in proportion, so that they come to ``points``."""
        share = points / self.points
        return replace(self, criteria=tuple(replace(each, points=each.points * share) for each in self.criteria))

    def __str__(self) -> str:
        lines = [f"Rubric, {_points(self.points)} in all. The words are the apprentice's own; the sense counts."]
        for number, each in enumerate(self.criteria, 1):
            lines += [f"{number}. {each.looks_for} ({_points(each.points)})", *(f"   - {name}" for name in each.names)]
        if self.dangerous:
            lines += ["To be flagged, whatever else is said:", *(f"   - {each}" for each in self.dangerous)]
        lines += ["How it comes about:", *(f"   {line}" for line in self.working)]
        return "\n".join(lines)


def rubric_of(key: Key, points: float | None = None) -> Rubric:
    """Return the rubric in the key of a text.

    Parameters
    ----------
    key : Key
        Key of a text item.
    points : float, optional
        What the item is worth in the blueprint; the criteria then come to as much. Without, as the key has them.

    Returns
    -------
    Rubric
        ``str()`` of it is plain text for the person who marks.

    Raises
    ------
    ItemError
        If no person marks by this key.

    Examples
    --------
    >>> from trainkit.items.kinds import RubricLine
    >>> line = RubricLine(looks_for="Why that way.", points=1, names=("The teeth rest as in service.",))
    >>> key = TextKey(template="t/t", working=("In service it is pushed.",), rubric=(line,), dangerous=("Heaves.",))
    >>> print(rubric_of(key, 2))
    Rubric, 2 points in all. The words are the apprentice's own; the sense counts.
    1. Why that way. (2 points)
       - The teeth rest as in service.
    To be flagged, whatever else is said:
       - Heaves.
    How it comes about:
       In service it is pushed.
    """
    if not isinstance(key, TextKey):
        raise ItemError(
            key.kind, rule="Only a text is marked by a rubric.", remedy="Ask for the rubric of an item of kind “text”."
        )
    criteria = tuple(RubricPoint(line.looks_for, line.names, line.points) for line in key.rubric)
    rubric = Rubric(criteria, key.dangerous, key.working)
    return rubric if points is None else rubric.out_of(points)


def _points(points: float) -> str:
    return counted(float(decimal(points)), "point")
