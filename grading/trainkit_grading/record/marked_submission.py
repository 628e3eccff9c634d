"""A marked submission as a value: what was shown, what was answered, what it earned, and what it comes from."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from trainkit.items.kinds import KINDS, Item, Response
from trainkit.items.marking import Mark
from trainkit_grading.ledger.entries import Provenance
from trainkit_grading.ledger.flags import Flag
from trainkit_grading.ledger.kinds import OnPaper

# Kinds of items that a person gives points for.
BY_PERSON = tuple(name for name, kind in KINDS.items() if kind.by_person)


@dataclass(frozen=True, slots=True)
class MarkedItem:
    """One item: what was shown, what was given (the latest answer), what it earned, and the template it comes from.

    ``rubric`` is what a person marks a text by; it comes from the key, and no apprentice sees it.

    ``critical`` says whether the blueprint counts it as critical: only there does an unsafe answer bar a pass.
    Elsewhere it is told in the feedback and costs its points.

    ``could`` names the misconceptions that an answer to the item could have shown: how often one showed says little
    without how often it could have. It is left empty for a scenario, where working it out takes a search.
    """

    id: str
    item: Item
    response: Response | None
    at: str
    mark: Mark
    critical: bool = False
    template: str = ""
    rubric: str = ""
    could: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MarkedSubmission:
    """One submission, marked.

    Parameters
    ----------
    module, apprentice : str
        Who is marked, as the course side has it.
    attempt : int
        Which attempt counts.
    form : str
        Code of the form that counts.
    items : tuple of MarkedItem
        One for each item of the form, in its order.
    flags : tuple of Flag
        What a person should look at.
    journal : str
        SHA-256 of the journal that was marked.
    arrived : datetime or None
        When it arrived, UTC without a zone.
    provenance : Provenance
        Digests of what the marks come from.
    files : tuple of str
        The numbers that the journal's lines say it has; an honest one has one.
    paper : OnPaper or None
        Where the answers came on paper, who typed them and what the passes were.
    spoken : tuple of str
        Critical items that are worded questions, where the form is one for which spoken checks are held.
    """

    module: str
    apprentice: str
    attempt: int
    form: str
    items: tuple[MarkedItem, ...]
    flags: tuple[Flag, ...] = ()
    journal: str = ""
    arrived: datetime | None = None
    provenance: Provenance = field(default_factory=Provenance)
    files: tuple[str, ...] = ()
    paper: OnPaper | None = None
    spoken: tuple[str, ...] = ()

    @property
    def medium(self) -> str:
        """``"paper"`` or ``"screen"``."""
        return "screen" if self.paper is None else "paper"

    @property
    def counts(self) -> bool:
        """Whether the course's policy for attempts lets it count."""
        return not any(flag.kind == "attempt" for flag in self.flags)

    @property
    def points(self) -> float:
        """Sum of the points earned."""
        return round(sum(entry.mark.points for entry in self.items), 2)

    @property
    def out_of(self) -> float:
        """Sum of the points possible."""
        return round(sum(entry.mark.out_of for entry in self.items), 2)

    @property
    def critical(self) -> tuple[str, ...]:
        """Identifiers of the critical items with an unsafe answer."""
        return tuple(entry.id for entry in self.items if entry.critical and entry.mark.critical)
