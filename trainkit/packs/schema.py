"""What stands in the file of a pack: its tables, and which steps apply in a configuration.

The file format is TOML, format number 1.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from trainkit.packs.base import Id, OneLine, PackModel
from trainkit.packs.energies import Energy, StartPath
from trainkit.packs.engine import Barring, Engine, FurtherPin, Gear, LockPinTable, Mesh
from trainkit.packs.fastening import Fastener, Tool
from trainkit.packs.work import Configuration, Edge, Hazard, Part, Provenance, Step

FORMAT = 1


class Document(PackModel):
    """A pack as it stands in its file; the keys of the tables are described with their classes."""

    model_config = ConfigDict(**{**PackModel.model_config, "populate_by_name": False})

    format: Literal[1]
    name: Id
    title: OneLine
    provenance: Annotated[Provenance, Field(alias="notice")]
    engine: Engine
    gears: Annotated[tuple[Gear, ...], Field(min_length=1, max_length=60)]
    meshes: Annotated[tuple[Mesh, ...], Field(max_length=120)] = ()
    barring: Barring
    lock_pin_table: Annotated[LockPinTable, Field(alias="lock_pin")]
    lock_pins: Annotated[tuple[FurtherPin, ...], Field(max_length=20)] = ()
    fasteners: Annotated[tuple[Fastener, ...], Field(min_length=1, max_length=200)]
    tools: Annotated[tuple[Tool, ...], Field(max_length=200)] = ()
    parts: Annotated[tuple[Part, ...], Field(max_length=400)] = ()
    steps: Annotated[tuple[Step, ...], Field(min_length=1, max_length=2000)]
    precedence: Annotated[tuple[Edge, ...], Field(max_length=20000)] = ()
    configurations: Annotated[tuple[Configuration, ...], Field(max_length=40)] = ()
    hazards: Annotated[tuple[Hazard, ...], Field(min_length=1, max_length=60)]
    energies: Annotated[tuple[Energy, ...], Field(alias="energy", max_length=60)] = ()
    start_paths: Annotated[tuple[StartPath, ...], Field(max_length=20)] = ()

    @property
    def crank(self) -> str:
        """Identifier of the gear that turns with the crank."""
        return next((gear.id for gear in self.gears if gear.role == "crank"), "")

    def energies_of(self, configuration: str = "") -> tuple[Energy, ...]:
        """Return the energies that are there in a configuration, or with none of them."""
        return tuple(
            each for each in self.energies if each.present and (not each.only_with or configuration in each.only_with)
        )

    def steps_of(self, configuration: str = "") -> tuple[Step, ...]:
        """Return the steps that apply in a configuration, or with none of them, in the order of the file."""
        left_out = {step for each in self.configurations for step in each.own}
        for chosen in self.configurations:
            if chosen.id == configuration:
                left_out -= set(chosen.own)
                left_out |= set(chosen.without)
        return tuple(step for step in self.steps if step.id not in left_out)
