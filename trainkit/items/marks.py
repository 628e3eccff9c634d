"""A mark as a value, and the few ways to make one."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any, Protocol

from trainkit.items.misconceptions import MANUAL

RIGHT = "That is right."
UNRECOGNISED = (
    "This answer comes from none of the usual slips. Practise questions of this sort: each is explained step by step. "
    f"{MANUAL}"
)


class Asked(Protocol):
    """A question, as far as its mark is concerned."""

    @property
    def points(self) -> float:
        """What a right answer earns."""


@dataclass(frozen=True, slots=True)
class Mark:
    """What a response earned, and why.

    Parameters
    ----------
    points, out_of : float
        Earned and possible points; ``0 <= points <= out_of``, rounded to a hundredth.
    verdict : str
        ``"right"``, ``"in part"``, ``"not yet"``, ``"no answer"``, or ``"waiting"`` for a person to mark it.
    reason : str
        What the answer shows and what to do next, whole sentences.
    misconception : str or None
        Code of the misconception that the answer shows, if one is recognised.
    critical : bool
        Whether the answer would hurt the engine or a person.
    method : str
        What may be told as long as another attempt is open: what the answer shows and the step that cures it, with
        neither the right answer nor anything from which it follows at once. It is made of fixed words and counts;
        nothing that was drawn goes into it, but why a dangerous order harms.
    """

    points: float
    out_of: float
    verdict: str
    reason: str
    misconception: str | None = None
    critical: bool = False
    method: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return the mark as plain JSON data."""
        return asdict(self)


def no_answer(item: Asked) -> Mark:
    """Return the mark of an item that was not answered."""
    reason = "There is no answer to this question."
    return Mark(0.0, item.points, "no answer", reason, method=reason)


def waiting(item: Asked, reason: str) -> Mark:
    """Return the mark of an answer that a person has to judge."""
    return Mark(0.0, item.points, "waiting", reason, method=reason)


def unusable(item: Asked, reason: str) -> Mark:
    """Return the mark of an answer that could not be read, or not be given; the reason speaks of the answer alone."""
    return Mark(0.0, item.points, "not yet", reason, method=reason)


def not_yet(
    item: Asked, reason: str, shown: str | None = None, critical: bool = False, method: str = UNRECOGNISED
) -> Mark:
    """Return a mark that earns nothing; without ``method``, only that is told which suits every answer."""
    return Mark(0.0, item.points, "not yet", reason, shown, critical, method)


def share_of(
    item: Asked,
    share: float,
    reason: str,
    shown: str | None = None,
    critical: bool = False,
    method: str = UNRECOGNISED,
) -> Mark:
    """Return a mark that earns ``share`` (clamped to 0..1) of the item's points."""
    share = min(1.0, max(0.0, share)) if math.isfinite(share) else 0.0
    points = round(share * item.points, 2)
    verdict = "right" if share >= 1.0 else "in part" if points > 0.0 else "not yet"
    return Mark(points, item.points, verdict, reason, shown, critical, RIGHT if share >= 1.0 else method)
