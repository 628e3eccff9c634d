"""When pins are in: from the steps that put them in and take them out to what may not happen in between."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from trainkit.packs.schema import Document
    from trainkit.packs.work import Step
    from trainkit.procedures import Procedure

# Where a step lies that must not happen while a pin is in. ``inside``: the order puts it there. ``unsaid``: nothing
# says on which side it lies.
Side = Literal["before", "after", "inside", "unsaid", "apart"]


@dataclass(frozen=True, slots=True)
class PinnedSpan:
    """A pin holds the gears from one step to another.

    Parameters
    ----------
    put : str
        The step from which on it holds. A dowel that goes in at the bench holds once its part is fitted.
    out : str
        The step that takes it out; empty where none does.
    entered : str
        The step that puts it in.
    """

    put: str
    out: str
    entered: str


@dataclass(frozen=True, slots=True)
class Pins:
    """The pins of a configuration and what must be kept away from them, by identifiers of steps.

    Parameters
    ----------
    lock_pin : str
        The tool that is the lock pin; empty if there is none.
    tools : tuple of str
        All pins that steps put in or take out.
    chains : mapping of str to tuple of Interval or None
        For each pin when it is in; None where the order of its steps is not settled or does not alternate.
    loading, turning, tried, setting : tuple of str
        Steps that load the gear train, turn the engine, try the lock pin without checking anything, and set the
        position.
    """

    lock_pin: str
    tools: tuple[str, ...]
    chains: Mapping[str, tuple[PinnedSpan, ...] | None]
    loading: tuple[str, ...]
    turning: tuple[str, ...]
    tried: tuple[str, ...]
    setting: tuple[str, ...]

    @classmethod
    def of(cls, pack: Document, steps: Sequence[Step], base: Procedure) -> Pins:
        """Find them among the steps of a configuration."""
        kinds = [tool.id for tool in pack.tools if tool.kind == "pin"]
        lock_pin = kinds[0] if kinds else ""
        moved: dict[str, list[Step]] = {}
        for step in steps:
            if step.pin in ("in", "out"):
                moved.setdefault(step.tool if step.tool in kinds else lock_pin, []).append(step)
        loads = {each.id: each for each in getattr(pack, "fasteners", ()) if each.loads_train}
        return cls(
            lock_pin,
            tuple(moved),
            {tool: _chained(several, steps, base) for tool, several in moved.items()},
            tuple(step.id for step in steps if _loads(step, loads)),
            tuple(step.id for step in steps if step.turns_engine),
            tuple(step.id for step in steps if step.pin == "tried" and "check" not in step.does),
            tuple(step.id for step in steps if "set" in step.does and step.at_engine),
        )

    def intervals(self, tool: str) -> tuple[PinnedSpan, ...]:
        """Return when a pin is in, as far as that is settled."""
        return self.chains.get(tool) or ()

    def side(self, step: str, interval: PinnedSpan, base: Procedure) -> Side:
        """Tell on which side of an interval a step lies that must not happen in it."""
        put, out = interval.put, interval.out
        if step in (put, out):
            return "apart"  # turning until the pin seats, and the like: one and the same act
        if base.comes_before(step, put):
            return "before"
        if out and base.comes_before(out, step):
            return "after"
        early, late = bool(out) and base.comes_before(step, out), base.comes_before(put, step)
        if late and (early or not out):
            return "inside"
        return "after" if late else "before" if early else "unsaid"


def _loads(step: Step, fasteners: Mapping[str, object]) -> bool:
    if step.loosens in fasteners:
        return True
    fastener = fasteners.get(step.fastener)
    stage = getattr(fastener, "stage", lambda _: None)(step.stage)
    return stage is not None and (stage.means == "final" or stage.angle is not None)


def _chained(several: Sequence[Step], steps: Sequence[Step], base: Procedure) -> tuple[PinnedSpan, ...] | None:
    """Return in and out in turn; None where they do not follow each other so."""
    ordered = sorted(several, key=lambda step: sum(base.comes_before(other.id, step.id) for other in several))
    single = sorted(step.pin or "" for step in several) == ["in", "out"]
    if single and not base.comes_before(ordered[1].id, ordered[0].id):
        ordered.sort(key=lambda step: step.pin == "out")
        if base.comes_before(ordered[1].id, ordered[0].id):
            return None
    elif any(not base.comes_before(one.id, other.id) for one, other in pairwise(ordered)):
        return None
    if [step.pin for step in ordered] != ["in", "out"] * (len(ordered) // 2) + ["in"] * (len(ordered) % 2):
        return None
    outs = [*(step.id for step in ordered[1::2]), ""]
    return tuple(PinnedSpan(_held(step, steps), out, step.id) for step, out in zip(ordered[::2], outs, strict=False))


def _held(put: Step, steps: Sequence[Step]) -> str:
    """Return from which step on a pin holds the gears."""
    fitted = [step.id for step in steps if step.at_engine and set(step.fits) & set(put.handles)]
    return fitted[0] if fitted and not put.at_engine else put.id


@dataclass(frozen=True, slots=True)
class Bars:
    """The bar at the moment when a pin goes in: what put it on, and what takes it off while the pin is in."""

    on: tuple[str, ...]
    off: tuple[str, ...]


def bars(pack: Document, steps: Sequence[Step], interval: PinnedSpan, base: Procedure) -> Bars:
    """Return who puts the bar on before a pin goes in, and who takes it off before the pin comes out."""
    kinds = {tool.id for tool in pack.tools if tool.kind == "bar"}
    on = [step.id for step in steps if kinds & set(step.puts_on) and base.comes_before(step.id, interval.put)]
    taken = [step.id for step in steps if kinds & set(step.takes_away)]
    before = [step for step in taken if base.comes_before(step, interval.put)]
    # One that comes off before the pin goes in is on no more, unless it is put on again in between.
    still = [each for each in on if not any(base.comes_before(each, off) for off in before)]
    off = [
        step for step in taken if step not in before and not (interval.out and base.comes_before(interval.out, step))
    ]
    return Bars(tuple(still), tuple(off if still else ()))
