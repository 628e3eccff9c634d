"""Rules about where shafts sit and what runs between them: centre distances, split gears, chains and belts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING

from trainkit.packs.mechanics import READ_MM, centre_distance, off_at_most
from trainkit.packs.rules.base import Breach, Case, rule

if TYPE_CHECKING:
    from trainkit.packs.engine import Gear, Mesh

__all__: list[str] = []

# Where a side lies in a picture, x to the right and y up.
_SIDES = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "top": (0.0, 1.0), "bottom": (0.0, -1.0)}


def _pairs(case: Case) -> Iterator[tuple[int, Mesh, Gear, Gear]]:
    gears = {gear.id: gear for gear in case.pack.gears}
    for place, mesh in enumerate(case.pack.meshes):
        if mesh.driver in gears and mesh.driven in gears:
            yield place, mesh, gears[mesh.driver], gears[mesh.driven]


@rule("gears", "meshes")
def _centre_distances(case: Case) -> Iterator[Breach]:
    numbers = {gear.id: number for number, gear in enumerate(case.pack.gears)}
    for _, mesh, driver, driven in _pairs(case):
        here, there = driver.from_the_front, driven.from_the_front
        wanted = centre_distance(driver, driven, mesh)
        if here is None or there is None or wanted is None:
            continue
        met = math.dist(here, there)
        if abs(met - wanted) > off_at_most(wanted):
            module = driver.module_mm or driven.module_mm
            sign = "+" if mesh.kind == "external" else "−"
            yield Breach(
                "shaft-positions-contradict-teeth",
                ("gears", numbers[driven.id], "at_mm"),
                driven.at_mm,
                f"With module {module:g} mm, {driver.id} and {driven.id} mesh {wanted:.4g} mm apart "
                f"({driver.teeth} {sign} {driven.teeth} teeth, times half the module); these places are {met:.4g} mm "
                "apart.",
                "Check both places, the end they are seen from, the teeth and the module; without at_mm the place is "
                "worked out.",
                "printed",
            )


@rule("gears")
def _one_place_a_shaft(case: Case) -> Iterator[Breach]:
    first: dict[str, Gear] = {}
    for number, gear in enumerate(case.pack.gears):
        if gear.from_the_front is None:
            continue
        other = first.setdefault(gear.shaft, gear)
        if other.from_the_front is not None and math.dist(other.from_the_front, gear.from_the_front) > READ_MM:
            yield Breach(
                "shaft-positions-contradict-teeth",
                ("gears", number, "at_mm"),
                gear.at_mm,
                f"{other.id} sits on the same shaft at {_written(other)}; seen from the other end, right is left.",
                "Give both the same place, or leave one out.",
            )


def _written(gear: Gear) -> str:
    return f"[{', '.join(f'{each:g}' for each in gear.at_mm or ())}], seen from the {gear.seen_at}"


@rule("gears", "meshes")
def _split_gears(case: Case) -> Iterator[Breach]:
    for place, mesh, driver, driven in _pairs(case):
        split = next((gear for gear in (driver, driven) if gear.split), None)
        if split is not None and mesh.has_flanks and mesh.lash_mm:
            yield Breach(
                "split-gear-with-lash",
                ("meshes", place, "lash_mm"),
                mesh.lash_mm,
                f"{split.id} is a split gear: its springs take up the lash of this mesh.",
                "Delete lash_mm, or split at the gear.",
                "printed",
            )


@rule("engine", "gears", "meshes")
def _chains_and_belts(case: Case) -> Iterator[Breach]:
    for place, mesh, driver, driven in _pairs(case):
        if mesh.kind not in ("chain", "belt"):
            if mesh.tight_side is not None:
                yield Breach(
                    "tight-side-without-chain",
                    ("meshes", place, "tight_side"),
                    mesh.tight_side,
                    f"Only a chain or a belt has a tight side; this mesh is {mesh.kind}.",
                    'Delete it, or write kind = "chain" or "belt".',
                )
            continue
        if mesh.lash_mm:
            yield Breach(
                "lash-without-flanks",
                ("meshes", place, "lash_mm"),
                mesh.lash_mm,
                f"Lash lies between the flanks of two gears. A {mesh.kind} has none.",
                "Delete lash_mm. Say on which side it is tight: tight_side.",
                "remark",
            )
        wanted = _tight(case, driver, driven)
        if mesh.tight_side is not None and wanted is not None:
            side = _SIDES[mesh.tight_side]
            if side[0] * wanted[0] + side[1] * wanted[1] <= 0:
                right = max(_SIDES, key=lambda name: _SIDES[name][0] * wanted[0] + _SIDES[name][1] * wanted[1])
                yield Breach(
                    "tight-side-contradicts-rotation",
                    ("meshes", place, "tight_side"),
                    mesh.tight_side,
                    f"By rotation and shaft positions, {driver.id} pulls the run on the {right}, seen from the "
                    f"{driver.seen_at}.",
                    "Check the side, the places at_mm, and which of the two gears drives.",
                    "printed",
                )


def _tight(case: Case, driver: Gear, driven: Gear) -> tuple[float, float] | None:
    """Return towards which side the pulled run lies, seen from the driver's end, or None where that is not known."""
    from trainkit.gears import seen, signed

    train, crank, engine = case.train, case.pack.crank, case.pack.engine
    here, there = driver.from_the_front, driven.from_the_front
    if train is None or not crank or here is None or there is None:
        return None
    across, up = there[0] - here[0], there[1] - here[1]
    if driver.seen_at == "flywheel":
        across = -across
    turned = seen(
        Fraction(signed(engine.rotation)) * train.ratio(crank, driver.id),
        stated_from=engine.seen_from,
        seen_from=driver.seen_at,
    )
    # The rim of the driver draws in the run on its one side: turning clockwise, the one to the right of the line of
    # centres, looking towards the driven.
    way = 1 if turned > 0 else -1
    return way * up, -way * across
