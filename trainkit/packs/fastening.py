"""The fasteners of a pack, their tightening stages, and the tools."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import Field

from trainkit.packs.base import Id, OneLine, PackModel, PrintedPair, Sourced

_Millimetres = Annotated[float, Field(gt=0, le=5000)]

Meaning = Literal["may-move", "settled", "final"]
# Stages whose names say what they mean.
STAGE_MEANINGS: Mapping[str, Meaning] = MappingProxyType(
    {"finger-tight": "may-move", "snug": "may-move", "first": "may-move", "final": "final"}
)


class Stage(Sourced):
    """One stage of tightening.

    Parameters
    ----------
    name : str
        ``finger-tight``, ``snug``, ``first``, ``final``, or what the manual calls it ("stage 2"). A first stage is a
        state in which parts may still move, not a weaker final one.
    meaning : str, optional
        What the stage means for the parts: ``may-move`` (they can still be set), ``settled`` (nothing moves any more)
        or ``final``. The four names above say it themselves; any other name needs it.
    torque : pair of str, optional
        The torque in two units as it is printed, ``("31 N·m", "23 lbf·ft")``.
    master : str, optional
        Which of the two is the value and which its conversion: ``first`` or ``second``; without it the checker
        finds out what the digits allow.
    printed_to : pair of str, optional
        The step each column is printed to, ``("5 N·m", "1 lbf·ft")``, where trailing zeros hide a coarser one.
    angle : float, optional
        Further turn in degrees, for a stage by angle.
    """

    name: Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[^\x00-\x1f\x7f]+$")]
    torque: PrintedPair | None = None
    master: Literal["first", "second"] | None = None
    printed_to: PrintedPair | None = None
    angle: Annotated[float, Field(gt=0, le=720)] | None = None
    meaning: Meaning | None = None

    @property
    def means(self) -> Meaning | None:
        """What it means for the parts; None where neither its name nor the pack says so."""
        return self.meaning or STAGE_MEANINGS.get(self.name)


class Fastener(Sourced):
    """One kind of bolt, screw or nut, at one place.

    Parameters
    ----------
    id, name : str
        Identifier and what people call it.
    one, many : str
        What one of them and several of them are called: ``bolt`` and ``bolts``, ``Schraube`` and ``Schrauben``.
    thread, grade : str
        Designation (``M10``, ``M10x1.25``, ``3/8-16``) and property class or grade (``8.8``, ``grade 5``).
    count : int
        How many there are.
    stages : tuple of Stage
        In the order in which they follow each other.
    condition : str
        ``dry`` or ``oiled`` thread.
    pattern : str
        ``single``, ``circle`` (evenly spaced from 12 o'clock, clockwise), ``line`` (evenly spaced) or ``free``
        (``at`` gives every place).
    spread_mm : float, optional
        Diameter of the circle or length of the line, in millimetres.
    at : tuple of pairs of float, optional
        Places in millimetres, x to the right and y up, seen from the head.
    order : tuple of int
        The order in which the manual prints the bolts, by the numbers of their places; then this order counts.
    nut_factor : float, optional
        Nut factor K for the checker; without it 0.20 is assumed dry and 0.15 oiled (common practice, no source).
    temporary : bool
        Whether it holds a tool that comes off again before the work is done.
    prevailing : pair of str, optional
        Torque of a locking nut before it seats, in two units, which is added to the setting.
    single_use_part : str
        Identifier of the part that these bolts are, where they are used once and renewed.
    used_again : bool, optional
        Whether the manual lets them be used again.
    loads_train : bool, optional
        Whether its torque reaches the gear train: screws of a gear, the nut of a hub. A lock pin must never take it.
    """

    id: Id
    name: OneLine
    thread: Annotated[str, Field(min_length=1, max_length=40)]
    grade: Annotated[str, Field(min_length=1, max_length=40)]
    count: Annotated[int, Field(ge=1, le=200)] = 1
    stages: Annotated[tuple[Stage, ...], Field(min_length=1, max_length=12)]
    condition: Literal["dry", "oiled"] = "dry"
    pattern: Literal["single", "circle", "line", "free"] = "single"
    spread_mm: _Millimetres | None = None
    at: Annotated[tuple[tuple[float, float], ...], Field(max_length=200)] = ()
    nut_factor: Annotated[float, Field(ge=0.05, le=0.5)] | None = None
    temporary: bool = False
    prevailing: PrintedPair | None = None
    one: Annotated[str, Field(max_length=60)] = ""
    many: Annotated[str, Field(max_length=60)] = ""
    order: Annotated[tuple[int, ...], Field(max_length=200)] = ()
    single_use_part: Annotated[str, Field(max_length=40)] = ""
    used_again: bool | None = None
    loads_train: bool | None = None

    @property
    def assumed_nut_factor(self) -> float:
        """The nut factor that checks use: the declared one, else 0.20 dry and 0.15 oiled."""
        return self.nut_factor or {"dry": 0.20, "oiled": 0.15}[self.condition]

    @property
    def final(self) -> Stage:
        """The last stage."""
        return self.stages[-1]

    def stage(self, name: str) -> Stage | None:
        """Return the stage of that name, or None; ``final`` is the last one, whatever the manual calls it."""
        found = next((stage for stage in self.stages if stage.name == name), None)
        return self.final if found is None and name == "final" and self.final.means == "final" else found

    @property
    def noun(self) -> str:
        """What one of them is called; "fastener" where the pack does not say."""
        return self.one or "fastener"

    @property
    def nouns(self) -> str:
        """What several of them are called."""
        return self.many or (f"{self.one}s" if self.one else "fasteners")

    @property
    def once(self) -> bool:
        """Whether they are used once only, as the pack says."""
        return bool(self.single_use_part) or self.used_again is False

    @property
    def positions(self) -> tuple[tuple[float, float], ...]:
        """Places of the bolts in millimetres, x to the right and y up, seen from the head; empty if unknown."""
        if self.pattern == "single":
            return ((0.0, 0.0),)
        if self.pattern == "free":
            return self.at
        if self.spread_mm is None:
            return ()
        if self.pattern == "circle":
            radius = self.spread_mm / 2
            angles = [2 * math.pi * i / self.count for i in range(self.count)]
            return tuple((radius * math.sin(angle), radius * math.cos(angle)) for angle in angles)
        step = self.spread_mm / max(self.count - 1, 1)
        return tuple((i * step - self.spread_mm / 2, 0.0) for i in range(self.count))


class Tool(PackModel):
    """One tool.

    Parameters
    ----------
    id, name : str
        Identifier and what people call it.
    kind : str
        ``torque-wrench``, ``angle-gauge``, ``adapter``, ``bar``, ``pin``, ``spanner``, ``lifting`` or ``other``.
    unit : str
        Unit of a torque wrench.
    low, high, step : float, optional
        Usable range and settable step of a torque wrench, in ``unit``.
    length : float, optional
        From the drive to the middle of the grip of a torque wrench, in millimetres.
    adapter_length : float, optional
        From the wrench's drive to the middle of the adapter's jaw, in millimetres.
    """

    id: Id
    name: OneLine
    kind: Literal["torque-wrench", "angle-gauge", "adapter", "bar", "pin", "spanner", "lifting", "other"] = "other"
    unit: str = ""
    low: Annotated[float, Field(gt=0, le=100_000)] | None = None
    high: Annotated[float, Field(gt=0, le=100_000)] | None = None
    step: Annotated[float, Field(gt=0, le=10_000)] | None = None
    length: _Millimetres | None = None
    adapter_length: _Millimetres | None = None
