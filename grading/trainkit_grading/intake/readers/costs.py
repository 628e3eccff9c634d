"""What reading a hand-in may cost, counted before it is spent: files, bytes, depth and time."""

from __future__ import annotations

import io
import os
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from trainkit.sentences import counted
from trainkit_grading.course.folder import Limits
from trainkit_grading.errors import HandInError
from trainkit_grading.intake.readers.base import BUNDLE, too_much
from trainkit_grading.support.outcome import Finding, refused

# Refusals that one zip is told of: a zip of ten thousand bad members would bury all the others.
TOLD = 100
# The folders of a learning platform are three or four deep.
DEEPEST = 20
# Honest answers shrink to a tenth when they are packed. What a bomb unpacks to is limited by what somebody sent.
_FREE, _RATIO = 20_000_000, 20
# A slow disk gets a second for each megabyte; nothing else about an honest file takes even one.
_SECONDS = 30.0
_MEGABYTE = 1_000_000
# An entry of a table of contents has 46 bytes, a name, and a few more of the program that packed it.
_HEADER, _ROOM_FOR_NAMES = 46, 466
_END, _LOCATOR, _END_64 = 22, 20, 56
_COMMENT = 65_535


@dataclass(slots=True)
class Budget:
    """What one file of the inbox, or one folder, may still cost; zips in it are counted in.

    Parameters
    ----------
    files : int
        Entries in tables of contents.
    unpacked : int
        Bytes that come out of it, journals and zips alike.
    answers : int
        Bytes of journals: each is small enough alone, but all of them at once would fill the memory.
    until : float
        When reading it ends, in seconds of ``clock``.
    clock : callable
        Returns seconds that never go back.
    refusals : int
        What was refused in it so far.
    """

    files: int
    unpacked: int
    answers: int
    until: float
    clock: Callable[[], float] = time.monotonic
    refusals: int = 0

    @classmethod
    def of(cls, size: int, limits: Limits, clock: Callable[[], float] = time.monotonic) -> Budget:
        """Return the budget of a file of ``size`` bytes.

        Examples
        --------
        >>> Budget.of(1_000_000, Limits()).unpacked
        40000000
        """
        return cls(
            files=limits.hand_in_files * BUNDLE,
            unpacked=min(limits.hand_in_bytes * BUNDLE, _FREE + _RATIO * size),
            answers=limits.hand_in_bytes,
            until=clock() + _SECONDS + size / _MEGABYTE,
            clock=clock,
        )

    def count(self, files: int, place: str) -> None:
        """Count the files that a table of contents lists."""
        self.files -= files
        if self.files < 0:
            raise _spent(place, "The zips in this zip list too many files together.")

    def refuse(self, error: HandInError, place: str) -> Iterator[Finding]:
        """Tell of a refusal, unless more were told than anybody reads."""
        self.refusals += 1
        if self.refusals <= TOLD:
            yield refused(error, place)

    def unpack(self, size: int, place: str) -> None:
        """Count bytes that were unpacked, and look at the clock."""
        self.unpacked -= size
        if self.unpacked < 0:
            raise _spent(
                place,
                f"A zip unpacks to at most {_FREE} bytes and {_RATIO} times its own size; this one unpacks to more.",
            )
        self.check(place)

    def keep(self, journal: bytes, place: str, limits: Limits) -> None:
        """Count a journal that stays in memory until it is taken."""
        self.answers -= len(journal)
        if self.answers < 0:
            most = limits.hand_in_bytes
            raise _spent(place, f"The answers in one zip have at most {most} bytes together; this one has more.")

    def check(self, place: str) -> None:
        """Refuse to go on where something is spent: what is left is not even opened."""
        if self.files < 0 or self.unpacked < 0 or self.answers < 0:
            raise _spent(place, "What was read before has used up what one zip may cost.")
        if self.clock() > self.until:
            raise _spent(place, "Reading this zip takes too long.")


def _spent(place: str, rule: str) -> HandInError:
    return HandInError(
        place, rule=rule, remedy="Collect what is left of it in zips of their own; the limits stand in course.toml."
    )


def files_listed(stream: io.BufferedIOBase, place: str, limits: Limits, most: int) -> int:
    """Count the entries in the table of contents of a zip, before ``zipfile`` makes a value of each.

    Parameters
    ----------
    stream : binary stream
        The zip; it is left at its beginning.
    place : str
        Where it was met, for people.
    limits : Limits
        What one hand-in may hold at most, for the refusal.
    most : int
        How many entries it may have.

    Returns
    -------
    int
        How many it has.

    Raises
    ------
    HandInError
        If it is no zip, or lists more than ``most``.
    """
    begin, length = _table(stream, place)
    if length > most * (_HEADER + _ROOM_FOR_NAMES):
        raise too_much(place, limits)
    stream.seek(begin)
    table = stream.read(length)
    stream.seek(0)
    count = at = 0
    # The number that the end of the zip tells is somebody's word, and no reader goes by it.
    while table[at : at + 4] == b"PK\x01\x02" and len(table) >= at + _HEADER:
        count += 1
        if count > most:
            raise too_much(place, limits)
        at += _HEADER + sum(_number(table, at + offset, 2) for offset in (28, 30, 32))
    return count


def _table(stream: io.BufferedIOBase, place: str) -> tuple[int, int]:
    """Return where the table of contents begins and how long it is, as ``zipfile`` finds it."""
    size = stream.seek(0, os.SEEK_END)
    first = max(0, size - _COMMENT - _END - _LOCATOR - _END_64)
    stream.seek(first)
    tail = stream.read(size - first)
    at = tail.rfind(b"PK\x05\x06")
    if at < 0 or len(tail) < at + _END:
        raise HandInError(place, rule="A hand-in is a zip; this file is none.", remedy="Ask for it again.")
    length = _number(tail, at + 12, 4)
    if tail[max(0, at - _LOCATOR) : at][:4] == b"PK\x06\x07":
        end = at - _LOCATOR - _END_64
        # Programs that pack while they send write a second end for large zips. Readers disagree about one that
        # lies elsewhere or says something else, so only the plain form is read.
        if (
            end < 0
            or tail[end : end + 4] != b"PK\x06\x06"
            or _number(tail, end + 4, 8) != _END_64 - 12
            or _number(tail, at - 12, 8) != first + end
            or length not in (0xFFFFFFFF, _number(tail, end + 40, 8))
        ):
            raise _damaged(place)
        length = _number(tail, end + 40, 8)
        at = end
    if length > first + at:
        raise _damaged(place)
    return first + at - length, length


def _number(data: bytes, at: int, size: int) -> int:
    return int.from_bytes(data[at : at + size], "little")


def _damaged(place: str) -> HandInError:
    return HandInError(place, rule="The end of the zip is damaged.", remedy="Ask for it again.")


def and_more(count: int) -> str:
    """Return the sentence for refusals that are not told one by one.

    Examples
    --------
    >>> and_more(2)
    '2 more refusals are not listed. Look at the others first.'
    """
    return f"{counted(count, 'more refusal')} {'is' if count == 1 else 'are'} not listed. Look at the others first."
