"""One renderer for every picture of the apparatus: on the screen, in feedback and in print.

A picture is described by plain data, ``{"draw": "<name>", ...}``, which may come out of a file that somebody else
wrote; it is drawn as SVG that stands alone. Pictures follow the drawing standards that apprentices learn anyway:
ISO 128 line types (visible edge thick and continuous, centre line long-dash-dot, hidden edge dashed), ISO 2203 for
gears (tip circle thick, pitch circle chain line, teeth only where they matter, the witness tooth filled). The
accent marks what moves or can be moved; colour never stands alone. Every picture says from which end it is seen. What
can be pointed to stands in a group with ``data-target``, so that a control can take a press on it.

============== =====================================================================================
``gear-train``  :mod:`.trains`: gears side by side, their senses, marks and holes
``clock``       :mod:`.clock`: a gear's face read like a clock, with positions marked on it
``bolts``       :mod:`.bolts`: the bolts of a joint, and which of them are tightened
``flank``       :mod:`.flank`: two gears in mesh, much enlarged, and where their play lies
``pin-bench``   :mod:`.bench`: what the eye gets at the lock pin
``wrench``      :mod:`.lever`: a torque wrench with an adapter, its lever and its scale
============== =====================================================================================

Examples
--------
>>> picture = Picture({"draw": "clock", "seen_from": "front", "marks": [{"at": "2:10", "label": "begin to press"}]})
>>> picture.text
'A clock face, seen from the front. At 2:10: begin to press.'
>>> picture.svg.startswith("<svg ")
True
"""

from __future__ import annotations

from trainkit.figures.bolts import bolts_figure
from trainkit.figures.clock import marks_figure
from trainkit.figures.picture import Picture, draw
from trainkit.figures.signs import warning_sign
from trainkit.figures.standing import standing
from trainkit.figures.style import CSS
from trainkit.figures.trains import train_figure

__all__ = ["CSS", "Picture", "bolts_figure", "draw", "marks_figure", "standing", "train_figure", "warning_sign"]
