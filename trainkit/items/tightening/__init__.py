"""Templates and misconceptions of the module *tightening*.

Joints, their stages and their state come from :mod:`trainkit.tightening`, forces and threads from
:mod:`trainkit.fasteners`. What varies from question to question is an example joint of :mod:`trainkit.items.examples`;
parts, and some stages, are those of the pack.
"""

from __future__ import annotations

from trainkit.items.template import Template
from trainkit.items.tightening.catalogue import MISCONCEPTIONS
from trainkit.items.tightening.finished import WhichAreFinished
from trainkit.items.tightening.following import NextBolt
from trainkit.items.tightening.forces import Preload, UseOfProofLoad
from trainkit.items.tightening.jacking import JackingScrew
from trainkit.items.tightening.ordering import StagesInOrder
from trainkit.items.tightening.renewing import NotAgain
from trainkit.items.tightening.states import AfterHistory

__all__ = ["MISCONCEPTIONS", "TEMPLATES"]

TEMPLATES: tuple[Template, ...] = (
    AfterHistory(),
    WhichAreFinished(),
    NextBolt(),
    StagesInOrder(),
    Preload(),
    UseOfProofLoad(),
    JackingScrew(),
    NotAgain(),
)
