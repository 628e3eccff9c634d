"""Who owns a file, and folders that a group of instructors shares: there the group may what its owner may."""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path

GROUP = 0o2770
"""Permissions of such a folder: the group may do all in it, others nothing, and what is made in it is the group's."""


def shared_by_group(folder: Path) -> bool:
    """Tell whether a folder is one that a group shares.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     shared_by_group(Path(folder))
    False
    """
    return os.name == "posix" and folder.stat().st_mode & 0o2077 == GROUP & 0o2077


def for_owner(folder: Path, mode: int) -> int:
    """Return permissions for something in a folder: what the owner may do there, the group may in a shared one.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     oct(for_owner(Path(folder), 0o600))
    '0o600'
    """
    return mode | (mode & 0o700) >> 3 if shared_by_group(folder) else mode


def private_folder(path: Path) -> None:
    """Make a folder that only its owner can open, or the group where the folder around it is shared."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.mkdir(mode=for_owner(path.parent, 0o700), exist_ok=True)


def owner_of(uid: int) -> str:
    """Return the account that a number stands for; the number itself where the system has no name for it.

    Empty where the system keeps no owners.
    """
    try:
        import pwd
    except ImportError:  # Windows
        return ""
    try:
        return unicodedata.normalize("NFC", pwd.getpwuid(uid).pw_name)
    except KeyError:
        return str(uid)
