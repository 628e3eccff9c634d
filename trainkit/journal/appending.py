"""Writing a journal: a line is acknowledged only after it was forced to the disk."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import sys
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

from pydantic import ValidationError

from trainkit.errors import JournalError
from trainkit.items.kinds import Response
from trainkit.items.reading import read_response
from trainkit.journal.lines import FILE_LIMIT, LINE_LIMIT, JournalLine, line_digest, parse, read

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl


def now() -> datetime:
    """Return the time, UTC."""
    return datetime.now(UTC)


class NewerAnswerError(JournalError):
    """Somebody recorded another answer to the item since: in another window, or in another program.

    Parameters
    ----------
    entry : JournalLine
        The answer that the journal holds.
    """

    def __init__(self, entry: JournalLine) -> None:
        super().__init__(
            entry.item,
            rule="This question was answered in another window meanwhile.",
            remedy="Look at that answer, then save yours if it should count.",
        )
        self.entry = entry


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
        # What was read last, and of which state of the file: most looks find it as it was.
        self._known: tuple[tuple[int, int, int], dict[str, JournalLine]] | None = None
        self._named = False  # whether the file's name is known to be on the disk, too
        with self._locks_lock:
            self._lock = self._locks.setdefault(os.path.normcase(self.path.absolute()), threading.Lock())

    def append(self, item: str, response: Response, *, seen: int | None = None) -> JournalLine:
        """Write an answer; when this returns, the answer is on the disk.

        Parameters
        ----------
        item : str
            Identifier of the item.
        response : Response
            What was given.
        seen : int, optional
            Number of the answer to the item that the person has seen, 0 for none. Left out, whatever is there is
            followed.

        Returns
        -------
        JournalLine
            The line as it was written.

        Raises
        ------
        NewerAnswerError
            If the journal holds another answer to the item than the one that was seen. Nothing is written.
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
                return self._append(item, response, at, seen)
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

    def latest(self) -> dict[str, JournalLine]:
        """Return the last answer to each item that belongs to this form and person.

        The file is read again where it has changed, also by another program.
        """
        state = _state_of(self.path)
        known = self._known
        if known is None or state is None or known[0] != state:
            mine = (self.course, self.module, self.form, self.apprentice)
            found = {
                entry.item: entry
                for entry in read(self.path).entries
                if (entry.course, entry.module, entry.form, entry.apprentice) == mine
            }
            if state is None:
                return found
            # The state was looked at before the file was read: what came between is read once more.
            known = self._known = (state, found)
        return dict(known[1])

    def _append(self, item: str, response: Response, at: str, seen: int | None) -> JournalLine:
        flags = os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
        descriptor = os.open(self.path, flags, 0o600)
        try:
            with _held(descriptor):
                recorded = None if seen is None else self.latest().get(item)
                if recorded is not None and recorded.n != seen:
                    raise NewerAnswerError(recorded)
                size = os.lseek(descriptor, 0, os.SEEK_END)
                tail = _tail(descriptor, size)
                previous, number, journal = _follow(tail)
                entry = JournalLine(
                    n=number,
                    at=at,
                    journal=journal,
                    course=self.course,
                    module=self.module,
                    form=self.form,
                    apprentice=self.apprentice,
                    item=item,
                    response=response,
                    before=line_digest(previous),
                )
                line = entry.model_dump_json().encode() + b"\n"
                if tail and not tail.endswith(b"\n"):
                    line = b"\n" + line  # the last line was torn; it must not tear this one
                _refuse_unreadable(line, size + len(line))
                _write(descriptor, line)
                os.fsync(descriptor)
                if self._known is not None and seen is not None:
                    # Nobody else wrote between the look and the line: both were done while the file was held.
                    self._known = (_signature(os.fstat(descriptor)), {**self._known[1], item: entry})
        finally:
            os.close(descriptor)
        if not self._named:
            # Not only where this very call made the file: whoever made it may have been killed before this.
            sync_folder(self.path.parent)
            self._named = True
        return entry


def _signature(found: os.stat_result) -> tuple[int, int, int]:
    return found.st_ino, found.st_size, found.st_mtime_ns


def _state_of(path: Path) -> tuple[int, int, int] | None:
    """Return what changes whenever the file does; None where there is none."""
    try:
        return _signature(path.stat())
    except OSError:
        return None


def _write(descriptor: int, data: bytes) -> None:
    while data:
        data = data[os.write(descriptor, data) :]


def _refuse_unreadable(line: bytes, size: int) -> None:
    """Refuse what would be written and never read again: acknowledged is only what counts."""
    if len(line.strip()) > LINE_LIMIT:
        raise JournalError(
            f"{len(line)} bytes", rule=f"An answer takes at most {LINE_LIMIT} bytes.", remedy="Make it shorter."
        )
    if size > FILE_LIMIT:
        raise JournalError(
            f"{size} bytes",
            rule=f"The file of answers holds at most {FILE_LIMIT} bytes, and it is full.",
            remedy="All earlier answers are safe. Hand them in, and tell your instructor.",
        )


def _tail(descriptor: int, size: int) -> bytes:
    """Return the end of the file: the last two lines at least, if they are of honest length."""
    os.lseek(descriptor, max(0, size - 4 * LINE_LIMIT), os.SEEK_SET)
    parts = []
    while part := os.read(descriptor, 4 * LINE_LIMIT):
        parts.append(part)
    return b"".join(parts)


def _follow(tail: bytes) -> tuple[bytes, int, str]:
    """Return the line that comes before the next one, the next number and the name of the journal."""
    lines = [line for line in tail.split(b"\n") if line.strip()]
    for line in reversed(lines):
        entry = parse(line)
        if isinstance(entry, JournalLine):
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


def sync_folder(folder: Path) -> None:
    """Force the names in a folder to the disk, where the system has a way to ask for that.

    Windows does it by itself and refuses the call; some network file systems refuse it, too. A disk that fails or is
    full is an error.

    Parameters
    ----------
    folder : Path
        The folder.

    Raises
    ------
    OSError
        If the disk fails.
    """
    try:
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
    except OSError as error:
        if error.errno in (errno.EIO, errno.ENOSPC):
            raise
