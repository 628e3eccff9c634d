"""Points that a person gives past formgrader, as a value: what an observation or a decision says of one item."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ManualPoints:
    """Points that a person gives past formgrader: by an observation, or by a decision.

    Parameters
    ----------
    apprentice, item : str
        Whose item.
    attempt : int
        Of which attempt.
    points : float
        How many.
    why : str
        Why, without anybody's name.
    entry : int
        Number of the entry that says so.
    critical : bool, optional
        Whether what was observed was unsafe; None where that is not what was judged.
    """

    apprentice: str
    attempt: int
    item: str
    points: float
    why: str
    entry: int
    critical: bool | None = None
