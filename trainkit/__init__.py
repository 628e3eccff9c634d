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

from typing import TYPE_CHECKING

from trainkit.doors import lazily

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
    "pools",
    "procedures",
    "quantities",
    "roles",
    "tightening",
    "widgets",
    "workbook",
]

if TYPE_CHECKING:
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
        pools,
        procedures,
        quantities,
        roles,
        tightening,
        widgets,
        workbook,
    )
else:
    __getattr__, __dir__ = lazily(__name__, *__all__)
