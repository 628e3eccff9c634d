"""Engines drawn for one question: a gear train, how it is barred, a firing order.

What can vary is drawn for the question, so that looking up by drawing again does not pay, and so that every engine can
be asked: a pack with two gears, with belts or with one cylinder lacks nothing here. An example is named as such; no
value of it belongs to the pack. Teeth, lash and arrangement are such as may be met (common practice, no source).
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainkit.gears import VIEWPOINTS, Barring, Gear, GearTrain, Mesh, Sense, seen, sense_of
from trainkit.gears.parts import MeshKind
from trainkit.items import gearwork
from trainkit.items.kinds import Given

INSTEAD = "an example engine"
_ROW = "example for this question only"
CRANK, CAM, PUMP = "crank", "cam", "pump"
# Gears that hang on the train beside crank, camshaft and fuel pump.
DRIVEN = (
    "oil pump gear",
    "coolant pump gear",
    "governor gear",
    "fan drive gear",
    "compressor gear",
    "hydraulic pump gear",
    "balance shaft gear",
    "alternator drive gear",
    "vacuum pump gear",
    "power take-off gear",
    "raw water pump gear",
    "air start distributor gear",
)
# What can be seen on the face of a gear.
MARKS = ("paint mark", "scribed line", "centre punch mark", "dowel hole", "keyway", "witness tooth", "threaded hole")
_KINDS = ("single cylinder", "in-line two", "in-line three", "in-line four", "in-line five", "in-line six")
_MODULES = (2.0, 2.25, 2.5, 2.75, 3.0, 3.5, 4.0)  # millimetres
# So many gears at most are driven by one.
_MOSTDRIVEN = 2
# Of firing orders of evenly firing engines; numbering is a matter of the maker, so orders of vee engines are drawn.
_IN_LINE = (
    (1, 3, 2),
    (1, 2, 3),
    (1, 3, 4, 2),
    (1, 2, 4, 3),
    (1, 2, 4, 5, 3),
    (1, 3, 5, 4, 2),
    (1, 4, 3, 5, 2),
    (1, 5, 3, 6, 2, 4),
    (1, 4, 2, 6, 3, 5),
)


def engine_row(kind: str = "") -> Given:
    """Return the line that names an example engine.

    Examples
    --------
    >>> engine_row("in-line four").value
    'example for this question only: in-line four'
    """
    return Given(label="Engine", value=f"{_ROW}: {kind}" if kind else _ROW)


@dataclass(frozen=True, slots=True)
class Example:
    """An engine with its gear train, drawn for one question.

    Parameters
    ----------
    survey : gearwork.Survey
        The train; camshaft and fuel pump turn at half crank speed.
    forward : int
        The sense in which the crank turns in service, seen from the front, +1 clockwise.
    """

    survey: gearwork.Survey
    forward: int

    def running(self, gear: str, viewpoint: str) -> Sense:
        """Return the sense in which a gear turns in service, seen from an end."""
        way = self.forward * (1 if self.survey.train.ratio(CRANK, gear) > 0 else -1)
        return sense_of(seen(Fraction(way), stated_from="front", seen_from=viewpoint))


def plausible_lash(rng: random.Random, module: float, distance: float) -> float:
    """Draw lash along the pitch circle in millimetres, to a hundredth.

    The least lash of a mesh is 2/3 × (0.06 + 0.0005 a + 0.03 m) mm, of its centre distance a and module m in
    millimetres. Drawn is half of it to three times as much, and never more than a quarter of the module.

    Examples
    --------
    >>> 0.06 <= plausible_lash(random.Random(1), 2.5, 90.0) <= 0.37
    True
    """
    least = 2 / 3 * (0.06 + 0.0005 * distance + 0.03 * module)
    most = min(3 * least, module / 4)
    return rng.randint(round(50 * least), int(100 * most)) / 100


class _Builder:
    """Gears that are added one by one, each driven by one that is there."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.module = rng.choice(_MODULES)
        self.crank_teeth = rng.randint(16, 44)
        self.gears = [Gear(CRANK, self.crank_teeth, "crank gear", module_mm=self.module)]
        self.meshes: list[Mesh] = []
        self.drivers = [CRANK]  # what may drive another gear
        self.half_speed = [CRANK]  # from here half crank speed takes twice the teeth of the crank gear

    def add(self, name: str, teeth: int, driver: str, kind: MeshKind = "external", title: str = "") -> str:
        """Add a gear that another one drives, and return its identifier."""
        source = next(gear for gear in self.gears if gear.id == driver)
        gear = Gear(name, teeth, title or name, module_mm=self.module if kind in ("external", "shaft") else None)
        lash = None
        if kind == "external":
            distance = self.module * ((source.teeth or 0) + teeth) / 2
            lash = plausible_lash(self.rng, self.module, distance)
        self.gears.append(gear)
        self.meshes.append(Mesh(driver, name, kind, lash_mm=lash))
        return name

    def driver(self, among: Sequence[str] = ()) -> str:
        """Return a gear that does not drive as many as it may."""
        load = [mesh.driver for mesh in self.meshes if mesh.kind == "external"]
        free = [name for name in (among or self.drivers) if load.count(name) < _MOSTDRIVEN]
        return self.rng.choice(free or list(among or self.drivers))

    def idlers(self, count: int) -> None:
        """Add gears that only pass the drive on."""
        titles = ("idler gear",) if count == 1 else ("first idler gear", "second idler gear", "third idler gear")
        for title in titles[:count]:
            name = self.add(title, self.rng.randint(20, 70), self.driver(self.half_speed), title=title)
            self.half_speed.append(name)
            self.drivers.append(name)

    def at_half_speed(self, name: str, title: str) -> None:
        """Add a gear that turns once in two turns of the crank."""
        self.add(name, 2 * self.crank_teeth, self.driver(self.half_speed[1:]), title=title)

    def stacked(self, title: str, kind: MeshKind = "external") -> None:
        """Add a second gear on the shaft of an idler, and what that one drives by teeth, in a ring or by a chain."""
        rng = self.rng
        base = rng.choice(self.half_speed[1:] or [CRANK])
        on = "idler" if base != CRANK else "crank"
        if kind == "chain":
            small = self.add("wheel", rng.randint(15, 25), base, "shaft", f"chain wheel on the {on} shaft")
            self.add("far wheel", rng.randint(16, 44), small, kind, f"chain wheel of the {title.removesuffix(' gear')}")
        elif kind == "internal":
            small = self.add("pinion", rng.randint(14, 24), base, "shaft", f"pinion on the {on} shaft")
            self.add("ring", rng.randint(50, 80), small, kind, f"ring of the {title.removesuffix(' gear')}")
        else:
            small = self.add("small", rng.randint(18, 34), base, "shaft", f"small gear on the {on} shaft")
            self.add(title, rng.randint(24, 60), small, kind, title)

    def renamed(self) -> None:
        """Name all gears by chance, crank gear apart, so that no name tells where a gear sits."""
        alone = {CRANK} | {end for mesh in self.meshes if mesh.kind != "external" for end in (mesh.driver, mesh.driven)}
        titles = self.rng.sample(DRIVEN, len(DRIVEN))
        self.gears = [gear if gear.id in alone else replace(gear, name=titles.pop()) for gear in self.gears]

    def finished(self) -> Example:
        """Return the engine, its gears in an order that tells nothing."""
        first, *rest = self.gears
        self.rng.shuffle(rest)
        return Example(gearwork.surveyed(GearTrain([first, *rest], self.meshes), CRANK), self.rng.choice((1, -1)))


def example(
    rng: random.Random, count: int = 6, *, stacked: bool | None = None, plain: bool = False, renamed: bool = False
) -> Example:
    """Draw an engine with so many gears, its crank gear, camshaft gear and fuel pump gear among them.

    Parameters
    ----------
    rng : random.Random
        Where the draw comes from.
    count : int
        Gears, four or more.
    stacked : bool, optional
        Whether two gears share a shaft; else now and then they do, and a chain or a ring may drive as well.
    plain : bool
        Whether all gears mesh with outside teeth.
    renamed : bool
        Whether names are given by chance: no camshaft and no idler is told, and none turns at half speed by its name.

    Examples
    --------
    >>> engine = example(random.Random(3))
    >>> len(engine.survey.names), engine.survey.train.ratio("crank", "cam").denominator
    (6, 2)
    """
    build = _Builder(rng)
    left = count - 3
    kind = "external" if stacked or plain else rng.choices(("external", "chain", "internal"), (6, 3, 2))[0]
    shared = not plain and (stacked or (stacked is None and left > 2 and rng.random() < 0.45))
    titles = rng.sample(DRIVEN, len(DRIVEN))
    left -= 2 if shared else 0
    idlers = rng.randint(1, min(2, max(left, 1)))
    build.idlers(idlers)
    build.at_half_speed(CAM, "camshaft gear")
    build.at_half_speed(PUMP, "fuel pump gear")
    if shared:
        build.stacked(titles.pop(), kind)  # type: ignore[arg-type]  # one of the kinds named above
    for _ in range(left - idlers):
        title = titles.pop()
        build.add(title, rng.randint(20, 60), build.driver(), title=title)
    if renamed:
        build.renamed()
    return build.finished()


@dataclass(frozen=True, slots=True)
class BarredExample:
    """An example engine with its barring tool, and where the person stands.

    Parameters
    ----------
    bar : Barring
        The tool.
    running : int
        The sense of the crank in service seen from the front, +1 clockwise.
    rows : tuple of Given
        What is told: the engine and the tool.
    """

    bar: Barring
    running: int
    rows: tuple[Given, ...]


def ring_and_pinion(rng: random.Random) -> Barring:
    """Draw a barring pinion on a ring gear, that either end may reach."""
    return Barring(rng.choice(VIEWPOINTS), ring_teeth=rng.randint(90, 150), pinion_teeth=rng.randint(9, 14))


def barred(rng: random.Random) -> BarredExample:
    """Draw how an engine is barred: by a pinion on its ring gear, or by a socket on the crank nose."""
    row = engine_row(rng.choice(_KINDS))
    running = rng.choice((1, -1))
    if rng.random() < 0.5:
        bar = ring_and_pinion(rng)
        return BarredExample(bar, running, (row, barring_row(bar)))
    size, long = rng.randint(24, 60), 5 * rng.randint(10, 24)
    tool = f"{size} mm socket on the crank nose, with a bar {long} cm long"
    return BarredExample(Barring("front"), running, (row, Given(label="Barring tool", value=tool)))


def barring_row(bar: Barring) -> Given:
    """Return the line that says how an engine is barred, with the teeth of pinion and ring gear."""
    if bar.has_mesh:
        value = f"pinion with {bar.pinion_teeth} teeth on the ring gear with {bar.ring_teeth} teeth"
    else:
        value = "socket on the crank nose"
    return Given(label="Barring tool", value=value)


def firing_order(rng: random.Random, at_least: int = 3, *, paired: bool = False) -> tuple[int, ...]:
    """Draw the firing order of an evenly firing engine with three to ten cylinders.

    Orders of in-line engines are such as are met; in a vee engine the numbering is the maker's, so any order may be.
    The fewer cylinders, the sooner a question is drawn again, so few cylinders are drawn seldom.

    Parameters
    ----------
    rng : random.Random
        Where the draw comes from.
    at_least : int
        The fewest cylinders.
    paired : bool
        Whether each cylinder has a companion a crank turn away.
    """
    if rng.random() < 0.01:
        return rng.choice([order for order in _IN_LINE if len(order) >= at_least and not (paired and len(order) % 2)])
    count = rng.choices((6, 8, 10), (2, 9, 5))[0]
    rest = list(range(2, count + 1))
    rng.shuffle(rest)
    return (1, *rest)
