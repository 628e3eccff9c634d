"""What is fixed about one engine's lock pin: where to press, where it seats, how far to back off, how much lash."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, fields
from fractions import Fraction
from typing import Any, Literal

from trainkit.errors import LockPinError
from trainkit.gears import least_common_multiple
from trainkit.lockpin.angles import degrees, rounded_up, wrapped
from trainkit.lockpin.dial import Dial

CYCLE = 720  # crank degrees of one four-stroke cycle
# More than any train of plain gears needs; a larger count comes from a mistyped fraction.
_MOST_PASSINGS = 120

Tells = Literal["hole", "witness", "valves"]
MarksOn = Literal["bar", "pin gear", "component gear"]
DeadCentre = Literal["compression", "exhaust"]


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
    strict : bool
        Whether somebody has to look before the component is set even where a tooth tells, and whether a pin that went
        in after turning back is an end of its own, whatever the tolerance. A tolerance that would hide the wrong flank
        counts as a third of what it hides. Benches of earlier releases are not strict.
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
    strict: bool = False
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
            object.__setattr__(self, name, _listed(getattr(self, name), name))
        if self.dial is not None and not isinstance(self.dial, Dial):
            raise LockPinError(self.dial, rule="The dial is a Dial, or left out.", remedy="Build it with Dial(...).")
        _check_words(self)
        _check_angles(self)
        _check_passings(self)
        object.__setattr__(self, "false_holes", _false_holes(self.false_holes, self.period, self.clearance))

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
    def hides_wrong_flank(self) -> bool:
        """Whether the tolerance is as wide as what barring back onto the pin leaves."""
        return 0 < abs(self.lash_difference) <= self.tolerance

    @property
    def lets_pass(self) -> Fraction:
        """The error that passes: the tolerance, which in a strict setup hides no wrong flank."""
        return abs(self.lash_difference) / 3 if self.strict and self.hides_wrong_flank else self.tolerance

    @property
    def cycle(self) -> Fraction:
        """Crank degrees after which hole, right dead centre and witness tooth all stand as before."""
        spans = [self.period, self.right_every]
        if self.tells == "witness" and self.witness_every is not None:
            spans.append(self.witness_every)
        return least_common_multiple(spans)

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


def _listed(values: object, name: str) -> tuple[object, ...]:
    """Return a list of values as a tuple; a text is none."""
    if isinstance(values, Iterable) and not isinstance(values, str | bytes):
        return tuple(values)
    raise LockPinError(values, rule=f"{name} is a list of numbers.", remedy="Give them in brackets, or none.")


def _check_words(setup: Setup) -> None:
    """Refuse words, flags and cylinder numbers that the model does not have."""
    for name, known in (
        ("tells", ("hole", "witness", "valves")),
        ("marks_on", ("bar", "pin gear", "component gear")),
        ("dead_centre", ("compression", "exhaust")),
    ):
        if getattr(setup, name) not in known:
            raise LockPinError(
                getattr(setup, name), rule=f"{name} is one of {', '.join(known)}.", remedy="Name one of them."
            )
    for name in ("stiff", "compression", "strict"):
        if not isinstance(getattr(setup, name), bool):
            raise LockPinError(getattr(setup, name), rule=f"{name} is true or false.", remedy="Say which.")
    order = setup.firing_order
    if any(type(each) is not int for each in order) or sorted(order) != list(range(1, len(order) + 1)):
        raise LockPinError(
            order, rule="A firing order names every cylinder once.", remedy="Give it as in the manual, or leave it out."
        )
    if type(setup.cylinder) is not int or setup.cylinder < 1:
        raise LockPinError(setup.cylinder, rule="Cylinders are numbered from 1.", remedy="Name one of the engine's.")
    if order and setup.cylinder not in order:
        raise LockPinError(
            setup.cylinder, rule=f"The firing order {order} has no such cylinder.", remedy="Name one of the engine's."
        )


def _check_angles(setup: Setup) -> None:
    """Refuse angles that cannot stand beside each other."""
    for name in ("press_from", "give_up", "back_off", "clearance", "period", "right_every", "nudge", "witness_every"):
        value = getattr(setup, name)
        if value is not None and value <= 0:
            raise LockPinError(
                str(value), rule=f"{name} is more than zero.", remedy="Give it in crank degrees, without a sign."
            )
    for name in ("lash_to_pin", "lash_to_component", "lash_shared", "tolerance"):
        value = getattr(setup, name)
        if value is not None and value < 0:
            raise LockPinError(str(value), rule=f"{name} is not negative.", remedy="Measure it again.")
    if setup.lash_on_both > min(setup.lash_to_pin, setup.lash_to_component):
        raise LockPinError(
            str(setup.lash_shared),
            rule="The lash that both paths share is not more than that of either.",
            remedy="Sum the lash along each path from the bar again.",
        )
    if not setup.clearance < min(setup.press_from, setup.give_up):
        raise LockPinError(
            str(setup.clearance),
            rule="The pin seats well inside the window from press to give-up.",
            remedy="Widen the window, or check the clearance of the pin.",
        )
    if setup.little > min(setup.press_from, setup.give_up):
        raise LockPinError(
            str(setup.nudge),
            rule="Barring a little takes the mark no further than from one mark to the next.",
            remedy="Leave nudge out, or make it smaller.",
        )
    if not setup.press_from < setup.back_off:
        least = float(rounded_up(setup.least_back_off))
        raise LockPinError(
            str(setup.back_off),
            rule=f"Backing off goes further back than the press position, {float(setup.press_from):g} crank degrees.",
            remedy=f"Back off to at least {least:g} crank degrees: press position plus lash.",
        )


def _check_passings(setup: Setup) -> None:
    """Refuse a hole that comes by too often for its marks, or in a pattern that hardly repeats."""
    needed = 2 * (max(setup.back_off, setup.give_up) + 2 * setup.little + setup.lash_to_component + setup.lash_to_pin)
    if not needed < setup.period:
        raise LockPinError(
            str(setup.period),
            rule="Backing off and coming forward again stays clear of the neighbouring passings of the hole.",
            remedy=f"For these positions the hole comes by more than {float(needed):g} crank degrees apart.",
        )
    if setup.tells == "witness" and setup.witness_every is None:
        raise LockPinError(
            None,
            rule="A witness tooth that tells the stroke comes back at a known pace.",
            remedy="Give witness_every: 360 divided by the turns of its gear for one crank turn.",
        )
    if setup.passings > _MOST_PASSINGS:
        raise LockPinError(
            setup.passings,
            rule=f"The pattern of passings repeats within {_MOST_PASSINGS} of them.",
            remedy="Check the tooth counts between crank and hole.",
        )


def _false_holes(given: Iterable[object], period: Fraction, clearance: Fraction) -> tuple[Fraction, ...]:
    """Return the false holes within half a period either side of the true one, nearest turn of their gear."""
    found = []
    for value in given:
        place = wrapped(degrees(value, "false hole"), period)
        if abs(place) <= 2 * clearance:
            raise LockPinError(
                value,
                rule="A false hole lies clear of the true one; this one is the true hole at one of its passings.",
                remedy="Leave it out, or measure it again from the right place.",
            )
        found.append(place)
    return tuple(sorted(set(found)))
