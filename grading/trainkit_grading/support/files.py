"""Writing so that a kill at any moment leaves the old state or the new one, never half of one."""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import shutil
import stat
import time
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from trainkit_grading.errors import CourseError
from trainkit_grading.support.sharing import for_owner

# Everything half done lives here, inside the course folder and so on the same disk, where a rename is one step.
# It is there while a command is at work, and only what was killed leaves it behind.
WORK_FOLDER = ".trainkit-work"
_LOCK, _PAGES_LOCK = ".trainkit-lock", ".trainkit-pages-lock"
LOCKS = frozenset((_LOCK, _PAGES_LOCK))
"""Names of the files in a course folder by which commands keep one another waiting; nothing is in them."""
# What is being written, beside the file whose place it takes.
_TEMPORARY = re.compile(r"\..{1,100}\.[0-9a-f]{8}\.tmp", re.DOTALL)
# Folders of the course in which files lie that others have made.
_OTHERS = {"inbox", "submitted", "arrivals"}


def write_atomically(path: Path, content: bytes | str, mode: int = 0o644) -> bool:
    """Write a file in one step and tell whether its content changed.

    Parameters
    ----------
    path : Path
        The file; its folder exists.
    content : bytes or str
        All of it; text is written in UTF-8 with the line ends it has.
    mode : int, optional
        Permissions of the file.

    Returns
    -------
    bool
        False where the file held exactly this already; it is then left untouched.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "a.txt"
    ...     write_atomically(path, "one"), write_atomically(path, "one"), path.read_text()
    (True, False, 'one')
    """
    data = content.encode() if isinstance(content, str) else content
    mode = for_owner(path.parent, mode) if path.parent.is_dir() else mode
    with contextlib.suppress(FileNotFoundError):
        if not path.is_symlink() and path.read_bytes() == data:
            # What is its owner's alone may have been written before that was so.
            if not mode & 0o007 and os.name == "posix" and path.stat().st_mode & 0o077 & ~mode:
                path.chmod(mode)
            return False
    try:
        _write(path, data, mode)
    except FileNotFoundError:
        if not path.parent.is_dir():
            raise
        # Another command, begun after one was killed, has taken this for something left behind.
        _write(path, data, mode)
    return True


def _write(path: Path, data: bytes, mode: int) -> None:
    with replacing(path, mode) as stream:
        stream.write(data)


@contextlib.contextmanager
def replacing(path: Path, mode: int = 0o644) -> Iterator[BinaryIO]:
    """Give a stream to write a file in one step: it takes the place of ``path`` once all is written.

    Raises
    ------
    OSError
        If it cannot be written; its ``filename`` is ``path``, and what was there stays.
    """
    temporary = path.with_name(f".{path.name[:100]}.{secrets.token_hex(4)}.tmp")
    try:
        descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
        with os.fdopen(descriptor, "wb") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        temporary.replace(path)
    except BaseException as error:
        with contextlib.suppress(OSError):
            temporary.unlink()
        if isinstance(error, OSError) and error.errno is not None and error.filename in (None, str(temporary)):
            # A disk that is full while something is written does not say what it was.
            error.filename, error.filename2 = str(path), None
        raise


def write_once(path: Path, content: str, mode: int = 0o644) -> bool:
    """Write a file unless there is one already, and tell whether it was written."""
    if path.exists():
        return False
    return write_atomically(path, content, mode)


@contextlib.contextmanager
def scratch(course: Path) -> Iterator[Path]:
    """Give a new empty folder on the course's own disk, which is gone afterwards."""
    home = course / WORK_FOLDER
    home.mkdir(mode=for_owner(course, 0o700), exist_ok=True)
    folder = home / f"new-{secrets.token_hex(8)}"
    folder.mkdir()
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def swap_in(course: Path, new: Path, target: Path) -> None:
    """Put the folder ``new`` in the place of ``target``.

    Two renames are needed where there was one before; :func:`settle` finishes what was cut off between them.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    old = _old(course, target)
    if target.exists():
        old.mkdir(parents=True, exist_ok=True)
        shutil.rmtree(old)
        target.rename(old)
    new.rename(target)
    shutil.rmtree(old, ignore_errors=True)
    for empty in (old.parent, old.parent.parent):
        with contextlib.suppress(OSError):
            empty.rmdir()


def settle(course: Path) -> None:
    """Finish what a killed command left: put back a folder that had been moved aside, drop what was half made."""
    home = course / WORK_FOLDER
    if not home.is_dir():
        return  # the last command came to its end
    aside = home / "old"
    if aside.is_dir():
        # A folder was moved aside whole; it counts again only where nothing took its place.
        for mark in sorted(aside.glob("*/*")):
            target = course / Path(*mark.parent.name.split("%")) / mark.name
            if not target.exists():
                target.parent.mkdir(parents=True, exist_ok=True)
                mark.rename(target)
    with (course / _PAGES_LOCK).open("a+b") as pages:
        # Somebody who writes pages now has begun files that must stay; whoever comes next drops what was left.
        if _lock(pages.fileno()):
            try:
                _drop_half_made(course)
            finally:
                _unlock(pages.fileno())


def _drop_half_made(course: Path) -> None:
    for folder, folders, files in os.walk(course):
        if Path(folder) == course:
            folders[:] = sorted(set(folders) - _OTHERS)
        for name in filter(_TEMPORARY.fullmatch, files):
            with contextlib.suppress(OSError):
                Path(folder, name).unlink()
    shutil.rmtree(course / WORK_FOLDER, ignore_errors=True)


def _old(course: Path, target: Path) -> Path:
    # No identifier holds a percent sign, so the way back from this name is certain.
    inside = target.relative_to(course)
    return course / WORK_FOLDER / "old" / "%".join(inside.parent.parts) / inside.name


def files_under(folder: Path) -> Iterator[Path]:
    """Yield every file under a folder, sorted, and every link as a file of its own: none is followed."""
    for parent, folders, names in os.walk(folder, followlinks=False):
        here = Path(parent)
        folders.sort()
        links = [name for name in folders if (here / name).is_symlink()]
        for name in sorted((*names, *links)):
            yield here / name


def regular(path: Path) -> bool:
    """Tell whether a path is a plain file, not a link to one."""
    return stat.S_ISREG(path.lstat().st_mode)


def same_tree(one: Path, other: Path) -> bool:
    """Tell whether two folders hold the same files with the same bytes."""

    def files(folder: Path) -> dict[str, bytes]:
        return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}

    return one.is_dir() and other.is_dir() and files(one) == files(other)


@contextlib.contextmanager
def held(course: Path, wait: float = 30.0) -> Iterator[None]:
    """Hold the course folder against other commands that write into it; a killed command lets go by itself.

    Also finishes what a killed command left (:func:`settle`).

    Raises
    ------
    CourseError
        If another command has held it for ``wait`` seconds.
    """
    with _locked(course, _LOCK, wait, "Another command is working in this course folder."):
        settle(course)
        work = course / WORK_FOLDER
        work.mkdir(mode=for_owner(course, 0o700), exist_ok=True)
        yield
        # Whatever is still in it, where something went wrong, is for the next command to finish.
        with contextlib.suppress(OSError):
            work.rmdir()


@contextlib.contextmanager
def pages_held(course: Path, wait: float = 30.0) -> Iterator[None]:
    """Hold the pages and tables that are made from what is on record, so that reports need not wait for marking.

    Raises
    ------
    CourseError
        If another command has held them for ``wait`` seconds.
    """
    with _locked(course, _PAGES_LOCK, wait, "Another command is writing reports in this course folder."):
        yield


@contextlib.contextmanager
def _locked(course: Path, name: str, wait: float, rule: str) -> Iterator[None]:
    with (course / name).open("a+b") as stream:
        until = time.monotonic() + wait
        while not _lock(stream.fileno()):
            if time.monotonic() >= until:
                raise CourseError(
                    str(course), rule=rule, remedy="Wait until it has ended, then give the command again."
                )
            time.sleep(0.1)
        try:
            yield
        except OSError as error:
            # What the system refuses while something is written does not say where.
            if error.errno is not None and error.filename is None:
                error.filename = str(course)
            raise
        finally:
            _unlock(stream.fileno())


if os.name == "nt":  # pragma: no cover - the course side is tested on POSIX
    import msvcrt

    def _lock(descriptor: int) -> bool:
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]  # Windows only
        except OSError:
            return False
        return True

    def _unlock(descriptor: int) -> None:
        with contextlib.suppress(OSError):
            msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)  # type: ignore[attr-defined,unused-ignore]  # Windows only

else:
    import fcntl

    def _lock(descriptor: int) -> bool:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _unlock(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_UN)
