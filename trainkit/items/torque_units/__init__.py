"""Templates and misconceptions of the module *torque units*.

Torques and wrenches are examples of :mod:`trainkit.items.examples`: a value of the pack is never varied.

====================  ==============================================================================
:mod:`.converting`    to the unit of a scale; the nearest mark
:mod:`.listed`        a list of settings to be checked
:mod:`.printed`       values printed in two units: the odd pair, the master column
:mod:`.adapting`      adapters straight and at an angle, and one that was forgotten
:mod:`.choosing`      what a wrench may deviate, and which one suits
:mod:`.rules`         the right way and the wrong ways as functions of the same case
:mod:`.catalogue`     what each wrong way shows, and the step that cures it
====================  ==============================================================================

Examples
--------
>>> import random
>>> from trainkit import packs
>>> item, key = TEMPLATES[0].draw(random.Random(5), packs.load("dunlin"))
>>> item.kind, key.template, len(key.rules) >= 2
('number', 'torque-units/convert', True)
"""

from __future__ import annotations

from trainkit.items.template import Template
from trainkit.items.torque_units.adapting import AdapterAtAnAngle, AdapterForgotten, AdapterStraight
from trainkit.items.torque_units.catalogue import MISCONCEPTIONS
from trainkit.items.torque_units.choosing import ToleranceBand, WhichWrench
from trainkit.items.torque_units.converting import Convert, NearestMark
from trainkit.items.torque_units.listed import WhichSettings
from trainkit.items.torque_units.printed import MasterColumn, OddPair

__all__ = ["MISCONCEPTIONS", "TEMPLATES"]

TEMPLATES: tuple[Template, ...] = (
    Convert(),
    OddPair(),
    MasterColumn(),
    NearestMark(),
    WhichSettings(),
    AdapterStraight(),
    AdapterAtAnAngle(),
    AdapterForgotten(),
    ToleranceBand(),
    WhichWrench(),
)
