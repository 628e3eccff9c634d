"""What a worked example is about, chosen from a pack by the part it plays.

Such parts are the gear farthest from the crank, a joint in stages, an order with a dangerous slip. A workbook
explains whatever engine it is opened with, so its examples never name a part: they ask here for what they need. Where a
pack has no such thing, something simple is *taken* for the example, and the words say so.

Examples
--------
>>> from trainkit import packs
>>> pack = packs.load("dunlin")
>>> farthest_gear(pack).name
'coolant pump gear'
>>> joint(pack).all
'all 6 screws'
"""

from __future__ import annotations

from trainkit.roles.joints import ExampleJoint, Reach, joint, other_unit, reach, torqued, wrenches
from trainkit.roles.trains import (
    component,
    end,
    farthest_gear,
    firing,
    forward,
    has_lash,
    intervals,
    lash_taken,
    lock_pin,
    mark_on,
    nearest_gear,
    passing,
    pinned,
    says,
    sense,
    teeth,
    watched,
    with_lash,
)
from trainkit.roles.work import ExampleOrder, bond, order

__all__ = [
    "ExampleJoint",
    "ExampleOrder",
    "Reach",
    "bond",
    "component",
    "end",
    "farthest_gear",
    "firing",
    "forward",
    "has_lash",
    "intervals",
    "joint",
    "lash_taken",
    "lock_pin",
    "mark_on",
    "nearest_gear",
    "order",
    "other_unit",
    "passing",
    "pinned",
    "reach",
    "says",
    "sense",
    "teeth",
    "torqued",
    "watched",
    "with_lash",
    "wrenches",
]
