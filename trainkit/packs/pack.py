"""The pack: one engine with its fasteners, gear train, lock pin, parts, steps and hazards.

A :class:`Pack` is a document with where it came from and what follows from it: the gear train, the pinning model, the
procedure of a configuration.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from trainkit.errors import PackError
from trainkit.packs import mechanics
from trainkit.packs.cautions import STANDARD
from trainkit.packs.engine import Gear
from trainkit.packs.fastening import Fastener, Tool
from trainkit.packs.schema import Document
from trainkit.packs.work import USUAL_CAUTIONS, Configuration, Hazard, Part, Step

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainkit import cycle, gears, lockpin, procedures


_E = TypeVar("_E", Step, Part, Fastener, Gear, Tool, Configuration)

_INVENTED = "Training values, invented: none of them belongs to a real engine."
_MANUAL = "Values from {manual}, edition {edition}. Where the current manual differs, the current manual prevails."
_REAL_WORK = "For real work the manufacturer's current manual, local codes and a licensed or supervising person decide."


class Pack(Document):
    """A pack that was loaded.

    Parameters
    ----------
    digest : str
        SHA-256 of the file's bytes, in hexadecimal.
    place : str
        The file it was read from, as it was named.
    accepted : bool
        Whether an earlier release accepted it and forms were given out from it; what it does not state is then not
        asked for any more.

    Examples
    --------
    >>> from trainkit import packs
    >>> pack = packs.load("dunlin")
    >>> pack.engine.firing_order
    (1, 3, 4, 2)
    >>> pack.step("isolate").critical
    True
    """

    digest: str
    place: str
    accepted: bool = False

    @property
    def notice(self) -> str:
        """What is said about the values, and who decides in real work."""
        source = self.provenance
        template = _MANUAL if source.values == "manual" else _INVENTED
        first = template.format(manual=source.manual, edition=source.edition)
        return " ".join(part for part in (first, source.text.strip(), _REAL_WORK) if part)

    @cached_property
    def cautions(self) -> tuple[Hazard, ...]:
        """The hazards, the usual cautions first and in their usual order.

        Where the pack has none of a kind that every engine needs, the standard words stand in.
        """
        rank = {kind: place for place, kind in enumerate(USUAL_CAUTIONS)}
        own = {hazard.kind for hazard in self.hazards}
        standing_in = (
            Hazard.model_validate({"kind": kind, "title": title, "text": text})
            for kind, (title, text) in STANDARD.items()
            if kind not in own
        )
        return tuple(sorted((*self.hazards, *standing_in), key=lambda hazard: rank.get(hazard.kind, len(rank))))

    def step(self, id: str) -> Step:  # noqa: A002 - it is the entry's own key
        """Return the step of that identifier; PackError if there is none."""
        return self._find("steps", self.steps, id)

    def part(self, id: str) -> Part:  # noqa: A002 - it is the entry's own key
        """Return the part of that identifier; PackError if there is none."""
        return self._find("parts", self.parts, id)

    def fastener(self, id: str) -> Fastener:  # noqa: A002 - it is the entry's own key
        """Return the fastener of that identifier; PackError if there is none."""
        return self._find("fasteners", self.fasteners, id)

    def gear(self, id: str) -> Gear:  # noqa: A002 - it is the entry's own key
        """Return the gear of that identifier; PackError if there is none."""
        return self._find("gears", self.gears, id)

    def tool(self, id: str) -> Tool:  # noqa: A002 - it is the entry's own key
        """Return the tool of that identifier; PackError if there is none."""
        return self._find("tools", self.tools, id)

    def configuration(self, id: str) -> Configuration:  # noqa: A002 - it is the entry's own key
        """Return the configuration of that identifier; PackError if there is none."""
        return self._find("configurations", self.configurations, id)

    def _find(self, what: str, entries: Sequence[_E], wanted: str) -> _E:
        for entry in entries:
            if entry.id == wanted:
                return entry
        raise PackError(
            wanted,
            rule=f"The {what} of the pack are: {', '.join(entry.id for entry in entries)}.",
            remedy="Name one of them.",
            place=self.place,
        )

    @cached_property
    def train(self) -> gears.GearTrain:
        """The gear train, with its meshes and viewpoints."""
        return mechanics.train(self)

    @cached_property
    def firing(self) -> cycle.FiringOrder | None:
        """The firing order with its intervals; None for a V engine whose intervals nobody states."""
        return mechanics.firing(self.engine)

    @cached_property
    def lock_pin(self) -> lockpin.Setup:
        """The pinning model."""
        return mechanics.lock_pin(self)

    @cached_property
    def bar(self) -> gears.Barring:
        """The model of the barring tool."""
        return mechanics.bar(self.barring)

    def procedure(self, configuration: str = "") -> procedures.Procedure:
        """Return the precedence among the steps of a configuration, or with none of them.

        Raises
        ------
        PackError
            If there is no such configuration.
        """
        if configuration not in self._made:
            if configuration:
                self.configuration(configuration)
            self._made[configuration] = mechanics.procedure(self, configuration)
        return self._made[configuration]

    @cached_property
    def _made(self) -> dict[str, procedures.Procedure]:
        return {}
