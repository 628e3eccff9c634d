"""The path of meshes between two gears: its working, mesh by mesh, and the lash along it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trainkit.errors import GearError
from trainkit.gears.exact import Number, exact, written

if TYPE_CHECKING:
    from trainkit.gears.parts import Gear, Mesh


_SAYS = {
    "external": "outside teeth, the sense turns over",
    "internal": "teeth inside a ring, the sense stays",
    "chain": "chain, the sense stays",
    "belt": "toothed belt, the sense stays",
    "shaft": "on the same shaft, sense and speed stay",
}


def backlash_degrees(lash_mm: Number, pitch_radius_mm: Number) -> float:
    """Return the angle of a play along the pitch circle, in degrees of that gear.

    Parameters
    ----------
    lash_mm : float
        Play along the pitch circle, millimetres, zero or more.
    pitch_radius_mm : float
        Pitch radius, millimetres, more than zero.

    Returns
    -------
    float
        lash / radius, turned from radians into degrees.

    Raises
    ------
    GearError
        For a negative lash or a radius that is not positive.

    Examples
    --------
    >>> round(backlash_degrees(0.2, 60), 4)
    0.191
    """
    lash, radius = exact(lash_mm, "lash"), exact(pitch_radius_mm, "pitch radius")
    if lash < 0:
        raise GearError(lash_mm, rule="Lash is zero or more millimetres.", remedy="Measure it again.")
    if radius <= 0:
        raise GearError(
            pitch_radius_mm, rule="A pitch radius is more than zero millimetres.", remedy="Measure it again."
        )
    return math.degrees(lash / radius)


@dataclass(frozen=True, slots=True)
class Leg:
    """One mesh of a path, walked from one of its gears to the other.

    Parameters
    ----------
    mesh : Mesh
        The mesh.
    source, target : Gear
        The gear it is walked from, and the one it leads to.
    """

    mesh: Mesh
    source: Gear
    target: Gear

    @property
    def sign(self) -> int:
        """+1 where the sense stays, -1 where it turns over."""
        return 1 if self.mesh.same_sense else -1

    @property
    def ratio(self) -> Fraction:
        """Turns of the target for one turn of the source, exact, negative where the sense turns over."""
        if self.mesh.kind == "shaft" or self.source.teeth is None or self.target.teeth is None:
            return Fraction(1)
        return Fraction(self.sign * self.source.teeth, self.target.teeth)

    @property
    def lash(self) -> float:
        """Lash of this mesh in degrees of its target.

        Raises
        ------
        GearError
            If no lash is stated, or neither gear has a pitch radius.
        """
        if self.mesh.kind == "shaft" or self.mesh.lash_mm == 0:
            return 0.0
        place = f"mesh {self.mesh.driver}–{self.mesh.driven}"
        if self.mesh.lash_mm is None:
            raise GearError(
                None, rule="The lash of this mesh is not stated.", remedy="State lash_mm, or 0 for none.", place=place
            )
        radius = self.target.radius_mm
        if radius is None and self.source.radius_mm is not None:
            # Radii of meshing gears stand to each other as their teeth do.
            radius = self.source.radius_mm / float(abs(self.ratio))
        if radius is None:
            raise GearError(
                self.mesh.lash_mm,
                rule="Lash in millimetres becomes an angle by the pitch radius.",
                remedy="State the module or the pitch radius of one of its gears.",
                place=place,
            )
        return backlash_degrees(self.mesh.lash_mm, radius)

    @property
    def text(self) -> str:
        """The mesh in words, for a worked solution."""
        head = f"{_begun(_titled(self.source))} to {_titled(self.target)}: {_SAYS[self.mesh.kind]}"
        if self.mesh.kind == "shaft":
            return f"{head}."
        return f"{head}, ×\N{NO-BREAK SPACE}{self.source.teeth}/{self.target.teeth}."


def _titled(gear: Gear) -> str:
    return gear.title if gear.teeth is None else f"{gear.title} ({gear.teeth} teeth)"


def _begun(sentence: str) -> str:
    """Return a sentence with a capital letter in front; the rest stays, unlike with ``capitalize``."""
    return sentence[:1].upper() + sentence[1:]


@dataclass(frozen=True, slots=True)
class Path:
    """The meshes between two gears.

    Parameters
    ----------
    source : Gear
        Where it starts.
    legs : tuple of Leg
        Mesh by mesh; empty where it ends where it starts.

    Examples
    --------
    >>> from trainkit.gears import Gear, GearTrain, Mesh
    >>> train = GearTrain([Gear("crank", 34), Gear("cam", 68)], [Mesh("crank", "cam")])
    >>> for line in train.path("crank", "cam").lines:
    ...     print(" ".join(line.split()))
    Crank (34 teeth) to cam (68 teeth): outside teeth, the sense turns over, × 34/68.
    One change of sense. Seen from the same end, the cam turns the opposite way to the crank.
    One turn of the crank gives 1/2 turn of the cam.
    """

    source: Gear
    legs: tuple[Leg, ...]

    @property
    def target(self) -> Gear:
        """Where it ends."""
        return self.legs[-1].target if self.legs else self.source

    @property
    def gears(self) -> tuple[str, ...]:
        """Identifiers of the gears along the path, both ends included."""
        return (self.source.id, *(leg.target.id for leg in self.legs))

    @property
    def signs(self) -> tuple[int, ...]:
        """+1 or -1 for each mesh."""
        return tuple(leg.sign for leg in self.legs)

    @property
    def ratio(self) -> Fraction:
        """Turns of the target for one turn of the source, exact, negative where the senses differ."""
        return math.prod((leg.ratio for leg in self.legs), start=Fraction(1))

    @property
    def lines(self) -> tuple[str, ...]:
        """The working in words: one line for each mesh, then the sense, then the ratio."""
        if not self.legs:
            return (f"The {self.source.title} is the gear itself.",)
        flips = self.signs.count(-1)
        count = {0: "No change", 1: "One change"}.get(flips, f"{flips} changes")
        way = "the opposite way to" if flips % 2 else "the same way as"
        turns = abs(self.ratio)
        unit = "turn" if turns <= 1 else "turns"
        return (
            *(leg.text for leg in self.legs),
            f"{count} of sense. Seen from the same end, the {self.target.title} turns {way} the {self.source.title}.",
            f"One turn of the {self.source.title} gives {written(turns)} {unit} of the {self.target.title}.",
        )

    @property
    def lash(self) -> float:
        """The lash of all meshes along the path, carried back and summed, in degrees of the gear where it starts."""
        return math.fsum(leg.lash * float(ratio) for leg, ratio in self._carried())

    def lash_lines(self, *, at: str | None = None) -> tuple[str, ...]:
        """Return the lash sum in words: one line for each mesh and one for the sum, in degrees of one gear.

        Parameters
        ----------
        at : str, optional
            A gear of the path; without it, the one where the path starts.

        Returns
        -------
        tuple of str
            The lines.
        """
        legs = self.legs[: self.gears.index(at)] if at else ()
        gear = legs[-1].target if legs else self.source
        turns = abs(math.prod((leg.ratio for leg in legs), start=Fraction(1)))
        lines = [
            f"{_begun(leg.source.title)} to {leg.target.title}: {leg.lash:.3f}° at the {leg.target.title}, "
            f"×\N{NO-BREAK SPACE}{written(ratio * turns)} = {leg.lash * float(ratio * turns):.3f}° at the {gear.title}."
            for leg, ratio in self._carried()
            # A chain or a belt has no flanks, and so no lash to speak of unless somebody states one.
            if leg.mesh.kind in ("external", "internal") or leg.lash
        ]
        return (*lines, f"Together: {self.lash * float(turns):.3f}° at the {gear.title}.")

    def _carried(self) -> Iterator[tuple[Leg, Fraction]]:
        """Yield each leg, and the turns of the gear at the start for one turn of the leg's target."""
        ratio = Fraction(1)
        for leg in self.legs:
            ratio /= abs(leg.ratio)
            yield leg, ratio
