"""The setup's angles as whole numbers, on a lattice fine enough for every one of them to be exact."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from fractions import Fraction

from trainkit.lockpin.setup import Setup


def lattice(setup: Setup) -> Lattice:
    """Return the lattice of a setup; it is worked out once."""
    found: Lattice | None = setup._memo.get("lattice")
    if found is None:
        found = setup._memo["lattice"] = Lattice(setup)
    return found


class Lattice:
    """Whole ticks of crank angle, and where an engine barred "a little" comes to stand.

    Positions are counted forward, from where the hole lines up. Read-only by habit; made by :func:`lattice`.

    Parameters
    ----------
    setup : Setup
        Whose angles are to be whole.
    """

    def __init__(self, setup: Setup) -> None:
        angles = (
            setup.press_from,
            setup.give_up,
            setup.back_off,
            setup.clearance,
            setup.lash_to_pin,
            setup.lash_to_component,
            setup.lash_on_both,
            setup.tolerance,
            setup.period / 2,
            setup.right_every,
            setup.little,
            *setup.false_holes,
        )
        self.scale = math.lcm(1000, *(angle.denominator for angle in angles))
        self.press, self.give_up, self.back_off = (self.ticks(angle) for angle in angles[:3])
        self.clearance, pin, component, self.shared = (self.ticks(angle) for angle in angles[3:7])
        self.lets_pass = math.floor(setup.lets_pass * self.scale)
        self.to_pin, self.to_component = pin - self.shared, component - self.shared
        self.half, self.right_every, self.little = (self.ticks(angle) for angle in angles[8:11])
        self.period = 2 * self.half
        self.false_holes = tuple(self.ticks(angle) for angle in setup.false_holes)
        self.lash_to_mark = {"bar": 0, "pin gear": pin, "component gear": component}[setup.marks_on]
        self.passings = setup.passings
        # Where a tooth tells the stroke, the marks belong to that tooth and show in the right passings only.
        self.marked = tuple(setup.tells != "witness" or setup.agrees(k) for k in range(self.passings))
        self.lines = tuple(self._lines(k) for k in range(self.passings))

    def ticks(self, angle: Fraction) -> int:
        """Return crank degrees as the nearest whole number of ticks."""
        return round(angle * self.scale)

    def angle(self, ticks: int) -> Fraction:
        """Return ticks as crank degrees."""
        return Fraction(ticks, self.scale)

    def drawn_back(self, crank: int) -> tuple[int, int, int, int]:
        """Return crank, fork, hole and component with all lash taken up backwards: the rest is left ahead."""
        fork = crank + self.shared
        return crank, fork, fork + self.to_pin, fork + self.to_component

    def wrapped_right(self, ticks: Fraction | int) -> Fraction:
        """Return an angle in crank degrees, brought within half the distance of two right dead centres."""
        rest = Fraction(ticks) % self.right_every
        return (rest - self.right_every if rest > Fraction(self.right_every, 2) else rest) / self.scale

    def nearest_hole(self, place: int) -> int:
        """Return the hole, true or false, nearest to where the pin stands, in ticks ahead of the true one."""
        holes = [hole + turn * self.period for turn in (-1, 0, 1) for hole in (0, *self.false_holes)]
        return min(holes, key=lambda hole: abs(hole - place))

    def hole_at(self, place: int) -> int | None:
        """Return the hole that the pin would go into at this place, or none."""
        hole = self.nearest_hole(place)
        return hole if abs(hole - place) <= self.clearance else None

    def first_hole(self, start: int, end: int) -> tuple[int, int] | None:
        """Return the first hole met by a held pin between two places of its gear, and the place where it drops in.

        The hole is in ticks ahead of the true hole of the passing from which the places are counted.
        """
        forward = end > start
        first, last = sorted((start // self.period, end // self.period))
        met = []
        for turn in range(first - 1, last + 2):
            for hole in (0, *self.false_holes):
                centre = hole + turn * self.period
                edge = centre - self.clearance if forward else centre + self.clearance
                if (start < edge <= end) if forward else (end <= edge < start):
                    met.append((abs(edge - start), centre, edge))
        if not met:
            return None
        _, centre, edge = min(met)
        return centre, edge

    def next_line(self, passing: int, mark: int, sense: int) -> int:
        """Return where the mark comes to stand when the engine is barred a little."""
        lines = self.lines[passing]
        if sense > 0:
            return lines[bisect_right(lines, mark)]
        return lines[bisect_left(lines, mark) - 1]

    def press_ahead(self, passing: int, mark: int) -> int:
        """Return the next place ahead at which the mark stands at the press mark."""
        return next(
            place
            for turn in range(-1, self.passings + 2)
            if self.marked[(passing + turn) % self.passings] and (place := turn * self.period - self.press) > mark
        )

    def back_off_behind(self, passing: int, mark: int) -> int | None:
        """Return the back-off mark that lies behind the mark in the passing it stands in, or none."""
        for turn in (1, 0, -1):
            past = mark - turn * self.period
            if -self.back_off < past <= self.half and self.marked[(passing + turn) % self.passings]:
                return turn * self.period - self.back_off
        return None

    def _lines(self, passing: int) -> tuple[int, ...]:
        lines: set[int] = set()
        for turn in (-2, -1, 0, 1, 2):
            here = turn * self.period
            lines.add(here + self.half)  # far from all marks, one stroke of the bar after another is as good as none
            if self.marked[(passing + turn) % self.passings]:
                low, high = -self.back_off - 2 * self.little, self.give_up + 2 * self.little
                steps = range(-((self.press + low) // -self.little), (self.press + high) // self.little + 1)
                lines.update(here - self.press + step * self.little for step in steps)
                lines.add(here - self.back_off)
            else:
                lines.update((here - self.press, here + self.give_up))
        return tuple(sorted(lines))
