"""Rules about the engine: firing order, gear train, senses of rotation, speeds, barring."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from trainkit.packs import mechanics
from trainkit.packs.rules.base import Breach, Case, rule
from trainkit.sentences import counted

__all__: list[str] = []


@rule("engine")
def _firing_order(case: Case) -> Iterator[Breach]:
    engine = case.pack.engine
    if sorted(engine.firing_order) != list(range(1, engine.cylinders + 1)):
        missing = sorted(set(range(1, engine.cylinders + 1)) - set(engine.firing_order))
        lacks = f"; missing: {', '.join(map(str, missing))}" if missing else ""
        yield Breach(
            "firing-order-no-permutation",
            ("engine", "firing_order"),
            "-".join(map(str, engine.firing_order)),
            f"A firing order names each of the {engine.cylinders} cylinders once{lacks}.",
            "Copy the firing order and the number of cylinders again.",
        )


@rule("engine")
def _firing_intervals(case: Case) -> Iterator[Breach]:
    engine = case.pack.engine
    given = engine.firing_intervals_deg
    if not given and not engine.firing_known:
        yield Breach(
            "firing-intervals-unknown",
            ("engine", "bank_angle_deg"),
            engine.bank_angle_deg,
            "A V engine may fire evenly or not; nothing says how far apart these cylinders fire.",
            "Add firing_intervals_deg, in the order of firing. Without it no question is about intervals.",
            "remark",
        )
    elif given and (
        len(given) != engine.cylinders or min(given) <= _SUM_OFF or abs(math.fsum(given) - _CYCLE) > _SUM_OFF
    ):
        yield Breach(
            "firing-intervals-impossible",
            ("engine", "firing_intervals_deg"),
            given,
            f"There is one interval for each of {counted(engine.cylinders, 'firing')}, and together they make "
            f"{_CYCLE} crank degrees; here {len(given)} make {math.fsum(given):g}.",
            "Give the degrees from each firing to the next, the last one back to the first.",
        )


# Two turns of the crank; what rounded thirds and sevenths of it may be off together.
_CYCLE, _SUM_OFF = 720, 0.5


@rule("engine")
def _slider_crank(case: Case) -> Iterator[Breach]:
    engine = case.pack.engine
    radius, rod = engine.crank_radius_mm, engine.rod_length_mm
    if (radius is None) != (rod is None):
        given = "rod_length_mm" if radius is None else "crank_radius_mm"
        yield Breach(
            "slider-crank-incomplete",
            ("engine", given),
            rod if radius is None else radius,
            "Piston positions need crank radius and rod length.",
            "Give both, or neither.",
        )
    elif radius is not None and rod is not None and rod <= radius:
        yield Breach(
            "rod-too-short",
            ("engine", "rod_length_mm"),
            rod,
            f"A connecting rod is longer than the crank radius, {radius:g} mm.",
            "Check whether the stroke was entered as radius.",
        )


@rule("gears")
def _one_crank_gear(case: Case) -> Iterator[Breach]:
    cranks = [place for place, gear in enumerate(case.pack.gears) if gear.role == "crank"]
    if not cranks:
        yield Breach(
            "crank-gear-unclear",
            ("gears",),
            "",
            "One gear turns with the crank.",
            'Write role = "crank" at the crank gear.',
        )
    shafts = {case.pack.gears[place].shaft for place in cranks}
    for place in cranks[1:]:
        if len(shafts) > 1:
            yield Breach(
                "crank-gear-unclear",
                ("gears", place, "role"),
                "crank",
                "Gears with the role crank sit on one shaft.",
                "Give the others their own role, or on_shaft.",
            )


@rule("gears", "meshes")
def _train_turns(case: Case) -> Iterator[Breach]:
    from trainkit.errors import GearError
    from trainkit.gears import Mesh, faults

    known = [gear.id for gear in case.pack.gears]
    if len(set(known)) < len(known) or any(
        end not in known for mesh in case.pack.meshes for end in (mesh.driver, mesh.driven)
    ):
        return  # told by the rules about names
    meshes: list[Mesh] = []
    for place, mesh in enumerate(case.pack.meshes):
        try:
            meshes.append(mechanics.mesh(mesh))
        except GearError as error:
            yield Breach("mesh-impossible", ("meshes", place), f"{mesh.driver}–{mesh.driven}", error.rule, error.remedy)
    if len(meshes) < len(case.pack.meshes):
        return
    pairs = [f"{mesh.driver}–{mesh.driven}" for mesh in meshes]
    whole = [*meshes, *mechanics.shared_shafts(case.pack)]
    for fault in faults([mechanics.gear(gear) for gear in case.pack.gears], whole):
        at = [number for number, mesh in enumerate(meshes) if fault.place == f"mesh {mesh.driver}–{mesh.driven}"]
        if at:
            yield Breach("mesh-impossible", ("meshes", at[-1]), fault.value, fault.rule, fault.remedy)
        elif fault.value in known:
            number = known.index(str(fault.value))
            yield Breach("gear-unconnected", ("gears", number, "id"), fault.value, fault.rule, fault.remedy)
        elif fault.value in pairs:
            last = len(pairs) - 1 - pairs[::-1].index(str(fault.value))
            yield Breach("mesh-twice", ("meshes", last), fault.value, fault.rule, fault.remedy)
        else:
            yield Breach("train-locks", ("meshes",), fault.value, fault.rule, fault.remedy)


@rule("gears", "meshes")
def _lash_has_radius(case: Case) -> Iterator[Breach]:
    gears = {gear.id: gear for gear in case.pack.gears}
    for place, mesh in enumerate(case.pack.meshes):
        ends = [gears[end] for end in (mesh.driver, mesh.driven) if end in gears]
        if mesh.lash_mm and len(ends) == 2 and all(gear.module_mm is None for gear in ends):
            yield Breach(
                "lash-without-radius",
                ("meshes", place, "lash_mm"),
                mesh.lash_mm,
                "Lash in millimetres becomes an angle by the pitch radius.",
                "Give module_mm at one of the two gears.",
            )


@rule("engine", "gears", "meshes")
def _senses(case: Case) -> Iterator[Breach]:
    from trainkit.gears import seen, sense_of, signed

    train, engine = case.train, case.pack.engine
    if train is None or not case.pack.crank:
        return
    for place, gear in enumerate(case.pack.gears):
        if gear.turns is None:
            continue
        crank = signed(engine.rotation) * train.ratio(case.pack.crank, gear.id)
        sense = sense_of(seen(crank, stated_from=engine.seen_from, seen_from=gear.seen_at))
        if gear.turns != sense:
            working = train.path(case.pack.crank, gear.id).lines[-2 if gear.id != case.pack.crank else -1]
            yield Breach(
                "direction-contradicts-meshes",
                ("gears", place, "turns"),
                gear.turns,
                f"The engine turns {engine.rotation} seen from the {engine.seen_from}; by the meshes this gear turns "
                f"{sense} seen from the {gear.seen_at}. {working}",
                "Check the sense, its viewpoint seen_at, and the meshes on the way.",
                "printed",
            )


@rule("gears", "meshes")
def _speeds(case: Case) -> Iterator[Breach]:
    train = case.train
    if train is None or not case.pack.crank:
        return
    for place, gear in enumerate(case.pack.gears):
        speed = abs(train.ratio(case.pack.crank, gear.id))
        wanted = {"crank": Fraction(1), "camshaft": Fraction(1, 2), "component": Fraction(1, 2)}.get(gear.role)
        if wanted is not None and speed != wanted:
            yield Breach(
                "speed-contradicts-cycle",
                ("gears", place, "teeth"),
                f"{gear.teeth} teeth, {speed} of crank speed",
                f"On a four-stroke engine a gear with the role {gear.role} turns at {wanted} of crank speed.",
                "Count the teeth on the way from the crank again.",
                "printed" if gear.role == "component" else "cannot",
            )


@rule("barring")
def _barring(case: Case) -> Iterator[Breach]:
    table = case.pack.barring
    both = table.ring_teeth is not None and table.pinion_teeth is not None
    if table.by == "ring-gear" and not both:
        yield Breach(
            "barring-incomplete",
            ("barring", "by"),
            table.by,
            "Barring on the ring gear needs ring_teeth and pinion_teeth.",
            "Count both.",
        )
    if not table.by_hand and (table.ring_teeth is None) != (table.pinion_teeth is None):
        yield Breach(
            "barring-incomplete",
            ("barring", "by"),
            table.by,
            "A ratio needs ring_teeth and pinion_teeth.",
            "Count both, or leave both out.",
        )
    if table.by == "crank-nose":
        for key in ("ring_teeth", "pinion_teeth", "module_mm"):
            if getattr(table, key) is not None:
                yield Breach(
                    "barring-incomplete",
                    ("barring", key),
                    getattr(table, key),
                    "A socket on the crank nose has no mesh.",
                    'Delete it, or write by = "ring-gear".',
                )
        if table.lash_mm:
            yield Breach(
                "barring-incomplete",
                ("barring", "lash_mm"),
                table.lash_mm,
                "A socket on the crank nose has no mesh, so no lash of gears.",
                'Delete it, or write by = "ring-gear".',
            )
        if table.stands_at != "front":
            yield Breach(
                "barring-out-of-reach",
                ("barring", "stands_at"),
                table.stands_at,
                "The crank nose is at the front.",
                'Write stands_at = "front".',
                "printed",
            )
    if both and table.ring_teeth is not None and table.pinion_teeth is not None:
        if table.pinion_teeth >= table.ring_teeth:
            yield Breach(
                "pinion-too-large",
                ("barring", "pinion_teeth"),
                table.pinion_teeth,
                f"The barring pinion has fewer teeth than its ring gear ({table.ring_teeth}).",
                "Swap the two counts, or count again.",
            )
        if table.lash_mm and table.module_mm is None:
            yield Breach(
                "lash-without-radius",
                ("barring", "lash_mm"),
                table.lash_mm,
                "Lash in millimetres becomes an angle by the pitch radius.",
                "Give module_mm of the ring gear.",
            )
