"""Who may open a course folder on this computer: its owner, or a group of instructors who share it.

A personal code is worth as much as the zip that holds it is hard to read. On Windows the folder has the rights of the
one around it; ``grading/docs/running-a-course.md`` says what protects there.
"""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from trainkit_grading.support.outcome import Finding
from trainkit_grading.support.sharing import GROUP

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course

PRIVATE, SHARED = "private", "group"
"""The two values of the setting ``access``."""

_MODES = {PRIVATE: 0o700, SHARED: GROUP}
_OTHERS = {PRIVATE: 0o077, SHARED: 0o007}
# What lies in a course folder that is somebody's alone, and what it is.
_PERSONAL = {
    "zips": "zips with personal codes",
    "inbox": "zips that were handed in",
    "submitted": "submitted hand-ins",
    "arrivals": "hand-ins that were kept",
}


def close(folder: Path, access: str) -> None:
    """Close a course folder to everybody whom the setting does not name."""
    if os.name == "posix" and folder.stat().st_mode & 0o7777 != _MODES[access]:
        folder.chmod(_MODES[access])


def follow(access: str) -> None:
    """Let whatever this process writes from now on be the group's, where a group shares the course."""
    if access == SHARED:
        os.umask(0o007)


def findings(course: Course) -> Iterator[Finding]:
    """Warn where others than the setting names can open the course folder, with the command that closes it."""
    if os.name != "posix":
        return
    mode = course.folder.stat().st_mode
    if mode & _OTHERS[course.access]:
        open_to = _OTHERS[course.access] & 0o055
        named = [what for name, what in _PERSONAL.items() if _readable(course.folder / name, open_to)]
        what = f" and read in it: {', '.join(named)}" if named else ""
        text = f"Other accounts on this computer can open this folder{what}. Close it: {_command(course)}"
        if course.access == PRIVATE:
            text += '. If instructors share it, set access = "group" in course.toml, then check again.'
        yield Finding("warning", str(course.folder), text)
    elif course.access == SHARED and mode & 0o2070 != 0o2070:
        text = f"The group cannot work in this folder. Open it to the group: {_command(course)}"
        yield Finding("warning", str(course.folder), text)
    if course.exchange_root is not None and course.exchange_root.resolve().is_relative_to(course.folder.resolve()):
        text = "The shared disk lies in the course folder, which no apprentice can open. Put it elsewhere: root in "
        yield Finding("warning", str(course.exchange_root), f"{text}[exchange] of course.toml.")


def _command(course: Course) -> str:
    folder = shlex.quote(str(course.folder))
    if course.access == PRIVATE:
        return f"chmod 700 {folder}"
    return f"chmod -R g+rwX,o= {folder} && find {folder} -type d -exec chmod g+s {{}} +"


def _readable(home: Path, open_to: int) -> bool:
    """Tell whether some file in a folder can be read by whom these permissions stand for."""
    if not home.is_dir() or not home.stat().st_mode & open_to:
        return False
    return any(
        (Path(parent) / name).lstat().st_mode & open_to & 0o444 for parent, _, names in os.walk(home) for name in names
    )
