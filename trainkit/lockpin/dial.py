"""How the watched mark goes round: from crank degrees to clock positions and back."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from trainkit.errors import LockPinError
from trainkit.lockpin.angles import degrees


@dataclass(frozen=True, slots=True)
class Dial:
    """How the watched mark goes round, for drawings and for clock positions.

    Parameters
    ----------
    seen_from : str
        The end it is seen from: ``"front"`` or ``"flywheel"``.
    clockwise : bool
        Whether the mark goes clockwise, seen from there, when the engine is barred forward.
    turns_per_crank : Fraction
        Turns of the watched gear for one turn of the crank, above zero.
    seats_at : Fraction
        Where the mark stands when the right hole lines up: degrees clockwise from twelve o'clock, seen from there.

    Examples
    --------
    >>> dial = Dial(seen_from="front", clockwise=True, turns_per_crank=Fraction(1, 2), seats_at=Fraction(0))
    >>> dial.at(Fraction(20))  # the mark 20 crank degrees before its place
    Fraction(350, 1)
    >>> dial.before(Fraction(350))
    Fraction(20, 1)
    """

    seen_from: Literal["front", "flywheel"]
    clockwise: bool
    turns_per_crank: Fraction
    seats_at: Fraction

    def __post_init__(self) -> None:
        if self.seen_from not in ("front", "flywheel"):
            raise LockPinError(
                self.seen_from, rule="A viewpoint is front or flywheel.", remedy="Say from which end it is seen."
            )
        for name in ("turns_per_crank", "seats_at"):
            object.__setattr__(self, name, degrees(getattr(self, name), name.replace("_", " ")))
        if not isinstance(self.clockwise, bool):
            raise LockPinError(self.clockwise, rule="clockwise is true or false.", remedy="Say which.")
        if self.turns_per_crank <= 0:
            raise LockPinError(
                self.turns_per_crank,
                rule="The watched gear turns when the crank turns.",
                remedy="Give its turns for one crank turn as a fraction above zero; the sense has its own field.",
            )

    def at(self, before: Fraction) -> Fraction:
        """Return where the mark stands, degrees clockwise from twelve, so many crank degrees before its place."""
        turned = -before * self.turns_per_crank
        return (self.seats_at + (turned if self.clockwise else -turned)) % 360

    def before(self, clock: Fraction) -> Fraction:
        """Return how many crank degrees before its place the mark stands at a clock position; the nearest answer."""
        ahead = (self.seats_at - clock if self.clockwise else clock - self.seats_at) % 360
        return (ahead if ahead <= 180 else ahead - 360) / self.turns_per_crank
