"""A stiff part drawn down on a soft seal: how it tilts, gapes and is loaded as one bolt after the other is tightened.

The part is a stiff plate that can sink and tilt. Under it lies a seal that pushes and never pulls, and under that a
face that stops the part. A bolt that is being tightened pulls with its force, however far the part gives way; from then
on it is a stiff spring, so it slackens when its neighbours bring the part down further. Where the part stands is where
all of this balances, the lowest point of one convex energy.

Limits: one part on one seal, and no friction. The stiffnesses are invented training values, chosen so that every effect
is large enough to be seen; no real joint has them. They tell which way things go, never how far. A long part also
bows, which a stiff plate cannot show: so its bolts go from the middle outwards, whatever is seen here.

Examples
--------
>>> from trainkit.tightening.patterns import Pattern
>>> seat = Seat.of(Pattern.circle(4, 140))
>>> one = seat.start().tightened(0, 1.0)
>>> one.lean > 1.0  # mm, with one bolt home and three finger-tight
True
>>> across = seat.start().tightened(0, 0.3).tightened(2, 0.3).tightened(1, 0.3).tightened(3, 0.3)
>>> across.lean < one.lean / 3
True
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from trainkit.errors import TighteningError
from trainkit.tightening.patterns import Pattern
from trainkit.tightening.stages import Schedule

# Invented training values. Forces are in preloads of one bolt at its final stage, lengths in mm.
FREE = 2.0  # height of the seal that nothing presses
SEAL_SHARE = 0.33  # of all final preloads, what presses the seal quite flat
BOLT_STIFFNESS = 1.0  # preloads for one more mm
STOP_STIFFNESS = 30.0  # for each bolt, preloads for one mm into the face: hardly any
HAND = 0.012  # what fingers give a bolt
SNUG = 0.05
BEFORE_ANGLE = 0.4  # preload at the last torque before a turn by angle

# The part, in units of the distance from the middle of the bolts to the furthest of them.
_EDGE = 0.4  # from the bolts to the edge, less where many stand in a row
_LEAST_EDGE = 0.16
_POINTS = 96  # of the outline
_EVERY = 4  # of which so many carry a spring
SEAL_AT = (0.9, 0.6)  # shares of the outline
STOPS_AT = (1.0, 0.5)

_Point = tuple[float, float]
_Pose = tuple[float, float, float]
_Spring = tuple[float, float, float, float, int]
_LEVEL: _Pose = (FREE, 0.0, 0.0)
_TOLD_APART = 1e-15  # of the energy, which is about 1
_ROUNDS = 80


@dataclass(frozen=True, slots=True)
class Seat:
    """A part with its bolts, on a seal, over a face.

    Parameters
    ----------
    names : tuple of str
        The bolts.
    bolts : tuple of (float, float)
        Their places about their middle, in units of the distance to the furthest of them; x to the right, y up.
    outline : tuple of (float, float)
        The edge of the part, anticlockwise, at equal distances all round.
    disc : bool
        Whether the part is round; else it is a plate with rounded corners.
    """

    names: tuple[str, ...]
    bolts: tuple[_Point, ...]
    outline: tuple[_Point, ...]
    disc: bool

    @classmethod
    def of(cls, pattern: Pattern) -> Seat:
        """Return the part that belongs to a pattern: round near a circle, else a plate along its bolts.

        Raises
        ------
        TighteningError
            For fewer than three bolts.
        """
        places = pattern.about_centre
        if len(places) < 3:
            raise TighteningError(
                len(places), rule="A part is drawn down evenly by three bolts or more.", remedy="Name another joint."
            )
        reach = max(math.hypot(x, y) for x, y in places)
        bolts = tuple((round(x / reach, 6), round(y / reach, 6)) for x, y in places)
        disc = pattern.shape == "circle" or (pattern.shape == "other" and _is_even(bolts))
        outline = _circle(1 + _EDGE) if disc else _plate(bolts)
        return cls(pattern.names, bolts, tuple((round(x, 6), round(y, 6)) for x, y in outline), disc)

    @property
    def seal(self) -> tuple[_Point, ...]:
        """Where the springs of the seal stand."""
        return self._at(SEAL_AT)

    @property
    def stops(self) -> tuple[_Point, ...]:
        """Where the face can stop the part."""
        return self._at(STOPS_AT)

    def _at(self, shares: Sequence[float]) -> tuple[_Point, ...]:
        return tuple((share * x, share * y) for share in shares for x, y in self.outline[::_EVERY])

    @property
    def seal_stiffness(self) -> float:
        """Preloads for one mm, for each spring of the seal."""
        return SEAL_SHARE * len(self.bolts) / (FREE * len(self.seal))

    @property
    def stop_stiffness(self) -> float:
        """Preloads for one mm, for each stop."""
        return STOP_STIFFNESS * len(self.bolts) / len(self.stops)

    def data(self) -> dict[str, object]:
        """Return all numbers of the model as plain JSON data, for code that follows it elsewhere."""
        return {
            "names": list(self.names),
            "bolts": [list(place) for place in self.bolts],
            "outline": [list(place) for place in self.outline],
            "disc": self.disc,
            "every": _EVERY,
            "seal_at": list(SEAL_AT),
            "stops_at": list(STOPS_AT),
            "free": FREE,
            "hand": HAND,
            "stiffness": {"seal": self.seal_stiffness, "stop": self.stop_stiffness, "bolt": BOLT_STIFFNESS},
        }

    def start(self) -> Seated:
        """Return the part laid on its seal, every bolt finger-tight."""
        ties = tuple((HAND, FREE) for _ in self.bolts)
        return Seated(self, self.balance(ties), ties)

    def balance(self, ties: Sequence[tuple[float, float]], now: int = -1, force: float = 0.0) -> _Pose:
        """Return where the part comes to rest: its height in the middle, and its rise along x and along y.

        Parameters
        ----------
        ties : sequence of (float, float)
            For each bolt its force, and the height of the part at which it was set to it.
        now : int, optional
            The bolt that is just being tightened, which pulls with ``force`` at any height.
        force : float, optional
            Its force, in final preloads.
        """
        pose = _LEVEL
        springs = self._springs(ties, now, force)
        for _ in range(_ROUNDS):
            energy, slope, bend = _energy(pose, springs)
            way = _solved(bend, slope)
            gain = sum(one * other for one, other in zip(way, slope, strict=True))
            if gain < _TOLD_APART:
                return _along(pose, way, 1.0)
            step = 1.0
            # One whole step is right where no spring comes into play or goes out of it on the way.
            while step > _TOLD_APART and _energy(_along(pose, way, step), springs)[0] > energy - 1e-4 * step * gain:
                step /= 2
            pose = _along(pose, way, step)
        return pose

    def _springs(self, ties: Sequence[tuple[float, float]], now: int, force: float) -> list[_Spring]:
        """Return all that pushes and pulls: where, how stiff, its pull on the part at height 0, and which way it works.

        A pull below zero is a push. A stiffness of zero is a force that stays the same.
        """
        seal, stop = self.seal_stiffness, self.stop_stiffness
        found = [(x, y, seal, -seal * FREE, -1) for x, y in self.seal]
        found += [(x, y, stop, 0.0, -1) for x, y in self.stops]
        for place, (x, y) in enumerate(self.bolts):
            if place == now:
                found.append((x, y, 0.0, force, 1))
            else:
                found.append((x, y, BOLT_STIFFNESS, _pull(ties[place], 0.0), 1))
        return found


@dataclass(frozen=True, slots=True)
class Seated:
    """Where a part stands on its seal.

    Parameters
    ----------
    seat : Seat
        The part.
    pose : (float, float, float)
        Height over the face in the middle in mm, and its rise to the right and upwards in mm for each unit of length.
    ties : tuple of (float, float)
        For each bolt its force in final preloads, and the height of the part there.
    """

    seat: Seat
    pose: _Pose
    ties: tuple[tuple[float, float], ...]

    def tightened(self, bolt: int, force: float) -> Seated:
        """Return the part after one bolt was tightened, or loosened, to a force in final preloads.

        Raises
        ------
        TighteningError
            For a bolt that is not there, or a force below zero or above one.
        """
        if not 0 <= bolt < len(self.seat.bolts) or not 0 <= force <= 1:
            raise TighteningError(
                (bolt, force),
                rule="A bolt of the part is tightened to a share of its final preload, from 0 to 1.",
                remedy="Count the bolts from 0.",
            )
        pose = self.seat.balance(self.ties, bolt, force)
        ties = tuple(
            (force if place == bolt else max(0.0, _pull(self.ties[place], height(pose, at))), height(pose, at))
            for place, at in enumerate(self.seat.bolts)
        )
        return Seated(self.seat, pose, ties)

    @property
    def loads(self) -> tuple[float, ...]:
        """What each bolt pulls with, in final preloads."""
        return tuple(force for force, _ in self.ties)

    @property
    def gaps(self) -> tuple[float, ...]:
        """The gap at each point of the outline, in mm."""
        return tuple(max(0.0, height(self.pose, at)) for at in self.seat.outline)

    @property
    def lean(self) -> float:
        """The widest gap less the narrowest, in mm."""
        gaps = self.gaps
        return max(gaps) - min(gaps)

    @property
    def pinched(self) -> bool:
        """Whether the seal is pressed quite flat at one place while at another nothing presses it."""
        heights = [height(self.pose, at) for at in self.seat.seal]
        return min(heights) < FREE / 10 and max(heights) > FREE


def preload_shares(schedule: Schedule) -> tuple[float, ...]:
    """Return what share of its final preload a bolt has after each stage.

    At the same thread, preload goes with torque. What fingers give, what *snug* is, and how far a bolt is stretched
    before it is turned by an angle, are training values; equal angles stretch it equally.

    Examples
    --------
    >>> from trainkit.tightening.stages import Stage
    >>> preload_shares(Schedule([Stage("snug"), Stage("first", "10 N·m"), Stage("final", "40 N·m")]))
    (0.05, 0.25, 1.0)
    >>> preload_shares(Schedule([Stage("first", "20 N·m"), Stage("second", angle=60, meaning="settled"),
    ...     Stage("final", angle=60)]))
    (0.4, 0.7, 1.0)
    """
    torques = [stage.torque.newton_metres for stage in schedule.stages if stage.torque is not None]
    angles = math.fsum(stage.angle for stage in schedule.stages if stage.angle is not None)
    top = BEFORE_ANGLE if angles else 1.0
    found: list[float] = []
    turned = 0.0
    for stage in schedule.stages:
        if stage.torque is not None:
            found.append(top * float(stage.torque.newton_metres / max(torques)))
        elif stage.angle is not None:
            turned += stage.angle
            found.append(top + (1 - top) * turned / angles)
        else:
            found.append(HAND if stage.name == "finger-tight" else SNUG)
    return tuple(round(share, 6) for share in found)


def height(pose: _Pose, at: _Point) -> float:
    """Return the height of a point of the part over the face, in mm; below zero it is pressed into it."""
    return pose[0] + pose[1] * at[0] + pose[2] * at[1]


def _energy(pose: _Pose, springs: Sequence[_Spring]) -> tuple[float, list[float], list[list[float]]]:
    """Return the energy of a pose, its slope and its curvature."""
    energy = 0.0
    slope = [0.0, 0.0, 0.0]
    bend = [[1e-9, 0.0, 0.0], [0.0, 1e-9, 0.0], [0.0, 0.0, 1e-9]]
    for x, y, stiffness, at_zero, works in springs:
        here = height(pose, (x, y))
        pull = at_zero + stiffness * here
        if pull * works <= 0:
            continue  # a seal and a face never pull, a bolt never pushes
        energy += pull * pull / (2 * stiffness) if stiffness else pull * here
        place = (1.0, x, y)
        for row in range(3):
            slope[row] += pull * place[row]
            for column in range(3):
                bend[row][column] += stiffness * place[row] * place[column]
    return energy, slope, bend


def _pull(tie: tuple[float, float], here: float) -> float:
    return tie[0] + BOLT_STIFFNESS * (here - tie[1])


def _along(pose: _Pose, way: Sequence[float], step: float) -> _Pose:
    return pose[0] - step * way[0], pose[1] - step * way[1], pose[2] - step * way[2]


def _solved(matrix: Sequence[Sequence[float]], right: Sequence[float]) -> list[float]:
    """Solve three equations by elimination; the matrix is that of a convex energy, so no pivot is zero."""
    rows = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    for pivot in range(3):
        for row in range(pivot + 1, 3):
            factor = rows[row][pivot] / rows[pivot][pivot]
            for column in range(pivot, 4):
                rows[row][column] -= factor * rows[pivot][column]
    found = [0.0, 0.0, 0.0]
    for row in (2, 1, 0):
        rest = rows[row][3] - sum(rows[row][column] * found[column] for column in range(row + 1, 3))
        found[row] = rest / rows[row][row]
    return found


def _is_even(bolts: Sequence[_Point]) -> bool:
    return min(math.hypot(x, y) for x, y in bolts) > 0.85


def _circle(radius: float) -> list[_Point]:
    turns = [math.tau * place / _POINTS for place in range(_POINTS)]
    return [(radius * math.cos(turn), radius * math.sin(turn)) for turn in turns]


def _plate(bolts: Sequence[_Point]) -> list[_Point]:
    """Return points at equal distances round a rectangle with rounded corners, along the bolts."""
    turn = _axis(bolts)
    cos, sin = math.cos(turn), math.sin(turn)
    along = [x * cos + y * sin for x, y in bolts]
    across = [y * cos - x * sin for x, y in bolts]
    nearest = min(math.dist(one, other) for place, one in enumerate(bolts) for other in bolts[:place])
    edge = min(_EDGE, max(_LEAST_EDGE, 0.8 * nearest))
    left, right, low, high = min(along), max(along), min(across), max(across)
    corners = ((right, high), (left, high), (left, low), (right, low))
    sides = (right - left, high - low) * 2  # along the top, down the left, back along the bottom, up the right
    quarter = edge * math.pi / 2
    whole = 2 * (right - left + high - low) + 4 * quarter
    found = []
    for point in range(_POINTS):
        gone, corner = whole * point / _POINTS, 0
        while gone > quarter + sides[corner] and corner < 3:
            gone -= quarter + sides[corner]
            corner += 1
        # Anticlockwise from the right: a corner, then the side that follows it.
        start = corner * math.pi / 2
        bent = start + min(gone, quarter) / edge
        straight = max(0.0, gone - quarter)
        u = corners[corner][0] + edge * math.cos(bent) - straight * math.sin(start + math.pi / 2)
        v = corners[corner][1] + edge * math.sin(bent) + straight * math.cos(start + math.pi / 2)
        found.append((u * cos - v * sin, u * sin + v * cos))
    return found


def _axis(places: Sequence[_Point]) -> float:
    """Return the direction of the larger principal moment of the places."""
    return (
        math.atan2(
            2 * math.fsum(x * y for x, y in places),
            math.fsum(x * x for x, _ in places) - math.fsum(y * y for _, y in places),
        )
        / 2
    )
