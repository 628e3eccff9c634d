"""How far a course has been proven: what was checked once, and is unchanged, need not be checked again.

``keys/proven.json`` says up to which entry every seal was computed, with the digests of these entries' rows and of the
files of forms and keys; and up to which entry the marks were worked out again. It carries a seal whose key comes from
the course's secret seed. One that was forged, or is of another ledger, counts for nothing: then all is checked.
"""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import json
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from sqlalchemy import select

from trainkit.errors import TrainkitError
from trainkit_grading.ledger.tables import ENTRY, MARK, NOTE
from trainkit_grading.support.bulk_sql import raw_rows
from trainkit_grading.support.files import write_atomically

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy import Connection

    from trainkit_grading.course.seeds import Seed


class Watermark(BaseModel):
    """Up to where a course was proven.

    Parameters
    ----------
    entry, seal : int, str
        The last entry whose seal, and all before it, were computed.
    rows, files : str
        SHA-256 of the rows of all entries up to there, and of the files of forms and keys.
    worked, worked_seal : int, str
        The last entry whose marks, and all before it, were worked out again.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal[1] = 1
    entry: Annotated[int, Field(ge=0)] = 0
    seal: str = ""
    rows: str = ""
    files: str = ""
    worked: Annotated[int, Field(ge=0)] = 0
    worked_seal: str = ""


class _Kept(Watermark):
    mac: str


def read(path: Path, seed: Seed) -> Watermark:
    """Return how far a course was proven; not at all, where nothing or something else is written there."""
    try:
        kept = _Kept.model_validate_json(path.read_bytes())
    except (OSError, ValidationError):
        return Watermark()
    mark = Watermark(**kept.model_dump(exclude={"mac"}))
    return mark if hmac.compare_digest(kept.mac.encode(), _mac(mark, seed).encode()) else Watermark()


def write(path: Path, seed: Seed, mark: Watermark) -> None:
    """Write down how far a course was proven; where that cannot be done, all is checked again the next time."""
    kept = _Kept(**mark.model_dump(), mac=_mac(mark, seed))
    with contextlib.suppress(OSError, TrainkitError):
        write_atomically(path, kept.model_dump_json(indent=1) + "\n", mode=0o600)


def advance(path: Path, seed: Seed, before: tuple[int, str], after: tuple[int, str]) -> None:
    """Note that the marks between two ends of the ledger were worked out just now, where all before them were."""
    mark = read(path, seed)
    if (mark.worked, mark.worked_seal) == before != after:
        write(path, seed, mark.model_copy(update={"worked": after[0], "worked_seal": after[1]}))


def rows_digest(connection: Connection, last: int) -> str:
    """Return the SHA-256 of all rows of the entries up to this number, as the driver gives them."""
    total = hashlib.sha256()
    for table, number in ((ENTRY, ENTRY.c.number), (MARK, MARK.c.entry), (NOTE, NOTE.c.entry)):
        query = select(table).where(number <= last).order_by(*table.primary_key.columns)
        for some in raw_rows(connection, query):
            total.update(repr(some).encode("utf-8", "surrogatepass"))
    return total.hexdigest()


def _mac(mark: Watermark, seed: Seed) -> str:
    text = json.dumps(mark.model_dump(mode="json"), sort_keys=True)
    return hmac.new(seed.digest("proven"), text.encode(), hashlib.sha256).hexdigest()
