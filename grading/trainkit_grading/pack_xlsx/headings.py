"""What the columns are called, what they refer to, and what is said about them when they are picked."""

from __future__ import annotations

import inspect
import re
from typing import Any

COVER = "read first"

# Columns that hold an identifier of another sheet; with SHAFTS, ``flywheel`` is right too.
REFERS: dict[tuple[str, str], str] = {
    ("meshes", "driver"): "gears",
    ("meshes", "driven"): "gears",
    ("barring", "tool"): "tools",
    ("lock_pin", "hole_in"): "gears",
    ("lock_pin", "watched"): "gears",
    ("lock_pin", "component"): "gears",
    ("lock_pins", "hole_in"): "gears",
    ("lock_pins", "tool"): "tools",
    ("steps", "tool"): "tools",
    ("steps", "adapter"): "tools",
    ("steps", "fastener"): "fasteners",
    ("steps", "loosens"): "fasteners",
    ("steps", "takes_off"): "parts",
    ("steps", "fits"): "parts",
    ("steps", "handles"): "parts",
    ("steps", "puts_on"): "tools",
    ("steps", "takes_away"): "tools",
    ("steps", "makes_safe"): "energy",
    ("steps", "proves"): "energy",
    ("steps", "restores"): "energy",
    ("steps", "needs_live"): "energy",
    ("fasteners", "single_use_part"): "parts",
    ("energy", "only_with"): "configurations",
    ("precedence", "before"): "steps",
    ("precedence", "after"): "steps",
    ("configurations", "drops"): "steps",
    ("configurations", "adds"): "steps",
    ("replaces", "without"): "steps",
    ("replaces", "instead"): "steps",
    ("stages", "fastener"): "fasteners",
    ("places", "fastener"): "fasteners",
    ("replaces", "configuration"): "configurations",
}
SHAFTS = {("lock_pin", "hole_in"), ("lock_pin", "watched"), ("lock_pins", "hole_in")}
# Names of stages: the usual ones are offered, and a manual's own may stand there too.
STAGE_NAMES = {("steps", "stage"), ("stages", "name")}

# What doing wrongly, or in the wrong order, can hurt the engine or a person.
MARKED = {("steps", "critical"), ("precedence", "dangerous")}

# Lists of tables inside a table have a sheet of their own; its first column says whose they are.
OWNERS: dict[tuple[str, str], tuple[str, str]] = {
    ("fasteners", "stages"): ("stages", "fastener"),
    ("fasteners", "at"): ("places", "fastener"),
    ("configurations", "replaces"): ("replaces", "configuration"),
}

_UNITS = {"_mm": "mm", "_deg": "degrees"}
_TITLES: dict[tuple[str, str], str] = {
    ("gears", "at_mm"): "at, mm: to the right; up",
    ("stages", "angle"): "angle, degrees",
    ("stages", "torque"): "torque, N·m or another unit",
    ("stages", "torque2"): "torque in the second unit",
    ("stages", "printed_to2"): "printed to, second unit",
    ("fasteners", "prevailing"): "prevailing torque, N·m or another unit",
    ("fasteners", "prevailing2"): "prevailing torque in the second unit",
    ("tools", "low"): "low, in its unit",
    ("tools", "high"): "high, in its unit",
    ("tools", "step"): "step, in its unit",
    ("tools", "length"): "length, mm",
    ("tools", "adapter_length"): "adapter length, mm",
    ("places", "x"): "x, mm",
    ("places", "y"): "y, mm",
    ("replaces", "without"): "step that does not apply",
    ("replaces", "instead"): "step done in its place",
}
_HELPS: dict[tuple[str, str], str] = {
    ("pack", "format"): "Format of the pack; leave it as it is.",
    ("pack", "name"): "Short name of the pack: small letters, digits and hyphens.",
    ("pack", "title"): "Name of the pack as people read it.",
    ("stages", "fastener"): "Identifier of the fastener. Its stages follow each other in the order of these rows.",
    ("places", "fastener"): "Identifier of the fastener. Its places follow each other in the order of these rows.",
    ("places", "x"): "Millimetres to the right, seen from the head.",
    ("places", "y"): "Millimetres up, seen from the head.",
    ("replaces", "configuration"): "Identifier of the configuration.",
    ("replaces", "without"): "Identifier of the step that does not apply there.",
    ("replaces", "instead"): "Identifier of the step that is done in its place.",
}


def title_of(sheet: str, key: str) -> str:
    """Return the heading of a column, with its unit.

    Examples
    --------
    >>> title_of("gears", "module_mm"), title_of("steps", "takes_off")
    ('module, mm', 'takes off')
    """
    if (sheet, key) in _TITLES:
        return _TITLES[sheet, key]
    for ending, unit in _UNITS.items():
        if key.endswith(ending):
            return f"{key.removesuffix(ending).replace('_', ' ')}, {unit}"
    return key.replace("_", " ")


def matched(heading: object) -> str:
    """Return a heading in the form in which headings are compared: signs, case and spaces do not count.

    Examples
    --------
    >>> matched("  Module,  MM *")
    'module, mm'
    """
    return " ".join(re.sub(r"[*▲_]", " ", str(heading)).casefold().split())


def help_of(sheet: str, key: str, model: type[Any] | None = None) -> str:
    """Return what a column holds, from the description of its class.

    Examples
    --------
    >>> from trainkit.packs import Gear
    >>> help_of("gears", "teeth", Gear)
    'Number of teeth.'
    """
    return _HELPS.get((sheet, key)) or (_described(model).get(key, "") if model else "")


def _described(model: type[Any]) -> dict[str, str]:
    """Return the descriptions of a class's parameters, those of the classes above it included."""
    found: dict[str, str] = {}
    for each in reversed(model.__mro__):
        text = inspect.cleandoc(each.__doc__ or "")
        _, _, parameters = text.partition("Parameters\n----------\n")
        for entry in re.split(r"\n(?=\S)", parameters.partition("\n\n")[0]):
            names, _, rest = entry.partition(" : ")
            told = " ".join(rest.partition("\n")[2].replace("`", "").replace(":data:", "").split())
            found |= {name.strip(): told for name in names.split(",") if told}
    return found
