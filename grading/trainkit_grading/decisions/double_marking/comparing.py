"""How far first and second marker agree, and where somebody has to decide.

Points are compared in three levels, nothing, a part, and all of them, because items have different numbers of points:
Cohen's kappa, weighted linearly so that a part against all counts as a near miss. Where the two differ by more than
:data:`DIFFERS` of an item's points, somebody decides; the first marker's points stand until then.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from trainkit_grading.ledger.kinds import Decided, SecondJudged
from trainkit_grading.statistics import agreement, kappa

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainkit_grading.ledger.book import Ledger
    from trainkit_grading.statistics import Figure


# Of the points of an item; our own figure, stated in the handbook.
DIFFERS = 0.25
LEVELS = ("none", "part", "all")


@dataclass(frozen=True, slots=True)
class MarkedTwice:
    """One piece of work as both marked it; ``entry`` is the number of the second one's."""

    entry: int
    apprentice: str
    module: str
    item: str
    attempt: int
    marker: str
    first: float
    second: float
    out_of: float
    decided: bool

    @property
    def differs(self) -> bool:
        """Whether they differ so much that somebody decides."""
        return abs(self.first - self.second) > DIFFERS * self.out_of + 1e-9


@dataclass(frozen=True, slots=True)
class Comparison:
    """What the pairs come to: weighted kappa and plain agreement on levels, each with its n and interval."""

    pairs: tuple[MarkedTwice, ...]
    kappa: Figure
    agreement: Figure
    waiting: tuple[MarkedTwice, ...]


def pairs(entries: Iterable[SecondJudged], decided: Iterable[Decided] = ()) -> tuple[MarkedTwice, ...]:
    """Return what was marked twice; of what a second marker said of one line again, the last."""
    settled = {entry.of for entry in decided}
    last = {(entry.sheet, entry.line, entry.marker): entry for entry in entries}
    return tuple(
        MarkedTwice(
            entry.number,
            entry.apprentice,
            entry.module,
            entry.item,
            entry.attempt,
            entry.marker,
            entry.first,
            entry.second,
            entry.most,
            entry.number in settled,
        )
        for entry in last.values()
    )


def compare(ledger: Ledger, module: str = "") -> Comparison:
    """Compare first and second marks, of all modules or of one.

    Parameters
    ----------
    ledger : Ledger
        The course's ledger.
    module : str, optional
        Only this module.
    """
    found = tuple(
        pair
        for pair in pairs(ledger.entries(SecondJudged, marks=False), ledger.entries(Decided, marks=False))
        if not module or pair.module == module
    )
    first = [level(pair.first, pair.out_of) for pair in found]
    second = [level(pair.second, pair.out_of) for pair in found]
    return Comparison(
        found,
        kappa(first, second, categories=LEVELS, weights="linear"),
        agreement(first, second),
        tuple(pair for pair in found if pair.differs and not pair.decided),
    )


def level(points: float, out_of: float) -> str:
    """Return which part of the points was given, in words.

    Examples
    --------
    >>> level(0, 4), level(1.5, 4), level(4, 4)
    ('none', 'part', 'all')
    """
    return LEVELS[0] if points <= 0 else LEVELS[2] if points >= out_of else LEVELS[1]


def to_dict(comparison: Comparison) -> dict[str, Any]:
    """Return a comparison as plain JSON data."""
    return {
        "pairs": len(comparison.pairs),
        "kappa": str(comparison.kappa),
        "agreement": str(comparison.agreement),
        "waiting": [asdict(pair) for pair in comparison.waiting],
    }
