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

import importlib

# Recording marks looks for observations; the control of the tablet costs time that only a notebook needs to spend.
_HOMES = {
    "Checklist": "checklists",
    "Competence": "judging",
    "Observation": "observations",
    "ObservedStep": "judging",
    "SignOff": "observations",
    "judge": "judging",
    "observe": "observing",
    "open": "tablet",
    "sign_offs": "observations",
}

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


def __getattr__(name: str) -> object:
    if name in _HOMES:
        return getattr(importlib.import_module(f"trainkit_grading.signoff.{_HOMES[name]}"), name)
    raise AttributeError(f"module 'trainkit_grading.signoff' has no attribute {name!r}")


def __dir__() -> list[str]:
    return list(__all__)
