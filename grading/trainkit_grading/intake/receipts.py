"""Every journal that was ever handed in, kept as it came, and which of them is the latest.

``arrivals/<apprentice>/<module>/<number>-<hash>/`` holds the journal and a record of when and how it came. Folders
are added whole and never changed; ``arrivals.jsonl`` and ``submitted/`` follow from them and are made good by the
next collecting, whenever one was cut off.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from trainkit.journal import JOURNAL_FILE, sync_folder
from trainkit.sentences import NEWER, newer_format
from trainkit_grading.errors import CourseError
from trainkit_grading.support.files import scratch
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


RECORD_FILE = "arrival.json"


class Link(BaseModel):
    """The place of a receipt in the chain of all receipts of a course folder (:mod:`.chain`).

    ``before`` is the seal of the receipt before it, empty for the first; ``seal`` covers the receipt and ``before``.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    place: Annotated[int, Field(ge=1)]
    before: str
    seal: str


class Receipt(BaseModel):
    """One hand-in as it was taken.

    ``arrived`` counts for lateness, ``collected`` says when it was taken in. ``told_by`` is how the apprentice was
    known: ``"personal code"``, ``"folder on the shared disk"``, ``"instructor"`` or, for a sheet of paper, ``"form
    code"``. ``how`` is ``"paper"`` for such a sheet, and it arrived when it was ended. ``older`` marks a copy of an
    earlier state that came after a later one: it is kept, but is not the latest. ``waits`` says why it is in doubt who
    handed it in: it is kept and counts for nothing; once a person lets it count, it is kept again without. ``link`` is
    None where it was taken before receipts were chained.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal[1] = 1
    number: Annotated[int, Field(ge=1)]
    apprentice: str
    module: str
    attempt: Annotated[int, Field(ge=1)]
    form: str
    arrived: AwareDatetime
    collected: AwareDatetime
    how: str
    told_by: str
    place: str
    digest: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    answers: int
    older: bool = False
    waits: str = ""
    secret: str = ""
    link: Link | None = None

    @property
    def folder_name(self) -> str:
        """Name of the folder in which it is kept."""
        return f"{self.number:04d}-{self.digest[:12]}"


def content_digest(journal: bytes) -> str:
    """Return the SHA-256 of a journal in hexadecimal digits."""
    return hashlib.sha256(journal).hexdigest()


def kept(course: Course, apprentice: str, module: str, *, waiting: bool = False) -> tuple[Receipt, ...]:
    """Return everything that an apprentice has handed in for a module, in the order in which it was taken.

    What waits, because it is in doubt who handed it in, is returned only with ``waiting``.

    Raises
    ------
    CourseError
        If a record cannot be read.
    """
    home = course.arrivals / apprentice / module
    found: list[Receipt] = []
    for path in sorted(home.glob(f"*/{RECORD_FILE}")):
        try:
            found.append(Receipt.model_validate_json(path.read_bytes(), strict=False))
        except (OSError, ValidationError) as error:
            newer = newer_format(error.errors(include_url=False)) if isinstance(error, ValidationError) else ""
            if newer:
                raise CourseError(str(path), rule=newer, remedy=NEWER) from None
            raise CourseError(
                str(path),
                rule="The course keeps a record of each hand-in, and this one cannot be read.",
                remedy="Fetch it from your backup.",
            ) from None
    counting = (receipt for receipt in found if waiting or not receipt.waits)
    return tuple(sorted(counting, key=lambda receipt: receipt.number))


def latest(receipts: Iterable[Receipt]) -> Receipt | None:
    """Return the receipt of the latest hand-in that counts, or None where there is none."""
    return next((receipt for receipt in reversed(tuple(receipts)) if not receipt.older and not receipt.waits), None)


def journal_of(course: Course, receipt: Receipt) -> bytes:
    """Return the journal that a receipt belongs to."""
    home = course.arrivals / receipt.apprentice / receipt.module / receipt.folder_name
    return (home / JOURNAL_FILE).read_bytes()


def keep(course: Course, receipt: Receipt, journal: bytes) -> None:
    """Keep a hand-in; its folder appears whole or not at all, and when this returns, it is on the disk."""
    home = course.arrivals / receipt.apprentice / receipt.module
    home.mkdir(parents=True, exist_ok=True)
    with scratch(course.folder) as work:
        new = work / "arrival"
        new.mkdir()
        _write(new / JOURNAL_FILE, journal)
        _write(new / RECORD_FILE, receipt.model_dump_json(indent=1).encode() + b"\n")
        sync_folder(new)
        new.rename(home / receipt.folder_name)
    # Not only folders that are new: whoever made them may have been killed before this.
    for folder in (home, *home.parents):
        sync_folder(folder)
        if folder == course.folder:
            break


def _write(path: Path, content: bytes) -> None:
    with path.open("wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def log(course: Course, taken: Iterable[Receipt], refusals: Iterable[Finding], now: datetime) -> None:
    """Add to ``arrivals.jsonl`` what it does not tell yet: each hand-in taken, each refusal once."""
    path = course.arrivals_log
    known: set[tuple[object, ...]] = set()
    text = path.read_bytes() if path.exists() else b""
    for line in text.splitlines():
        entry = _entry(line)
        known.add(_mark(entry))
    lines = [receipt.model_dump(mode="json", exclude={"secret", "link"}) for receipt in taken]
    lines += [
        {"format": 1, "at": now.isoformat(), "refused": finding.place, "reason": finding.text} for finding in refusals
    ]
    fresh = [entry for entry in lines if _mark(entry) not in known]
    if not fresh:
        return
    added = "".join(json.dumps(entry, ensure_ascii=False) + "\n" for entry in fresh).encode()
    with path.open("ab") as stream:
        # A last line that was cut off must not tear the next one.
        stream.write(b"\n" + added if text and not text.endswith(b"\n") else added)
        stream.flush()
        os.fsync(stream.fileno())
    sync_folder(path.parent)


def _entry(line: bytes) -> dict[str, Any]:
    try:
        entry = json.loads(line)
    except (ValueError, RecursionError):
        return {}
    return entry if isinstance(entry, dict) else {}


def _mark(entry: dict[str, Any]) -> tuple[object, ...]:
    if "refused" in entry:
        return ("refused", str(entry.get("refused")), str(entry.get("reason")))
    return ("taken", str(entry.get("apprentice")), str(entry.get("module")), str(entry.get("number")))
