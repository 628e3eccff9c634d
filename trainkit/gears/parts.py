"""Gears and meshes, and everything that keeps them from making a train."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from typing import Literal

from trainkit.errors import GearError
from trainkit.gears.exact import exact, is_count

MeshKind = Literal["external", "internal", "chain", "belt", "shaft"]
KINDS: tuple[MeshKind, ...] = ("external", "internal", "chain", "belt", "shaft")

_FEWEST, _MOST = 3, 1000  # teeth of anything that an engine's timing drive holds


def _is_word(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip())


@dataclass(frozen=True, slots=True)
class Gear:
    """A gear, sprocket or toothed pulley, or a part that turns with one.

    Parameters
    ----------
    id : str
        Short and unique in its train.
    teeth : int or None
        Number of teeth; None for a part without teeth, which can only share a shaft.
    name : str, optional
        What people call it; the identifier stands in when it is missing.
    module_mm : float, optional
        Module in millimetres in the plane of rotation (for helical teeth the transverse module). The pitch radius
        is half of teeth × module.
    pitch_radius_mm : float, optional
        Pitch radius in millimetres, instead of the module.
    at_mm : (float, float), optional
        Where its shaft sits, in millimetres to the right and up, seen from the front; for drawings.

    Raises
    ------
    GearError
        For a missing identifier, an absurd number of teeth, or a size that cannot be.

    Examples
    --------
    >>> Gear("cam", 68, module_mm=2.5).radius_mm
    85.0
    """

    id: str
    teeth: int | None = None
    name: str = ""
    module_mm: float | None = None
    pitch_radius_mm: float | None = None
    at_mm: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        if not _is_word(self.id):
            raise GearError(self.id, rule="A gear has an identifier.", remedy='Give a short word, such as "crank".')
        refused = partial(GearError, place=f"gear {self.id}")
        if self.teeth is not None and not is_count(self.teeth, _FEWEST, _MOST):
            raise refused(
                self.teeth,
                rule=f"A gear has a whole number of teeth, {_FEWEST} to {_MOST}.",
                remedy="Count the teeth again; leave them out for a part that has none.",
            )
        for value, what in ((self.module_mm, "module"), (self.pitch_radius_mm, "pitch radius")):
            if value is not None and exact(value, what) <= 0:
                raise refused(value, rule=f"A {what} is more than zero millimetres.", remedy="Measure it again.")
        if self.module_mm is not None and self.teeth is None:
            raise refused(
                self.module_mm,
                rule="A part without teeth has no module.",
                remedy="State the teeth, or leave the module out.",
            )
        if self.module_mm is not None and self.pitch_radius_mm is not None and self.teeth is not None:
            half = self.module_mm * self.teeth / 2
            if abs(half - self.pitch_radius_mm) > 0.005 * half:
                raise refused(
                    self.pitch_radius_mm,
                    rule=f"The pitch radius is half of teeth × module, here {half:g} mm.",
                    remedy="State only one of the two, or mend the wrong one.",
                )

    @property
    def title(self) -> str:
        """What people call it."""
        return self.name or self.id

    @property
    def radius_mm(self) -> float | None:
        """Pitch radius in millimetres, if it or the module was stated."""
        if self.pitch_radius_mm is not None:
            return float(self.pitch_radius_mm)
        if self.module_mm is not None and self.teeth is not None:
            return self.module_mm * self.teeth / 2
        return None


@dataclass(frozen=True, slots=True)
class Mesh:
    """Two gears that turn together, and how.

    Parameters
    ----------
    driver, driven : str
        Identifiers of the two gears, in the direction of the drive when the engine is barred.
    kind : {"external", "internal", "chain", "belt", "shaft"}
        External teeth turn each other the opposite way; internal teeth, a chain and a toothed belt the same way;
        parts on the same shaft turn as one.
    lash_mm : float, optional
        Backlash along the pitch circle in millimetres. None: not stated.

    Raises
    ------
    GearError
        For an unknown kind, a gear that meshes with itself, or a negative lash.
    """

    driver: str
    driven: str
    kind: MeshKind = "external"
    lash_mm: float | None = None

    def __post_init__(self) -> None:
        refused = partial(GearError, place=f"mesh {self.driver}–{self.driven}")
        if self.kind not in KINDS:
            raise refused(self.kind, rule=f"The kinds of mesh are {', '.join(KINDS)}.", remedy="Name one of them.")
        if self.driver == self.driven:
            raise refused(self.driver, rule="A gear does not mesh with itself.", remedy="Name two gears.")
        if self.lash_mm is not None:
            if exact(self.lash_mm, "lash") < 0:
                raise refused(
                    self.lash_mm,
                    rule="Lash is zero or more millimetres.",
                    remedy="Give the play along the pitch circle.",
                )
            if self.kind == "shaft" and self.lash_mm > 0:
                raise refused(
                    self.lash_mm,
                    rule="Parts on the same shaft turn as one, without lash.",
                    remedy="Leave the lash out.",
                )

    @property
    def same_sense(self) -> bool:
        """Whether both gears turn the same way."""
        return self.kind != "external"


def faults(gears: Iterable[Gear], meshes: Iterable[Mesh]) -> Iterator[GearError]:
    """Find everything that keeps gears and meshes from making a train.

    Parameters
    ----------
    gears, meshes : iterable of Gear, of Mesh
        What the train is to be made of.

    Yields
    ------
    GearError
        One for each fault; the loops are only looked at when everything else is in order.

    Examples
    --------
    >>> [str(fault) for fault in faults([Gear("crank", 34), Gear("cam", 68)], [])]
    ["'cam': Every gear is connected with the first one, 'crank'. Add the mesh that drives it."]
    """
    gears, meshes = tuple(gears), tuple(meshes)
    known: dict[str, Gear] = {}
    bad = False
    if not gears:
        yield GearError((), rule="A gear train has at least one gear.", remedy="Name its gears.")
        return
    for gear in gears:
        if gear.id in known:
            bad = True
            yield GearError(gear.id, rule="Each gear has an identifier of its own.", remedy="Rename one of the two.")
        known.setdefault(gear.id, gear)
    pairs: set[frozenset[str]] = set()
    for mesh in meshes:
        for fault in _mesh_faults(mesh, known):
            bad = True
            yield fault
        pair = frozenset((mesh.driver, mesh.driven))
        if pair in pairs:
            bad = True
            yield GearError(
                f"{mesh.driver}–{mesh.driven}",
                rule="Two gears are joined by one mesh only.",
                remedy="Leave out the second one.",
            )
        pairs.add(pair)
    if bad:
        return
    turns, loop = rates(gears, meshes)
    for gear in gears:
        if gear.id not in turns:
            yield GearError(
                gear.id,
                rule=f"Every gear is connected with the first one, {gears[0].id!r}.",
                remedy="Add the mesh that drives it.",
            )
    if loop is not None:
        yield loop


def _mesh_faults(mesh: Mesh, known: Mapping[str, Gear]) -> Iterator[GearError]:
    refused = partial(GearError, place=f"mesh {mesh.driver}–{mesh.driven}")
    ends = []
    for end in (mesh.driver, mesh.driven):
        if end not in known:
            yield refused(end, rule="A mesh joins gears of the train.", remedy="Declare this gear, or name another.")
        else:
            ends.append(known[end])
    if len(ends) < 2 or mesh.kind == "shaft":
        return
    driver, driven = ends
    for gear in ends:
        if gear.teeth is None:
            yield refused(gear.id, rule=f"A {mesh.kind} mesh needs teeth.", remedy="State its number of teeth.")
    if driver.teeth is None or driven.teeth is None:
        return
    if mesh.kind == "internal" and driver.teeth == driven.teeth:
        yield refused(
            driver.teeth,
            rule="A gear inside another has fewer teeth than the ring around it.",
            remedy="Count both again.",
        )
    one, two = driver.radius_mm, driven.radius_mm
    if one is not None and two is not None and abs(one * driven.teeth - two * driver.teeth) > 0.01 * one * driven.teeth:
        yield refused(
            (one, two),
            rule="The pitch radii of meshing gears stand to each other as their teeth do.",
            remedy="Mend the module, the pitch radius or the teeth.",
        )
    radius = one if one is not None else two
    if radius is not None and mesh.lash_mm is not None:
        teeth = driver.teeth if one is not None else driven.teeth
        space = math.pi * radius / teeth
        if mesh.lash_mm >= space:
            yield refused(
                mesh.lash_mm,
                rule=f"Lash is smaller than a tooth space, here {space:.2f} mm.",
                remedy="Give the play along the pitch circle in millimetres.",
            )


def rates(gears: Sequence[Gear], meshes: Iterable[Mesh]) -> tuple[dict[str, Fraction], GearError | None]:
    """Return the turns of each gear for one turn of the first, and the fault of the first loop that would lock.

    Gears that are not connected with the first one are left out. The meshes must be free of other faults.
    """
    teeth = {gear.id: gear.teeth or 1 for gear in gears}  # a part without teeth only shares shafts
    around: dict[str, list[tuple[str, Fraction]]] = {gear.id: [] for gear in gears}
    for mesh in meshes:
        ratio = _ratio(mesh, teeth[mesh.driver], teeth[mesh.driven])
        around[mesh.driver].append((mesh.driven, ratio))
        around[mesh.driven].append((mesh.driver, 1 / ratio))
    turns = {gears[0].id: Fraction(1)}
    came_from: dict[str, str] = {}
    queue = deque([gears[0].id])
    loop = None
    while queue:
        here = queue.popleft()
        for there, ratio in around[here]:
            rate = turns[here] * ratio
            if there not in turns:
                turns[there] = rate
                came_from[there] = here
                queue.append(there)
            elif turns[there] != rate and loop is None:
                one, two = _back(there, came_from), _back(here, came_from)
                while len(one) > 1 and len(two) > 1 and one[-2] == two[-2]:
                    one.pop()
                    two.pop()
                loop = GearError(
                    "–".join([*one, *reversed(two[:-1]), there]),
                    rule="A closed loop of gears turns only if its ratios and senses agree all the way round; "
                    "this one would lock.",
                    remedy="Mend a tooth count, the kind of a mesh, or leave out a mesh that is not there.",
                )
    return turns, loop


def _back(gear: str, came_from: Mapping[str, str]) -> list[str]:
    way = [gear]
    while way[-1] in came_from:
        way.append(came_from[way[-1]])
    return way


def _ratio(mesh: Mesh, driver: int, driven: int) -> Fraction:
    if mesh.kind == "shaft":
        return Fraction(1)
    return Fraction(driver if mesh.same_sense else -driver, driven)
