"""The kinds of entries: one frozen class each, with what that kind says beside what every entry says.

How the fields are kept in the ledger's column of JSON is said in :mod:`trainkit_grading.ledger.details`; a field is
kept under its own name unless :func:`kept` gives it another.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar, Self

from trainkit_grading.ledger.entries import Entry, outcome_digest
from trainkit_grading.ledger.values import (
    Kept,
    ObservedStep,
    OnPaper,
    RosterPlace,
    SampleLine,
    kept,
    read_could,
    read_lines,
    read_on_paper,
    read_places,
    read_steps,
)

__all__ = [
    "KINDS",
    "Appealed",
    "Change",
    "Changed",
    "Decided",
    "Doubted",
    "FeedbackWritten",
    "Flagged",
    "Forgotten",
    "Held",
    "Kept",
    "Marked",
    "Moved",
    "Observed",
    "ObservedStep",
    "OnPaper",
    "RosterPlace",
    "SampleLine",
    "SecondDrawn",
    "SecondJudged",
    "SessionHeld",
    "Voided",
    "item_of",
    "kept",
]


@dataclass(frozen=True, kw_only=True)
class Marked(Entry):
    """Answers were marked.

    Parameters
    ----------
    critical : tuple of str
        Items where an unsafe answer bars a pass.
    spoken : tuple of str
        Those of them that are worded questions of a form for which spoken checks are held (:mod:`.spoken`).
    counts : bool
        Whether the course's policy for attempts lets it count.
    files : tuple of str
        The numbers that the journal's lines say it has.
    could : mapping of str to tuple of str
        The misconceptions that an answer could have shown, by item.
    paper : OnPaper or None
        How the answers came on paper; None where they came on screen.
    receipts : str
        Where the chain of receipts of the course folder began and ended when this was marked; empty without one.
    """

    kind: ClassVar[str] = "marked"

    critical: tuple[str, ...] = dataclasses.field(default=(), metadata=kept(read=tuple))
    counts: bool = True
    files: tuple[str, ...] = dataclasses.field(default=(), metadata=kept(read=tuple))
    could: Mapping[str, tuple[str, ...]] = dataclasses.field(default_factory=dict, metadata=kept(read=read_could))
    paper: OnPaper | None = dataclasses.field(default=None, metadata=kept(read=read_on_paper, always=False))
    spoken: tuple[str, ...] = dataclasses.field(default=(), metadata=kept(read=tuple, always=False))
    receipts: str = dataclasses.field(default="", metadata=kept(always=False))

    @property
    def medium(self) -> str:
        """``"paper"`` or ``"screen"``."""
        return "screen" if self.paper is None else "paper"

    def beside(self) -> dict[str, str]:
        """Return on which medium the answers came; where nothing is said of it, they came on screen."""
        return {} if self.paper is None else {"medium": self.medium}

    @cached_property
    def outcome(self) -> str:
        """Digest of the marks without their wording: two entries with the same one gave the same marks."""
        return outcome_digest(self.marks, self.critical)


@dataclass(frozen=True, kw_only=True)
class Change(Entry):
    """A value of the gradebook is another one now.

    Parameters
    ----------
    item : str
        Of which item; empty for all.
    field : str
        What: ``"points"``, ``"extra credit"``, ``"comment"``, ``"extension"`` or ``"submission"``.
    before, after : float or str or None
        From what to what; of a comment the digests, of an extension the seconds.
    answer : str
        Digest of the answer that the item had.
    entry : int or None
        Number of the entry that says so, where it is an observation or a decision.
    critical : bool or None
        Whether what was observed was unsafe; None where nothing was.
    by_dates : bool
        Whether no person set it, but the dates of the course.
    """

    item: str = ""
    field: str = ""
    before: float | str | None = dataclasses.field(default=None, metadata=kept("from"))
    after: float | str | None = dataclasses.field(default=None, metadata=kept("to"))
    answer: str = ""
    entry: int | None = dataclasses.field(default=None, metadata=kept(always=False))
    critical: bool | None = dataclasses.field(default=None, metadata=kept(always=False))
    by_dates: bool = dataclasses.field(default=False, metadata=kept(always=False))

    @classmethod
    def of(
        cls, marked: Marked, item: str, field: str, before: float | str | None, after: float | str | None, **said: Any
    ) -> Self:
        """Return the entry that records what was changed of an item; of all of them where it is empty."""
        row = next((row for row in marked.marks if row.item == item), None)
        return cls(
            marked.apprentice,
            marked.module,
            marked.attempt,
            marked.form,
            marked.journal,
            item=item,
            field=field,
            before=before,
            after=after,
            answer=row.answer if row is not None else "",
            **said,
        )


class Changed(Change):
    """A person changed something in the gradebook, or the dates of the course did."""

    kind: ClassVar[str] = "changed"


class Voided(Change):
    """A person's points were taken back because the answer they were given for is another now."""

    kind: ClassVar[str] = "voided"


@dataclass(frozen=True, kw_only=True)
class SessionHeld(Entry):
    """Who watched an assessment, where and when; people are named by their random identifiers."""

    kind: ClassVar[str] = "session"

    invigilator: str = ""
    room: str = ""
    begin: str = ""
    end: str = ""
    aids: str = ""
    apprentices: tuple[str, ...] = dataclasses.field(default=(), metadata=kept(read=tuple))

    def beside(self) -> dict[str, str]:
        """Return the module, which a session says twice."""
        return {"module": self.module}


class Flagged(Entry):
    """What is to be looked at shows only beside other people's answers; its notes say what."""

    kind: ClassVar[str] = "flagged"


@dataclass(frozen=True, kw_only=True)
class Doubted(Entry):
    """It is in doubt who handed something in: it is kept, and counts once a person says so; its notes say why.

    Parameters
    ----------
    doubt : str
        Why, in few words (:data:`trainkit_grading.intake.owners.Doubt`).
    """

    kind: ClassVar[str] = "doubted"

    doubt: str = ""


@dataclass(frozen=True, kw_only=True)
class FeedbackWritten(Entry):
    """Feedback on an attempt was written; what arrives of this attempt later does not count by itself.

    Parameters
    ----------
    when : str
        When, ISO time in UTC without a zone, by the clock that hand-ins are dated with.
    marked : int
        Number of the entry that the page tells of.
    answers : bool
        Whether the page tells the right answers; then this form is spent.
    """

    kind: ClassVar[str] = "feedback"

    when: str = ""
    marked: int = 0
    answers: bool = False


@dataclass(frozen=True, kw_only=True)
class Held(Entry):
    """A hand-in is kept beside the marks that stand until a person decides about it; its notes say why.

    Parameters
    ----------
    over : int
        Number of the entry with the marks that stand.
    earns : float
        Points that it would earn.
    """

    kind: ClassVar[str] = "held"

    over: int = 0
    earns: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Moved(Entry):
    """Somebody is in another cohort, has come or left, or has other extra time than before."""

    kind: ClassVar[str] = "moved"

    cohort: str = ""
    joined: str = ""
    left: str = ""
    extra_percent: float = 0.0

    @property
    def place(self) -> RosterPlace:
        """Where they are from now on."""
        return RosterPlace(self.cohort, self.joined, self.left, self.extra_percent)


@dataclass(frozen=True, kw_only=True)
class Observed(Entry):
    """Practical work was watched and signed for.

    Parameters
    ----------
    checklist, title, code : str
        What was to be done: its name, its title, the code of the sheet.
    pack, item : str
        Out of which pack, or of which item.
    steps : tuple of ObservedStep
        What became of each step.
    observer, trainer, engine, medium : str
        Who watched, who trained, on which engine, and on paper or a tablet.
    when : str
        When it was observed, ISO in UTC, to the minute.
    again, counts : bool
        Whether single steps were shown again; whether it counts though a newer one is on record.
    """

    kind: ClassVar[str] = "observed"

    checklist: str = ""
    title: str = ""
    code: str = ""
    pack: str = ""
    item: str = ""
    steps: tuple[ObservedStep, ...] = dataclasses.field(default=(), metadata=kept(read=read_steps))
    observer: str = ""
    trainer: str = ""
    engine: str = ""
    when: str = dataclasses.field(default="", metadata=kept("at"))
    medium: str = ""
    again: bool = False
    counts: bool = False


@dataclass(frozen=True, kw_only=True)
class SecondDrawn(Entry):
    """A sample was drawn for a second marker, and by what it can be drawn again."""

    kind: ClassVar[str] = "second"

    seed: int = 0
    modules: tuple[str, ...] = dataclasses.field(default=(), metadata=kept(read=tuple))
    count: int = 0
    percent: float = 0.0
    sheet: str = ""
    lines: tuple[SampleLine, ...] = dataclasses.field(default=(), metadata=kept(read=read_lines))

    def beside(self) -> dict[str, str]:
        """Return which of the two kinds of entries about second marking it is."""
        return {"what": "drawn"}


@dataclass(frozen=True, kw_only=True)
class SecondJudged(Entry):
    """What a second marker gave for one line of a sheet: what the first gave, the second, and the most points."""

    kind: ClassVar[str] = "second"

    sheet: str = ""
    line: int = 0
    item: str = ""
    answer: str = ""
    first: float = 0.0
    first_entry: int = 0
    second: float = dataclasses.field(default=0.0, metadata=kept("points"))
    most: float = dataclasses.field(default=0.0, metadata=kept("out_of"))
    marker: str = ""

    def beside(self) -> dict[str, str]:
        """Return which of the two kinds of entries about second marking it is."""
        return {"what": "judged"}


@dataclass(frozen=True, kw_only=True)
class Appealed(Entry):
    """Somebody asks for a mark to be looked at again: of which item (empty for all), and what stood."""

    kind: ClassVar[str] = "appealed"

    item: str = ""
    stood: float = dataclasses.field(default=0.0, metadata=kept("points"))
    marked: int = 0
    answer: str = ""


@dataclass(frozen=True, kw_only=True)
class Decided(Entry):
    """What became of an appeal, of a disagreement, of something flagged, of a spoken check, of a hand-in that waited.

    Parameters
    ----------
    of, of_kind : int, str
        Number and kind of the entry that is decided.
    became : str
        ``"upheld"``, ``"rejected"``, ``"settled"``; of a spoken check ``"confirmed"`` or ``"slip"``; of a hand-in that
        waited ``"counted"`` or ``"excluded"``.
    item : str
        Of which item; empty for all.
    given : float or None
        Points that it gives.
    """

    kind: ClassVar[str] = "decided"

    of: int = 0
    of_kind: str = dataclasses.field(default="", metadata=kept("kind"))
    became: str = dataclasses.field(default="", metadata=kept("outcome"))
    item: str = ""
    given: float | None = dataclasses.field(default=None, metadata=kept("points"))


@dataclass(frozen=True, kw_only=True)
class Forgotten(Entry):
    """The name and the words of somebody were taken out; ``emptied`` says which notes of other entries, too."""

    kind: ClassVar[str] = "forgotten"

    sign: str = ""
    emptied: tuple[tuple[int, int], ...] = dataclasses.field(default=(), metadata=kept(read=read_places))


KINDS: tuple[type[Entry], ...] = (
    Marked,
    Changed,
    Voided,
    SessionHeld,
    Flagged,
    Doubted,
    FeedbackWritten,
    Held,
    Moved,
    Observed,
    SecondDrawn,
    SecondJudged,
    Appealed,
    Decided,
    Forgotten,
)


def item_of(entry: Entry) -> str:
    """Return which item an entry is about; empty where it is about none, or about all.

    Examples
    --------
    >>> item_of(Appealed(item="A8")), item_of(Flagged())
    ('A8', '')
    """
    return entry.item if isinstance(entry, Change | Observed | SecondJudged | Appealed | Decided) else ""
