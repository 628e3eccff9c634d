"""Packs: one engine with its fasteners, gear train, lock pin, parts, steps and hazards, in TOML."""

from __future__ import annotations

from trainkit.packs.check import Examination
from trainkit.packs.codes import CODES
from trainkit.packs.energies import ASKED_KINDS, Energy, StartPath
from trainkit.packs.engine import Barring, Engine, FurtherPin, Gear, LockPinTable, Mesh
from trainkit.packs.fastening import Fastener, Stage, Tool
from trainkit.packs.findings import PackFinding
from trainkit.packs.load import (
    PACK_FILE,
    beside,
    bytes_of,
    examine,
    examine_text,
    load,
    load_accepted,
    load_text,
    shipped,
    starting_point,
)
from trainkit.packs.pack import Pack
from trainkit.packs.schema import FORMAT
from trainkit.packs.unstated import unstated
from trainkit.packs.work import USUAL_CAUTIONS, Configuration, Edge, Hazard, Part, Provenance, Step

__all__ = [
    "ASKED_KINDS",
    "CODES",
    "FORMAT",
    "PACK_FILE",
    "USUAL_CAUTIONS",
    "Barring",
    "Configuration",
    "Edge",
    "Energy",
    "Engine",
    "Examination",
    "Fastener",
    "FurtherPin",
    "Gear",
    "Hazard",
    "LockPinTable",
    "Mesh",
    "Pack",
    "PackFinding",
    "Part",
    "Provenance",
    "Stage",
    "StartPath",
    "Step",
    "Tool",
    "beside",
    "bytes_of",
    "examine",
    "examine_text",
    "load",
    "load_accepted",
    "load_text",
    "shipped",
    "starting_point",
    "unstated",
]
