"""Reading packs: the only place in the lower layers that touches files."""

from __future__ import annotations

import os
import re
import unicodedata
from functools import lru_cache
from importlib import resources
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from trainkit.errors import PackError
from trainkit.packs.check import Examination, examine_bytes
from trainkit.packs.findings import error_from
from trainkit.packs.shape import LARGEST

if TYPE_CHECKING:
    from collections.abc import Collection

    from trainkit.packs.pack import Pack


PACK_FILE = "pack.toml"
"""Name of the pack that lies beside a notebook, where explanation and practice are about another engine."""


def shipped() -> tuple[str, ...]:
    """Return the names of the packs that are installed with the workbooks.

    Examples
    --------
    >>> "dunlin" in shipped()
    True
    """
    folder = resources.files("trainkit.packs") / "data"
    return tuple(sorted(entry.name[:-5] for entry in folder.iterdir() if entry.name.endswith(".toml")))


def load(name_or_path: str | os.PathLike[str]) -> Pack:
    """Load a pack.

    Parameters
    ----------
    name_or_path : str or path
        The name of a shipped pack, or the path of a TOML file.

    Returns
    -------
    Pack
        The same object for the same content and name.

    Raises
    ------
    PackError
        If there is no such pack, or if it cannot be used; ``findings`` then lists everything that is wrong.

    Examples
    --------
    >>> load("dunlin").name
    'dunlin'
    """
    content, place = bytes_of(name_or_path)
    return _load(content, place)


def beside(folder: FilePath) -> Pack | None:
    """Load the pack that lies beside a notebook, or return None where there is none.

    Raises
    ------
    PackError
        If there is one and it cannot be used.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     print(beside(FilePath(folder)))
    None
    """
    path = FilePath(folder) / PACK_FILE
    if not os.path.lexists(path):
        return None
    content, _ = bytes_of(path)
    return _load(content, PACK_FILE)


def load_accepted(path: FilePath) -> Pack:
    """Load a pack that was accepted before, such as the copy that a course keeps of it: its rules are not judged again.

    A later release may know more rules. What was drawn from a pack is marked and reported all the same.

    Parameters
    ----------
    path : path
        The file.

    Raises
    ------
    PackError
        If there is no such file, or this release cannot read it.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = FilePath(folder) / "pack.toml"
    ...     _ = path.write_text(starting_point(), "utf-8")
    ...     load_accepted(path).name
    'my-engine'
    """
    content, place = bytes_of(path)
    return _load_accepted(content, place)


def load_text(text: str, place: str = "pack.toml") -> Pack:
    """Load a pack from TOML text that stands at ``place``, which names it in errors."""
    return _load(text.encode("utf-8", "surrogatepass"), place)


def starting_point(name: str = "my-engine") -> str:
    """Return the TOML text of a commented pack to start from, under a name made from ``name``.

    Examples
    --------
    >>> 'name = "unit-7"' in starting_point("Unit 7")
    True
    """
    plain = re.sub(r"[^a-z0-9]+", "-", unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower())
    text = (resources.files("trainkit.packs") / "start.toml").read_text(encoding="utf-8")
    return text.replace('name = "my-engine"', f'name = "{plain.strip("-")[:40].strip("-") or "my-engine"}"', 1)


def bytes_of(name_or_path: str | os.PathLike[str]) -> tuple[bytes, str]:
    """Return the bytes of a pack and the name of its file."""
    name = str(name_or_path)
    if isinstance(name_or_path, str) and name in shipped():
        return (resources.files("trainkit.packs") / "data" / f"{name}.toml").read_bytes(), f"{name}.toml"
    try:
        path = FilePath(name_or_path)
        if not path.is_file():
            raise PackError(
                name,
                rule=f"A pack is a TOML file, or one of those installed: {', '.join(shipped())}.",
                remedy="Check the name, and the folder you are in.",
            )
        with path.open("rb") as file:
            return file.read(LARGEST + 1), name
    except (OSError, ValueError) as error:
        if isinstance(error, PackError):
            raise
        reason = getattr(error, "strerror", None) or str(error)
        raise PackError(
            name, rule=f"The file cannot be read ({reason}).", remedy="Check its name and its permissions."
        ) from None


def examine(name_or_path: str | os.PathLike[str], misconceptions: Collection[str] | None = None) -> Examination:
    """Examine a pack and return everything that was found, refused or not.

    Parameters
    ----------
    name_or_path : str or path
        The name of a shipped pack, or the path of a TOML file.
    misconceptions : collection of str, optional
        Codes of the catalogue of misconceptions, where what precedence ``shows`` is to be held against it.

    Raises
    ------
    PackError
        If there is no such file, or it cannot be read.

    Examples
    --------
    >>> examine("dunlin").findings
    ()
    """
    return _examine(*bytes_of(name_or_path), None if misconceptions is None else frozenset(misconceptions))


def examine_text(text: str, place: str = "pack.toml") -> Examination:
    """Examine TOML text that stands at ``place``, which names it in findings."""
    return _examine(text.encode("utf-8", "surrogatepass"), place)


@lru_cache(maxsize=64)
def _examine(content: bytes, place: str, misconceptions: frozenset[str] | None = None) -> Examination:
    return examine_bytes(content, place, misconceptions)


@lru_cache(maxsize=64)
def _load_accepted(content: bytes, place: str) -> Pack:
    examined = examine_bytes(content, place, judged=False)
    if examined.pack is None:
        raise error_from(examined.findings, place)
    return examined.pack


def _load(content: bytes, place: str) -> Pack:
    examined = _examine(content, place)
    if examined.pack is None:
        raise error_from(examined.findings, place)
    return examined.pack
