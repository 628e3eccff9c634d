"""Zips as honest programs make them and as they do not, and folders deeper than a path can say."""

from __future__ import annotations

import os
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any


def zipped(path: Path, members: Mapping[str, bytes], *extra: tuple[zipfile.ZipInfo, bytes], **more: Any) -> Path:
    """Pack members into a zip, and extra ones that say themselves what they are."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content, **more)
        for info, content in extra:
            archive.writestr(info, content)
    return path


def members_of(path: Path | IO[bytes]) -> dict[str, bytes]:
    """Return everything in a zip."""
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def member(name: str, mode: int = 0o100644, **more: Any) -> zipfile.ZipInfo:
    """Describe a member of a zip as no honest program does."""
    info = zipfile.ZipInfo(name)
    info.create_system = 3
    info.external_attr = mode << 16
    for key, value in more.items():
        setattr(info, key, value)
    return info


def nest(folder: Path) -> None:
    """Make folders in folders, deeper than a path can say."""
    here = os.open(folder, os.O_RDONLY)
    try:
        for _ in range(700):
            os.mkdir("d", dir_fd=here)
            below = os.open("d", os.O_RDONLY, dir_fd=here)
            os.close(here)
            here = below
    finally:
        os.close(here)
