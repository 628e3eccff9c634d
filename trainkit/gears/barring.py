"""Turning the engine by hand: turns of the tool, and which way the hand moves."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trainkit.errors import GearError
from trainkit.gears.exact import Number, exact, is_count, written
from trainkit.gears.viewpoints import Sense, Viewpoint, seen, sense_of, viewpoint


@dataclass(frozen=True, slots=True)
class Barring:
    """How an engine is barred over, and where the person stands.

    Parameters
    ----------
    stands_at : {"front", "flywheel"}
        The end that the person faces.
    ring_teeth, pinion_teeth : int, optional
        A barring pinion on the ring gear. Leave both out for a socket on the crank nose, which turns as the crank
        does.

    Raises
    ------
    GearError
        For an unknown end, one of the two counts alone, or a pinion that is not smaller than its ring.

    Examples
    --------
    >>> tool = Barring("flywheel", ring_teeth=132, pinion_teeth=11).tool(30, seen_from="front")
    >>> tool.turns, tool.sense
    (Fraction(1, 1), 'clockwise')
    """

    stands_at: Viewpoint
    ring_teeth: int | None = None
    pinion_teeth: int | None = None

    def __post_init__(self) -> None:
        viewpoint(self.stands_at)
        if self.ring_teeth is None and self.pinion_teeth is None:
            return
        for count, what in ((self.ring_teeth, "ring gear"), (self.pinion_teeth, "barring pinion")):
            if not is_count(count, 3, 1000):
                raise GearError(
                    count,
                    rule=f"The {what} has a whole number of teeth, 3 to 1000.",
                    remedy="Give both counts, or none for a socket on the crank nose.",
                )
        if self.pinion_teeth >= self.ring_teeth:  # type: ignore[operator]  # both are whole numbers by now
            raise GearError(
                self.pinion_teeth,
                rule=f"The barring pinion has fewer teeth than its ring gear ({self.ring_teeth}).",
                remedy="Swap the two counts, or count again.",
            )

    @property
    def has_mesh(self) -> bool:
        """Whether a pinion drives the ring gear; at the crank nose there is no mesh."""
        return self.ring_teeth is not None

    @property
    def ratio(self) -> Fraction:
        """Turns of the tool for one turn of the crank, seen from the same end; negative through the pinion."""
        if self.ring_teeth is None or self.pinion_teeth is None:
            return Fraction(1)
        return Fraction(-self.ring_teeth, self.pinion_teeth)

    def tool(self, crank_degrees: Number, *, seen_from: str) -> ToolTurn:
        """Return what the tool does for a crank angle, as the person at the tool sees it.

        Parameters
        ----------
        crank_degrees : int, float or fractions.Fraction
            Positive is clockwise as seen from ``seen_from``.
        seen_from : {"front", "flywheel"}
            The viewpoint of the crank angle.

        Returns
        -------
        ToolTurn
            Seen from where the person stands.
        """
        angle, stated = exact(crank_degrees, "crank angle"), viewpoint(seen_from)
        turned = seen(angle * self.ratio, stated_from=stated, seen_from=self.stands_at)
        return ToolTurn(self, angle, stated, turned)


@dataclass(frozen=True, slots=True)
class ToolTurn:
    """A turn of the barring tool, as the person who holds it sees it.

    Parameters
    ----------
    barring : Barring
        The tool and where the person stands.
    crank_degrees : fractions.Fraction
        The crank angle, positive being clockwise as seen from ``stated_from``.
    stated_from : {"front", "flywheel"}
        The viewpoint of the crank angle.
    degrees : fractions.Fraction
        Degrees of the tool, positive being clockwise for the person who holds it.
    """

    barring: Barring
    crank_degrees: Fraction
    stated_from: Viewpoint
    degrees: Fraction

    @property
    def turns(self) -> Fraction:
        """Turns of the tool without regard to sense, exact."""
        return abs(self.degrees) / 360

    @property
    def sense(self) -> Sense:
        """The way the hand moves, for the person who holds the tool."""
        return sense_of(self.degrees)

    @property
    def lines(self) -> tuple[str, ...]:
        """The working in words."""
        bar = self.barring
        crank = written(abs(self.crank_degrees))
        lines = [f"The crank turns {crank}° {sense_of(self.crank_degrees)}, seen from the {self.stated_from} end."]
        if bar.has_mesh:
            lines.append(
                f"Turns of the tool: {crank}/360 × {bar.ring_teeth}/{bar.pinion_teeth} = {written(self.turns)}."
            )
            lines.append("Pinion and ring gear are outside teeth: the sense turns over.")
        else:
            lines.append(f"The socket sits on the crank nose, with no mesh between: {written(self.turns)} of a turn.")
        if bar.stands_at == self.stated_from:
            lines.append(f"You stand at the {bar.stands_at} end, the same end: the viewpoint changes nothing.")
        else:
            lines.append(f"You stand at the {bar.stands_at} end, the other end: the viewpoint turns the sense over.")
        lines.append(f"Your hand turns the tool {self.sense}.")
        return tuple(lines)
