"""Packs that are used for assessment only; they never leave the course side.

In ``earlier/`` lie packs of both distributions as they were in releases with which courses have begun. A course that
has no copy of its own finds there what its forms were drawn from.
"""

from __future__ import annotations

import hashlib
from importlib import resources
from pathlib import Path

__all__ = ["earlier", "find_pack", "names"]


def names() -> tuple[str, ...]:
    """Return the names of the packs that are kept here.

    Examples
    --------
    >>> names()
    ('curlew',)
    """
    return tuple(
        sorted(entry.name[:-5] for entry in resources.files(__package__).iterdir() if entry.name.endswith(".toml"))
    )


def find_pack(name: str) -> Path | str:
    """Return the file of an assessment pack, or the name as it is, for those that come with the workbooks.

    Examples
    --------
    >>> find_pack("curlew").name, find_pack("dunlin")
    ('curlew.toml', 'dunlin')
    """
    return Path(str(resources.files(__package__) / f"{name}.toml")) if name in names() else name


def earlier() -> dict[str, Path]:
    """Return the packs of earlier releases by the SHA-256 of their content.

    Examples
    --------
    >>> sorted(path.name.partition("-")[0] for path in earlier().values())
    ['curlew', 'dunlin']
    """
    home = Path(str(resources.files(__package__) / "earlier"))
    return {hashlib.sha256(path.read_bytes()).hexdigest(): path for path in sorted(home.glob("*.toml"))}
