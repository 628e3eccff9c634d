"""Positions on a gear's face read like the hour hand of a clock.

A clock position belongs to a viewpoint: what stands at two o'clock from the front stands at ten o'clock from the
flywheel end.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from trainkit.errors import GearError
from trainkit.gears.exact import Number, exact
from trainkit.gears.viewpoints import viewpoint

_WRITTEN = re.compile(r"\s*(\d{1,2})(?::(\d{2}))?\s*(?:h|o['’]clock)?\s*", re.ASCII)


@dataclass(frozen=True, slots=True)
class Clock:
    """A position like that of the hour hand: 12 is up, 3 is to the right.

    Parameters
    ----------
    hours : fractions.Fraction, int or float
        0 up to but not including 12; 0 is twelve o'clock.

    Raises
    ------
    GearError
        For hours outside that range.

    Examples
    --------
    >>> nine = Clock.parse("9:25")
    >>> float(nine.degrees), str(nine.mirrored())
    (282.5, '2:35')
    """

    hours: Fraction

    def __init__(self, hours: Number) -> None:
        value = exact(hours, "clock position")
        if not 0 <= value < 12:
            raise GearError(
                hours, rule="A clock position counts from 0 to just under 12 hours.", remedy="Write 0 for twelve."
            )
        object.__setattr__(self, "hours", value)

    @classmethod
    def parse(cls, text: object) -> Clock:
        """Read ``"9:25"``, ``"9"``, ``"12:30"`` or ``"2 o'clock"``.

        Raises
        ------
        GearError
            If it is written otherwise.
        """
        if isinstance(text, str) and (found := _WRITTEN.fullmatch(text)):
            hours, minutes = int(found[1]), int(found[2] or 0)
            if hours <= 12 and minutes < 60:
                return cls((hours + Fraction(minutes, 60)) % 12)
        raise GearError(
            text,
            rule="A clock position is written as hours and minutes, 0:00 to 12:59.",
            remedy='Write it like "9:25" or "3:00".',
        )

    @classmethod
    def at(cls, degrees: Number) -> Clock:
        """Return the position at so many degrees clockwise from twelve; any number of turns may be added.

        Examples
        --------
        >>> str(Clock.at(-90))
        '9:00'
        """
        return cls(exact(degrees, "angle") % 360 / 30)

    @property
    def degrees(self) -> Fraction:
        """Degrees clockwise from twelve, 0 to just under 360, exact."""
        return self.hours * 30

    def mirrored(self) -> Clock:
        """Return the same place seen from the other end of the engine: h becomes 12 − h."""
        return Clock(-self.hours % 12)

    def seen(self, *, stated_from: str, seen_from: str) -> Clock:
        """Return a position stated from one end as it is seen from another.

        Examples
        --------
        >>> str(Clock.parse("2:00").seen(stated_from="front", seen_from="flywheel"))
        '10:00'
        """
        return self if viewpoint(stated_from) == viewpoint(seen_from) else self.mirrored()

    def turned(self, degrees: Number) -> Clock:
        """Return where the mark stands after a turn; positive is clockwise from the end the clock is read from."""
        return Clock.at(self.degrees + exact(degrees, "angle"))

    def __str__(self) -> str:
        # Nobody reads a gear closer than to a minute of the clock (half a degree).
        minutes = round(self.hours * 60) % 720
        return f"{minutes // 60 or 12}:{minutes % 60:02d}"
