"""From the tables of a pack to the models that judge: gear train, barring, pinning, procedure."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainkit import cycle, gears, lockpin, procedures
    from trainkit.packs.engine import Barring, Engine, Gear, Mesh
    from trainkit.packs.schema import Document


# Where a shaft sits, in millimetres to the right and up, seen from the front.
Place = tuple[float, float]

# So far a measured place may be off: half a millimetre of reading at either end, or a fiftieth of the distance, which
# covers gears cut with shifted profiles. Common practice, no source.
READ_MM, _SHARE = 1.0, 0.02


def train(pack: Document) -> gears.GearTrain:
    """Return the gear train: the meshes of the file, and one for each shaft that several gears share.

    Raises
    ------
    GearError
        If gears and meshes make no train.
    """
    from trainkit.gears import GearTrain

    places = shaft_places(pack)
    return GearTrain(
        [gear(each, places.get(each.shaft)) for each in pack.gears],
        [*(mesh(each) for each in pack.meshes), *shared_shafts(pack)],
    )


def gear(table: Gear, place: Place | None = None) -> gears.Gear:
    """Return one gear as the train takes it; where nobody says where its shaft sits, it sits at ``place``."""
    from trainkit.gears import Gear

    return Gear(table.id, table.teeth, table.name, table.module_mm, at_mm=table.from_the_front or place)


def shaft_places(pack: Document) -> dict[str, Place]:
    """Return where shafts sit, in millimetres seen from the front: as stated, else as teeth and modules settle it.

    The distances to two shafts leave two places, one on either side of them. A third distance settles which; so does a
    shaft that lies between the two in one line with them.
    """
    known = {each.shaft: each.from_the_front for each in pack.gears if each.from_the_front is not None}
    away: dict[str, list[tuple[str, float]]] = {}
    named = {each.id: each for each in pack.gears}
    for each in pack.meshes:
        driver, driven = named.get(each.driver), named.get(each.driven)
        if driver is None or driven is None or (distance := centre_distance(driver, driven, each)) is None:
            continue
        away.setdefault(driver.shaft, []).append((driven.shaft, distance))
        away.setdefault(driven.shaft, []).append((driver.shaft, distance))
    while True:
        found = {
            shaft: place
            for shaft, others in away.items()
            if shaft not in known
            and (place := _only_place([(known[other], far) for other, far in others if other in known])) is not None
        }
        if not found:
            return known
        known |= found


def centre_distance(driver: Gear, driven: Gear, mesh: Mesh) -> float | None:
    """Return how far apart two shafts sit whose gears mesh, in millimetres; None where that does not follow."""
    module = driver.module_mm or driven.module_mm
    if module is None or not mesh.has_flanks:
        return None
    teeth = driver.teeth + driven.teeth if mesh.kind == "external" else abs(driver.teeth - driven.teeth)
    return module * teeth / 2


def off_at_most(distance: float) -> float:
    """Return how far a measured distance of two shafts may be off, in millimetres."""
    return max(READ_MM, _SHARE * distance)


def _only_place(others: list[tuple[Place, float]]) -> Place | None:
    """Return the one place that lies so far from each of some others, or None where there is none or more than one."""
    if len(others) < 2:
        return None
    (one, near), (other, far) = others[:2]
    apart = math.dist(one, other)
    if not apart:
        return None
    along = (apart**2 + near**2 - far**2) / (2 * apart)
    aside = math.sqrt(max(0.0, near**2 - along**2))
    right, up = ((there - here) / apart for here, there in zip(one, other, strict=True))
    middle = (one[0] + along * right, one[1] + along * up)
    both = [(middle[0] - side * up, middle[1] + side * right) for side in (aside, -aside)]
    fit = [place for place in both if all(abs(math.dist(place, at) - so) <= off_at_most(so) for at, so in others)]
    if len(fit) == 2 and math.dist(*fit) <= READ_MM:
        return middle
    return fit[0] if len(fit) == 1 else None


def mesh(table: Mesh) -> gears.Mesh:
    """Return one mesh as the train takes it."""
    from trainkit.gears import Mesh

    return Mesh(table.driver, table.driven, table.kind, table.lash_mm)


def shared_shafts(pack: Document) -> tuple[gears.Mesh, ...]:
    """Return what joins the gears that sit on one shaft, where the file does not say so itself."""
    from trainkit.gears import Mesh

    said = {frozenset((each.driver, each.driven)) for each in pack.meshes}
    first: dict[str, str] = {}
    found = []
    for each in pack.gears:
        other = first.setdefault(each.shaft, each.id)
        if other != each.id and frozenset((other, each.id)) not in said:
            found.append(Mesh(other, each.id, "shaft"))
    return tuple(found)


def firing(engine: Engine) -> cycle.FiringOrder | None:
    """Return the firing order with its intervals, or None for a V engine whose intervals nobody states.

    Raises
    ------
    CycleError
        If order or intervals cannot be.
    """
    from trainkit.cycle import CYCLE, FiringOrder

    if not engine.firing_known:
        return None
    if engine.fires_evenly:
        return FiringOrder(engine.firing_order)
    # Rounded thirds and sevenths of the cycle rarely make the whole: the last one takes what is left.
    *others, _ = (Fraction(str(each)) for each in engine.firing_intervals_deg)
    return FiringOrder(engine.firing_order, [*others, CYCLE - sum(others)])


def bar(table: Barring) -> gears.Barring:
    """Return the model of the barring tool."""
    from trainkit.gears import Barring

    return Barring(table.stands_at, table.ring_teeth, table.pinion_teeth)


def bar_lash(table: Barring) -> Fraction:
    """Return the lash between barring pinion and ring gear, in crank degrees to a thousandth."""
    from trainkit.gears import backlash_degrees

    if table.by == "crank-nose" or not table.lash_mm or table.module_mm is None or table.ring_teeth is None:
        return Fraction(0)
    return Fraction(round(1000 * backlash_degrees(table.lash_mm, table.module_mm * table.ring_teeth / 2)), 1000)


def lock_pin(pack: Document) -> lockpin.Setup:
    """Return the pinning model: the lash from the barring tool on, the paces, and the clock positions.

    Raises
    ------
    GearError, LockPinError
        If gears or positions cannot be.
    """
    from trainkit.lockpin import from_train

    table, whole = pack.lock_pin_table, train(pack)
    crank = pack.crank

    def at(gear: str) -> str:
        return crank if gear == "flywheel" else gear

    def built(**rest: Fraction) -> lockpin.Setup:
        return from_train(
            whole,
            crank=crank,
            hole_in=at(table.hole_in),
            component=table.component,
            watched=at(table.watched),
            forward=pack.engine.rotation,
            forward_seen_from=pack.engine.seen_from,
            seen_from=table.seen_from,
            seats=table.seats,
            press_from=_position(table.press_from, table.press_from_deg),
            give_up=_position(table.give_up, table.give_up_deg),
            back_off_to=_position(table.back_off_to, table.back_off_deg),
            holes=table.holes,
            tells=table.tells_stroke,
            clearance=table.clearance_deg,
            tolerance=table.tolerance_deg,
            stiff=table.stiff,
            compression=not table.vented,
            false_holes=table.false_holes_deg,
            cylinder=table.cylinder,
            dead_centre=table.dead_centre,
            # Which other cylinder stands at a wrong passing is told where the intervals between firings are even.
            firing_order=pack.engine.firing_order if pack.engine.fires_evenly else (),
            **rest,
        )

    setup, more = built(), bar_lash(pack.barring)
    if not more:
        return setup
    # Between the bar and the crank lies the mesh of pinion and ring gear; both paths share it.
    return built(
        lash_to_pin=setup.lash_to_pin + more,
        lash_to_component=setup.lash_to_component + more,
        lash_shared=setup.lash_on_both + more,
    )


def _position(clock: str | None, degrees: float | None) -> str | float:
    # The checker sees to it that exactly one of the two is given.
    return degrees if clock is None else clock  # type: ignore[return-value]  # see above


def procedure(pack: Document, configuration: str = "") -> procedures.Procedure:
    """Return the precedence among the steps of a configuration, or with none of them.

    A step that only other configurations add orders nothing here. What a dropped step held in order still holds. What
    follows from energies, pins and bars comes in by itself (:mod:`trainkit.packs.precedences`).

    Raises
    ------
    ProcedureError
        If steps wait for each other in a ring.
    """
    from trainkit.packs.precedences import with_derived
    from trainkit.procedures import Procedure

    known, edges, dropped = written(pack, configuration)
    return Procedure(known, with_derived(pack, configuration, known, edges)).without(dropped)


def written(pack: Document, configuration: str = "") -> tuple[list[str], list[procedures.Edge], list[str]]:
    """Return the steps of a configuration with those it drops, their written precedence, and those it drops."""
    from trainkit.procedures import Edge

    here = {step.id for step in pack.steps_of(configuration)}
    drops = {step for each in pack.configurations if each.id == configuration for step in each.drops}
    dropped = [step.id for step in pack.steps_of() if step.id in drops - here]
    known = [step.id for step in pack.steps if step.id in here or step.id in dropped]
    edges = [
        Edge(each.before, each.after, each.reason, each.dangerous, each.shows)
        for each in pack.precedence
        if each.before in known and each.after in known
    ]
    return known, edges, dropped
