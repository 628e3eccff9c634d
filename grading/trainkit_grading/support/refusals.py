"""What the system under a course refuses, in words: a full disk, a folder that can only be read, a lost connection."""

from __future__ import annotations

import errno
import re
from pathlib import Path

from trainkit_grading.errors import CourseError, SystemRefusalError

# What begins so in a course folder is there for commands alone.
_OURS = ".trainkit-"
_TEMPORARY = re.compile(r"\.(.{1,100})\.[0-9a-f]{8}\.tmp", re.DOTALL)
_AGAIN = "Then give the same command again."
DISK_FULL = ("The disk is full.", f"Make room on it. {_AGAIN} What is on record stays.")
READ_ONLY = (
    "This disk can only be read.",
    f"Allow writing on it, or copy the course to another disk. {_AGAIN}",
)
NO_RIGHT = (
    "Your account may not read or write this, or another program holds it.",
    f"Close it in other programs, or let its owner give you the right. {_AGAIN}",
)
NO_MEMORY = ("The memory of this computer is used up.", f"Close other programs. {_AGAIN}")
_TOO_MANY_OPEN = ("Too many files are open on this computer.", f"Close other programs. {_AGAIN}")
_NO_ANSWER = (
    "The disk does not answer as it should ({said}).",
    f"Look at the disk and its connection. {_AGAIN} If it goes on, restore the course from your backup.",
)
# What concerns a whole disk or computer: whatever comes next in the same command meets it again.
_OF_ALL = (
    (("ENOSPC",), DISK_FULL),
    (
        ("EDQUOT",),
        (
            "Your share of this disk is used up.",
            f"Delete files of yours on it, or ask for a larger share. {_AGAIN} What is on record stays.",
        ),
    ),
    (("EROFS",), READ_ONLY),
    (("ENOMEM",), NO_MEMORY),
    (("EMFILE", "ENFILE"), _TOO_MANY_OPEN),
    (("EIO", "ESTALE", "ENODEV", "ENXIO", "ETIMEDOUT", "EHOSTDOWN", "EHOSTUNREACH", "ENETDOWN"), _NO_ANSWER),
    (("ENETUNREACH", "ENOTCONN", "EREMOTEIO", "ECONNRESET"), _NO_ANSWER),
)
_OF_ONE = (
    (("EACCES", "EPERM"), NO_RIGHT),
    (("ENOENT",), ("This is not there.", f"Check the path, and that its disk is connected. {_AGAIN}")),
    (
        ("ENOTDIR", "EISDIR", "EEXIST", "ENOTEMPTY", "ELOOP"),
        ("Something else lies in this place, like a file where a folder belongs.", f"Move it away. {_AGAIN}"),
    ),
    (
        ("ENAMETOOLONG",),
        ("This path is too long for the system.", f"Move the course into a folder with a shorter path. {_AGAIN}"),
    ),
    (
        ("EFBIG",),
        (
            "A file may not become this large on this system.",
            f"Ask whoever runs this computer to raise the limit. {_AGAIN} What is on record stays.",
        ),
    ),
)
_ANYTHING = ("The system refuses this ({said}).", f"Look at this place. {_AGAIN}")


def refusal(error: OSError | MemoryError, place: Path | str = "") -> CourseError:
    """Return what the system refused as an error that says what to do.

    Parameters
    ----------
    error : OSError or MemoryError
        What Python raised.
    place : Path or str, optional
        What it was about, where the error does not say it.

    Examples
    --------
    >>> print(refusal(OSError(errno.EROFS, "Read-only file system"), "report").rule)
    This disk can only be read.
    """
    if isinstance(error, MemoryError):
        rule, remedy = NO_MEMORY
        return SystemRefusalError(str(place) or "memory", rule=rule, remedy=remedy)
    rule, remedy = next((words for names, words in (*_OF_ALL, *_OF_ONE) if _name(error) in names), _ANYTHING)
    said = error.strerror or type(error).__name__
    kind = SystemRefusalError if stops_all(error) else CourseError
    return kind(_shown(Path(str(error.filename or place or said))), rule=rule.format(said=said), remedy=remedy)


def stops_all(error: Exception) -> bool:
    """Tell whether what a command does next would be refused for the same reason.

    Examples
    --------
    >>> stops_all(OSError(errno.ENOSPC, "")), stops_all(PermissionError(errno.EACCES, ""))
    (True, False)
    """
    if isinstance(error, OSError):
        return _name(error) in {name for names, _ in _OF_ALL for name in names}
    return isinstance(error, SystemRefusalError)


def _name(error: OSError) -> str:
    # By name: not every system has every number.
    return errno.errorcode.get(error.errno or 0, "")


def _shown(path: Path) -> str:
    """Return a path as people know it: without what is there only while a command works."""
    ours = next((number for number, part in enumerate(path.parts) if part.startswith(_OURS)), 0)
    if ours:
        return str(Path(*path.parts[:ours]))
    temporary = _TEMPORARY.fullmatch(path.name)
    return str(path.with_name(temporary[1]) if temporary else path)
