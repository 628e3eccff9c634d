"""Reading a journal strictly: what is wrong with one line costs no other line."""

from __future__ import annotations

import hashlib
import stat
from codecs import BOM_UTF8
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from trainkit.errors import JournalError
from trainkit.items.kinds import Response, Value
from trainkit.sentences import NEWER, newer_format

JOURNAL_FILE = "answers.jsonl"
# The longest honest line, a scenario of 200 actions, has about 9 kB; a hundred thousand changes of mind fit the file.
LINE_LIMIT = 32_768
FILE_LIMIT = 8_388_608
# As many lines as nobody has reason to write, and as many mistakes as no disk makes: what lies behind them is there to
# keep the reader busy.
_LINES_LIMIT = 100_000
_MISTAKES_LIMIT = 5_000

_Name = Annotated[str, Field(max_length=80)]


class JournalLine(Value):
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

    entries: tuple[JournalLine, ...] = ()
    problems: tuple[Problem, ...] = ()
    digest: str = ""

    def latest(self) -> dict[str, JournalLine]:
        """Return the last entry of each item."""
        return {entry.item: entry for entry in self.entries}


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
    entries: list[JournalLine] = []
    problems: list[Problem] = []
    if len(content) > FILE_LIMIT:
        problems.append(Problem(0, "size", f"The file is longer than {FILE_LIMIT} bytes; the rest is not read."))
        content = content[:FILE_LIMIT]
    # Some editors put the mark of UTF-8 in front of what they save; it is no part of the first answer.
    *lines, tail = content.removeprefix(BOM_UTF8).split(b"\n", _LINES_LIMIT)
    if b"\n" in tail:
        problems.append(Problem(0, "size", f"The file has more than {_LINES_LIMIT} lines; the rest is not read."))
        tail = b""
    mistakes = 0
    before = b""
    for number, line in enumerate([*lines, tail], start=1):
        if not line.strip():
            continue
        entry, wrong = _parsed(line)
        last = number == len(lines) + 1
        mistakes += wrong
        if isinstance(entry, str):
            kind = "torn" if last else "unreadable"
            problems.append(Problem(number, kind, "The last line is cut off." if last else entry))
        else:
            odd = tuple(_oddities(number, entry, entries[-1] if entries else None, before))
            mistakes += len(odd)
            problems.extend(odd)
            entries.append(entry)
        before = line
        if mistakes > _MISTAKES_LIMIT:
            problems.append(Problem(0, "size", f"More than {_MISTAKES_LIMIT} mistakes; the rest is not read."))
            break
    return Reading(tuple(entries), tuple(problems), digest)


def _oddities(number: int, entry: JournalLine, previous: JournalLine | None, before: bytes) -> Iterator[Problem]:
    if entry.before != line_digest(before):
        yield Problem(number, "chain", "The line does not follow the line before it.")
    if previous is None:
        return
    if entry.journal != previous.journal:
        yield Problem(number, "mixed", "The line comes from another journal.")
    elif entry.n != previous.n + 1:
        yield Problem(number, "number", f"Answer {entry.n} follows answer {previous.n}.")


def parse(line: bytes) -> JournalLine | str:
    """Return the entry in a line, or what is wrong with it."""
    return _parsed(line)[0]


def _parsed(line: bytes) -> tuple[JournalLine | str, int]:
    """Return the entry in a line, or what is wrong with it, and how many mistakes there are."""
    if len(line) > LINE_LIMIT:
        return f"A line has at most {LINE_LIMIT} bytes.", 1
    try:
        entry = JournalLine.model_validate_json(line)
        entry.when  # noqa: B018 - a pattern cannot tell that there is no 31 April
    except ValidationError as error:
        errors = error.errors(include_url=False, include_input=False)
        # What was met is asked for only then: each mistake of a long line would bring along what it was found in.
        told = any(each["loc"] == ("format",) for each in errors)
        if newer := newer_format(error.errors(include_url=False)) if told else "":
            return f"{newer} {NEWER}", max(len(errors), len(line) // 100)
        first = errors[0]
        # The place may name a key that somebody else chose: shortened, and shown as text everywhere.
        place = ".".join(str(part) for part in first["loc"])[:60]
        text = f"A line holds one answer of the known shape ({place or 'line'}: {first['msg'][:120]})."
        # A long line keeps the reader busy even where it holds one mistake.
        return text, max(error.error_count(), len(line) // 100)
    except ValueError:
        return "A line carries a date that exists.", 1
    return entry, 0


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


def line_digest(line: bytes) -> str:
    """Return what the next line says of this one: 16 hexadecimal digits, none for no line."""
    return hashlib.sha256(line).hexdigest()[:16] if line else ""
