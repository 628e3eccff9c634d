"""The four strokes of every cylinder: pistons, valves and injection, tied to the crank.

The screen follows the crank with the formulas of :mod:`trainkit.cycle`; this module gives the firing order, the times
and the crank that they work on.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.cycle import Position, valves_at
from trainkit.cycle.valves import COMMON
from trainkit.errors import ItemError
from trainkit.gears import seen, signed
from trainkit.sentences import listed
from trainkit.widgets.instruments.base import Instrument

if TYPE_CHECKING:
    from trainkit.packs import Pack


ROD = 3.5
"""Rod length to crank radius where a pack gives none: an invented training value."""

_RODS = (2.5, 4.5)  # what a picture has room for
_BEFORE = 40  # crank degrees before the dead centre at which the engine is pinned: there the crank stands at the start
_HOW = (
    "Drag any crank round, or the strip of strokes. Keys: the arrows turn by 1°, Page up and down by 10°, Home goes "
    "back to the start."
)


class FourStrokes(Instrument):
    """The cylinders of an engine, turned by the crank.

    Parameters
    ----------
    pack : Pack
        The engine.

    Raises
    ------
    ItemError
        If it is a V engine whose firing intervals nobody states.
    """

    kind = "strokes"
    heading = "Turn through the four strokes"

    def __init__(self, pack: Pack) -> None:
        super().__init__()
        self.pack = pack
        order = pack.firing
        if order is None:
            raise ItemError(
                pack.name,
                rule="The strokes of a V engine follow from its firing intervals, which this pack does not give.",
                remedy="Give firing_intervals_deg in [engine].",
            )
        self.order = order
        table = pack.lock_pin_table
        self.start = Position.known(order, cylinder=table.cylinder, on=table.dead_centre).turned(-_BEFORE)

    @property
    def rod(self) -> float:
        """Length of the connecting rod in crank radii, as far as a picture has room for it."""
        engine = self.pack.engine
        if engine.crank_radius_mm is None or engine.rod_length_mm is None:
            return ROD
        return min(max(engine.rod_length_mm / engine.crank_radius_mm, _RODS[0]), _RODS[1])

    @property
    def lead(self) -> tuple[str, ...]:
        """What it shows, and how it is turned."""
        own = self.pack.engine.rod_length_mm is not None and self.pack.engine.crank_radius_mm is not None
        crank = "" if own else " The length of the rods has been invented."
        return (
            "Two pistons that come up together do not do the same: on compression ▲ both valves are shut, on exhaust △ "
            "both are a little open. Find out which is which, turn the crank once, and look again."
            if self.order.paired
            else "A piston comes up twice in two crank turns: on compression ▲ both valves are shut, on exhaust △ both "
            "are a little open.",
            "Seen from the front, each cylinder drawn upright. The valve times are common practice; the times in the "
            f"manual of an engine go before them.{crank}",
        )

    def _more(self) -> dict[str, Any]:
        engine = self.pack.engine
        forward = seen(signed(engine.rotation), stated_from=engine.seen_from, seen_from="front")
        return {
            "cylinders": [
                {"number": number, "fires_at": float(self.order.fires_at(number))}
                for number in sorted(self.order.cylinders)
            ],
            "valves": asdict(COMMON),
            "rod": self.rod,
            "start": float(self.start.past_first),
            "clockwise": forward > 0,
            "how": _HOW,
        }

    def _figure(self) -> figures.Picture:
        cylinders = [
            {"number": number, "fires_at": float(self.order.fires_at(number))}
            for number in sorted(self.order.cylinders)
        ]
        table = self.pack.lock_pin_table
        at = float(self.start.turned(_BEFORE).past_first)
        return figures.Picture({"draw": "strokes", "cylinders": cylinders, "at": at, "marked": table.cylinder})

    def _facts(self) -> list[tuple[str, str]]:
        facts = [("Firing order", str(self.order))]
        if self.order.even:
            facts.append(("A cylinder fires every", f"{float(self.order.interval):g}° of the crank"))
        else:
            apart = listed([f"{float(each):g}°" for each in self.order.intervals])
            facts.append(("From one firing to the next", apart))
        at = self.start.turned(_BEFORE)
        for which in ("compression", "exhaust"):
            if up := at.at(which):
                cylinders = listed([str(number) for number in up])
                facts.append((f"Up on {which} in the picture", f"cylinder {cylinders}: {valves_at(which)}"))
        return facts
