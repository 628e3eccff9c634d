"""Packs that are used for assessment only; they never leave the course side."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

__all__ = ["find_pack", "names"]


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
