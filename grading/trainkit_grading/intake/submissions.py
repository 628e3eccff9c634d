"""The folder of one submission, looked at without following or opening anything that the course side did not lay there.

The collector lays five files there: the journal, the pristine notebook, the forms, the time of arrival and nbgrader's
submission secret. Whatever else is met is named for a person to look at.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from trainkit import journal
from trainkit.errors import JournalError
from trainkit.forms import FORMS_FILE
from trainkit_grading.course.folder import Course
from trainkit_grading.nbgrader_bridge import steps
from trainkit_grading.support.plaintext import one_line

TIME_FILE = "timestamp.txt"
SECRET_FILE = "submission_secret.txt"  # noqa: S105 - nbgrader's name of a file, not a password
_SMALL = 1000
# What programs of the instructor's own leave behind when they look into a folder.
_LEFT_BEHIND = frozenset({".ipynb_checkpoints", ".DS_Store", "Thumbs.db", "desktop.ini"})


def folder(course: Course, module: str, apprentice: str) -> Path:
    """Return the folder of one submission."""
    return course.submitted / apprentice / module


def names(course: Course, module: str) -> tuple[str, ...]:
    """Return the names of all folders under ``submitted/`` that hold something of this module, sorted."""
    try:
        with os.scandir(course.submitted) as entries:
            found = [entry.name for entry in entries]
    except (FileNotFoundError, NotADirectoryError):
        return ()
    # A link counts as something handed in, but nothing is looked for behind it.
    return tuple(
        name
        for name in sorted(found)
        if not name.startswith(".") and ((path := course.submitted / name).is_symlink() or _there(path / module))
    )


def oddities(course: Course, module: str, apprentice: str) -> tuple[str, ...]:
    """Say, a sentence each, what makes a folder unfit for tools that open and copy what they find.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as home:
    ...     course = Course(folder=Path(home), name="c", title="C", modules=())
    ...     path = folder(course, "lock-pin", "amir")
    ...     path.mkdir(parents=True)
    ...     (path / "extra").symlink_to("/somewhere")
    ...     oddities(course, "lock-pin", "amir")
    ('extra is a link.',)
    """
    home = folder(course, module, apprentice)
    for path in (home.parent, home):
        if not _is(path, stat.S_ISDIR):
            return (f"{path.name} is {_kind(path)}, not a folder.",)
        if not os.access(path, os.R_OK | os.X_OK):
            return (f"{path.name} cannot be read.",)
    odd: list[str] = []
    files_of_ours = {f"{module}.ipynb", journal.JOURNAL_FILE, FORMS_FILE, TIME_FILE, SECRET_FILE}
    laid = files_of_ours | _LEFT_BEHIND
    size = 0
    for files, (inside, where) in enumerate(_inside(home)):
        if len(odd) >= 5 or files > course.limits.hand_in_files or size > course.limits.hand_in_bytes:
            odd.append("There is more of it than an honest hand-in has.")
            break
        met = os.lstat(where)
        size += met.st_size
        if not stat.S_ISREG(met.st_mode) and not stat.S_ISDIR(met.st_mode):
            odd.append(f"{one_line(inside)} is {_kind(Path(where))}.")
        elif stat.S_ISREG(met.st_mode) and met.st_nlink > 1:
            odd.append(f"{one_line(inside)} has another name elsewhere.")
        elif not os.access(where, os.R_OK):
            odd.append(f"{one_line(inside)} cannot be read.")
        elif inside in files_of_ours and stat.S_ISDIR(met.st_mode):
            odd.append(f"{one_line(inside)} is a folder.")
        elif "/" not in inside and inside not in laid:
            odd.append(f"{one_line(inside)} does not belong there.")
    if _there(home / TIME_FILE) and arrived(course, module, apprentice) is None:
        odd.append(f"{TIME_FILE} holds no time.")
    return tuple(odd)


def arrived(course: Course, module: str, apprentice: str) -> datetime | None:
    """Return when a submission arrived, UTC without a zone as nbgrader keeps it; None where that is not recorded."""
    text = small_file(folder(course, module, apprentice), TIME_FILE)
    if text is None:
        return None
    try:
        # What the collector writes, "2027-03-01 08:15:30.123456 UTC", and every other ISO form.
        when = datetime.fromisoformat(text.decode("ascii").strip().replace(" UTC", "+00:00"))
        return when.astimezone(UTC).replace(tzinfo=None) if when.tzinfo is not None else when
    except (ValueError, OverflowError):  # no time, or one that its zone moves out of the calendar
        return _as_nbgrader_reads(text)


def _as_nbgrader_reads(text: bytes) -> datetime | None:
    with steps.prepared():
        from nbgrader.utils import parse_utc

        try:
            when = parse_utc(text.decode("utf-8").strip())
        except (ValueError, OverflowError, TypeError, AttributeError):  # what it raises for what is no time
            return None
    return when if isinstance(when, datetime) else None


def read_journal(course: Course, module: str, apprentice: str) -> journal.Reading:
    """Read the journal of a submission; a link in the place of the file or a folder is an unreadable journal."""
    home = folder(course, module, apprentice)
    if not all(_is(path, stat.S_ISDIR) for path in (home.parent, home)):
        return journal.Reading(problems=(journal.Problem(0, "place", "The folder is a link; it was not followed."),))
    try:
        return journal.read(home / journal.JOURNAL_FILE)
    except JournalError as error:
        return journal.Reading(problems=(journal.Problem(0, "place", f"The journal was not read. {error.rule}"),))


def journal_digest(course: Course, module: str, apprentice: str) -> str:
    """Return the SHA-256 of the journal of a submission, as :func:`read_journal` would, without reading its lines."""
    home = folder(course, module, apprentice)
    if not all(_is(path, stat.S_ISDIR) for path in (home.parent, home)):
        return ""
    try:
        return hashlib.sha256(journal.content_of(home / journal.JOURNAL_FILE)).hexdigest()
    except JournalError:
        return ""


def laid(course: Course, module: str, apprentice: str) -> datetime | None:
    """Return when the journal of a submission was laid where it is, UTC; None where that cannot be known.

    What the file says of its last change is the apprentice's own, and copied along; its place in the folder is not.
    """
    try:
        met = (folder(course, module, apprentice) / journal.JOURNAL_FILE).lstat()
    except OSError:
        return None
    return datetime.fromtimestamp(max(met.st_ctime, met.st_mtime), UTC)


def small_file(home: Path, name: str) -> bytes | None:
    """Return the content of a small regular file, or None for anything else."""
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    if not all(_is(path, stat.S_ISDIR) for path in (home.parent, home)) or not _is(home / name, stat.S_ISREG):
        return None
    try:
        with os.fdopen(os.open(home / name, flags), "rb") as stream:
            content = stream.read(_SMALL + 1)
    except OSError:
        return None
    return content if len(content) <= _SMALL else None


def _inside(home: Path) -> Iterator[tuple[str, str]]:
    """Yield everything in a folder: its place in there, parted by strokes on every system, and its path."""
    for parent, folders, files in os.walk(home, followlinks=False):
        inside = os.path.relpath(parent, home).replace(os.sep, "/")
        for name in sorted([*folders, *files]):
            yield name if inside == "." else f"{inside}/{name}", os.path.join(parent, name)  # noqa: PTH118 - a Path for each file is slow
        # nbgrader copies nothing out of a notebook's own folder of copies, so nothing in it matters.
        folders[:] = sorted(name for name in folders if name not in _LEFT_BEHIND)


def _is(path: Path, kind: object) -> bool:
    try:
        return bool(kind(path.lstat().st_mode))  # type: ignore[operator]  # one of stat's own predicates
    except OSError:
        return False


def _there(path: Path) -> bool:
    return os.path.lexists(path)


def _kind(path: Path) -> str:
    try:
        mode = path.lstat().st_mode
    except OSError:
        return "nothing"
    if stat.S_ISLNK(mode):
        return "a link"
    if stat.S_ISREG(mode):
        return "a file"
    return "a folder" if stat.S_ISDIR(mode) else "a device or pipe"
