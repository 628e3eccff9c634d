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
from sqlalchemy import func, select

from trainkit.errors import TrainkitError
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.ledger.tables import ENTRY, MARK, NOTE
from trainkit_grading.support.bulk_sql import raw_rows
from trainkit_grading.support.files import write_atomically

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from sqlalchemy import Connection, Table

    from trainkit_grading.course.seeds import Seed


class Watermark(BaseModel):
    """Up to where a course was proven.

    Parameters
    ----------
    entry, seal : int, str
        The last entry whose seal, and all before it, were computed.
    rows, files : str
        SHA-256 of the rows of all entries up to there, and of the files of forms and keys.
    gradebook : str
        SHA-256 of the gradebook as it agreed with them, and of the settings by which it did.
    worked, worked_seal : int, str
        The last entry whose marks, and all before it, were worked out again.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal[1] = 1
    entry: Annotated[int, Field(ge=0)] = 0
    seal: str = ""
    rows: str = ""
    files: str = ""
    gradebook: str = ""
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


def all_worked(connection: Connection, mark: Watermark) -> bool:
    """Tell whether all marks in the ledger were worked out again, so that only new ones are to be."""
    seal = connection.execute(select(ENTRY.c.seal).where(ENTRY.c.number == mark.worked)).scalar() or ""
    newest = select(func.max(ENTRY.c.number)).where(ENTRY.c.kind == Marked.kind)
    return seal == mark.worked_seal and (connection.execute(newest).scalar() or 0) <= mark.worked


def advance(path: Path, seed: Seed, end: tuple[int, str]) -> None:
    """Note that all marks up to this end of the ledger were worked out; it stands there already."""
    write(path, seed, read(path, seed).model_copy(update={"worked": end[0], "worked_seal": end[1]}))


def rows_digest(connection: Connection, last: int) -> str:
    """Return the SHA-256 of all rows of the entries up to this number, as the driver gives them."""
    total = hashlib.sha256()
    for table, number in ((ENTRY, ENTRY.c.number), (MARK, MARK.c.entry), (NOTE, NOTE.c.entry)):
        query = select(table).where(number <= last).order_by(*table.primary_key.columns)
        for some in raw_rows(connection, query):
            total.update(repr(some).encode("utf-8", "surrogatepass"))
    return total.hexdigest()


def tables_digest(connection: Connection, tables: Iterable[Table], *more: bytes) -> str:
    """Return the SHA-256 of all rows of these tables, as the driver gives them, and of what else is given."""
    total = hashlib.sha256()
    for content in more:
        total.update(hashlib.sha256(content).digest())
    for table in tables:
        total.update(table.name.encode())
        # In the order in which they lie there: to sort them takes longer than the rest, and another one costs a look.
        for some in raw_rows(connection, select(table)):
            total.update(repr(some).encode("utf-8", "surrogatepass"))
    return total.hexdigest()


def _mac(mark: Watermark, seed: Seed) -> str:
    text = json.dumps(mark.model_dump(mode="json"), sort_keys=True)
    return hmac.new(seed.digest("proven"), text.encode(), hashlib.sha256).hexdigest()
