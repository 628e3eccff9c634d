"""Things to move freely in the explanation part of a workbook: nothing is asked, nothing is recorded.

===============  ==================================================================================
:mod:`.base`     what they have in common: a start, what is shown, static forms
:mod:`.turning`  the gear train, turned by any of its gears with all its lash
:mod:`.faces`    the face of one gear, read like a clock
:mod:`.lever`    a torque wrench with an adapter
:mod:`.flange`   the bolts of a joint, which draw a part down on its seal
:mod:`.strokes`  pistons, valves and injection of every cylinder
:mod:`.pinning`  the lock pin, its hole and the bar
===============  ==================================================================================

Examples
--------
>>> from trainkit import packs
>>> gears = instrument("gears", packs.load("dunlin"))
>>> gears.heading
'Turn the gear train'
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.errors import ItemError
from trainkit.widgets.instruments.base import Instrument
from trainkit.widgets.instruments.faces import ClockFace
from trainkit.widgets.instruments.flange import BoltsTightened
from trainkit.widgets.instruments.lever import WrenchTried
from trainkit.widgets.instruments.pinning import PinTried
from trainkit.widgets.instruments.strokes import FourStrokes
from trainkit.widgets.instruments.turning import TrainTurned

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainkit.packs import Pack

__all__ = [
    "INSTRUMENTS",
    "BoltsTightened",
    "ClockFace",
    "FourStrokes",
    "Instrument",
    "PinTried",
    "TrainTurned",
    "WrenchTried",
    "instrument",
]

INSTRUMENTS: dict[str, Callable[..., Instrument]] = {
    "gears": TrainTurned,
    "clock": ClockFace,
    "wrench": WrenchTried,
    "bolts": BoltsTightened,
    "strokes": FourStrokes,
    "pin": PinTried,
}
"""The instruments by the name that a workbook asks for."""


def instrument(name: str, pack: Pack, **which: str) -> Instrument:
    """Return an instrument for the engine of a pack.

    Parameters
    ----------
    name : str
        One of :data:`INSTRUMENTS`.
    pack : Pack
        The engine.
    **which : str
        Which of the pack's gears, tools or fasteners; each instrument names its own, and chooses where none is named.

    Raises
    ------
    ItemError
        If there is no such instrument, or the pack lacks what it needs.
    """
    made = INSTRUMENTS.get(name)
    if made is None:
        raise ItemError(
            name, rule=f"The instruments are {', '.join(INSTRUMENTS)}.", remedy="Name one of them in the workbook."
        )
    return made(pack, **which)
