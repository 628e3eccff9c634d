"""What is fixed about one engine's lock pin: where to press, where it seats, how far to back off, how much lash."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from fractions import Fraction
from typing import Any, Literal

from trainkit.errors import LockPinError
from trainkit.lockpin.angles import degrees, wrapped
from trainkit.lockpin.checks import check_angles, check_passings, check_words, false_holes, listed

__all__ = ["CYCLE", "DeadCentre", "Dial", "MarksOn", "Setup", "Tells"]

CYCLE = 720  # crank degrees of one four-stroke cycle

Tells = Literal["hole", "witness", "valves"]
MarksOn = Literal["bar", "pin gear", "component gear"]
DeadCentre = Literal["compression", "exhaust"]


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """One engine's lock pin. All angles are crank degrees; before the hole lines up is +, after it is −.

    Numbers may be given as int, float, decimal text or Fraction and are kept as exact fractions. Where a manual
    gives clock positions of a mark, :meth:`from_clock` turns them into crank degrees.

    Parameters
    ----------
    press_from : Fraction
        Begin to press this far before the hole lines up (+a).
    give_up : Fraction
        This far after it, the hole has been missed (−g, given without its sign).
    back_off : Fraction
        Back off to this far before it, then come forward again (+b).
    clearance : Fraction
        The pin goes in while the hole is within this of lining up, either side.
    lash_to_pin, lash_to_component : Fraction
        Lash summed along the path from the bar to the gear with the hole, and to the component.
    lash_shared : Fraction, optional
        The part of both that lies on the common stretch of the two paths; left out, all of the shorter one.
    tolerance : Fraction
        Timing error at the component that the manual lets pass; zero if it says nothing.
    period : Fraction
        Crank degrees between two passings of the hole: 720 where it comes by once a cam turn, 360 once a crank
        turn, else the exact fraction at the pace of its gear.
    right_every : Fraction
        Crank degrees between two right dead centres: 720, or 360 where either dead centre will do.
    tells : str
        What tells the right dead centre: ``"hole"`` (every passing is right), ``"witness"`` (a marked tooth must
        agree) or ``"valves"`` (those of the cylinder).
    witness_every : Fraction, optional
        Crank degrees until the witness tooth is back at its place; needed where it tells.
    marks_on : str
        What bears the mark that is watched: ``"pin gear"``, ``"component gear"``, or ``"bar"`` for whatever turns
        with the crank.
    false_holes : tuple of Fraction
        Crank degrees, counted forward from the right place, of holes in the same gear that take the pin but are
        not the one.
    stiff : bool
        Whether the pin is found stiff.
    compression : bool
        Whether compression can kick back; False where every cylinder is vented.
    nudge : Fraction, optional
        How far the mark goes when the engine is barred "a little", not more than ``press_from`` or ``give_up``;
        left out, a third of the one or half of the other, whichever is less.
    dial : Dial, optional
        How the mark goes round, for drawings.
    cylinder, dead_centre : int, str
        The right place: the dead centre of that cylinder on ``"compression"`` or ``"exhaust"``.
    firing_order : tuple of int
        Even firing is assumed; left empty if nobody asks which cylinder stands at a wrong passing.

    Raises
    ------
    LockPinError
        If a value is not a number, or the positions cannot be.

    Examples
    --------
    >>> setup = Setup(press_from=6, give_up=4, back_off=15, lash_to_pin=0.5, lash_to_component=1.25, period=240,
    ...               tells="witness", witness_every=720)
    >>> setup.passings, setup.right(0), setup.right(1)
    (3, True, False)
    >>> setup.least_back_off
    Fraction(29, 4)
    """

    press_from: Fraction
    give_up: Fraction
    back_off: Fraction
    clearance: Fraction = Fraction(1, 4)
    lash_to_pin: Fraction = Fraction(0)
    lash_to_component: Fraction = Fraction(0)
    lash_shared: Fraction | None = None
    tolerance: Fraction = Fraction(0)
    period: Fraction = Fraction(CYCLE)
    right_every: Fraction = Fraction(CYCLE)
    tells: Tells = "hole"
    witness_every: Fraction | None = None
    marks_on: MarksOn = "pin gear"
    false_holes: tuple[Fraction, ...] = ()
    stiff: bool = False
    compression: bool = True
    nudge: Fraction | None = None
    dial: Dial | None = None
    cylinder: int = 1
    dead_centre: DeadCentre = "compression"
    firing_order: tuple[int, ...] = ()
    # What other modules of this package work out once and look up often; no part of the value.
    _memo: dict[str, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __reduce__(self) -> tuple[object, ...]:
        # Neither copied nor pickled with the memo, which may be large and is soon worked out again.
        return _rebuilt, ({each.name: getattr(self, each.name) for each in fields(self) if each.init},)

    def __post_init__(self) -> None:
        for name in _ANGLES:
            value = getattr(self, name)
            if value is None and name in _OPTIONAL:
                continue
            object.__setattr__(self, name, degrees(value, name.replace("_", " ")))
        for name in ("firing_order", "false_holes"):
            object.__setattr__(self, name, listed(getattr(self, name), name))
        if self.dial is not None and not isinstance(self.dial, Dial):
            raise LockPinError(self.dial, rule="The dial is a Dial, or left out.", remedy="Build it with Dial(...).")
        check_words(self)
        check_angles(self)
        check_passings(self)
        object.__setattr__(self, "false_holes", false_holes(self.false_holes, self.period, self.clearance))

    @classmethod
    def from_clock(
        cls, dial: Dial, *, press_at: Fraction, give_up_at: Fraction, back_off_at: Fraction, **rest: object
    ) -> Setup:
        """Build a setup from the clock positions of the watched mark.

        Parameters
        ----------
        dial : Dial
            How the mark goes round and where it stands when the pin seats.
        press_at, give_up_at, back_off_at : Fraction
            Where it stands when to begin to press, to give up and to back off to: degrees clockwise from twelve,
            seen from the dial's viewpoint.
        **rest
            The other fields of :class:`Setup`, in crank degrees.

        Raises
        ------
        LockPinError
            If barring forward does not meet back-off, press, seat and give-up in that order.

        Examples
        --------
        >>> dial = Dial(seen_from="front", clockwise=True, turns_per_crank=Fraction(1, 2), seats_at=Fraction(90))
        >>> setup = Setup.from_clock(dial, press_at=Fraction(87), give_up_at=Fraction(92), back_off_at=Fraction(80))
        >>> setup.press_from, setup.give_up, setup.back_off
        (Fraction(6, 1), Fraction(4, 1), Fraction(20, 1))
        """
        press, give_up, back = (dial.before(degrees(at, "position")) for at in (press_at, give_up_at, back_off_at))
        if not give_up < 0 < press < back:
            raise LockPinError(
                tuple(float(value) for value in (back, press, give_up)),
                rule="Barring forward, the mark passes back-off, press, seat and give-up in that order.",
                remedy="Check each clock position, the viewpoint and the sense of rotation of the watched gear.",
            )
        return cls(press_from=press, give_up=-give_up, back_off=back, dial=dial, **rest)  # type: ignore[arg-type]  # checked field by field in __post_init__

    @property
    def little(self) -> Fraction:
        """How far the mark goes when the engine is barred "a little"."""
        return min(self.press_from / 3, self.give_up / 2) if self.nudge is None else self.nudge

    @property
    def lash_on_both(self) -> Fraction:
        """The lash on the stretch that the paths to pin and component share."""
        if self.lash_shared is None:
            return min(self.lash_to_pin, self.lash_to_component)
        return self.lash_shared

    @property
    def least_back_off(self) -> Fraction:
        """The rule for backing off: at least the press position plus all lash from the bar to the component."""
        return self.press_from + self.lash_to_component

    @property
    def lash_difference(self) -> Fraction:
        """Lash to the component less lash to the pin: the error left when the pin seats while turning back."""
        return self.lash_to_component - self.lash_to_pin

    @property
    def cycle(self) -> Fraction:
        """Crank degrees after which hole, right dead centre and witness tooth all stand as before."""
        spans = [self.period, self.right_every]
        if self.tells == "witness" and self.witness_every is not None:
            spans.append(self.witness_every)
        bottom = math.lcm(*(span.denominator for span in spans))
        return Fraction(math.lcm(*(int(span * bottom) for span in spans)), bottom)

    @property
    def passings(self) -> int:
        """How many times the hole comes by in one :attr:`cycle`; passing 0 is a right one."""
        return int(self.cycle / self.period)

    def off_centre(self, passing: int) -> Fraction:
        """Return how many crank degrees after (+) or before (−) the nearest right dead centre a passing lies."""
        return wrapped(passing * self.period, self.right_every)

    def right(self, passing: int) -> bool:
        """Tell whether the hole lines up at the right dead centre in this passing."""
        return self.off_centre(passing) == 0

    def agrees(self, passing: int) -> bool:
        """Tell whether what tells the stroke says yes in this passing, as well as an eye can tell."""
        if self.tells == "witness" and self.witness_every is not None:
            return abs(wrapped(passing * self.period, self.witness_every)) < self.press_from + self.give_up
        return self.tells == "hole" or self.right(passing)

    @property
    def ambiguous(self) -> bool:
        """Whether some passings are at a wrong dead centre, so that a sign must tell."""
        return any(not self.right(passing) for passing in range(self.passings))

    @property
    def untold(self) -> tuple[int, ...]:
        """Wrong passings of one cycle that nothing tells from the right one; empty where the pin can be trusted."""
        return tuple(k for k in range(self.passings) if self.agrees(k) and not self.right(k))


_OPTIONAL = ("lash_shared", "witness_every", "nudge")
_ANGLES = (
    "press_from",
    "give_up",
    "back_off",
    "clearance",
    "lash_to_pin",
    "lash_to_component",
    "tolerance",
    "period",
    "right_every",
    *_OPTIONAL,
)


def _rebuilt(values: dict[str, Any]) -> Setup:
    return Setup(**values)
