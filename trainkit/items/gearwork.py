"""What questions about a gear train show: the engine, the gears and their meshes, the picture, the ends."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from trainkit import gears
from trainkit.errors import ItemError
from trainkit.items.kept import once_a_pack
from trainkit.items.kinds import Given

if TYPE_CHECKING:
    from trainkit.packs import Pack

__all__ = [
    "KINDS",
    "MOST_SHOWN",
    "Survey",
    "Way",
    "counted",
    "degree_text",
    "end",
    "engine_row",
    "letters_of",
    "once_a_pack",
    "running",
    "seen_from",
    "survey",
    "surveyed",
]

KINDS = {
    "external": "outside teeth",
    "internal": "teeth inside a ring",
    "chain": "a chain",
    "belt": "a toothed belt",
    "shaft": "on one shaft",
}
# A picture holds so many gears; see trainkit.figures.
MOST_SHOWN = 12


def end(viewpoint: str) -> str:
    """Return what an end of the engine is called.

    Examples
    --------
    >>> end("flywheel"), end("front")
    ('the flywheel end', 'the front')
    """
    return "the front" if viewpoint == "front" else "the flywheel end"


def seen_from(viewpoint: str) -> str:
    """Return the viewpoint in words.

    Examples
    --------
    >>> seen_from("front")
    'seen from the front'
    """
    return f"seen from {end(viewpoint)}"


def counted(number: int, what: str) -> str:
    """Return a number of things in words.

    Examples
    --------
    >>> counted(0, "change"), counted(1, "change"), counted(2, "change")
    ('no change', '1 change', '2 changes')
    """
    return f"{number or 'no'} {what}{'' if number < 2 else 's'}"


def degree_text(degrees: float | Fraction) -> str:
    """Return an angle in words, without a sign.

    Examples
    --------
    >>> degree_text(Fraction(-45, 2))
    '22.5°'
    """
    return f"{abs(float(degrees)):.6g}°"


def engine_row(pack: Pack) -> Given:
    """Return the line that names the engine."""
    return Given(label="Engine", value=pack.title)


@dataclass(frozen=True, slots=True)
class Way:
    """The way from one gear to another.

    Parameters
    ----------
    path : gears.Path
        Mesh by mesh.
    ratio : fractions.Fraction
        Turns of the last gear for one turn of the first, negative where they turn opposite ways.
    kinds : tuple of str
        The kind of each mesh.
    """

    path: gears.Path
    ratio: Fraction
    kinds: tuple[str, ...]

    @classmethod
    def along(cls, path: gears.Path) -> Way:
        """Work out the way along a path."""
        return cls(path, path.ratio, tuple(leg.mesh.kind for leg in path.legs))

    @property
    def lines(self) -> tuple[str, ...]:
        """The working in words."""
        return self.path.lines

    @property
    def rows(self) -> tuple[Given, ...]:
        """The gears with their teeth, and what joins those that do not mesh with outside teeth."""
        return _rows(self.path)

    def links(self, *kinds: str) -> int:
        """Return how many meshes of these kinds lie on the way."""
        return sum(kind in kinds for kind in self.kinds)

    @property
    def features(self) -> dict[str, float]:
        """What makes it hard to follow: its links, and those of them that are no outside teeth."""
        return {"links": len(self.kinds), "other links": len(self.kinds) - self.links("external")}

    @property
    def idlers(self) -> int:
        """Gears on the way with outside teeth meshing on either side."""
        return sum(one == other == "external" for one, other in pairwise(self.kinds))

    @property
    def first(self) -> gears.Gear:
        """Where it starts."""
        return self.path.source

    @property
    def last(self) -> gears.Gear:
        """Where it ends."""
        return self.path.target


@dataclass(frozen=True, slots=True)
class Survey:
    """The gear train of a pack, with the ways between its gears.

    Parameters
    ----------
    train : gears.GearTrain
        The train.
    crank : str
        Identifier of the crank gear.
    names : tuple of str
        Identifiers of all gears, in the order of the pack.
    toothed : tuple of str
        Those with teeth, which a picture can show.
    ways : mapping of (str, str) to Way
        From each gear to each.
    """

    train: gears.GearTrain
    crank: str
    names: tuple[str, ...]
    toothed: tuple[str, ...]
    ways: Mapping[tuple[str, str], Way]

    def title(self, gear: str) -> str:
        """Return what a gear is called."""
        return self.train.gear(gear).title

    def near(self, gear: str, most: int = MOST_SHOWN) -> tuple[str, ...]:
        """Return so many gears with teeth at most, those next to a gear first, in the order of the pack."""
        if len(self.toothed) <= most:
            return self.toothed
        order = sorted(self.toothed, key=lambda other: len(self.ways[gear, other].kinds))
        return tuple(other for other in self.toothed if other in order[:most])

    def between(self, gear: str, others: Iterable[str]) -> tuple[str, ...]:
        """Return a gear, some others and all that lie on the ways to them, in the order of the pack."""
        kept = {name for other in others for name in self.ways[gear, other].path.gears}
        return tuple(name for name in self.names if name in kept)

    def mesh_rows(self, among: Collection[str]) -> tuple[Given, ...]:
        """Return one line for each mesh among some gears: which gears, and how they turn each other."""
        return tuple(
            Given(label=f"{self.title(mesh.driver)} and {self.title(mesh.driven)}", value=KINDS[mesh.kind])
            for mesh in self.train.meshes
            if mesh.driver in among and mesh.driven in among
        )

    def picture(self, among: Collection[str], viewpoint: str) -> dict[str, Any] | None:
        """Return the data of a picture of some gears, with no sense of rotation; None where they are too many.

        See ``trainkit.figures`` for what is drawn.
        """
        shown = [name for name in among if name in self.toothed]
        if len(shown) > MOST_SHOWN:
            return None
        letters = letters_of(shown)
        return {
            "draw": "gear-train",
            "seen_from": viewpoint,
            "gears": [
                {"id": letter, "name": self.title(gear), "teeth": self.train.gear(gear).teeth}
                for gear, letter in letters.items()
            ],
            "meshes": [
                {"driver": letters[mesh.driver], "driven": letters[mesh.driven], "kind": mesh.kind}
                for mesh in self.train.meshes
                if mesh.driver in letters and mesh.driven in letters
            ],
        }


def survey(pack: Pack, at_least: int = 2) -> Survey:
    """Return the gear train of a pack, surveyed; the same pack is surveyed once.

    Raises
    ------
    ItemError
        If the pack has no crank gear or fewer than so many gears.

    Examples
    --------
    >>> from trainkit import packs
    >>> survey(packs.load("dunlin")).ways["crank", "oil"].ratio
    Fraction(-6, 5)
    """
    if not pack.crank or len(pack.gears) < at_least:
        raise ItemError(
            pack.name,
            rule=f"This template needs a crank gear and at least {at_least} gears; the pack has {len(pack.gears)}.",
            remedy="Add them under [[gears]], or leave the template out of the blueprint.",
        )
    return _surveyed(pack)


@once_a_pack
def _surveyed(pack: Pack) -> Survey:
    return surveyed(pack.train, pack.crank)


def surveyed(train: gears.GearTrain, crank: str) -> Survey:
    """Return a gear train, surveyed; a way is worked out when it is asked for first."""
    names = tuple(gear.id for gear in train.gears)
    return Survey(train, crank, names, tuple(gear.id for gear in train.gears if gear.teeth), _Ways(train, names))


class _Ways(Mapping[tuple[str, str], Way]):
    """The ways from each gear to each, every one worked out once."""

    def __init__(self, train: gears.GearTrain, names: Collection[str]) -> None:
        self._train, self._names = train, names
        self._found: dict[tuple[str, str], Way] = {}

    def __getitem__(self, ends: tuple[str, str]) -> Way:
        if ends not in self._found:
            self._found[ends] = Way.along(self._train.path(*ends))
        return self._found[ends]

    def __iter__(self) -> Iterator[tuple[str, str]]:
        return ((one, other) for one in self._names for other in self._names)

    def __len__(self) -> int:
        return len(self._names) ** 2


def _rows(path: gears.Path) -> tuple[Given, ...]:
    rows = [
        Given(label=gear.title, value=f"{gear.teeth} teeth" if gear.teeth else "no teeth")
        for gear in (path.source, *(leg.target for leg in path.legs))
    ]
    rows += [
        Given(label=f"{leg.source.title} and {leg.target.title}", value=KINDS[leg.mesh.kind])
        for leg in path.legs
        if leg.mesh.kind != "external"
    ]
    return tuple(rows)


def running(pack: Pack, gear: str, viewpoint: str) -> gears.Sense:
    """Return the sense in which a gear turns in service, seen from an end.

    Examples
    --------
    >>> from trainkit import packs
    >>> running(packs.load("dunlin"), "fuel", "flywheel")
    'anticlockwise'
    """
    crank = gears.signed(pack.engine.rotation)
    turned = crank * (1 if pack.train.ratio(pack.crank, gear) > 0 else -1)
    return gears.sense_of(gears.seen(turned, stated_from=pack.engine.seen_from, seen_from=viewpoint))


def letters_of(shown: Iterable[str]) -> dict[str, str]:
    """Return a letter for each gear of a picture, in the order in which the picture counts them."""
    return dict(zip(shown, "abcdefghijkl", strict=False))
