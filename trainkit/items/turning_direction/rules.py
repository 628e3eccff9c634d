"""The right way and the wrong ways, each a function of the same inputs.

A case holds what the apprentice is told. Each rule takes a case and returns what somebody who thinks so answers, or
None where the rule has nothing to say about the case.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType
from typing import NamedTuple

from trainkit.gears import Barring
from trainkit.items.distinct_answers import Readings
from trainkit.items.gearwork import Way


class SenseReading(NamedTuple):
    """How often the sense turns over: at meshes of outside teeth, and for the viewpoint."""

    meshes: int
    views: int

    def sense(self, start: int) -> int:
        """Return the sense in the end, +1 or −1, from the one at the start."""
        return -start if (self.meshes + self.views) % 2 else start


@dataclass(frozen=True, slots=True)
class Senses:
    """The way from a gear whose sense is stated to one whose sense is asked; ``views`` is 1 where the ends differ."""

    way: Way
    views: int

    @property
    def right(self) -> SenseReading:
        """The changes of sense that there are."""
        return SenseReading(self.way.links("external"), self.views)


def _gears_counted(case: Senses) -> SenseReading | None:
    # With one idler this is the same as counting the idler as a change, and with other links as counting those.
    if case.way.idlers == 1 or case.right.meshes != len(case.way.kinds):
        return None
    return case.right._replace(meshes=len(case.way.kinds) + 1)


def _more(times: Callable[[Senses], int]) -> Callable[[Senses], SenseReading | None]:
    def rule(case: Senses) -> SenseReading | None:
        more = times(case)
        return case.right._replace(meshes=case.right.meshes + more) if more else None

    return rule


SENSE_RULES: Mapping[str, Callable[[Senses], SenseReading | None]] = MappingProxyType(
    {
        "mesh-too-few": lambda case: case.right._replace(meshes=case.right.meshes - 1) if case.right.meshes else None,
        "gears-counted": _gears_counted,
        "idler-counted-twice": _more(lambda case: case.way.idlers),
        "chain-turns-over": _more(lambda case: case.way.links("chain", "belt")),
        "ring-turns-over": _more(lambda case: case.way.links("internal")),
        "shaft-as-mesh": _more(lambda case: case.way.links("shaft")),
        "viewpoint-forgotten": lambda case: case.right._replace(views=0) if case.views else None,
        "viewpoint-for-nothing": lambda case: None if case.views else case.right._replace(views=1),
    }
)

# What a gear is thought to do that turns the same way after all, or the other way round; one kind of link each.
_ALIKE = MappingProxyType(
    {"chain-turns-over": ("chain", "belt"), "ring-turns-over": ("internal",), "shaft-as-mesh": ("shaft",)}
)


def misjudged_alike(way: Way) -> tuple[str, ...]:
    """Return the wrong rules about chains, rings and shafts that would misjudge whether two gears turn alike.

    A link counted twice on one way changes nothing.
    """
    return tuple(code for code, kinds in _ALIKE.items() if way.links(*kinds) % 2)


@dataclass(frozen=True, slots=True)
class Sought:
    """The fastest or slowest gears are sought of those that turn a way: +1 as the first gear does, −1 against it.

    ``ways`` leads from the gear that is turned to each of the others.
    """

    ways: Mapping[str, Way]
    way: int
    fastest: bool

    def found(self, misjudged: Collection[str] = (), *, slowest: bool = False) -> tuple[str, ...]:
        """Return the gears that somebody finds who misjudges the sense of some, or takes fast for slow."""
        speeds = {
            name: abs(way.ratio)
            for name, way in self.ways.items()
            if ((way.ratio > 0) != (name in misjudged)) == (self.way > 0)
        }
        if not speeds:
            return ()
        best = max(speeds.values()) if self.fastest != slowest else min(speeds.values())
        return tuple(name for name, speed in speeds.items() if speed == best)

    @property
    def right(self) -> tuple[str, ...]:
        """The gears that there are."""
        return self.found()


def _odd(*kinds: str) -> Callable[[Sought], tuple[str, ...]]:
    return lambda case: case.found([name for name, way in case.ways.items() if way.links(*kinds) % 2])


PICTURE_RULES: Mapping[str, Callable[[Sought], tuple[str, ...]]] = MappingProxyType(
    {
        "inverse-ratio": lambda case: case.found(slowest=True),
        "mesh-too-few": lambda case: case.found([name for name, way in case.ways.items() if way.links("external")]),
        **{code: _odd(*kinds) for code, kinds in _ALIKE.items()},
    }
)


@dataclass(frozen=True, slots=True)
class BarringTool:
    """A barring tool and a stated direction of the crank; ``views`` is 1 where it is stated from the other end."""

    bar: Barring
    views: int

    @property
    def right(self) -> SenseReading:
        """The changes of sense that there are."""
        return SenseReading(int(self.bar.has_mesh), self.views)


TOOL_RULES: Mapping[str, Callable[[BarringTool], SenseReading | None]] = MappingProxyType(
    {
        "tool-like-engine": lambda case: SenseReading(0, case.views) if case.bar.has_mesh else None,
        "socket-as-mesh": lambda case: None if case.bar.has_mesh else SenseReading(1, case.views),
        "viewpoint-forgotten": lambda case: case.right._replace(views=0) if case.views else None,
        "viewpoint-for-nothing": lambda case: None if case.views else case.right._replace(views=1),
    }
)


class SensePair(NamedTuple):
    """The senses of crank and tool, +1 clockwise."""

    crank: int
    tool: int


@dataclass(frozen=True, slots=True)
class WatchedSense:
    """What somebody at one end sees of crank or tool; what is seen from the other end is asked.

    ``stated`` is ``"crank"`` or ``"tool"``, ``sense`` its sense, +1 clockwise.
    """

    bar: Barring
    stated: str
    sense: int

    def pair(self, *, mesh: bool, stated: int, other: int) -> SensePair:
        """Return both senses, with or without a mesh between, each turned over or not (+1 or −1)."""
        across = self.sense * (-1 if mesh else 1)
        if self.stated == "crank":
            return SensePair(self.sense * stated, across * other)
        return SensePair(across * other, self.sense * stated)

    @property
    def right(self) -> SensePair:
        """What there is to be seen."""
        return self.pair(mesh=self.bar.has_mesh, stated=-1, other=-1)


WATCH_RULES: Mapping[str, Callable[[WatchedSense], SensePair | None]] = MappingProxyType(
    {
        "viewpoint-forgotten": lambda case: case.pair(mesh=case.bar.has_mesh, stated=1, other=1),
        "half-turned-over": lambda case: case.pair(mesh=case.bar.has_mesh, stated=1, other=-1),
        "tool-like-engine": lambda case: case.pair(mesh=False, stated=-1, other=-1) if case.bar.has_mesh else None,
        "socket-as-mesh": lambda case: None if case.bar.has_mesh else case.pair(mesh=True, stated=-1, other=-1),
    }
)


@dataclass(frozen=True, slots=True)
class TurnedGear:
    """A gear that is turned so far; how far another gear, or the tool, turns with it is asked.

    Parameters
    ----------
    way : Way
        From the gear that is turned to the gear that is asked for; to the crank where the tool is.
    degrees : int
        How far it is turned.
    bar : Barring, optional
        The tool, where its turns are asked for.
    taken : fractions.Fraction, optional
        What is taken for the ratio of the way by somebody who misreads it.
    """

    way: Way
    degrees: int
    bar: Barring | None = None
    taken: Fraction | None = None

    @property
    def ratio(self) -> Fraction:
        """Turns of the last gear of the way for one turn of the first, without sign."""
        return abs(self.way.ratio) if self.taken is None else self.taken

    def carried(self, ratio: Fraction) -> Fraction:
        """Return the answer for a ratio along the way: degrees, or turns of the tool."""
        return self.degrees * ratio * (abs(self.bar.ratio) / 360 if self.bar else 1)

    @property
    def right(self) -> Fraction:
        """How far it really turns."""
        return self.carried(self.ratio)


def _ratio_of_idler(case: TurnedGear) -> Fraction | None:
    # Behind a shaft there is no mesh to leave out, and one mesh alone has no gear between.
    if len(case.way.kinds) < 2 or case.way.kinds[-1] == "shaft" or case.way.links("shaft") == len(case.way.kinds) - 1:
        return None
    return abs(case.way.ratio / case.way.path.legs[-1].ratio)


def _compound_as_idler(case: TurnedGear) -> Fraction | None:
    first, last = case.way.first.teeth, case.way.last.teeth
    if not case.way.links("shaft") or not first or not last or Fraction(first, last) == case.ratio:
        return None
    return Fraction(first, last)


# What is taken for the ratio of the way.
_RATIOS: Mapping[str, Callable[[TurnedGear], Fraction | None]] = MappingProxyType(
    {
        "inverse-ratio": lambda case: 1 / case.ratio if case.ratio != 1 else None,
        "one-to-one": lambda case: Fraction(1) if case.ratio != 1 else None,
        "ratio-of-idler": _ratio_of_idler,
        "compound-as-idler": _compound_as_idler,
    }
)


def _carried(ratio: Callable[[TurnedGear], Fraction | None]) -> Callable[[TurnedGear], Fraction | None]:
    def rule(case: TurnedGear) -> Fraction | None:
        taken = ratio(case)
        return None if taken is None else case.carried(taken)

    return rule


def _taken(ratio: Callable[[TurnedGear], Fraction | None]) -> Callable[[TurnedGear], TurnedGear | None]:
    def reading(case: TurnedGear) -> TurnedGear | None:
        taken = ratio(case)
        return None if taken is None else replace(case, taken=taken)

    return reading


def _by_bar(change: Callable[[Fraction], Fraction]) -> Callable[[TurnedGear], Fraction | None]:
    """Return a rule that takes something else for the turns of the tool in one turn of the crank."""

    def rule(case: TurnedGear) -> Fraction | None:
        if case.bar is None or not case.bar.has_mesh:
            return None
        return case.degrees * case.ratio / 360 * change(abs(case.bar.ratio))

    return rule


TURN_RULES: Mapping[str, Callable[[TurnedGear], Fraction | None]] = MappingProxyType(
    {
        **{code: _carried(ratio) for code, ratio in _RATIOS.items()},
        "bar-as-crank": _by_bar(lambda _: Fraction(1)),
        "bar-ratio-inverse": _by_bar(lambda turns: 1 / turns),
    }
)

# The ratio of the way is misread, and another rule works on that: it is turned round, or the tool taken for the crank.
TURN_READINGS: Readings[TurnedGear] = MappingProxyType({code: _taken(ratio) for code, ratio in _RATIOS.items()})


@dataclass(frozen=True, slots=True)
class TurnedMark:
    """A mark on a gear, in hours of the clock, and how far another gear is turned, clockwise positive.

    All of it is seen from one end.
    """

    way: Way
    start: Fraction
    degrees: int

    def after(self, degrees: Fraction | int) -> Fraction:
        """Return where the mark stands when its gear has turned so far."""
        return self.start + Fraction(degrees) / 30

    @property
    def turned(self) -> Fraction:
        """How far the gear with the mark turns, clockwise positive."""
        return self.degrees * self.way.ratio

    @property
    def right(self) -> Fraction:
        """Where the mark stands in the end."""
        return self.after(self.turned)


# The mark is on the gear that is turned.
OWN_MARK_RULES: Mapping[str, Callable[[TurnedMark], Fraction | None]] = MappingProxyType(
    {
        "clock-backwards": lambda case: case.after(-case.turned),
        "hour-as-sixty-degrees": lambda case: case.after(case.turned / 2),
    }
)

# The mark is on another gear, with outside teeth alone between the two.
MARK_RULES: Mapping[str, Callable[[TurnedMark], Fraction | None]] = MappingProxyType(
    {
        "mesh-too-few": lambda case: case.after(-case.turned),
        "inverse-ratio": lambda case: case.after(case.degrees / case.way.ratio),
        "one-to-one": lambda case: case.after(case.degrees if case.way.ratio > 0 else -case.degrees),
        "hour-as-sixty-degrees": lambda case: case.after(case.turned / 2),
    }
)

# A position, in hours, that is seen from the other end.
MIRROR_RULES: Mapping[str, Callable[[Fraction], Fraction | None]] = MappingProxyType(
    {
        "viewpoint-forgotten": lambda hours: hours,
        "mirrored-top-to-bottom": lambda hours: 6 - hours,
        "turned-half-round": lambda hours: hours + 6,
    }
)
