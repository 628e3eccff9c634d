"""What one hand-in is, and what all ways of reading one refuse alike."""

from __future__ import annotations

import stat
from dataclasses import dataclass, field
from datetime import datetime

from trainkit_grading.course.folder import Limits
from trainkit_grading.errors import HandInError
from trainkit_grading.support.plaintext import one_line

IDENTITY_LIMIT = 20_000
# A zip of everybody's hand-ins, as a learning platform makes it, may hold this many times what one hand-in may.
BUNDLE = 50
KINDS = {
    stat.S_IFLNK: "a link",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
    stat.S_IFIFO: "a pipe",
    stat.S_IFSOCK: "a socket",
}


@dataclass(frozen=True, slots=True)
class HandIn:
    """One hand-in, as bytes; nothing in it has been believed yet.

    Parameters
    ----------
    place : str
        Where it was met, for people.
    journal : bytes
        Content of ``answers.jsonl``.
    identity : bytes or None
        Content of ``identity.json``, where there is one.
    when : datetime
        When it got there: for a shared disk the moment the server recorded, which its owner cannot set back; for a
        zip the date of the file, which counts for nothing but the order among several.
    how : str
        ``"zip"``, ``"folder"`` or ``"exchange"``; ``"paper"`` for a sheet that the course side typed in.
    user, module : str
        What the name of the folder on the shared disk says, or the code of the sheet stands for; else empty.
    owners : tuple of str
        The accounts that own the folder, the journal in it, or the zip; more than one only where they differ, none
        where the system keeps no owners.
    secret : str
        nbgrader's name-giver for feedback on the shared disk; else empty.
    """

    place: str
    journal: bytes = field(repr=False)
    identity: bytes | None = field(repr=False)
    when: datetime
    how: str
    user: str = ""
    module: str = ""
    owners: tuple[str, ...] = ()
    secret: str = ""

    def __post_init__(self) -> None:
        # Names of files can hold anything; this one is kept in records and shown.
        object.__setattr__(self, "place", one_line(self.place))


def too_much(place: str, limits: Limits) -> HandInError:
    """Return the refusal of a hand-in with too many or too large files."""
    return HandInError(
        place,
        rule=f"A hand-in has at most {limits.hand_in_files} files and {limits.hand_in_bytes} bytes.",
        remedy="Ask for the hand-in file alone; the limits stand in course.toml.",
    )


def unfit(name: str, rule: str) -> HandInError:
    """Return the refusal of something that no honest hand-in has."""
    return HandInError(name, rule=f"{rule}.", remedy="Ask for a clean hand-in.")
