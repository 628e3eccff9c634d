"""Workbooks that teach and assess workshop apprentices in timing-critical work on gear-timed diesel engines.

The modules are named for what they hold; each loads when it is first used, so that ``import trainkit`` stays
fast on a workshop laptop.

Examples
--------
>>> import trainkit
>>> trainkit.quantities.torque("31 lbf·ft").unit
'lbf·ft'
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from types import ModuleType

    from trainkit import (
        cards,
        copies,
        cycle,
        errors,
        fasteners,
        figures,
        forms,
        gears,
        glossary,
        handin,
        items,
        journal,
        lockpin,
        modules,
        notes,
        packs,
        persons,
        plots,
        procedures,
        quantities,
        roles,
        tightening,
        widgets,
        workbook,
    )

__version__ = "0.1.0"

__all__ = [
    "cards",
    "copies",
    "cycle",
    "errors",
    "fasteners",
    "figures",
    "forms",
    "gears",
    "glossary",
    "handin",
    "items",
    "journal",
    "lockpin",
    "modules",
    "notes",
    "packs",
    "persons",
    "plots",
    "procedures",
    "quantities",
    "roles",
    "tightening",
    "widgets",
    "workbook",
]


def __getattr__(name: str) -> ModuleType:
    if name in __all__:
        return importlib.import_module(f"trainkit.{name}")
    raise AttributeError(f"module 'trainkit' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*__all__, "__version__"])
