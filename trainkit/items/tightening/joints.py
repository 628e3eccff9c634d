"""Joints out of a pack: their bolts and stages as the mechanics know them, and the words for them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from trainkit.fasteners import Thread
from trainkit.items.examples import EXAMPLE
from trainkit.items.kinds import Given
from trainkit.packs.fastening import STAGE_MEANINGS, Meaning
from trainkit.quantities import THIN, Torque, torque
from trainkit.sentences import opening
from trainkit.tightening import Joint, JointState, Pattern, Schedule, Stage

if TYPE_CHECKING:
    from trainkit.packs import Fastener, Pack
    from trainkit.packs import Stage as PackStage


# The stages of a fastener as plain data: name, torque in the first column, angle, meaning.
Stages = tuple[tuple[str, str | None, float | None, Meaning | None], ...]
# Stages that are reached without a wrench.
BY_HAND = ("finger-tight", "snug")

# Patterns that were worked out: which orders are best takes a search over all sets of bolts.
_PATTERNS: dict[tuple[object, ...], Pattern | None] = {}
_MOST_PATTERNS = 256


@dataclass(frozen=True, slots=True)
class Bolts:
    """The words for the bolts of one joint.

    Parameters
    ----------
    fastener : Fastener
        As it stands in the pack.
    """

    fastener: Fastener

    @property
    def noun(self) -> str:
        """What one of them is called."""
        return self.fastener.noun

    @property
    def nouns(self) -> str:
        """What more than one of them are called."""
        return self.fastener.nouns

    @property
    def count(self) -> int:
        """How many there are."""
        return self.fastener.count

    @property
    def all(self) -> str:
        """All of them: "the nut", "both bolts", "all 6 screws"."""
        if self.count < 3:
            return f"the {self.noun}" if self.count == 1 else f"both {self.nouns}"
        return f"all {self.count} {self.nouns}"

    @property
    def every(self) -> str:
        """The start of a sentence about each of them."""
        return f"The {self.noun}" if self.count == 1 else f"Every {self.noun}"

    def some(self, bolts: Iterable[str]) -> str:
        """Return the start of a sentence about some of them: "Screws 1, 3 and 4"."""
        *most, last = bolts
        if not most:
            return f"{opening(self.noun)} {last}"
        return f"{opening(self.nouns)} {', '.join(most)} and {last}"

    def stage_words(self, name: str) -> str:
        """Return a stage with its value: "the first stage, 8 N·m (71 lbf·in)"."""
        stage = self.fastener.stage(name)
        if stage is None or name in BY_HAND:
            return name
        return f"{self.stage_name(name)}, {_value(stage)}"

    def stage_name(self, name: str) -> str:
        """Return a stage as it is called: "the first stage", or in quotation marks what the manual calls it."""
        stage = self.fastener.stage(name)
        return f"the {name} stage" if stage is None or stage.name in STAGE_MEANINGS else f"“{stage.name}”"

    @property
    def title(self) -> Given:
        """What joint it is, and of how many."""
        return Given(label="Joint", value=self.fastener.name + (f" ({self.count})" if self.count > 1 else ""))

    @property
    def stages(self) -> Given:
        """Its stages with their values."""
        shown = (
            f"{stage.name}, {_value(stage)}" if stage.torque or stage.angle else stage.name
            for stage in self.fastener.stages
        )
        return Given(label="Stages", value="; ".join(shown))


def example_title(words: Bolts) -> Given:
    """Return what joint it is, and of how many, where it is an example."""
    return Given(label="Joint", value=f"{words.title.value}, {EXAMPLE}")


def stages_of(fastener: Fastener) -> Stages:
    """Return the stages of a fastener as plain data; the last is ``final``, whatever the manual calls it."""
    return tuple(
        (
            "final" if stage is fastener.final and stage.means == "final" else stage.name,
            stage.torque[0] if stage.torque else None,
            stage.angle,
            stage.means,
        )
        for stage in fastener.stages
    )


@lru_cache(maxsize=1024)
def schedule(stages: Stages) -> Schedule:
    """Return stages as the mechanics know them."""
    return Schedule(
        Stage(name, torque_of(column) if column else None, angle, meaning) for name, column, angle, meaning in stages
    )


def joint_of(pack: Pack, fastener: Fastener) -> Joint:
    """Return a fastener of a pack as a joint, its bolts named "1", "2", "3"."""
    return _joint(fastener.count, stages_of(fastener), used_once(pack, fastener))


@lru_cache(maxsize=1024)
def _joint(count: int, stages: Stages, single_use: bool) -> Joint:
    return Joint([str(number) for number in range(1, count + 1)], schedule(stages), single_use=single_use)


def at_stage(joint: Joint, place: int) -> JointState:
    """Return a joint with every bolt at one stage, counted from 1 for the first that is used; 0 is loose."""
    return replace(joint.start(), reached=(place,) * len(joint.bolts))


def pattern_of(fastener: Fastener) -> Pattern | None:
    """Return where the bolts sit, if the pack states it and one order is better than another; else None."""
    if fastener.pattern == "single" or fastener.count < 3:
        return None
    key = fastener.pattern, fastener.count, fastener.spread_mm, fastener.at
    if key not in _PATTERNS:
        if len(_PATTERNS) >= _MOST_PATTERNS:
            _PATTERNS.clear()
        pattern = Pattern(fastener.positions) if len(fastener.positions) == fastener.count else None
        _PATTERNS[key] = pattern if pattern is not None and pattern.has_question else None
    return _PATTERNS[key]


def printed(column: str) -> str:
    """Return a printed torque as people read it, with a thin space before its unit."""
    return column.replace(" ", THIN, 1)


@lru_cache(maxsize=1024)
def thread_of(designation: str) -> Thread:
    """Return a thread by its designation."""
    return Thread(designation)


@lru_cache(maxsize=4096)
def torque_of(column: str) -> Torque:
    """Return a printed torque."""
    return torque(column)


def _value(stage: PackStage) -> str:
    if stage.torque is not None:
        return f"{printed(stage.torque[0])} ({printed(stage.torque[1])})"
    return f"{stage.angle:g}° further" if stage.angle is not None else "by hand"


def used_once(pack: Pack, fastener: Fastener) -> bool:
    """Tell whether the bolts of a fastener are used once only: the pack says so, and they are renewed in the job."""
    if not fastener.single_use_part:
        return fastener.once
    return any(fastener.single_use_part in step.fits for step in pack.steps if step.fastener == fastener.id)
