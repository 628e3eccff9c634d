"""Templates and misconceptions of the module *torque units*."""

from __future__ import annotations

from trainkit.items.template import Template
from trainkit.items.torque_units.adapting import AdapterAtAnAngle, AdapterForgotten, AdapterStraight
from trainkit.items.torque_units.catalogue import MISCONCEPTIONS
from trainkit.items.torque_units.choosing import ToleranceBand, WhichWrench
from trainkit.items.torque_units.converting import Convert, NearestMark
from trainkit.items.torque_units.printed import MasterColumn, OddPair

__all__ = ["MISCONCEPTIONS", "TEMPLATES"]

TEMPLATES: tuple[Template, ...] = (
    Convert(),
    OddPair(),
    MasterColumn(),
    NearestMark(),
    AdapterStraight(),
    AdapterAtAnAngle(),
    AdapterForgotten(),
    ToleranceBand(),
    WhichWrench(),
)
