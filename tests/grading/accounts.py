"""Accounts of this computer, and files that are theirs: real ones where the tests run as root, else one's own."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.support.sharing import owner_of

# Owners are read on POSIX alone; a hand-in over the shared disk is made there alone, too.
POSIX = pytest.mark.skipif(os.name != "posix", reason="only POSIX says who owns a file")
AS_ROOT = pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root can give a file to another account"
)
# Accounts that every Linux has, beside root; a number that has no name.
OTHERS = ("daemon", "bin", "sys")
NOBODYS = 54321


def mine() -> str:
    """Return the account that the tests run under."""
    return owner_of(os.geteuid())


def log_in(course: Course, **accounts: str) -> None:
    """Write accounts into the roster, by the identifier of whose they are."""
    lines = course.roster_file.read_text("utf-8").splitlines()
    people = [line.split(",")[:2] for line in lines[1:]]
    rows = [f"{identifier},{name},{accounts.get(identifier, '')}" for identifier, name in people]
    course.roster_file.write_text("\n".join(("apprentice,name,account", *rows)) + "\n", "utf-8")


def give(path: Path, account: str | int) -> Path:
    """Let a file or a folder with all in it belong to an account, by its name or its number; for root alone."""
    import pwd

    uid = account if isinstance(account, int) else pwd.getpwnam(account).pw_uid
    for each in (path, *path.rglob("*")) if path.is_dir() else (path,):
        os.chown(each, uid, -1, follow_symlinks=False)
    return path
