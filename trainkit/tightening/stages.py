"""The stages of tightening as data, and what may be done to the parts between them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from numbers import Real
from types import MappingProxyType
from typing import Literal

from trainkit.errors import QuantityError, TighteningError
from trainkit.quantities import Torque, torque

# Stages whose names say what they mean; a manual may call others as it likes.
STAGE_NAMES: tuple[str, ...] = ("finger-tight", "snug", "first", "final")
StageName = str

Meaning = Literal["may-move", "settled", "final"]
MEANINGS: tuple[Meaning, ...] = ("may-move", "settled", "final")

WorkName = Literal["fit", "move", "set", "check", "mark"]
# What may be done to the parts, and what it means. When each may happen is decided in joint.py.
WORKS: Mapping[WorkName, str] = MappingProxyType(
    {
        "fit": "fit further parts and fasteners",
        "move": "move the parts freely by hand",
        "set": "set the position on purpose: take up lash, turn in the slots",
        "check": "check position and timing",
        "mark": "put the witness mark on",
    }
)


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of tightening.

    Parameters
    ----------
    name : str
        One of :data:`STAGE_NAMES`, or what the manual calls it. A first stage is not a weaker final one: parts are
        held, yet can still be set.
    torque : Torque or str, optional
        The torque of the stage.
    angle : float, optional
        A further turn in degrees instead, more than 0 and at most 720.
    meaning : {"may-move", "settled", "final"}, optional
        What the stage means for the parts; needed for a name of the manual's own.

    Raises
    ------
    TighteningError
        For an unknown name, a value that cannot be, both torque and angle, or a final stage with neither.

    Examples
    --------
    >>> Stage("first", "20 N·m").torque
    Torque(value=20.0, unit='N·m')
    """

    name: StageName
    torque: Torque | None = None
    angle: float | None = None
    meaning: Meaning = "may-move"

    def __init__(
        self,
        name: str,
        torque: Torque | str | None = None,
        angle: float | None = None,
        meaning: Meaning | None = None,
    ) -> None:
        if meaning not in (*MEANINGS, None) or (meaning is None and name not in STAGE_NAMES):
            raise TighteningError(
                name,
                rule=f"The stages are {', '.join(STAGE_NAMES)}, or have a meaning: {', '.join(MEANINGS)}.",
                remedy="Name one of them, or give its meaning.",
                place="stage",
            )
        means: Meaning = meaning or ("final" if name == "final" else "may-move")
        refused = partial(TighteningError, place=f"stage {name}")
        read = None if torque is None else _torque(torque, f"stage {name}")
        if angle is not None and not _is_angle(angle):
            raise refused(
                angle,
                rule="A stage by angle turns more than 0 and at most 720 degrees.",
                remedy="Give the further turn in degrees.",
            )
        if read is not None and angle is not None:
            raise refused(
                (read.shown(), angle),
                rule="A stage is tightened by torque or by angle.",
                remedy="Make two stages of it: first by torque, final by angle.",
            )
        if read is None and angle is None and (name == "first" or means != "may-move"):
            raise refused(
                name,
                rule=f"The {name} stage states a torque or an angle.",
                remedy="Copy it from the manual that the joint belongs to.",
            )
        if name == "finger-tight" and (read is not None or angle is not None):
            raise refused(
                name,
                rule="Finger-tight is what the fingers can do, without a tool.",
                remedy="Leave torque and angle out, or call the stage snug.",
            )
        object.__setattr__(self, "name", name)
        object.__setattr__(self, "torque", read)
        object.__setattr__(self, "angle", None if angle is None else float(angle))
        object.__setattr__(self, "meaning", means)

    @property
    def by(self) -> Literal["hand", "torque", "angle"]:
        """How the stage is reached."""
        if self.torque is not None:
            return "torque"
        return "hand" if self.angle is None else "angle"

    @property
    def holds(self) -> bool:
        """Whether it holds the parts, so that they give way by hand no more."""
        return self.by != "hand" and self.name not in ("finger-tight", "snug")

    def follows(self, earlier: Stage) -> bool:
        """Tell whether it may come after an earlier stage: named ones in their turn, and none lets go again."""
        if self.name in STAGE_NAMES and earlier.name in STAGE_NAMES:
            return STAGE_NAMES.index(self.name) > STAGE_NAMES.index(earlier.name)
        return MEANINGS.index(self.meaning) >= MEANINGS.index(earlier.meaning) and self.name != earlier.name

    def __str__(self) -> str:
        if self.torque is not None:
            return f"{self.name}, {self.torque.shown()}"
        return self.name if self.angle is None else f"{self.name}, {self.angle:g}° further"


def faults(stages: Iterable[Stage]) -> Iterator[TighteningError]:
    """Find everything that keeps stages from following each other.

    Yields
    ------
    TighteningError
        One for each fault.

    Examples
    --------
    >>> [fault.rule for fault in faults([Stage("first", "20 N·m"), Stage("final", "15 N·m")])]
    ['Each stage takes more torque than the one before, here 20\u2009N·m.']
    """
    earlier: list[Stage] = []
    before = None
    given = tuple(stages)
    if not given:
        yield TighteningError((), rule="A joint has at least one stage.", remedy="State its final stage.")
        return
    for stage in given:
        if not all(stage.follows(one) for one in earlier) or any(one.meaning == "final" for one in earlier):
            yield TighteningError(
                stage.name,
                rule=f"Stages follow each other as {', '.join(STAGE_NAMES)}, each at most once.",
                remedy="Put them in this order.",
            )
        earlier.append(stage)
        if stage.torque is not None:
            if stage.torque.value == 0:
                yield TighteningError(
                    stage.torque.shown(), rule="A stage by torque takes more than none.", remedy="State its torque."
                )
            if before is not None and stage.torque <= before:
                yield TighteningError(
                    stage.torque.shown(),
                    rule=f"Each stage takes more torque than the one before, here {before.shown()}.",
                    remedy="Check both values and their units.",
                )
            before = stage.torque
        elif stage.angle is not None and before is None:
            yield TighteningError(
                stage.name,
                rule="An angle is counted from a stage by torque.",
                remedy="State the torque of the stage before.",
            )
    if given[-1].meaning != "final":
        yield TighteningError(
            given[-1].name, rule="The last stage is the final one.", remedy="Add it, or rename the last stage."
        )


@dataclass(frozen=True, slots=True)
class Schedule:
    """The stages of one joint, from the first that is used to the final one.

    Parameters
    ----------
    stages : iterable of Stage
        In order.

    Raises
    ------
    TighteningError
        For the first of :func:`faults`.

    Examples
    --------
    >>> schedule = Schedule([Stage("snug"), Stage("first", "20 N·m"), Stage("final", angle=60)])
    >>> schedule.place("first"), schedule.final.by
    (2, 'angle')
    """

    stages: tuple[Stage, ...]

    def __init__(self, stages: Iterable[Stage]) -> None:
        object.__setattr__(self, "stages", tuple(stages))
        for fault in faults(self.stages):
            raise fault

    @property
    def final(self) -> Stage:
        """The last stage."""
        return self.stages[-1]

    def place(self, name: str) -> int:
        """Return the place of a stage, 1 for the first that is used.

        Raises
        ------
        TighteningError
            If the joint has no such stage.
        """
        for place, stage in enumerate(self.stages, 1):
            if stage.name == name:
                return place
        raise TighteningError(
            name,
            rule=f"The stages of this joint are {', '.join(stage.name for stage in self.stages)}.",
            remedy="Name one of them.",
        )

    def __len__(self) -> int:
        return len(self.stages)


def _torque(given: Torque | str, place: str) -> Torque:
    try:
        return torque(given)
    except QuantityError as error:
        raise TighteningError(error.value, rule=error.rule, remedy=error.remedy, place=place) from None


def _is_angle(value: object) -> bool:
    return not isinstance(value, bool) and isinstance(value, Real) and 0 < float(value) <= 720
