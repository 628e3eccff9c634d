"""A torque wrench with an adapter: lengths and angle are tried out, and the mechanics say what to set."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.errors import FastenerError, ItemError, ResponseError
from trainkit.fasteners import Wrench, true_torque, wrench_setting
from trainkit.fasteners.wrenches import effective_lever
from trainkit.quantities import THIN, Torque, plain, torque
from trainkit.widgets.hearing import Message, Reply
from trainkit.widgets.instruments.base import Instrument

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainkit.packs import Fastener, Pack, Tool


LENGTHS = {"length": (100.0, 500.0, 5.0), "adapter": (0.0, 150.0, 1.0), "angle": (0.0, 180.0, 5.0)}
"""What can be set: from, to at least, and by which step; millimetres and degrees. A longer tool has more room."""

_MOST_JOBS = 3


@dataclass(frozen=True, slots=True)
class Lever:
    """What is set: the wrench, the job, and the lengths.

    Parameters
    ----------
    wrench, job : str
        A torque wrench and a fastener of the pack.
    length, adapter : float
        From the middle of the grip to the drive, and from there to the middle of the bolt, in millimetres.
    angle : float
        Degrees from the line of the wrench, 0 to 180.
    """

    wrench: str
    job: str
    length: float
    adapter: float
    angle: float = 0.0


class WrenchTried(Instrument):
    """A torque wrench of a pack, with an adapter to be turned and lengthened.

    Parameters
    ----------
    pack : Pack
        The engine.
    wrench, adapter, fastener : str, optional
        Which tools, and which fastener's final torque is wanted; chosen so that they suit each other by default.

    Raises
    ------
    ItemError
        If the pack has no wrench and adapter with their lengths, or nothing that they suit.
    """

    kind = "wrench"
    heading = "Set a torque wrench with an adapter"

    def __init__(self, pack: Pack, wrench: str = "", adapter: str = "", fastener: str = "") -> None:
        super().__init__()
        self.pack = pack
        self.wrenches = [tool for tool in pack.tools if _is_wrench(tool) and wrench in ("", tool.id)]
        adapters = [tool for tool in pack.tools if tool.adapter_length and adapter in ("", tool.id)]
        self.jobs = [each for each in pack.fasteners if each.final.torque and fastener in ("", each.id)]
        start = next(
            (
                Lever(tool.id, job.id, float(tool.length or 0), float(end.adapter_length or 0))
                for end in adapters
                for job in self.jobs
                for tool in self.wrenches
                if _suits(tool, job, float(end.adapter_length or 0))
            ),
            None,
        )
        lengths = [float(tool.length or 0) for tool in self.wrenches]
        reaches = [float(tool.adapter_length or 0) for tool in adapters]
        self.ranges = {
            name: (low, max([high, *map(_roomy, {"length": lengths, "adapter": reaches}.get(name, ()))]), step)
            for name, (low, high, step) in LENGTHS.items()
        }
        if start is None:
            raise ItemError(
                pack.name,
                rule="This needs a torque wrench with its scale and length, an adapter with its length, and a torque "
                "that suits them.",
                remedy="Give them in the pack, under [[tools]] and [[fasteners]].",
            )
        self.start = self.lever = start
        self.jobs = self._offered(start)

    @property
    def lead(self) -> tuple[str, ...]:
        """What it shows, and how it is moved."""
        return (
            "Drag the grip and the end of the adapter, or use the sliders, and see what the wrench must be set to.",
            "The lengths count along the line of the wrench, from the middle of the grip to the middle of the bolt.",
        )

    def _offered(self, start: Lever) -> list[Fastener]:
        """Return a few jobs that some wrench suits, the one to begin with first."""
        some = (
            job
            for job in self.jobs
            if job.id != start.job and any(_suits(tool, job, start.adapter) for tool in self.wrenches)
        )
        return [self.pack.fastener(start.job), *islice(some, _MOST_JOBS - 1)]

    def _answer(self, message: Message) -> Reply:
        if message.get("type") == "again":
            self.lever = self.start
        elif message.get("type") == "put":
            self.lever = self._read(message)
        else:
            return super()._answer(message)
        return {"type": "put", "lever": self.settled()}

    def _read(self, message: Message) -> Lever:
        found = {name: message.get(name, getattr(self.lever, name)) for name in LENGTHS}
        for name, (low, high, _) in self.ranges.items():
            value = found[name]
            if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
                raise ResponseError(
                    value, rule=f"The {name} goes from {plain(low)} to {plain(high)}.", remedy="Move it back."
                )
        lever = replace(
            self.lever, length=float(found["length"]), adapter=float(found["adapter"]), angle=float(found["angle"])
        )
        tool, job = message.get("wrench", lever.wrench), message.get("job", lever.job)
        if tool not in [each.id for each in self.wrenches] or job not in [each.id for each in self.jobs]:
            raise ResponseError(
                tool, rule="Only what is shown can be chosen.", remedy="Choose one of the wrenches and bolts."
            )
        return replace(lever, wrench=str(tool), job=str(job))

    def settled(self) -> dict[str, Any]:
        """Return what follows from the lever as it stands, as plain JSON data."""
        lever, scale = self.lever, self._scale
        printed = _wanted(self.pack.fastener(lever.job), scale.unit)
        mark, limits = self._mark(printed[0], scale)
        picture = self._drawn(mark)
        return {
            "figure": picture.svg,
            "words": picture.text,
            "wrench": lever.wrench,
            "job": lever.job,
            **{name: getattr(lever, name) for name in LENGTHS},
            "set": "No right setting" if mark is None else f"Set {mark.shown(scale.step)}",
            "lines": self._lines(printed, mark, scale),
            "limits": limits,
        }

    @property
    def _scale(self) -> Wrench:
        return _scale(self.pack.tool(self.lever.wrench))

    def _drawn(self, mark: Torque | None) -> figures.Picture:
        scale = self._scale
        return figures.Picture(
            {
                "draw": "wrench",
                **{name: getattr(self.lever, name) for name in LENGTHS},
                "longest": [self.ranges["length"][1], self.ranges["adapter"][1]],
                "unit": scale.unit,
                "low": scale.low,
                "high": scale.high,
                **({} if mark is None else {"setting": mark.value}),
            }
        )

    def _mark(self, wanted: Torque, scale: Wrench) -> tuple[Torque | None, list[str]]:
        """Return the mark to set, or None; and what to say about the limits."""
        lever = self.lever
        try:
            mark = scale.settable(wrench_setting(wanted, lever.length, lever.adapter, lever.angle))
        except FastenerError as error:
            return None, [f"{error.rule} {error.remedy}"]
        return mark, _limits(lever)

    def _lines(self, printed: tuple[Torque, ...], mark: Torque | None, scale: Wrench) -> list[str]:
        """Return the working with its numbers, in the unit of the wrench and in the other one that is printed."""
        lever = self.lever
        try:
            share = effective_lever(lever.length, lever.adapter, lever.angle)
        except FastenerError:
            return []
        whole = _short(lever.length * share)
        along = f"{plain(lever.adapter)} × cos {plain(lever.angle)}°" if lever.angle else plain(lever.adapter)
        lines = [f"Lever: {plain(lever.length)} + {along} = {whole}{THIN}mm."]
        for wanted in printed:
            exact = wrench_setting(wanted, lever.length, lever.adapter, lever.angle)
            lines.append(
                f"Setting: {wanted} × {plain(lever.length)} ÷ {whole} = {_short(exact.value)}{THIN}{exact.unit}."
            )
        if mark is not None:
            lines.append(f"The nearest mark of the scale is {mark.shown(scale.step)}.")
        got = true_torque(printed[0], lever.length, lever.adapter, lever.angle)
        if share != 1:
            off = f"{plain(float(f'{abs(share - 1) * 100:.3g}'))}{THIN}% too {'much' if share > 1 else 'little'}"
            lines.append(
                f"Set to {printed[0]}, as if there were no adapter, the bolt would get "
                f"{_short(got.value)}{THIN}{got.unit}: {off}."
            )
        return lines

    def _more(self) -> dict[str, Any]:
        return {
            "wrenches": [
                {"id": tool.id, "text": f"{tool.name}, {plain(float(tool.length or 0))}{THIN}mm", "length": tool.length}
                for tool in self.wrenches
            ],
            "jobs": [{"id": job.id, "text": _job(job)} for job in self.jobs],
            "sliders": [
                {"id": name, "low": low, "high": high, "step": step, **_SLIDERS[name]}
                for name, (low, high, step) in self.ranges.items()
            ],
            "start": asdict(self.start),
            "lever": self.settled(),
        }

    def _figure(self) -> figures.Picture:
        scale = self._scale
        return self._drawn(self._mark(_wanted(self.pack.fastener(self.lever.job), scale.unit)[0], scale)[0])

    def _facts(self) -> Sequence[tuple[str, str]]:
        settled = self.settled()
        return [
            ("Wanted", _job(self.pack.fastener(self.lever.job))),
            ("Wrench", self.pack.tool(self.lever.wrench).name),
            *(("Working", line) for line in (*settled["lines"], *settled["limits"])),
        ]


_SLIDERS = {
    "length": {"name": "L, wrench: middle of grip to drive", "unit": "mm"},
    "adapter": {"name": "A, adapter: drive to middle of bolt", "unit": "mm"},
    "angle": {"name": "Angle from the line of the wrench", "unit": "°"},
}


def _is_wrench(tool: Tool) -> bool:
    return bool(tool.kind == "torque-wrench" and tool.length and tool.unit and tool.high and tool.step)


def _scale(tool: Tool) -> Wrench:
    return Wrench(tool.unit, tool.low or 0.0, tool.high or 0.0, tool.step or 0.0)


def _suits(tool: Tool, job: Fastener, adapter: float) -> bool:
    """Tell whether a wrench can be set for a job, with the adapter straight on and without it."""
    scale, length = _scale(tool), float(tool.length or 0)
    wanted = _wanted(job, tool.unit)[0]
    settings = (wanted, wrench_setting(wanted, length, adapter))
    return adapter < length and all(scale.suits(setting) == "suits" for setting in settings)


def _wanted(job: Fastener, unit: str) -> tuple[Torque, ...]:
    """Return the final torque in the unit of the wrench, as it is printed if it is, and then in the other unit."""
    printed = [torque(column) for column in job.final.torque or ()]
    same = next((each for each in printed if each.unit == unit), printed[0].to(unit))
    return (same, next(each for each in printed if each.unit != unit))


def _job(job: Fastener) -> str:
    first, second = job.final.torque or ("", "")
    return f"{job.name}: {first} ({second})".replace(" N", f"{THIN}N").replace(" lbf", f"{THIN}lbf")


def _roomy(length: float) -> float:
    return math.ceil(length / 50) * 50.0


def _short(value: float) -> str:
    """Return a number with four digits that count."""
    return plain(float(f"{value:.4g}"))


def _limits(lever: Lever) -> list[str]:
    if lever.adapter == 0 or lever.angle == 90:
        return ["The adapter adds nothing along the wrench: set the wanted torque."]
    if lever.angle > 90:
        return ["The adapter is folded back: the lever is shorter, so more than the wanted torque is set."]
    return ["The adapter reaches forward: the lever is longer, so less than the wanted torque is set."]
