"""The answers of one apprentice put together: what they hold, how sure that is, and what it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from trainkit.items.item import Item
from trainkit.items.key import Key
from trainkit.items.responses import Response
from trainkit_grading.diagnosis.chances import PRIOR, chances, seen
from trainkit_grading.errors import DiagnosisError

__all__ = ["LABEL", "LEAST", "Answer", "Finding", "diagnose"]

# A label is given from this probability on, and never on fewer answers that show it.
LABEL = 0.9
LEAST = 2


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer of an apprentice.

    Parameters
    ----------
    item_id : str
        What the item is called, unique among the answers: ``"torque-units A3"``.
    item, key : Item, Key
        What was shown and what is right.
    response : Response or None
        What was given; None where nothing was.
    """

    item_id: str
    item: Item
    key: Key
    response: Response | None


@dataclass(frozen=True, slots=True)
class Finding:
    """What all answers together say about one misconception.

    Parameters
    ----------
    misconception : str
        Its code.
    probability : float
        That it is held, 0 to 1.
    could_show : tuple of str
        Identifiers of the items whose answers could have shown it, in order.
    shown : tuple of str
        Identifiers of those that did.
    """

    misconception: str
    probability: float
    could_show: tuple[str, ...]
    shown: tuple[str, ...]

    @property
    def chances(self) -> int:
        """How many answers could have shown it."""
        return len(self.could_show)

    @property
    def held(self) -> bool:
        """Whether to say that it is held: probable enough, and never from one answer alone."""
        return self.probability >= LABEL and len(self.shown) >= LEAST


def diagnose(answers: Iterable[Answer]) -> tuple[Finding, ...]:
    """Return what the answers of one apprentice say about every misconception that they could have shown.

    Parameters
    ----------
    answers : iterable of Answer
        All of one apprentice, from as many modules as there are; their order says nothing. An item that was left
        out counts neither for nor against anything.

    Returns
    -------
    tuple of Finding
        The most probable first, those as probable as each other by their codes.

    Raises
    ------
    DiagnosisError
        If two answers bear the same identifier.
    """
    met: set[str] = set()
    logs: dict[str, list[float]] = {}
    could_show: dict[str, list[str]] = {}
    shown: dict[str, list[str]] = {}
    for answer in answers:
        if answer.item_id in met:
            raise DiagnosisError(
                answer.item_id,
                rule="Each item comes in once, with the answer that counts.",
                remedy="Put the module before the item's name, and leave out answers that were given again later.",
            )
        met.add(answer.item_id)
        if answer.response is None:
            continue
        could = chances(answer.item, answer.key)
        for code, kind in seen(answer.item, answer.key, answer.response).items():
            logs.setdefault(code, []).append(math.log(could[code].factor(kind)))
            could_show.setdefault(code, []).append(answer.item_id)
            if kind == "shows":
                shown.setdefault(code, []).append(answer.item_id)
    found = [
        Finding(code, _probability(factors), tuple(sorted(could_show[code])), tuple(sorted(shown.get(code, ()))))
        for code, factors in logs.items()
    ]
    return tuple(sorted(found, key=lambda finding: (-finding.probability, finding.misconception)))


def _probability(logs: Iterable[float]) -> float:
    """Return the probability after all answers; summed exactly, so that their order says nothing."""
    odds = math.log(PRIOR) - math.log1p(-PRIOR) + math.fsum(logs)
    # Written so that neither end overflows.
    return 1.0 / (1.0 + math.exp(-odds)) if odds >= 0 else math.exp(odds) / (1.0 + math.exp(odds))
