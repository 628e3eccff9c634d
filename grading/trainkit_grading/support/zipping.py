"""Zips that are handed to apprentices: the same files give the same bytes, on every system."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping

_NO_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest that a zip can hold


def zip_of(folder: str, members: Mapping[str, bytes]) -> bytes:
    """Return a zip with these files in one folder.

    Parameters
    ----------
    folder : str
        Name of the folder.
    members : mapping of str to bytes
        Contents by name, relative to the folder.

    Examples
    --------
    >>> zip_of("feedback", {"lock-pin.html": b"x"}) == zip_of("feedback", {"lock-pin.html": b"x"})
    True
    """
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name in sorted(members):
            member = zipfile.ZipInfo(f"{folder}/{name}", _NO_DATE)
            member.compress_type = zipfile.ZIP_DEFLATED
            member.create_system = 3  # so that the permissions below count, wherever it is made
            member.external_attr = 0o644 << 16
            archive.writestr(member, members[name], compresslevel=6)
    return buffer.getvalue()
