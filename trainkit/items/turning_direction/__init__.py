"""Templates and misconceptions of the module *turning direction*.

Everything follows from the meshes of the pack and the end that is looked from (:mod:`trainkit.gears`): which way a
shaft or the barring tool turns, how far, and where a mark then stands.
"""

from __future__ import annotations

from trainkit.items.template import Template
from trainkit.items.turning_direction.catalogue import MISCONCEPTIONS
from trainkit.items.turning_direction.clocks import MarkAfterTurning, OtherEndClock
from trainkit.items.turning_direction.picking import GearOnPicture, TurnAlike
from trainkit.items.turning_direction.senses import OtherEnd, ShaftSense, ToolSense
from trainkit.items.turning_direction.turns import ShaftTurn, ToolTurns

__all__ = ["MISCONCEPTIONS", "TEMPLATES"]

TEMPLATES: tuple[Template, ...] = (
    ShaftSense(),
    ToolSense(),
    OtherEnd(),
    ShaftTurn(),
    ToolTurns(),
    OtherEndClock(),
    MarkAfterTurning(),
    TurnAlike(),
    GearOnPicture(),
)
