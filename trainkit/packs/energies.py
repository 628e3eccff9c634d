"""What can move, burn or strike at an engine: its energies, and the paths on which it can be started."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import Field

from trainkit.packs.base import Id, OneLine, PackModel

EnergyKind = Literal[
    "electric-start",
    "air-start",
    "hydraulic-start",
    "automatic-start",
    "driven-machine",
    "mains-back-feed",
    "heater",
    "fuel-pressure",
    "hot-coolant",
    "spring",
    "raised-load",
    "charger",
    "capacitor",
    "other",
]

# Every pack answers each of these: present, or none and who looked. The law seen asks for all energies, not for a list.
ASKED_KINDS: Mapping[str, str] = MappingProxyType(
    {
        "electric-start": "an electric starter and its battery",
        "air-start": "starting by compressed air",
        "hydraulic-start": "starting by hydraulic pressure",
        "automatic-start": "automatic and remote start",
        "driven-machine": "a driven machine that can turn the engine",
        "mains-back-feed": "mains or a second set that feeds back through a generator",
        "heater": "a heater with a supply of its own",
        "fuel-pressure": "fuel under pressure",
        "hot-coolant": "hot coolant under pressure",
        "spring": "springs under load",
        "raised-load": "loads that can come down",
    }
)
# These start the engine; they are the last to come back.
STARTING_KINDS = frozenset({"electric-start", "air-start", "hydraulic-start", "automatic-start"})
# These turn the engine, and a turning engine reaches every hand at it.
TURNING_KINDS = STARTING_KINDS | {"driven-machine", "mains-back-feed"}


class Energy(PackModel):
    """One source of energy, or the answer that there is none of a kind.

    Parameters
    ----------
    id, name : str
        Identifier and what people call it, without an article: "starting battery".
    kind : str
        What sort it is. Each of :data:`ASKED_KINDS` is answered once at least.
    present : bool
        Whether there is one, as there is if nothing is said; if not, ``looked_by`` says who looked.
    looked_by : str
        Who looked and found none.
    isolated_at, locked_by : str
        Where it is isolated, and how the isolator is locked.
    proved_by : str
        How it is proved dead.
    proof : str, optional
        What sort of proof that is: ``start-attempt``, ``tester``, ``gauge``, ``drain``, ``tried`` (it does not move),
        ``cooled``.
    refilled_by : str
        What can fill it again: a charger, a compressor, a column of water.
    own_supply : bool
        Whether it has a supply of its own, which no other isolator cuts.
    reaches : str
        ``engine`` (every step at the engine) or ``named`` (only steps that name it in ``exposed_to``). What turns the
        engine always reaches every step at it.
    only_with : tuple of str
        The configurations that have it; all of them if nothing is said.
    """

    id: Id
    name: OneLine
    kind: EnergyKind
    present: bool = True
    looked_by: Annotated[str, Field(max_length=160)] = ""
    isolated_at: Annotated[str, Field(max_length=160)] = ""
    locked_by: Annotated[str, Field(max_length=160)] = ""
    proved_by: Annotated[str, Field(max_length=160)] = ""
    proof: Literal["start-attempt", "tester", "gauge", "drain", "tried", "cooled"] | None = None
    refilled_by: Annotated[str, Field(max_length=160)] = ""
    own_supply: bool = False
    reaches: Literal["engine", "named"] = "engine"
    only_with: Annotated[tuple[str, ...], Field(max_length=40)] = ()

    @property
    def starts(self) -> bool:
        """Whether it starts the engine."""
        return self.kind in STARTING_KINDS

    @property
    def turns(self) -> bool:
        """Whether it can turn the engine."""
        return self.kind in TURNING_KINDS

    @property
    def everywhere(self) -> bool:
        """Whether it reaches every step at the engine."""
        return self.turns or self.reaches == "engine"


class StartPath(PackModel):
    """One way in which the engine can be started: it turns over if every link is closed.

    Parameters
    ----------
    id, name : str
        Identifier and what people call it.
    links : tuple of str
        What has to be closed, from the energy to the signal: identifiers of energies and of ``controls``.
    controls : tuple of str
        Those links that are controls: a mode switch, a key, an emergency stop. A control isolates nothing.
    """

    id: Id
    name: OneLine
    links: Annotated[tuple[str, ...], Field(min_length=1, max_length=20)]
    controls: Annotated[tuple[str, ...], Field(max_length=20)] = ()
