"""Gears of a pack by what they do, how the engine runs, and where its lock pin goes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit import packs
from trainkit.cycle import CYCLE, FiringOrder
from trainkit.roles.taken import TAKEN

if TYPE_CHECKING:
    from fractions import Fraction

    from trainkit.gears import Turning
    from trainkit.packs import Gear, Pack

    Number = int | float | Fraction


def end(viewpoint: str) -> str:
    """Return what an end of the engine is called.

    Examples
    --------
    >>> end("flywheel"), end("front")
    ('the flywheel end', 'the front')
    """
    return "the front" if viewpoint == "front" else "the flywheel end"


def has_lash(pack: Pack) -> bool:
    """Tell whether gears with lash lead from the crank to the timed component, and no chain or belt."""
    path = pack.train.path(pack.crank, component(pack).id)
    return bool(path.lash) and all(leg.mesh.kind in ("external", "internal", "shaft") for leg in path.legs)


def with_lash(pack: Pack) -> Pack:
    """Return the pack to explain lash on: its own engine, or the training engine where that has no lash."""
    return pack if has_lash(pack) else packs.load("dunlin")


def lash_taken(pack: Pack) -> tuple[str, ...]:
    """Say what engine lash is explained on, where it is not the pack's own.

    Examples
    --------
    >>> lash_taken(packs.load("dunlin"))
    ()
    """
    return () if has_lash(pack) else (_NO_LASH.format(engine=with_lash(pack).engine.name),)


_NO_LASH = "No gears with lash lead to the timed part of this engine, so {engine} is taken for this example."


def sense(pack: Pack) -> str:
    """Say how the engine runs.

    Examples
    --------
    >>> from trainkit import packs
    >>> sense(packs.load("dunlin"))
    'In service the crank turns clockwise, seen from the front.'
    """
    return f"In service the crank turns {pack.engine.rotation}, seen from {end(pack.engine.seen_from)}."


def firing(pack: Pack) -> FiringOrder:
    """Return the firing order with its intervals; an order of no engine where the pack does not say how far apart."""
    return pack.firing or FiringOrder(_ORDER)


def intervals(pack: Pack) -> tuple[str, ...]:
    """Say how far apart the cylinders of :func:`firing` fire.

    Examples
    --------
    >>> from trainkit import packs
    >>> intervals(packs.load("dunlin"))
    ('From one firing to the next it is 720° ÷ 4 = 180°.',)
    """
    order = firing(pack)
    taken = () if pack.firing else (_UNKNOWN.format(taken=TAKEN),)
    if order.even:
        return *taken, f"From one firing to the next it is {CYCLE}° ÷ {len(order)} = {float(order.interval):g}°."
    following = (*order.cylinders[1:], order.cylinders[0])
    pairs = zip(order.cylinders, following, order.intervals, strict=True)
    return _UNEVEN, *(f"From cylinder {one} to cylinder {other}: {float(apart):g}°." for one, other, apart in pairs)


_ORDER = (1, 3, 4, 2)  # met on many engines; common practice, no source
_UNKNOWN = "How far apart the cylinders of this engine fire is not stated. {taken}"
_UNEVEN = "This engine fires unevenly, so there is no one interval:"


def component(pack: Pack) -> Gear:
    """Return the gear whose timing the lock pin fixes."""
    return pack.gear(pack.lock_pin_table.component)


def pinned(pack: Pack) -> Gear:
    """Return the gear that takes the lock pin: the crank gear for a hole in the flywheel, which turns with it."""
    return _gear(pack, pack.lock_pin_table.hole_in)


def watched(pack: Pack) -> Gear:
    """Return the gear that bears the mark: the crank gear for a mark on the flywheel, which turns with it."""
    return _gear(pack, pack.lock_pin_table.watched)


def mark_on(pack: Pack) -> str:
    """Return the name of what bears the mark that is watched.

    Examples
    --------
    >>> from trainkit import packs
    >>> mark_on(packs.load("dunlin"))
    'fuel metering unit gear'
    """
    return "flywheel" if pack.lock_pin_table.watched == "flywheel" else watched(pack).name


def forward(pack: Pack, degrees: Number) -> Turning:
    """Return what every gear does when the crank turns on in its running sense; read from where that is stated.

    Parameters
    ----------
    pack : Pack
        The engine.
    degrees : int, float or fractions.Fraction
        Degrees of the crank; negative is barred back.

    Examples
    --------
    >>> from trainkit import packs
    >>> forward(packs.load("dunlin"), 90).sense("crank")
    'clockwise'
    """
    engine = pack.engine
    return pack.train.turn(
        pack.crank, degrees if engine.rotation == "clockwise" else -degrees, seen_from=engine.seen_from
    )


def _gear(pack: Pack, name: str) -> Gear:
    return pack.gear(pack.crank if name == "flywheel" else name)


def farthest_gear(pack: Pack) -> Gear:
    """Return the gear that the most meshes part from the crank; of several the first of the pack."""
    return max(pack.gears, key=lambda gear: _meshes(pack, gear.id))


def nearest_gear(pack: Pack) -> Gear:
    """Return a gear that meshes with the crank gear itself; the component's own only where there is no other."""
    near = [gear for gear in pack.gears if _meshes(pack, gear.id) == 1 and gear.shaft != pack.gear(pack.crank).shaft]
    on_the_way = pack.train.path(pack.crank, component(pack).id).gears
    return min(near, key=lambda gear: gear.id in on_the_way, default=pack.gear(pack.crank))


def teeth(pack: Pack, gear: Gear) -> str:
    """Return the teeth on the way from the crank gear to a gear, as a sum; nothing for the crank gear itself.

    Examples
    --------
    >>> from trainkit import packs
    >>> pack = packs.load("dunlin")
    >>> teeth(pack, component(pack))
    '42 ÷ 28 × 28 ÷ 84'
    """
    legs = pack.train.path(pack.crank, gear.id).legs
    return " × ".join(f"{leg.source.teeth} ÷ {leg.target.teeth}" for leg in legs if leg.mesh.kind != "shaft")


def _meshes(pack: Pack, gear: str) -> int:
    return sum(leg.mesh.kind != "shaft" for leg in pack.train.path(pack.crank, gear).legs)


def lock_pin(pack: Pack) -> tuple[str, ...]:
    """Say where the pin goes, what is watched, from which end, and what tells the right dead centre.

    Examples
    --------
    >>> from trainkit import packs
    >>> for line in lock_pin(packs.load("dunlin")):
    ...     print(line)
    The lock pin holds the gear train while the fuel metering unit gear is set.
    It goes into a hole in the idler gear.
    The mark to watch is a witness tooth on the fuel metering unit gear. It is seen from the front.
    The right place is top dead centre of cylinder 1 on compression.
    The witness tooth tells it. At a wrong place the hole lines up, but the tooth does not.
    """
    table = pack.lock_pin_table
    hole = "the flywheel" if table.hole_in == "flywheel" else f"the {pack.gear(table.hole_in).name}"
    mark = "on the flywheel" if table.watched == "flywheel" else f"on the {pack.gear(table.watched).name}"
    tooth = "a witness tooth " if table.tells_stroke == "witness" else ""
    tells = {
        "witness": "The witness tooth tells it. At a wrong place the hole lines up, but the tooth does not.",
        "valves": f"The valves of cylinder {table.cylinder} tell it: look at them before you press.",
        "hole": "The hole itself tells it: it comes by nowhere else.",
    }
    return (
        f"The lock pin holds the gear train while the {component(pack).name} is set.",
        f"It goes into a hole in {hole}.",
        f"The mark to watch is {tooth}{mark}. It is seen from {end(table.seen_from)}.",
        f"The right place is top dead centre of cylinder {table.cylinder} on {table.dead_centre}.",
        tells[table.tells_stroke],
    )


def says(pack: Pack, passing: int) -> str:
    """Say what the sign of the right dead centre shows in one passing of the hole, counted from the right one, 0.

    Examples
    --------
    >>> from trainkit import packs
    >>> says(packs.load("dunlin"), 1)
    'The witness tooth says no.'
    """
    yes = pack.lock_pin.agrees(passing)
    if pack.lock_pin_table.tells_stroke == "valves":
        return f"The valves of cylinder {pack.lock_pin_table.cylinder} say {'yes' if yes else 'no'}."
    sign = "witness tooth" if pack.lock_pin_table.tells_stroke == "witness" else "hole itself"
    return f"The {sign} says {'yes' if yes else 'no'}."


def passing(pack: Pack, number: int) -> str:
    """Say where the engine stands in one passing of the hole, counted from the right one, 0, and what the sign says.

    Examples
    --------
    >>> from trainkit import packs
    >>> passing(packs.load("dunlin"), 1)
    '240 crank degrees on: a wrong place. The witness tooth says no.'
    """
    pin = pack.lock_pin
    place = "the right dead centre" if pin.right(number) else "a wrong place"
    return f"{float(number * pin.period):g} crank degrees on: {place}. {says(pack, number)}"
