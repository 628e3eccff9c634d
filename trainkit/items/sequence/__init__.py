"""Templates on the order of the work: order, fault, reason, what was forgotten, what becomes of each part.

What is asked about order draws on the precedence of the pack alone; what is right follows from
:mod:`trainkit.procedures`, and no single right order is ever asked for. What becomes of a part follows from its fate,
where the steps carry it out.
"""

from __future__ import annotations

from trainkit.items.sequence.choosing import FindFault, WhichMissing
from trainkit.items.sequence.fates import FateOfParts
from trainkit.items.sequence.misconceptions import MISCONCEPTIONS
from trainkit.items.sequence.ordering import ForgottenStep, PutInOrder
from trainkit.items.sequence.pairs import EitherOrder, WhyBefore
from trainkit.items.template import Template

__all__ = ["MISCONCEPTIONS", "TEMPLATES"]

TEMPLATES: tuple[Template, ...] = (
    PutInOrder(),
    FindFault(),
    WhyBefore(),
    ForgottenStep(),
    WhichMissing(),
    EitherOrder(),
    FateOfParts(),
)
