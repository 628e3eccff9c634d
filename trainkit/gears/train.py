"""How a whole gear train turns, and when its marks come by again."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from types import MappingProxyType

from trainkit.errors import GearError
from trainkit.gears.clocks import Clock
from trainkit.gears.exact import Number, exact
from trainkit.gears.marks import least_common_multiple
from trainkit.gears.parts import Gear, Mesh, faults, rates
from trainkit.gears.paths import Leg, Path
from trainkit.gears.viewpoints import Sense, Viewpoint, seen, sense_of, viewpoint


@dataclass(frozen=True, slots=True)
class GearTrain:
    """A train of gears that all turn together.

    Parameters
    ----------
    gears : iterable of Gear
        At least one; identifiers are unique.
    meshes : iterable of Mesh
        They connect all gears. Closed loops are allowed where their ratios agree.

    Raises
    ------
    GearError
        For the first of :func:`faults`.

    Examples
    --------
    >>> train = GearTrain([Gear("crank", 30), Gear("cam", 60)], [Mesh("crank", "cam", "chain")])
    >>> train.ratio("crank", "cam")
    Fraction(1, 2)
    >>> train.turn("crank", 360, seen_from="flywheel").degrees("cam", seen_from="front")
    -180.0
    """

    gears: tuple[Gear, ...]
    meshes: tuple[Mesh, ...]
    _by_id: Mapping[str, Gear] = field(init=False, repr=False, compare=False)
    _rate: Mapping[str, Fraction] = field(init=False, repr=False, compare=False)

    def __init__(self, gears: Iterable[Gear], meshes: Iterable[Mesh] = ()) -> None:
        object.__setattr__(self, "gears", tuple(gears))
        object.__setattr__(self, "meshes", tuple(meshes))
        for fault in faults(self.gears, self.meshes):
            raise fault
        object.__setattr__(self, "_by_id", MappingProxyType({gear.id: gear for gear in self.gears}))
        object.__setattr__(self, "_rate", MappingProxyType(rates(self.gears, self.meshes)[0]))

    def __reduce__(self) -> tuple[object, ...]:
        # The read-only views cannot be pickled; the train is its gears and meshes.
        return GearTrain, (self.gears, self.meshes)

    def gear(self, id: str) -> Gear:  # noqa: A002 - the trade's word for it, and packs use the same
        """Return the gear of that identifier.

        Raises
        ------
        GearError
            If the train has none; the rule lists those it has.
        """
        try:
            return self._by_id[id]
        except (KeyError, TypeError):
            raise GearError(
                id, rule=f"The gears of this train are {', '.join(self._by_id)}.", remedy="Name one of them."
            ) from None

    def ratio(self, gear: str, other: str) -> Fraction:
        """Return the turns of ``other`` for one turn of ``gear``, negative where the sense is opposite.

        Returns
        -------
        fractions.Fraction
            Exact; both turns are seen from the same end, whichever it is.
        """
        return self._rate[self.gear(other).id] / self._rate[self.gear(gear).id]

    def turn(self, gear: str, degrees: Number, seen_from: str) -> Turning:
        """Turn one gear and with it the whole train.

        Parameters
        ----------
        gear : str
            The gear that is turned.
        degrees : int, float or fractions.Fraction
            By how much; positive is clockwise as seen from ``seen_from``.
        seen_from : {"front", "flywheel"}
            The viewpoint of the angle.

        Returns
        -------
        Turning
            What every gear does; it can be read from either end.

        Raises
        ------
        GearError
            For an unknown gear or end, or an angle that is no finite number.
        """
        turned = self.gear(gear).id
        return Turning(self, turned, exact(degrees, "angle"), viewpoint(seen_from))

    def path(self, gear: str, other: str) -> Path:
        """Return the shortest path of meshes from one gear to another, with its working and its lash.

        Of equally short ones it is the one whose meshes were declared first.
        """
        start, goal = self.gear(gear), self.gear(other)
        around: dict[str, list[tuple[Mesh, str]]] = {each.id: [] for each in self.gears}
        for mesh in self.meshes:
            around[mesh.driver].append((mesh, mesh.driven))
            around[mesh.driven].append((mesh, mesh.driver))
        came: dict[str, Leg | None] = {start.id: None}
        queue = deque([start.id])
        while goal.id not in came:
            here = queue.popleft()  # never empty before the goal is found: a train is connected
            for mesh, there in around[here]:
                if there not in came:
                    came[there] = Leg(mesh, self.gear(here), self.gear(there))
                    queue.append(there)
        legs = []
        leg = came[goal.id]
        while leg is not None:
            legs.append(leg)
            leg = came[leg.source.id]
        return Path(start, tuple(reversed(legs)))

    def marks_meet(self, gears: Iterable[str], *, of: str) -> Fraction:
        """Return the turns of the gear ``of`` after which all the named gears are back at their places at once.

        The exact fractions hold for any train: for two meshing gears they give the rule of the least common
        multiple (:func:`~trainkit.gears.lcm_turns`).

        Examples
        --------
        >>> train = GearTrain([Gear("crank", 34), Gear("idler", 51)], [Mesh("crank", "idler")])
        >>> train.marks_meet(["crank", "idler"], of="crank")
        Fraction(3, 1)
        """
        named = tuple(gears)
        if not named:
            raise GearError((), rule="At least one gear carries a mark.", remedy="Name the gears whose marks meet.")
        return least_common_multiple(1 / abs(self.ratio(of, gear)) for gear in named)


@dataclass(frozen=True, slots=True)
class Turning:
    """What every gear of a train does when one of them is turned.

    Parameters
    ----------
    train : GearTrain
        The train.
    turned : str
        The gear that was turned.
    by : fractions.Fraction
        By how many degrees, positive being clockwise as seen from ``stated_from``.
    stated_from : {"front", "flywheel"}
        The viewpoint of ``by``, and of every answer for which no other end is asked.
    """

    train: GearTrain
    turned: str
    by: Fraction
    stated_from: Viewpoint

    def turns(self, gear: str, seen_from: str | None = None) -> Fraction:
        """Return the turns of a gear, exact, positive being clockwise as seen from ``seen_from``."""
        turns = self.by * self.train.ratio(self.turned, gear) / 360
        return seen(
            turns,
            stated_from=self.stated_from,
            seen_from=self.stated_from if seen_from is None else seen_from,
        )

    def degrees(self, gear: str, seen_from: str | None = None) -> float:
        """Return the degrees that a gear turns, positive being clockwise as seen from ``seen_from``.

        Parameters
        ----------
        gear : str
            Any gear of the train.
        seen_from : {"front", "flywheel"}, optional
            The end it is seen from; by default the one from which the turn was stated.
        """
        return float(self.turns(gear, seen_from) * 360)

    def sense(self, gear: str, seen_from: str | None = None) -> Sense:
        """Return the sense in which a gear turns: clockwise, anticlockwise or still."""
        return sense_of(self.turns(gear, seen_from))

    def clock(self, gear: str, mark: Clock | str, seen_from: str | None = None) -> Clock:
        """Return where a mark on a gear stands afterwards.

        Parameters
        ----------
        gear : str
            The gear that carries the mark.
        mark : Clock or str
            Where it stood before, as seen from ``seen_from``.
        seen_from : {"front", "flywheel"}, optional
            The end from which both clock positions are read.

        Examples
        --------
        >>> train = GearTrain([Gear("crank", 30), Gear("cam", 60)], [Mesh("crank", "cam")])
        >>> str(train.turn("crank", 120, seen_from="front").clock("cam", "1:00"))
        '11:00'
        """
        start = mark if isinstance(mark, Clock) else Clock.parse(mark)
        return start.turned(self.turns(gear, seen_from) * 360)
