"""A timed shaft with its gear and housing: what a movement during the work leaves behind.

Three things can stand off their place: the gear off the flank on which it rests in service, the shaft, and the
housing in which it runs. Once all joints are tight and the engine runs forward, the gear goes back to its flank and
takes the shaft along; the housing stays. What is then left between shaft and housing is the timing error. Common
practice, no source; rigid parts, friction-held.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

from trainkit.quantities import THIN, plain

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


# What can be moved on either build while its joint is loose, and what of it moves: a gear that is fixed goes along.
SUBJECTS: Mapping[Build, Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "clamped": MappingProxyType(
            {"the gear": ("gear",), "the shaft": ("shaft",), "gear and shaft together": ("gear", "shaft")}
        ),
        "slotted": MappingProxyType(
            {
                "the shaft with its gear": ("gear", "shaft"),
                "the housing": ("housing",),
                "housing and shaft together": ("gear", "shaft", "housing"),
            }
        ),
    }
)


@dataclass(frozen=True, slots=True)
class Movement:
    """One movement, or two after each other, from where everything was set, the joint loose.

    Parameters
    ----------
    build : str
        How gear, shaft and housing hold together.
    parts : tuple of (str, int)
        What moved, out of :data:`SUBJECTS`, and how far: hundredths of a millimetre along the pitch circle, forward +.

    Examples
    --------
    >>> Movement("clamped", (("the gear", 4), ("the shaft", 4))).text
    'The gear moved 0.04\u2009mm forward, then the shaft 0.04\u2009mm forward'
    """

    build: Build
    parts: tuple[tuple[str, int], ...]

    def left(self, *, again: bool) -> float:
        """Return what it leaves in the end, in the sense of :attr:`Mounting.early`.

        ``again`` tells whether the lash was taken up again before the joint was tightened.
        """
        moved = dict.fromkeys(("gear", "shaft", "housing"), 0.0)
        for subject, way in self.parts:
            for part in SUBJECTS[self.build][subject]:
                moved[part] += way
        mounted = Mounting(**moved)
        return (mounted.taken_up(self.build) if again else mounted).early

    @property
    def possible(self) -> bool:
        """Whether the gear never went back through the tooth that it rests on."""
        stands = [way if "gear" in SUBJECTS[self.build][subject] else 0 for subject, way in self.parts]
        return all(sum(stands[: end + 1]) >= 0 for end in range(len(stands)))

    @property
    def text(self) -> str:
        """What happened, in words."""
        (first, way), *rest = self.parts
        said = [f"{first[0].upper()}{first[1:]} moved {_way(way)}"]
        said += [f"then {_way(more) if subject == first else f'{subject} {_way(more)}'}" for subject, more in rest]
        return ", ".join(said)


def _way(hundredths: int) -> str:
    return f"{plain(abs(hundredths) / 100)}{THIN}mm {'forward' if hundredths > 0 else 'back'}"
