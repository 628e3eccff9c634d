"""Plots where a curve teaches: preload against torque, the pull to one side, marks going round with the crank.

Apparatus is drawn by :mod:`trainkit.figures`; these are curves over an axis, drawn by matplotlib, which is loaded only
when one is shown. Where it is not installed the words of a plot stand alone.

===========  =============================================================================
``preload``  what a torque does to a bolt, dry and oiled, beside what the bolt can bear
``moment``   the pull to one side while a joint is tightened, across and round in a circle
``marks``    where the marks of three gears stand while the crank turns on
===========  =============================================================================

Examples
--------
>>> from trainkit import packs
>>> print(plot("moment", packs.load("dunlin")).words[0])
Across, the pull is at most 1.00; round in a circle it is at most 2.00.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.errors import ItemError
from trainkit.plots.curves import marks, moment, preload
from trainkit.plots.sheet import Plot

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainkit.packs import Pack

__all__ = ["PLOTS", "Plot", "marks", "moment", "plot", "preload"]

PLOTS: dict[str, Callable[[Pack], Plot]] = {"preload": preload, "moment": moment, "marks": marks}
"""The plots by the name that a workbook asks for."""


def plot(name: str, pack: Pack) -> Plot:
    """Return a plot for the engine of a pack.

    Raises
    ------
    ItemError
        If there is no such plot.
    """
    made = PLOTS.get(name)
    if made is None:
        raise ItemError(name, rule=f"The plots are {', '.join(PLOTS)}.", remedy="Name one of them in the workbook.")
    return made(pack)
