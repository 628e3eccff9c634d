"""What can be done at the engine, what can follow, and where everything stands."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from typing import Literal

from trainkit.errors import LockPinError
from trainkit.lockpin.angles import degrees
from trainkit.lockpin.lattice import Lattice, lattice
from trainkit.lockpin.setup import Setup


class Action(StrEnum):
    """What can be done; the value is a stable identifier.

    The order is that in which equally short ways are preferred: free the pin before barring, look before pressing.
    """

    FREE = "free-pin"  # work the pin in and out until it moves by itself
    CHECK = "check-stroke"  # look at what tells the right dead centre: witness tooth or valves
    ON_TO_PRESS = "on-to-press-mark"  # bar on at a stretch until the mark next stands at the press mark
    PRESS = "press"
    LET_GO = "let-go"  # stop pressing; a free pin springs back
    BACK_OFF = "back-off"  # bar back at a stretch until the mark stands at the back-off mark
    ON = "on-a-little"  # bar on a little, with a hand that feels
    BACK = "back-a-little"
    BAR_OFF = "bar-off"
    DECLARE = "declare"  # call the engine pinned: the component is now set to it
    PIN_OUT = "pin-out"  # draw the pin out of the hole that it went into
    FIT_BAR = "fit-bar"
    TIGHTEN = "tighten"  # the component, to its torque
    STARTER = "starter"


class Consequence(StrEnum):
    """What has become of the job; everything but nothing and safe is an end without a safe pinning."""

    NOTHING = ""
    SAFE = "safe"
    SHEARED = "pin-sheared"
    PIN_LEFT_IN = "pin-left-in"
    STARTER = "starter-used"
    KICKED = "bar-thrown"
    BAR_LEFT = "bar-left-on"
    WRONG_CENTRE = "wrong-dead-centre"
    FALSE_HOLE = "false-hole"
    MISTIMED = "mistimed"
    NOT_PINNED = "not-pinned"
    UNPROVEN = "unproven"
    PINNED_BACK = "pinned-turning-back"
    MOVED = "moved-after-setting"

    @property
    def critical(self) -> bool:
        """Whether it hurts a person, the pin or the gears."""
        return self in _CRITICAL

    @property
    def lost(self) -> bool:
        """Whether no safe pinning can follow any more."""
        return self not in (Consequence.NOTHING, Consequence.SAFE)


_CRITICAL = frozenset(
    {
        Consequence.SHEARED,
        Consequence.PIN_LEFT_IN,
        Consequence.STARTER,
        Consequence.KICKED,
        Consequence.BAR_LEFT,
    }
)


class Pin(StrEnum):
    """Where the lock pin is."""

    OUT = "out"
    PRESSED = "pressed"  # held against metal: rubbing when the engine is barred
    SEATED = "seated"
    FALSE_HOLE = "in a false hole"
    SHEARED = "sheared"

    @property
    def in_a_hole(self) -> bool:
        """Whether it is in a hole, true or false: the hand cannot tell which."""
        return self in (Pin.SEATED, Pin.FALSE_HOLE)


@dataclass(frozen=True, slots=True)
class State:
    """The engine and its lock pin at one moment.

    The four positions are whole ticks (:attr:`Lattice.scale` of them make one crank degree), counted forward from
    where the hole of :attr:`passing` lines up, each carried over to the crank by its ratio. Turned forward with all
    lash taken up, the four are equal; a gear that is left ahead has the larger number.

    Parameters
    ----------
    setup : Setup
        The engine's lock pin.
    passing : int
        Which passing of the hole is the nearest, counted forward from a right one.
    crank, fork, hole, component : int
        Where the crank stands, the gear at which the ways to pin and component part, the gear with the hole, and
        the component's gear.
    pin : Pin
        Where the pin is.
    stiff, bar_on : bool
        Whether the pin moves hard, and whether the barring tool is fitted.
    last : int
        Sense of the last barring: 1 forward, -1 back.
    checked : bool
        Whether the valves were looked at here and agreed, where they tell the right dead centre.
    declared : bool
        Whether the component was set to the pin, rightly.
    seated_back : bool
        Whether the pin went in after the engine was turned back; only kept where the setup is strict.
    outcome : Consequence
        How it ended, if it has.

    Examples
    --------
    >>> setup = Setup(press_from=6, give_up=4, back_off=15, lash_to_pin=0.5, lash_to_component=1.25)
    >>> state = State.start(setup, before=30)
    >>> state.mark_before, state.flank, state.finished
    (Fraction(30, 1), 'driving', False)
    >>> turned_back = State.start(setup, before=30, turned="back")
    >>> turned_back.flank
    'other'
    """

    setup: Setup
    passing: int
    crank: int
    fork: int
    hole: int
    component: int
    pin: Pin = Pin.OUT
    stiff: bool = False
    bar_on: bool = True
    last: int = 1
    checked: bool = False
    declared: bool = False
    seated_back: bool = False
    outcome: Consequence = Consequence.NOTHING

    def __hash__(self) -> int:
        # Without the setup: states are only ever compared within one, and its fractions hash slowly.
        return hash((self.passing, self.crank, self.fork, self.hole, self.component, self.pin, self.last, self.checked))

    @classmethod
    def start(
        cls,
        setup: Setup,
        before: Fraction | float | str,
        *,
        passing: int = 0,
        turned: Literal["forward", "back"] = "forward",
        bar_on: bool = True,
        pin: Literal["out", "pressed", "in"] = "out",
    ) -> State:
        """Return a state in which the engine was barred to a place.

        Parameters
        ----------
        setup : Setup
            The engine's lock pin.
        before : Fraction, float or str
            Where the watched mark stands: crank degrees before (+) or after (−) the hole of that passing lines up,
            taken to a thousandth.
        passing : int
            Which passing, counted forward from a right one; any whole number.
        turned : str
            The way the engine was barred last, by more than all lash: ``"forward"`` or ``"back"``.
        bar_on : bool
            Whether the barring tool is fitted.
        pin : str
            Where the pin is: out, pressed against metal, or in a hole that is there.

        Raises
        ------
        LockPinError
            If the place is no number or lies beyond half a period, the sense is neither, or the pin cannot be there.
        """
        if turned not in ("forward", "back"):
            raise LockPinError(turned, rule="An engine is barred forward or back.", remedy="Say which.")
        if type(passing) is not int:
            raise LockPinError(passing, rule="Passings are counted in whole numbers.", remedy="Give 0 for a right one.")
        lat = lattice(setup)
        ahead = -lat.ticks(degrees(before, "place"))
        if not -lat.half < ahead <= lat.half:
            raise LockPinError(
                before,
                rule=f"A place lies within {float(setup.period / 2):g} crank degrees of its passing.",
                remedy="Count from the nearest passing of the hole.",
            )
        crank = ahead if turned == "forward" else ahead - lat.lash_to_mark
        places = (crank,) * 4 if turned == "forward" else lat.drawn_back(crank)
        out = cls(
            setup,
            passing % setup.passings,
            *places,
            stiff=setup.stiff,
            bar_on=bar_on,
            last=1 if turned == "forward" else -1,
        )
        return out if pin == "out" else _with_the_pin(out, pin)

    @property
    def lattice(self) -> Lattice:
        """The whole numbers that the model counts in."""
        return lattice(self.setup)

    @property
    def finished(self) -> bool:
        """Whether it has ended, well or badly."""
        return self.outcome is not Consequence.NOTHING

    @property
    def mark(self) -> int:
        """Where the watched mark stands, in ticks ahead of where it stands when this passing's hole lines up."""
        return {"bar": self.crank, "pin gear": self.hole, "component gear": self.component}[self.setup.marks_on]

    @property
    def mark_before(self) -> Fraction:
        """Crank degrees that the watched mark stands before (+) or after (−) its place in this passing."""
        return Fraction(-self.mark, self.lattice.scale)

    @property
    def flank(self) -> Literal["driving", "other", "between"]:
        """Which flanks the component's gear train rests on: truth, which neither eye nor hand gets."""
        lat = self.lattice
        ahead = self.component - self.crank
        if ahead == 0:
            return "driving"
        return "other" if ahead == lat.shared + lat.to_component else "between"

    @property
    def timing_error(self) -> Fraction:
        """Crank degrees by which the component's event would come late (+) or early (−), were it set to the pin now.

        It is how far the component's gear stands ahead of the gear with the hole, plus what the hole itself is off:
        a wrong dead centre, a false hole. The clearance of the pin counts as no error.
        """
        lat = self.lattice
        off = self.setup.off_centre(self.passing) * lat.scale + self.component - self.hole
        if self.pin is Pin.FALSE_HOLE:
            off += lat.nearest_hole(self.hole)
        elif self.pin is not Pin.SEATED:
            off += self.hole  # nothing holds it: it stands where it stands
        return lat.wrapped_right(off)


def _with_the_pin(state: State, pin: str) -> State:
    """Return a state with the pin pressed against metal, or in the hole behind it."""
    hole = state.lattice.hole_at(state.hole)
    if pin == "pressed" and (hole is None or state.stiff):
        return replace(state, pin=Pin.PRESSED)
    if pin == "in" and hole is not None and not state.stiff:
        seated = Pin.SEATED if hole % state.lattice.period == 0 else Pin.FALSE_HOLE
        return replace(state, pin=seated, seated_back=state.setup.strict and state.last < 0)
    raise LockPinError(
        pin,
        rule="A pin is out, pressed where no hole is, or in where one is; a stiff pin goes in nowhere.",
        remedy="Say where the engine stands, or leave the pin out.",
    )
