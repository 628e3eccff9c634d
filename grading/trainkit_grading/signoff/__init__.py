"""Practical sign-off: checklists, what was observed at the engine, and what it shows.

====================  ==================================================================================
:mod:`.checklists`    the steps of a piece of work, out of a pack or out of an observed item
:mod:`.judging`       the verdict, with the written rule that made it so
:mod:`.observations`  who saw what, as the ledger keeps it, and which of several counts
:mod:`.filling`       from an observation to the points of the observed item in a form
:mod:`.observing`     recording an observation
:mod:`.making`        the sheet for the printer and the notebook for the tablet
:mod:`.tablet`        the notebook's one door
====================  ==================================================================================
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.doors import lazily

# Recording marks looks for observations; the control of the tablet costs time that only a notebook needs to spend.
if TYPE_CHECKING:
    from trainkit_grading.signoff.checklists import Checklist
    from trainkit_grading.signoff.judging import Competence, ObservedStep, judge
    from trainkit_grading.signoff.observations import Observation, SignOff, sign_offs
    from trainkit_grading.signoff.observing import observe
    from trainkit_grading.signoff.tablet import open  # noqa: A004 - the word for what one does with a sheet
else:
    __getattr__, __dir__ = lazily(
        __name__,
        checklists=("Checklist",),
        judging=("Competence", "ObservedStep", "judge"),
        observations=("Observation", "SignOff", "sign_offs"),
        observing=("observe",),
        tablet=("open",),
    )

__all__ = [
    "Checklist",
    "Competence",
    "Observation",
    "ObservedStep",
    "SignOff",
    "judge",
    "observe",
    "open",
    "sign_offs",
]
