"""The lock pin of an engine, tried out: the bar is dragged, the pin pressed, wall and gear cut open.

The screen bars and pins by the lattice that is sent with it; :mod:`trainkit.lockpin.freely` has the same rules.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.errors import ItemError
from trainkit.items.dial_marks import at_clock, dial_of, marks
from trainkit.items.lock_pin.bench import bench
from trainkit.lockpin import State
from trainkit.lockpin.lattice import lattice
from trainkit.widgets.instruments import pinsaid
from trainkit.widgets.instruments.base import Instrument

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainkit.lockpin import Setup
    from trainkit.packs import Pack


class PinTried(Instrument):
    """The first lock pin of a pack, moving freely.

    Parameters
    ----------
    pack : Pack
        The engine.

    Raises
    ------
    ItemError
        If nobody bars this engine by hand.
    """

    kind = "pin"
    heading = "Stop the engine with the lock pin"

    def __init__(self, pack: Pack) -> None:
        super().__init__()
        if not pack.barring.by_hand:
            raise ItemError(
                pack.name,
                rule="This needs an engine that a person bars by hand.",
                remedy="Choose another engine, or follow its gears with the clock face.",
            )
        self.pack = pack
        self.told = bench(pack)
        self.setup = replace(self.told.setup, stiff=False)

    @property
    def lead(self) -> tuple[str, ...]:
        """What it shows, and how it is used."""
        return pinsaid.lead(self.told.watched, self.told.hole_in)

    @property
    def start(self) -> State:
        """Where it begins: a little before the back-off mark of the right passing, barred forward."""
        setup = self.setup
        return State.start(setup, before=min(setup.back_off + setup.little, setup.period / 2))

    def _more(self) -> dict[str, Any]:
        setup, table, dial = self.setup, self.pack.barring, dial_of(self.setup)
        geared = table.by == "ring-gear" and table.ring_teeth and table.pinion_teeth
        crank = self.pack.engine
        clockwise = (crank.rotation == "clockwise") == (crank.seen_from == table.stands_at)
        return {
            "figure": self._figure().svg,
            "lattice": lattice_of(setup),
            "start": standing(self.start),
            "dial": {
                "name": self.told.watched,
                "seen_from": dial.seen_from,
                "clockwise": dial.clockwise,
                "turns": float(dial.turns_per_crank),
                "seats_at": float(dial.seats_at),
                "marks": [{"at": at, "label": label} for label, at in marks(setup).items()],
            },
            "bar": {
                "teeth": [table.ring_teeth, table.pinion_teeth] if geared else None,
                "ratio": float(table.ring_teeth or 1) / float(table.pinion_teeth or 1) if geared else 1.0,
                "clockwise": clockwise,  # of the crank, as the person at the bar sees it
                "seen_from": table.stands_at,
            },
            "hole_in": self.told.hole_in,
            "compression": setup.compression,
            "said": pinsaid.sentences(setup, self.told.hole_in),
        }

    def _figure(self) -> figures.Picture:
        setup, dial = self.setup, dial_of(self.setup)
        return figures.Picture(
            {
                "draw": "pin-bench",
                "name": self.told.watched,
                "seen_from": dial.seen_from,
                "tooth": at_clock(setup, setup.press_from),
                "marks": [{"at": at, "label": label} for label, at in marks(setup).items()],
                "forward": "clockwise" if dial.clockwise else "anticlockwise",
                "turned": "forward",
                "bar": "fitted",
                "pin": "pressed",
            }
        )

    def _facts(self) -> Sequence[tuple[str, str]]:
        setup = self.setup
        others = [("Other pins, out while you bar", each) for each in self.told.others]
        return [
            ("Hole", f"in the {self.told.hole_in}, lines up {pinsaid.counted(setup.passings)}"),
            *((label, at) for label, at in marks(setup).items()),
            *others,
        ]


def lattice_of(setup: Setup) -> dict[str, Any]:
    """Return the whole numbers that a setup is counted in, as plain JSON data."""
    lat = lattice(setup)
    return {
        "scale": lat.scale,
        **{name: getattr(lat, name) for name in _WHOLE},
        "holes": [0, *lat.false_holes],
        "passings": lat.passings,
        "marked": list(lat.marked),
        "right": [setup.right(passing) for passing in range(lat.passings)],
        "marks_on": setup.marks_on,
    }


_WHOLE = (
    *("press", "give_up", "back_off", "clearance", "shared", "to_pin", "to_component", "lets_pass"),
    *("half", "period", "little"),
)


def standing(state: State) -> dict[str, Any]:
    """Return where everything stands, as plain JSON data."""
    return {
        "passing": state.passing,
        "crank": state.crank,
        "fork": state.fork,
        "hole": state.hole,
        "component": state.component,
        "pin": state.pin.value,
        "last": state.last,
    }
