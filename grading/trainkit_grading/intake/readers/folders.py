"""Reading folders that somebody else made: unpacked hand-ins, folders of zips, the shared disk."""

from __future__ import annotations

import contextlib
import errno
import io
import os
import re
import stat
import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from trainkit.forms import IDENTITY_FILE
from trainkit.journal import FILE_LIMIT, JOURNAL_FILE
from trainkit_grading.course.folder import Limits
from trainkit_grading.errors import HandInError
from trainkit_grading.intake.readers.base import BUNDLE, IDENTITY_LIMIT, KINDS, HandIn, too_much, unfit
from trainkit_grading.intake.readers.costs import DEEPEST, TOLD, and_more
from trainkit_grading.intake.readers.zips import read_zip
from trainkit_grading.intake.submissions import SECRET_FILE
from trainkit_grading.support.outcome import Finding, refused
from trainkit_grading.support.sharing import owner_of

_SECRET_LIMIT = 400
_EXCHANGE_NAME = re.compile(r"(?P<user>[^+]+)\+(?P<module>[^+]+)\+(?P<time>[^+]+)(\+[^+]*)?")
# Where the system can look up a name inside an open folder, nothing can be put in the folder's place meanwhile.
_INSIDE = os.open in os.supports_dir_fd and os.scandir in os.supports_fd
_FOLDER = os.O_RDONLY | getattr(os, "O_DIRECTORY", 0) | getattr(os, "O_NOFOLLOW", 0)


def from_path(path: Path, limits: Limits) -> Iterator[HandIn | Finding]:
    """Read a zip, or a folder of zips and of unpacked hand-ins, without following links.

    Yields
    ------
    HandIn or Finding
        In the order of their names; each thing that is refused costs only itself.
    """
    if not os.path.lexists(path):
        yield Finding("refused", str(path), "There is no such file or folder. Check its name.")
    elif path.is_symlink():
        yield Finding("refused", str(path), "A link is not followed. Name the file or folder itself.")
    elif path.is_dir():
        yield from _walk(path, limits)
    else:
        yield from _file(path, path.name, limits)


def _walk(home: Path, limits: Limits) -> Iterator[HandIn | Finding]:
    for parent, folders, files in os.walk(home, followlinks=False):
        folders.sort()
        here = Path(parent)
        if len(here.relative_to(home).parts) > DEEPEST:
            yield Finding(
                "refused", _shown(here, home), f"Folders in here are nested more than {DEEPEST} deep. Take them out."
            )
            folders.clear()
            continue
        for name in list(folders):
            if (here / name).is_symlink():
                yield Finding(
                    "refused", _shown(here / name, home), "A link is not followed. Put the folder itself there."
                )
        if JOURNAL_FILE in files:
            place = _shown(here, home)
            try:
                yield _folder(here, place, limits)
            except HandInError as error:
                yield refused(error, place)
            folders.clear()
            continue
        for name in sorted(files):
            # Hidden files are programs' own: half-finished downloads, marks of the file manager.
            if name.casefold().endswith(".zip") and not name.startswith("."):
                yield from _file(here / name, _shown(here / name, home), limits)


def _shown(path: Path, home: Path) -> str:
    return (Path(home.name) / path.relative_to(home)).as_posix()


def _file(path: Path, place: str, limits: Limits) -> Iterator[HandIn | Finding]:
    try:
        with _opened(path, place, limits.hand_in_bytes * BUNDLE) as stream:
            met = os.fstat(stream.fileno())
            when = datetime.fromtimestamp(met.st_mtime, UTC)
            for found in read_zip(stream, place, when, limits):
                yield replace(found, owners=_owners(met)) if isinstance(found, HandIn) else found
    except HandInError as error:
        yield refused(error, place)
    except (OSError, OverflowError, ValueError) as error:
        yield Finding("refused", place, f"The file cannot be read ({error}). Allow reading it, or put it there again.")


def from_exchange(inbound: Path, limits: Limits) -> Iterator[HandIn | Finding]:
    """Read what lies in the inbound folder of the shared disk, without following links.

    The folder names are nbgrader's: user, module, time and a random part, with plus signs between.
    """
    try:
        names = sorted(path.name for path in inbound.iterdir())
    except FileNotFoundError:
        return
    except OSError as error:
        yield Finding("refused", str(inbound), f"The shared disk cannot be read ({error.strerror}). Allow reading it.")
        return
    odd = 0
    for name in names:
        place = f"{inbound.name}/{name}"
        said = _EXCHANGE_NAME.fullmatch(name)
        if said is None:
            odd += 1
            if odd <= TOLD:
                yield Finding("refused", place, "This is no hand-in of nbgrader's. Take it away.")
            continue
        try:
            yield _folder(inbound / name, place, limits, said["user"], said["module"])
        except HandInError as error:
            yield refused(error, place)
    if odd > TOLD:
        yield Finding("refused", inbound.name, and_more(odd - TOLD))


def _folder(path: Path, place: str, limits: Limits, user: str = "", module: str = "") -> HandIn:
    """Read a folder; with ``user`` one of the shared disk."""
    try:
        with _held_open(path) as home:
            met = os.fstat(home) if home is not None else path.lstat()
            _look_through(path, home, limits, place)
            with _opened(path / JOURNAL_FILE, place, FILE_LIMIT, home) as stream:
                journal = stream.read(FILE_LIMIT + 1)
                of_journal = os.fstat(stream.fileno())
                # Not the date of change, which its owner can set, but that of the record, which the system keeps.
                moment = of_journal.st_ctime if user else of_journal.st_mtime
            return HandIn(
                place=place,
                journal=journal,
                identity=_small(path / IDENTITY_FILE, place, IDENTITY_LIMIT, home),
                when=datetime.fromtimestamp(moment, UTC),
                how="exchange" if user else "folder",
                user=unicodedata.normalize("NFC", user),
                module=module,
                owners=_owners(met, of_journal),
                secret=_secret(path, place, home) if user else "",
            )
    except HandInError:
        raise
    except FileNotFoundError:
        raise HandInError(
            path.name, rule=f"A hand-in holds {JOURNAL_FILE}; this one does not.", remedy="Ask for it again."
        ) from None
    except (OSError, OverflowError, ValueError) as error:
        raise HandInError(
            path.name, rule=f"The folder cannot be read ({error}).", remedy="Allow reading it, or ask for it again."
        ) from None


@contextlib.contextmanager
def _held_open(path: Path) -> Iterator[int | None]:
    """Open a folder itself, never through a link; None where the system cannot look inside an open folder."""
    if not stat.S_ISDIR(path.lstat().st_mode):
        raise unfit(path.name, "A hand-in is a folder, no link to one")
    if not _INSIDE:
        yield None
        return
    try:
        descriptor = os.open(path, _FOLDER)
    except NotADirectoryError:
        raise unfit(path.name, "A hand-in is a folder, no link to one") from None
    try:
        yield descriptor
    finally:
        os.close(descriptor)


def _look_through(home: Path, descriptor: int | None, limits: Limits, place: str) -> None:
    size = 0
    for files, (name, met) in enumerate(_inside(home if descriptor is None else descriptor), start=1):
        if not stat.S_ISREG(met.st_mode) and not stat.S_ISDIR(met.st_mode):
            kind = KINDS.get(stat.S_IFMT(met.st_mode), "something else")
            raise unfit(name, f"A hand-in holds plain files; this is {kind}")
        size += met.st_size if stat.S_ISREG(met.st_mode) else 0
        if files > limits.hand_in_files or size > limits.hand_in_bytes:
            raise too_much(place, limits)


def _inside(folder: int | Path, deep: int = 0) -> Iterator[tuple[str, os.stat_result]]:
    """Yield what lies in a folder, one by one: whoever has seen too much of it stops, and nothing more is listed."""
    below = []
    with os.scandir(folder) as listed:
        for entry in listed:
            yield entry.name, entry.stat(follow_symlinks=False)
            if entry.is_dir(follow_symlinks=False):
                below.append(entry.name)
    if below and deep >= DEEPEST:
        raise unfit(below[0], f"Folders in a hand-in are nested at most {DEEPEST} deep")
    for name in below:
        if isinstance(folder, Path):
            yield from _inside(folder / name, deep + 1)
            continue
        descriptor = os.open(name, _FOLDER, dir_fd=folder)
        try:
            yield from _inside(descriptor, deep + 1)
        finally:
            os.close(descriptor)


def _opened(path: Path, place: str, limit: int, home: int | None = None) -> io.BufferedReader:
    """Open a regular file for reading; never through a link, never a second name of another file, never a pipe.

    With ``home`` the name is looked up in that open folder.
    """
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    try:
        if stat.S_ISLNK(os.lstat(path if home is None else path.name, dir_fd=home).st_mode):
            raise unfit(path.name, "A hand-in holds plain files; this is a link")
        descriptor = os.open(path if home is None else path.name, flags, dir_fd=home)
    except OSError as error:
        if error.errno == errno.ELOOP:  # it became a link between the two lines above
            raise unfit(path.name, "A hand-in holds plain files; this is a link") from None
        raise
    try:
        # Asked of what is open, not of the name: nothing can be put in its place in between.
        met = os.fstat(descriptor)
        if not stat.S_ISREG(met.st_mode):
            raise unfit(path.name, "A hand-in holds plain files; this is none")
        if met.st_nlink > 1:
            raise unfit(path.name, "A file in a hand-in has one name; this one has another elsewhere")
        if met.st_size > limit:
            raise HandInError(
                path.name, place=place, rule=f"This file has at most {limit} bytes.", remedy="Ask for a clean hand-in."
            )
        return os.fdopen(descriptor, "rb")
    except BaseException:
        os.close(descriptor)
        raise


def _small(path: Path, place: str, limit: int, home: int | None) -> bytes | None:
    try:
        with _opened(path, place, limit, home) as stream:
            return stream.read(limit + 1)
    except FileNotFoundError:
        return None


def _secret(path: Path, place: str, home: int | None) -> str:
    content = _small(path / SECRET_FILE, place, _SECRET_LIMIT, home) or b""
    text = content.decode("ascii", "replace").strip()
    return text if re.fullmatch("[0-9A-Za-z]{1,200}", text) else ""


def _owners(*met: os.stat_result) -> tuple[str, ...]:
    """Return the accounts that own what was met, each once; none where the system keeps no owners."""
    found = dict.fromkeys(owner_of(each.st_uid) for each in met)
    return tuple(name for name in found if name)
