"""A timed shaft with its gear and housing: what a movement during the work leaves behind.

Three things can stand off their place: the gear off the flank on which it rests in service, the shaft, and the
housing in which it runs. Once all joints are tight and the engine runs forward, the gear goes back to its flank and
takes the shaft along; the housing stays. What is then left between shaft and housing is the timing error. Common
practice, no source; rigid parts, friction-held.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Literal

Build = Literal["clamped", "slotted"]

BUILDS: dict[Build, str] = {
    "clamped": "screws in slots clamp the gear to its shaft; a lock holds the shaft; its housing cannot turn",
    "slotted": "the gear is fixed to its shaft; a lock holds the shaft in its housing; the flange has slots",
}


@dataclass(frozen=True, slots=True)
class Mounting:
    """How far gear, shaft and housing stand off their places, forward positive, all in the same unit of angle.

    Examples
    --------
    The gear was left ahead of its flank when its screws were tightened:

    >>> Mounting(gear=1).early
    -1

    Housing, shaft and gear were turned together, and the lash was taken up again with all three:

    >>> Mounting(gear=1, shaft=1, housing=1).taken_up("slotted").early
    0
    """

    gear: float = 0
    shaft: float = 0
    housing: float = 0

    def taken_up(self, build: Build) -> Mounting:
        """Return what stands where after the lash was taken up again, joints still loose.

        A gear that is loose on its shaft moves alone; one that is fixed takes shaft and housing along.
        """
        if build == "clamped":
            return replace(self, gear=0)
        return Mounting(0, self.shaft - self.gear, self.housing - self.gear)

    @property
    def early(self) -> float:
        """How much too early the event comes in service; negative is late, nought is right."""
        return self.shaft - self.gear - self.housing


@dataclass(frozen=True, slots=True)
class Movement:
    """One movement during the work: what moved, and whether the lash was taken up again while the joint was loose."""

    text: str
    build: Build
    moved: tuple[str, ...]
    again: bool
    before: bool = False  # whether it happened before the lash was taken up at all

    @property
    def left(self) -> float:
        """What a movement of one unit leaves behind, in the sense of :attr:`Mounting.early`."""
        moved = Mounting(**dict.fromkeys(self.moved, 1.0))
        return (moved.taken_up(self.build) if self.again else moved).early

    @property
    def harmless(self) -> bool:
        """Whether nothing is left behind."""
        return self.left == 0


_ALL = (
    # The gear is loose on its shaft.
    Movement("The gear turned on its shaft while its screws were finger-tight; lash taken up again", "clamped",
             ("gear",), True),
    Movement("The gear turned on its shaft while its screws were finger-tight; tightened as it stood", "clamped",
             ("gear",), False),
    Movement("The gear rocked to and fro within its lash, before the lash was taken up", "clamped",
             ("gear",), True, before=True),
    Movement("The gear slipped on its shaft between first and final stage; tightened as it stood", "clamped",
             ("gear",), False),
    Movement("The shaft turned in its bearings while the screws were finger-tight; lash taken up again", "clamped",
             ("shaft",), True),
    Movement("Gear and shaft turned together, screws finger-tight; lash taken up again at the gear", "clamped",
             ("gear", "shaft"), True),
    Movement("The lock came out and the shaft turned, screws finger-tight; tightened as it stood", "clamped",
             ("shaft",), False),
    # The gear is fixed to its shaft, the flange is loose.
    Movement("Housing and shaft turned together while the flange was loose; lash taken up again", "slotted",
             ("gear", "shaft", "housing"), True),
    Movement("Housing and shaft turned together while the flange was loose; tightened as they stood", "slotted",
             ("gear", "shaft", "housing"), False),
    Movement("Housing and shaft rocked together within the lash, before the lash was taken up", "slotted",
             ("gear", "shaft", "housing"), True, before=True),
    Movement("Housing and shaft slipped together after the final stage", "slotted",
             ("gear", "shaft", "housing"), False),
    Movement("The shaft turned in its housing while the flange was loose; lash taken up again", "slotted",
             ("gear", "shaft"), True),
    Movement("The housing turned about the shaft while the flange was loose; lash taken up again", "slotted",
             ("housing",), True),
)  # fmt: skip


def movements(builds: Collection[Build]) -> tuple[Movement, ...]:
    """Return the movements that can happen on such builds."""
    return tuple(movement for movement in _ALL if movement.build in builds)
