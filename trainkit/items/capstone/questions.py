"""What the families of questions share: the question as a value, and what every answer may say against a caution."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainkit.items.kinds import Given

if TYPE_CHECKING:
    from trainkit.packs import Pack


# So many criteria has every question, each worth one point, so that no family is worth more than another.
CRITERIA = 4


@dataclass(frozen=True, slots=True)
class Looked:
    """What one criterion looks for, and what a full answer names of it."""

    looks_for: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """One question for an answer in the apprentice's own words.

    Parameters
    ----------
    prompt : str
        What is asked.
    given : tuple of Given
        The data table.
    looked : tuple of Looked
        The criteria, :data:`CRITERIA` of them.
    dangerous : tuple of str
        Statements to be flagged.
    working : tuple of str
        How facts and figures come about.
    figure : dict, optional
        The drawing.
    """

    prompt: str
    given: tuple[Given, ...]
    looked: tuple[Looked, ...]
    dangerous: tuple[str, ...]
    working: tuple[str, ...]
    figure: dict[str, Any] | None = None


def against_cautions(pack: Pack) -> str:
    """Return the line that has anything flagged that speaks against a caution of the engine.

    Examples
    --------
    >>> from trainkit import packs
    >>> against_cautions(packs.load("dunlin")).startswith("Anything against a caution of this engine: Starting system;")
    True
    """
    titles = "; ".join(hazard.title.rstrip(".") for hazard in pack.cautions)
    return f"Anything against a caution of this engine: {titles}."
