"""Templates on the order of the work: put it in order, find the fault, say why, put in what was forgotten.

All of them ask about steps of the pack and draw on its precedence alone; what is right follows from
:mod:`trainkit.procedures`. No single right order is ever asked for.
"""

from __future__ import annotations

from trainkit.items.sequence.choosing import EitherOrder, FindFault, WhichMissing, WhyBefore
from trainkit.items.sequence.misconceptions import MISCONCEPTIONS
from trainkit.items.sequence.ordering import ForgottenStep, PutInOrder
from trainkit.items.template import Template

__all__ = ["MISCONCEPTIONS", "TEMPLATES"]

TEMPLATES: tuple[Template, ...] = (
    PutInOrder(),
    FindFault(),
    WhyBefore(),
    ForgottenStep(),
    WhichMissing(),
    EitherOrder(),
)
