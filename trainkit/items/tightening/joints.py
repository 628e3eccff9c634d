"""Joints out of a pack: their bolts and stages as the mechanics know them, and the words for them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from trainkit.fasteners import Thread
from trainkit.items.examples import EXAMPLE
from trainkit.items.kinds import Given
from trainkit.quantities import THIN, Torque, torque
from trainkit.tightening import Joint, JointState, Pattern, Schedule, Stage

if TYPE_CHECKING:
    from trainkit.packs import Fastener, Pack
    from trainkit.packs import Stage as PackStage


# The stages of a fastener as plain data: name, torque in the first column, angle.
Stages = tuple[tuple[str, str | None, float | None], ...]

# Patterns that were worked out: which orders are best takes a search over all sets of bolts.
_PATTERNS: dict[tuple[object, ...], Pattern | None] = {}
_MOST_PATTERNS = 256

_NOUN = re.compile(r"\b(bolt|screw|nut|plug|stud)s?\b", re.IGNORECASE)
# What comes after one of these words says where the thing belongs, not what it is.
_HEAD = re.compile(r"\s(?:of|for|under|on|in|at|to)\s")


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
        return _noun(self.fastener.name) or "fastener"

    @property
    def nouns(self) -> str:
        """What more than one of them are called."""
        return f"{self.noun}s"

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
            return f"{self.noun.capitalize()} {last}"
        return f"{self.nouns.capitalize()} {', '.join(most)} and {last}"

    def stage_words(self, name: str) -> str:
        """Return a stage with its value: "the first stage, 8 N·m (71 lbf·in)"."""
        stage = self.fastener.stage(name)
        return name if stage is None or name in ("finger-tight", "snug") else f"the {name} stage, {_value(stage)}"

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
    """Return the stages of a fastener as plain data."""
    return tuple((stage.name, stage.torque[0] if stage.torque else None, stage.angle) for stage in fastener.stages)


@lru_cache(maxsize=1024)
def schedule(stages: Stages) -> Schedule:
    """Return stages as the mechanics know them."""
    return Schedule(Stage(name, torque_of(column) if column else None, angle) for name, column, angle in stages)


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
    """Tell whether a step that tightens the fastener fits it new: a single-use part of the same noun."""
    noun = _noun(fastener.name)
    once = {part.id for part in pack.parts if part.single_use and noun and _noun(part.name) == noun}
    return bool(once) and any(not once.isdisjoint(step.fits) for step in pack.steps if step.fastener == fastener.id)


@lru_cache(maxsize=4096)
def _noun(name: str) -> str:
    """Return what a fastener or part is called, by the head of its name, or nothing.

    Examples
    --------
    >>> _noun("union nuts of the injection pipes"), _noun("lock plate under the clamping screws")
    ('nut', '')
    """
    found = _NOUN.search(_HEAD.split(name, maxsplit=1)[0])
    return found[1].lower() if found else ""
