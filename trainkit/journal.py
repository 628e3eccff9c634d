"""The journal: every acknowledged answer as one line of ``answers.jsonl`` beside the notebook.

The file is the only truth about what was answered. A line is acknowledged only after it was written and forced to
the disk, so whatever the screen called saved survives the end of kernel, browser and server. A line that was torn
by a power cut costs nothing else: the next answer starts on a fresh line, and a reader steps over the torn one.
Each line carries the hash of the line before it, so that lines taken out, put in or changed afterwards show.

Examples
--------
>>> import tempfile
>>> from trainkit.items.responses import ChoiceResponse
>>> with tempfile.TemporaryDirectory() as folder:
...     path = Path(folder) / "answers.jsonl"
...     journal = Journal(path, course="saltmere", module="lock-pin", form="K7", apprentice="amir")
...     entry = journal.append("A1", ChoiceResponse(option="b"))
...     entry == journal.latest()["A1"] == read(path).entries[0]
True
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import secrets
import stat
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from trainkit.errors import JournalError
from trainkit.items.responses import Response, Value, read_response

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

__all__ = [
    "FILE_LIMIT",
    "JOURNAL_FILE",
    "LINE_LIMIT",
    "Entry",
    "Journal",
    "Problem",
    "Reading",
    "content_of",
    "now",
    "read",
]

JOURNAL_FILE = "answers.jsonl"
# The longest honest line, a scenario of 200 actions, has about 9 kB; a hundred thousand changes of mind fit the file.
LINE_LIMIT = 32_768
FILE_LIMIT = 8_388_608

_Name = Annotated[str, Field(max_length=80)]


class Entry(Value):
    """One acknowledged answer.

    Parameters
    ----------
    n : int
        Number of the answer in this file, from 1.
    at : str
        When it was written, UTC, to the millisecond: ``"2027-03-01T08:15:30.123Z"``.
    journal : str
        32 hexadecimal digits, drawn once for each file.
    course, module, form, apprentice : str
        What the notebook took itself to be; the course side decides again.
    item : str
        Identifier of the item, ``"A1"``.
    response : Response
        What was given.
    before : str
        First 16 hexadecimal digits of the SHA-256 of the line before, empty for the first line.
    """

    format: Literal[1] = 1
    n: Annotated[int, Field(ge=1, le=1_000_000)]
    at: Annotated[str, Field(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$")]
    journal: Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
    course: _Name
    module: _Name
    form: _Name
    apprentice: _Name
    item: Annotated[str, Field(min_length=1, max_length=40)]
    response: Annotated[Response, Field(discriminator="kind")]
    before: Annotated[str, Field(pattern=r"^([0-9a-f]{16})?$")]

    @property
    def when(self) -> datetime:
        """The time of writing."""
        return datetime.fromisoformat(self.at)


@dataclass(frozen=True, slots=True)
class Problem:
    """Something about a journal that is not as it was written.

    Parameters
    ----------
    line : int
        Line of the file from 1; 0 speaks of the file as a whole.
    kind : str
        ``"torn"`` (last line cut off), ``"unreadable"`` (no well-formed answer), ``"chain"`` (a line that does not
        follow the one before it), ``"number"`` (answers not numbered in turn), ``"mixed"`` (lines of another
        journal) or ``"size"``.
    text : str
        What it is, in a whole sentence.
    """

    line: int
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Reading:
    """What a journal holds: its well-formed entries in the order of the file, and everything that is odd about it.

    ``digest`` is the SHA-256 of the content, in hexadecimal digits; empty where nothing could be read.
    """

    entries: tuple[Entry, ...] = ()
    problems: tuple[Problem, ...] = ()
    digest: str = ""

    def latest(self) -> dict[str, Entry]:
        """Return the last entry of each item."""
        return {entry.item: entry for entry in self.entries}


def now() -> datetime:
    """Return the time, UTC."""
    return datetime.now(UTC)


def read(source: Path | bytes) -> Reading:
    r"""Read a journal strictly; what is wrong with one line costs no other line.

    Parameters
    ----------
    source : Path or bytes
        The file, or its content. An absent file is a journal without answers.

    Returns
    -------
    Reading

    Raises
    ------
    JournalError
        If ``source`` is a path that is no regular file (a link, a folder, a pipe) or that cannot be opened.
        Content never raises.

    Examples
    --------
    >>> read(b"not an answer\n").problems[0].kind
    'unreadable'
    """
    content = source if isinstance(source, bytes) else content_of(source)
    digest = hashlib.sha256(content).hexdigest()
    entries: list[Entry] = []
    problems: list[Problem] = []
    if len(content) > FILE_LIMIT:
        problems.append(Problem(0, "size", f"The file is longer than {FILE_LIMIT} bytes; the rest is not read."))
        content = content[:FILE_LIMIT]
    *lines, tail = content.split(b"\n")
    before = b""
    for number, line in enumerate([*lines, tail], start=1):
        if not line.strip():
            continue
        entry = _entry(line)
        last = number == len(lines) + 1
        if isinstance(entry, str):
            kind = "torn" if last else "unreadable"
            problems.append(Problem(number, kind, "The last line is cut off." if last else entry))
        else:
            problems.extend(_oddities(number, entry, entries[-1] if entries else None, before))
            entries.append(entry)
        before = line
    return Reading(tuple(entries), tuple(problems), digest)


def _oddities(number: int, entry: Entry, previous: Entry | None, before: bytes) -> Iterator[Problem]:
    if entry.before != _digest(before):
        yield Problem(number, "chain", "The line does not follow the line before it.")
    if previous is None:
        return
    if entry.journal != previous.journal:
        yield Problem(number, "mixed", "The line comes from another journal.")
    elif entry.n != previous.n + 1:
        yield Problem(number, "number", f"Answer {entry.n} follows answer {previous.n}.")


def _entry(line: bytes) -> Entry | str:
    """Return the entry in a line, or what is wrong with it."""
    if len(line) > LINE_LIMIT:
        return f"A line has at most {LINE_LIMIT} bytes."
    try:
        entry = Entry.model_validate_json(line)
        entry.when  # noqa: B018 - a pattern cannot tell that there is no 31 April
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        # The place may name a key that somebody else chose: shortened, and shown as text everywhere.
        place = ".".join(str(part) for part in first["loc"])[:60]
        return f"A line holds one answer of the known shape ({place or 'line'}: {first['msg'][:120]})."
    except ValueError:
        return "A line carries a date that exists."
    return entry


def content_of(path: Path) -> bytes:
    """Return the content of a journal, one byte more than it may have at most; of an absent file, nothing.

    Raises
    ------
    JournalError
        If ``path`` is no regular file, or cannot be opened.
    """
    try:
        if not stat.S_ISREG(path.lstat().st_mode):
            raise JournalError(
                path.name, rule="A journal is a regular file, no link or folder.", remedy="Put the file itself there."
            )
        with path.open("rb") as stream:
            return stream.read(FILE_LIMIT + 1)
    except FileNotFoundError:
        return b""
    except OSError as error:
        raise JournalError(
            path.name, rule=f"The journal cannot be read ({error.strerror}).", remedy="Close what holds it; try again."
        ) from None


def _digest(line: bytes) -> str:
    return hashlib.sha256(line).hexdigest()[:16] if line else ""


class Journal:
    """The journal of one apprentice for one form, beside the notebook.

    Parameters
    ----------
    path : Path
        The file; it is created by the first answer.
    course, module, form, apprentice : str
        Written into every line; at most 80 characters each.
    clock : callable, optional
        Returns the time with its time zone.

    Notes
    -----
    Safe between threads, and between processes where the file system knows locks: callbacks of controls run
    beside cells, and a workbook may be open twice.
    """

    # One lock for each file, whatever number of journals is opened on it.
    _locks: dict[str, threading.Lock] = {}  # noqa: RUF012 - shared by all journals on purpose
    _locks_lock = threading.Lock()

    def __init__(
        self,
        path: Path,
        *,
        course: str,
        module: str,
        form: str,
        apprentice: str,
        clock: Callable[[], datetime] = now,
    ) -> None:
        for what, name in (("course", course), ("module", module), ("form", form), ("apprentice", apprentice)):
            if len(name) > 80:
                raise JournalError(
                    name, place=what, rule="A name in a journal has at most 80 characters.", remedy="Shorten it."
                )
        self.path = Path(path)
        self.course = course
        self.module = module
        self.form = form
        self.apprentice = apprentice
        self._clock = clock
        with self._locks_lock:
            self._lock = self._locks.setdefault(os.path.normcase(self.path.absolute()), threading.Lock())

    def append(self, item: str, response: Response) -> Entry:
        """Write an answer; when this returns, the answer is on the disk.

        Parameters
        ----------
        item : str
            Identifier of the item.
        response : Response
            What was given.

        Returns
        -------
        Entry
            The line as it was written.

        Raises
        ------
        JournalError
            If it could not be written: then nothing is acknowledged.
        ResponseError
            If ``response`` is not well formed.
        """
        if not 1 <= len(item) <= 40:
            raise JournalError(
                item, rule="An item has a name of 1 to 40 characters.", remedy="Use the name in the form."
            )
        response = read_response(response.model_dump(mode="json"))
        moment = self._clock()
        if moment.tzinfo is None:
            raise JournalError(
                moment.isoformat(), rule="The time of an answer has a time zone.", remedy="Use a clock that states it."
            )
        at = moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        try:
            with self._lock:
                return self._append(item, response, at)
        except OSError as error:
            raise JournalError(
                self.path.name,
                rule=f"The answer could not be written to the disk ({error.strerror or error}).",
                remedy="Make room or allow writing there, then save again.",
            ) from None
        except ValidationError:
            raise JournalError(
                [self.course, self.module, self.form, self.apprentice, item],
                rule="Names in a journal are text that UTF-8 can hold.",
                remedy="Use the names in the form.",
            ) from None

    def latest(self) -> dict[str, Entry]:
        """Return the last answer to each item that belongs to this form and person."""
        mine = (self.course, self.module, self.form, self.apprentice)
        return {
            entry.item: entry
            for entry in read(self.path).entries
            if (entry.course, entry.module, entry.form, entry.apprentice) == mine
        }

    def _append(self, item: str, response: Response, at: str) -> Entry:
        new = not self.path.exists()
        flags = os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
        descriptor = os.open(self.path, flags, 0o600)
        try:
            with _held(descriptor):
                tail = _tail(descriptor)
                previous, number, journal = _follow(tail)
                entry = Entry(
                    n=number,
                    at=at,
                    journal=journal,
                    course=self.course,
                    module=self.module,
                    form=self.form,
                    apprentice=self.apprentice,
                    item=item,
                    response=response,
                    before=_digest(previous),
                )
                line = entry.model_dump_json().encode() + b"\n"
                if tail and not tail.endswith(b"\n"):
                    line = b"\n" + line  # the last line was torn; it must not tear this one
                _write(descriptor, line)
                os.fsync(descriptor)
        finally:
            os.close(descriptor)
        if new:
            _sync_folder(self.path.parent)
        return entry


def _write(descriptor: int, data: bytes) -> None:
    while data:
        data = data[os.write(descriptor, data) :]


def _tail(descriptor: int) -> bytes:
    """Return the end of the file: the last two lines at least, if they are of honest length."""
    size = os.lseek(descriptor, 0, os.SEEK_END)
    os.lseek(descriptor, max(0, size - 4 * LINE_LIMIT), os.SEEK_SET)
    parts = []
    while part := os.read(descriptor, 4 * LINE_LIMIT):
        parts.append(part)
    return b"".join(parts)


def _follow(tail: bytes) -> tuple[bytes, int, str]:
    """Return the line that comes before the next one, the next number and the name of the journal."""
    lines = [line for line in tail.split(b"\n") if line.strip()]
    for line in reversed(lines):
        entry = _entry(line)
        if isinstance(entry, Entry):
            return lines[-1], entry.n + 1, entry.journal
    return (lines[-1] if lines else b""), 1, secrets.token_hex(16)


@contextlib.contextmanager
def _held(descriptor: int) -> Iterator[None]:
    """Hold the file against other processes, where the file system can do that.

    Some network file systems cannot; then the lock between threads has to do.
    """
    try:
        _switch(descriptor, hold=True)
    except OSError:
        yield
        return
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            _switch(descriptor, hold=False)


def _switch(descriptor: int, hold: bool) -> None:
    if sys.platform == "win32":
        os.lseek(descriptor, 2**30, os.SEEK_SET)  # a lock on Windows forbids reading: put it where nobody reads
        msvcrt.locking(descriptor, msvcrt.LK_LOCK if hold else msvcrt.LK_UNLCK, 1)
    else:
        fcntl.flock(descriptor, fcntl.LOCK_EX if hold else fcntl.LOCK_UN)


def _sync_folder(folder: Path) -> None:
    """Force the name of a new file to the disk; Windows does that by itself and refuses the call."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
