"""Values inside entries of the ledger, and how fields are kept and read."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple


@dataclass(frozen=True, slots=True)
class Kept:
    """How a field is kept: under which name, how it is read, and whether its default is written, too."""

    name: str = ""
    read: Callable[[Any], Any] | None = None
    always: bool = True


def kept(name: str = "", read: Callable[[Any], Any] | None = None, *, always: bool = True) -> Mapping[str, Kept]:
    """Return how a field is kept, to stand beside it."""
    return {"kept": Kept(name, read, always)}


@dataclass(frozen=True, slots=True)
class OnPaper:
    """How answers came on paper: who typed the two passes, their digests, what was settled, why it was typed again."""

    typed: tuple[str, ...] = ()
    passes: tuple[str, ...] = ()
    settled: tuple[str, ...] = ()
    why: str = ""


class ObservedStep(NamedTuple):
    """One step as it was observed; ``outcome`` is one of :data:`~trainkit_grading.signoff.checklists.OUTCOMES`."""

    id: str
    text: str
    critical: bool
    outcome: str


@dataclass(frozen=True, slots=True)
class SampleLine:
    """One mark of a sample for a second marker.

    Parameters
    ----------
    line : int
        Its number on the sheet, from 1.
    module, item, kind : str
        What was asked.
    apprentice : str
        Whose it is; in the ledger the random identifier stands.
    attempt : int
        Of which attempt.
    form, answer : str
        Code of the form, and digest of the answer.
    marked, entry : int
        Numbers of the entry with the answer, and of the one that gives the points.
    points, out_of : float
        What the first marker gave, and the most points.
    observed : int
        Number of the observation that the points follow from; 0 for none.
    """

    line: int
    module: str
    item: str
    kind: str
    apprentice: str
    attempt: int
    form: str
    answer: str
    marked: int
    entry: int
    points: float
    out_of: float
    observed: int = 0


@dataclass(frozen=True, slots=True)
class RosterPlace:
    """Where somebody is, by the roster: cohort, days of coming and leaving (ISO), extra time in per cent."""

    cohort: str = ""
    joined: str = ""
    left: str = ""
    extra_percent: float = 0.0


def read_on_paper(said: Mapping[str, Any]) -> OnPaper:
    """Read how answers came on paper."""
    lists = {name: tuple(said[name]) for name in ("typed", "passes", "settled") if name in said}
    return OnPaper(**lists, why=said.get("why", ""))


def read_could(said: Mapping[str, Sequence[str]]) -> dict[str, tuple[str, ...]]:
    """Read the misconceptions that answers could have shown, by item."""
    return {item: tuple(codes) for item, codes in said.items()}


def read_steps(said: Sequence[Sequence[Any]]) -> tuple[ObservedStep, ...]:
    """Read the steps of an observation."""
    return tuple(ObservedStep(*step) for step in said)


def read_lines(said: Sequence[Mapping[str, Any]]) -> tuple[SampleLine, ...]:
    """Read the lines of a sample."""
    return tuple(SampleLine(**line) for line in said)


def read_places(said: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Read entries and places of notes."""
    return tuple((int(entry), int(place)) for entry, place in said)
