"""Hand-ins under somebody else's name, on a shared disk or in a folder that others can write into.

The victim is ``amir``, whoever attacks is ``o'brien``. A file belongs to the victim, to whoever attacks, to root, or to
an account that the system has no name for.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from tests.grading.makers import MODULE

from .zips import zipped

__all__ = ["OWNERS", "Disk", "Impostor"]

VICTIM, THIEF, UNKNOWN, ROOT = "victim", "thief", "unknown", "root"


@dataclass(frozen=True)
class Disk:
    """Where hand-ins are left: the inbound folder of the shared disk, and the inbox.

    ``account`` has the victim's user name. ``worse`` and ``better`` are journals with the victim's form, one of them
    answered badly; ``own`` is the honest journal of whoever attacks. ``code`` and ``own_code`` are the identities.
    """

    inbound: Path
    inbox: Path
    account: str
    worse: bytes
    better: bytes
    own: bytes
    code: bytes
    own_code: bytes

    def folder(self, user: str, name: str, journal: bytes, identity: bytes | None = None) -> Path:
        """Leave a folder as nbgrader would, for this user."""
        made = self.inbound / f"{user}+{MODULE}+2027-03-01 12:00:00 UTC+{name}"
        return self.laid(made, journal, identity)

    def laid(self, home: Path, journal: bytes, identity: bytes | None = None) -> Path:
        """Leave an unpacked hand-in."""
        home.mkdir(parents=True)
        (home / "answers.jsonl").write_bytes(journal)
        if identity is not None:
            (home / "identity.json").write_bytes(identity)
        return home

    def zip(self, name: str, members: Mapping[str, bytes]) -> Path:
        """Drop a zip."""
        path = self.inbox / f"{name}.zip"
        path.write_bytes(zipped(dict(members)))
        return path


@dataclass(frozen=True)
class Impostor:
    """One hand-in under somebody else's name.

    Parameters
    ----------
    name : str
        Short; part of the name of what is left.
    tries : str
        What it tries, in a sentence.
    leave : callable
        Leaves it, and returns what was left, each with whose it is then.
    doubt : str
        Why it waits for a person; empty where it is refused.
    refused : str
        What the collector says where it refuses it.
    root : bool
        Whether it can be tried only where a file can be given to another account.
    """

    name: str
    tries: str
    leave: Callable[[Disk, str], Mapping[Path, str]]
    doubt: str = ""
    refused: str = ""
    root: bool = True


def _folder(
    user: str, owner: str, of_journal: str = "", *, journal: str = "worse", code: str = ""
) -> Callable[..., dict[Path, str]]:
    def leave(disk: Disk, name: str) -> dict[Path, str]:
        named = disk.account if user == "ACCOUNT" else user
        made = disk.folder(named, name, getattr(disk, journal), getattr(disk, code) if code else None)
        return {made: owner, made / "answers.jsonl": of_journal or owner}

    return leave


def _zip(owner: str, journal: str = "worse") -> Callable[..., dict[Path, str]]:
    def leave(disk: Disk, name: str) -> dict[Path, str]:
        made = disk.zip(name, {"answers.jsonl": getattr(disk, journal), "identity.json": disk.code})
        return {made: owner}

    return leave


def _unpacked(disk: Disk, name: str) -> dict[Path, str]:
    return {disk.laid(disk.inbox / name, disk.worse, disk.code): THIEF}


def _class(disk: Disk, name: str) -> dict[Path, str]:
    parts = {
        "a/answers.jsonl": disk.worse,
        "a/identity.json": disk.code,
        "b/answers.jsonl": disk.own,
        "b/identity.json": disk.own_code,
    }
    return {disk.zip(name, parts): THIEF}


OWNERS: tuple[Impostor, ...] = (
    Impostor(
        "named-for-another",
        "Writes a folder on the shared disk that is named for somebody else.",
        _folder("amir", THIEF),
        "owner is another",
        root=False,
    ),
    Impostor(
        "owned-by-nobody",
        "Writes such a folder under an account that is not on the roster, and that the system has no name for.",
        _folder("amir", UNKNOWN, journal="worse"),
        "owner unknown",
    ),
    Impostor(
        "owned-by-root", "Writes such a folder as a service that runs as root.", _folder("amir", ROOT), "owner unknown"
    ),
    Impostor(
        "own-from-nobody",
        "Lets an account that is nobody's hand in under the own name.",
        _folder("o'brien", UNKNOWN, journal="better"),
        "owner unknown",
    ),
    Impostor(
        "own-journal-inside",
        "Puts an own journal into a folder that belongs to somebody else.",
        _folder("amir", VICTIM, THIEF),
        "owner is another",
    ),
    Impostor(
        "own-folder-around",
        "Puts a journal that belongs to somebody else into an own folder in their name.",
        _folder("amir", THIEF, VICTIM),
        "owner is another",
    ),
    Impostor(
        "journal-of-nobody",
        "Puts a journal of an unknown account into a folder that belongs to somebody else.",
        _folder("amir", VICTIM, UNKNOWN),
        "owner unknown",
    ),
    Impostor(
        "renamed",
        "Renames the folder of somebody who knows the trade, so that it counts for oneself.",
        _folder("o'brien", VICTIM, journal="better"),
        "owner is another",
    ),
    Impostor(
        "named-for-the-account",
        "Names the folder for somebody else's user name instead of the identifier.",
        _folder("ACCOUNT", THIEF),
        "owner is another",
        root=False,
    ),
    Impostor(
        "borrowed-workbook",
        "Hands in under the own name what was answered in somebody else's workbook.",
        _folder("o'brien", THIEF, journal="better", code="code"),
        "code is another's",
        root=False,
    ),
    Impostor(
        "look-alike",
        "Names the folder with a letter of another script that looks the same.",
        _folder("\u0430mir", THIEF),
        refused="Nobody on the roster",
        root=False,
    ),
    Impostor(
        "capitals",
        "Names the folder with capitals.",
        _folder("AMIR", THIEF),
        refused="Nobody on the roster",
        root=False,
    ),
    Impostor(
        "code-of-another",
        "Hands in a zip with the personal code out of somebody else's zip.",
        _zip(THIEF),
        "owner is another",
    ),
    Impostor("stolen-code-of-nobody", "Does so from an account that is nobody's.", _zip(UNKNOWN), "owner unknown"),
    Impostor("stolen-code-unpacked", "Leaves a folder in the inbox with a stolen code.", _unpacked, "owner is another"),
    Impostor(
        "in-a-class-zip",
        "Packs a hand-in with a stolen code beside an own one, as a learning platform does.",
        _class,
        "owner is another",
    ),
)
