"""A lock pin's setup out of a gear train: paces, lash along the paths and clock positions."""

from __future__ import annotations

from fractions import Fraction
from itertools import takewhile

from trainkit.errors import LockPinError
from trainkit.gears import Clock, GearTrain, Path, Sense, Viewpoint, hole_interval, seen
from trainkit.lockpin.angles import degrees
from trainkit.lockpin.dial import Dial
from trainkit.lockpin.setup import MarksOn, Setup


def from_train(
    train: GearTrain,
    *,
    crank: str,
    hole_in: str,
    component: str,
    watched: str,
    forward: Sense,
    forward_seen_from: Viewpoint,
    seen_from: Viewpoint,
    seats: Clock | str,
    press_from: Clock | str | Fraction | float,
    give_up: Clock | str | Fraction | float,
    back_off_to: Clock | str | Fraction | float,
    holes: int = 1,
    **rest: object,
) -> Setup:
    """Build a setup from a gear train and from where the watched mark stands.

    Parameters
    ----------
    train : GearTrain
        The train, with lash in millimetres at its meshes.
    crank : str
        The gear that turns with the crank. The flywheel, and a hole or mark in it, go by the same name.
    hole_in, component, watched : str
        The gear with the pin hole, the gear whose timing is set, and the gear that bears the watched mark. A mark on
        a gear that is none of crank, pin gear or component is taken to go with the pin gear; the difference is
        lash, which an eye does not read.
    forward, forward_seen_from : str
        The sense in which the crank goes when the engine is barred forward, and the end it is stated from.
    seen_from : str
        The end from which the clock positions are read.
    seats, press_from, give_up, back_off_to : Clock or str
        Clock positions of the mark. The last three may instead be numbers: crank degrees before the place
        (press, back off) or after it (give up).
    holes : int
        Equally spaced true holes in the gear.
    **rest
        Other fields of :class:`Setup`; those given here win over what follows from the train.

    Returns
    -------
    Setup
        Lash is carried to crank degrees and rounded to a thousandth: nobody knows it closer.

    Raises
    ------
    LockPinError
        If the positions are not met in order, or a value cannot be.
    GearError
        If the train has no such gear, or a mesh on a path states no lash.

    Examples
    --------
    >>> from trainkit.gears import Gear, Mesh
    >>> train = GearTrain(
    ...     [Gear("crank", 36, module_mm=2.5), Gear("idler", 48, module_mm=2.5), Gear("pump", 72, module_mm=2.5)],
    ...     [Mesh("crank", "idler", lash_mm=0.2), Mesh("idler", "pump", lash_mm=0.2)],
    ... )
    >>> setup = from_train(train, crank="crank", hole_in="crank", component="pump", watched="crank",
    ...                    forward="clockwise", forward_seen_from="front", seen_from="front", seats="12:00",
    ...                    press_from="11:48", give_up="12:08", back_off_to="11:20", tells="valves")
    >>> setup.period, setup.press_from, float(setup.lash_to_component)
    (Fraction(360, 1), Fraction(6, 1), 0.509)
    """
    to_pin, to_component = train.path(crank, hole_in), train.path(crank, component)
    shared = [leg for leg, other in takewhile(lambda pair: pair[0] == pair[1], zip(to_pin.legs, to_component.legs))]  # noqa: B905 - the shorter path ends the common stretch
    sense = 1 if forward == "clockwise" else -1
    turned = seen(Fraction(sense), stated_from=forward_seen_from, seen_from=seen_from) * train.ratio(crank, watched)
    dial = Dial(
        seen_from=seen_from,
        clockwise=turned > 0,
        turns_per_crank=abs(turned),
        seats_at=_clock(seats).degrees,
    )
    fields: dict[str, object] = {
        "lash_to_pin": _lash(to_pin),
        "lash_to_component": _lash(to_component),
        "lash_shared": _lash(Path(train.gear(crank), tuple(shared))),
        "period": 360 * hole_interval(train.ratio(crank, hole_in), holes),
        "marks_on": _marks_on(train, crank, hole_in, component, watched),
        "witness_every": 360 / abs(turned),
    }
    return Setup.from_clock(
        dial,
        press_at=_position(press_from, dial, 1),
        give_up_at=_position(give_up, dial, -1),
        back_off_at=_position(back_off_to, dial, 1),
        **(fields | rest),
    )


def _clock(position: Clock | str) -> Clock:
    return position if isinstance(position, Clock) else Clock.parse(position)


def _position(value: Clock | str | Fraction | float, dial: Dial, side: int) -> Fraction:
    """Return a position in degrees clockwise from twelve; a number is crank degrees on its side of the place."""
    if isinstance(value, Clock | str):
        return _clock(value).degrees
    angle = degrees(value, "position")
    if not 0 < angle * dial.turns_per_crank < 180:
        raise LockPinError(
            value, rule="A position lies within half a turn of the mark from its place.", remedy="Check the degrees."
        )
    return dial.at(side * angle)


def _lash(path: Path) -> Fraction:
    return Fraction(round(1000 * path.lash), 1000)


def _marks_on(train: GearTrain, crank: str, hole_in: str, component: str, watched: str) -> MarksOn:
    def same_shaft(one: str, other: str) -> bool:
        return all(leg.mesh.kind == "shaft" for leg in train.path(one, other).legs)

    if same_shaft(watched, hole_in):
        return "pin gear"
    if same_shaft(watched, crank):
        return "bar"
    return "component gear" if same_shaft(watched, component) else "pin gear"
