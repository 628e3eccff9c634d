"""What the ledger holds, as values: an entry, its marks and its notes, and the seal that binds them together."""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, ClassVar

from trainkit_grading.course.seeds import Seed


def digest(text: str) -> str:
    """Return the SHA-256 of a text in hexadecimal digits.

    Examples
    --------
    >>> digest("")[:8]
    'e3b0c442'
    """
    return hashlib.sha256(text.encode()).hexdigest()


def printable(text: str) -> str:
    r"""Return ``text`` so that every database can hold it: without NUL and lone surrogates.

    Examples
    --------
    >>> printable("a\x00b\ud800")
    'a\\x00b\\ud800'
    """
    if text.isascii() and "\x00" not in text:
        return text
    return text.encode("utf-8", "backslashreplace").decode().replace("\x00", "\\x00")


@dataclass(frozen=True, slots=True)
class Provenance:
    """What marks come from: SHA-256 digests, in hexadecimal digits, of everything that decides them."""

    pack: str = ""
    module: str = ""
    form: str = ""
    keys: str = ""
    software: str = ""


@dataclass(frozen=True, slots=True)
class MarkRow:
    """One item of an entry: what was answered and what it earned.

    ``response`` is JSON, or None for none; ``method`` is what may be told while another attempt is open.
    """

    item: str
    template: str
    kind: str
    response: str | None
    answered: str
    points: float
    out_of: float
    verdict: str
    reason: str
    misconception: str = ""
    method: str = ""
    critical: bool = False
    response_hash: str = ""

    @property
    def answer(self) -> str:
        """Digest of the answer, empty where there is none."""
        return self.response_hash or (digest(self.response) if self.response is not None else "")


@dataclass(frozen=True, slots=True)
class Note:
    """Words that belong to an entry: a flag, a comment. They can be taken out; their digest stays."""

    kind: str
    text: str | None
    text_hash: str = ""


@dataclass(frozen=True)
class Entry:
    """What every entry says; each kind of it is a class of its own in :mod:`trainkit_grading.ledger.kinds`.

    Parameters
    ----------
    apprentice : str
        Whom it is about; empty for nobody.
    module : str
        Of which module; empty for none.
    attempt : int
        Which attempt, from 1; 0 for none.
    form, journal, arrived : str
        Code of the form; SHA-256 of the journal; ISO time of arrival in UTC.
    provenance : Provenance
        What the marks come from.
    marks : tuple of MarkRow
        One for each item.
    notes : tuple of Note
        Flags and comments.
    by, why, at : str
        Who did it, why, and when (ISO time in UTC).
    number : int
        Its place in the ledger, from 1; 0 before it stands there.
    """

    kind: ClassVar[str]

    apprentice: str = ""
    module: str = ""
    attempt: int = 0
    form: str = ""
    journal: str = ""
    arrived: str = ""
    provenance: Provenance = field(default_factory=Provenance)
    marks: tuple[MarkRow, ...] = ()
    notes: tuple[Note, ...] = ()
    by: str = ""
    why: str = ""
    at: str = ""
    number: int = 0

    def beside(self) -> dict[str, str]:
        """Return what is kept beside the fields of its kind."""
        return {}

    @cached_property
    def points(self) -> float:
        """Sum of the points earned."""
        return round(float(sum(row.points for row in self.marks)), 2)

    @cached_property
    def out_of(self) -> float:
        """Sum of the points possible."""
        return round(float(sum(row.out_of for row in self.marks)), 2)

    @cached_property
    def outcome(self) -> str:
        """Digest of the marks without their wording: two entries with the same one gave the same marks."""
        return outcome_digest(self.marks)

    @cached_property
    def notes_hash(self) -> str:
        """Digest of the notes, empty where there are none."""
        noted = [[note.kind, note.text_hash or digest(printable(note.text or ""))] for note in self.notes]
        return digest(_compact(noted)) if noted else ""


def outcome_digest(marks: Sequence[MarkRow], critical: Sequence[str] = ()) -> str:
    """Return the digest of what marks say of each item, their wording left out; of no marks an empty string.

    ``critical`` names the items whose unsafe answers bar a pass.

    Examples
    --------
    >>> row = MarkRow("A1", "t/t", "choice", '{"option":"a"}', "", 1.0, 1.0, "right", "Right.")
    >>> from dataclasses import replace
    >>> outcome_digest([row]) == outcome_digest([replace(row, reason="That is right.")])
    True
    >>> outcome_digest([row]) == outcome_digest([replace(row, points=0.5)])
    False
    """
    if not marks:
        return ""
    said = [[row.item, row.points, row.out_of, row.verdict, row.misconception, row.critical] for row in marks]
    return digest(_compact([said, sorted(critical)]))


class Sealer:
    """Seals entries with a key that only the course's secret seed gives.

    Whoever can write into the database, but does not have the seed, can neither change a row nor add one unnoticed.

    Examples
    --------
    >>> sealer = Sealer(Seed(bytes(32)))
    >>> one = sealer.seal(["number", 1], [], [], "")
    >>> one == sealer.seal(["number", 1], [], [], ""), one == sealer.seal(["number", 1], [], [], one)
    (True, False)
    """

    def __init__(self, seed: Seed) -> None:
        self._mac = hmac.new(seed.digest("ledger"), digestmod=hashlib.sha256)

    def seal(
        self, entry: Sequence[Any], marks: Sequence[Sequence[Any]], notes: Sequence[Sequence[Any]], before: str
    ) -> str:
        """Return the seal of an entry whose predecessor has the seal ``before``, in hexadecimal digits."""
        return self._sealed([entry, marks, notes, before])

    def person(self, person: str, apprentice: str) -> str:
        """Return the seal of whom a random identifier stands for."""
        return self._sealed(["person", person, apprentice])

    def closing(self, number: int, seal: str) -> str:
        """Return the seal of the ledger's end: number and seal of its last entry."""
        return self._sealed(["end", number, seal]) if number else ""

    def _sealed(self, value: object) -> str:
        mac = self._mac.copy()
        mac.update(_compact(value).encode())
        return mac.hexdigest()


# Made once: json.dumps would make one for each call.
_compact = json.JSONEncoder(separators=(",", ":"), allow_nan=False).encode
