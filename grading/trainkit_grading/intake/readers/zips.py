"""Reading zips that somebody else made; nothing is unpacked."""

from __future__ import annotations

import io
import os
import re
import stat
import unicodedata
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePosixPath

from trainkit.forms import IDENTITY_FILE
from trainkit.journal import FILE_LIMIT, JOURNAL_FILE
from trainkit_grading.course.folder import Limits
from trainkit_grading.errors import HandInError
from trainkit_grading.intake.readers.base import BUNDLE, IDENTITY_LIMIT, KINDS, HandIn, too_much
from trainkit_grading.support.outcome import Finding, refused


@dataclass(slots=True)
class _Room:
    """How many bytes of journals one file of the inbox may still bring, zips in it counted in.

    Each is small enough on its own; all of them at once, out of a zip of a few kilobytes, would fill the memory.
    """

    left: int


def read_zip(
    stream: io.BufferedIOBase, place: str, when: datetime, limits: Limits, room: _Room | None = None
) -> Iterator[HandIn | Finding]:
    """Read the hand-ins in a zip: one, or those of many as a learning platform packs them.

    Parameters
    ----------
    stream : binary stream
        The zip; it can be searched.
    place : str
        Where it was met, for people.
    when : datetime
        Date of the file.
    limits : Limits
        What one hand-in may hold at most.
    room : _Room, optional
        Given where it lies in another zip: then it is one hand-in, and no further zip in it is looked at.
    """
    try:
        _central_directory(stream, place, limits)
        with zipfile.ZipFile(stream) as archive:
            yield from _members(archive, place, when, limits, room)
    except HandInError as error:
        yield refused(error, place)
    except Exception as error:  # noqa: BLE001 - a broken archive makes zipfile fail in more ways than it documents
        yield Finding("refused", place, f"The zip is damaged ({type(error).__name__}). Ask for it again.")


def _central_directory(stream: io.BufferedIOBase, place: str, limits: Limits) -> None:
    """Refuse a table of contents that is too long, before it is read into memory."""
    size = stream.seek(0, os.SEEK_END)
    stream.seek(max(0, size - 65_557))
    tail = stream.read(65_557)
    stream.seek(0)
    at = tail.rfind(b"PK\x05\x06")
    if at < 0 or len(tail) < at + 22:
        raise HandInError(place, rule="A hand-in is a zip; this file is none.", remedy="Ask for it again.")
    length = int.from_bytes(tail[at + 12 : at + 16], "little")
    if length > limits.hand_in_files * BUNDLE * 512 or tail[max(0, at - 20) : at][:4] == b"PK\x06\x07":
        raise too_much(place, limits)


def _members(
    archive: zipfile.ZipFile, place: str, when: datetime, limits: Limits, outer: _Room | None
) -> Iterator[HandIn | Finding]:
    members: dict[str, zipfile.ZipInfo] = {}
    for info in archive.infolist():
        name = _safe_name(info)
        if name in members:
            raise HandInError(name, rule="Each file in a zip has a name of its own.", remedy="Ask for it again.")
        members[name] = info
    homes = sorted(str(PurePosixPath(name).parent) for name in members if PurePosixPath(name).name == JOURNAL_FILE)
    zips = [
        name
        for name in sorted(members)
        if name.casefold().endswith(".zip") and str(PurePosixPath(name).parent) not in homes and outer is None
    ]
    alone = len(homes) + len(zips) <= 1
    many = 1 if alone or outer is not None else BUNDLE
    if len(members) > limits.hand_in_files * many:
        raise too_much(place, limits)
    if sum(info.file_size for info in members.values()) > limits.hand_in_bytes * many:
        raise too_much(place, limits)
    if outer is not None and len(homes) > 1:
        raise HandInError(
            place, rule="A zip in a zip holds one hand-in; this one holds more.", remedy="Collect it by itself."
        )
    room = outer or _Room(limits.hand_in_bytes)
    if not homes and not zips:
        raise HandInError(
            place,
            rule=f"A hand-in holds {JOURNAL_FILE}; this zip does not.",
            remedy="Ask for the file that the workbook makes when it is handed in.",
        )
    for home in homes:
        where = place if alone else f"{place} › {home}"
        try:
            beside = "" if home == "." else f"{home}/"
            identity = members.get(beside + IDENTITY_FILE)
            content = _read(archive, members[beside + JOURNAL_FILE], FILE_LIMIT, where)
            _take(room, content, where, limits)
            yield HandIn(
                place=where,
                journal=content,
                identity=_read(archive, identity, IDENTITY_LIMIT, where) if identity is not None else None,
                when=when,
                how="zip",
            )
        except HandInError as error:
            yield refused(error, where)
    for name in zips:
        where = f"{place} › {name}"
        try:
            content = _read(archive, members[name], limits.hand_in_bytes, where)
        except HandInError as error:
            yield refused(error, where)
            continue
        yield from read_zip(io.BytesIO(content), where, when, limits, room)


def _take(room: _Room, content: bytes, place: str, limits: Limits) -> None:
    room.left -= len(content)
    if room.left < 0:
        raise HandInError(
            place,
            rule=f"The answers in one zip have at most {limits.hand_in_bytes} bytes together; this one has more.",
            remedy="Collect what is left of it in zips of their own; the limit stands in course.toml.",
        )


def _safe_name(info: zipfile.ZipInfo) -> str:
    """Return the name of a member with plain slashes, or refuse what no honest zip has."""
    # The name as it was written: zipfile shortens and translates the one it offers.
    name = info.orig_filename.replace("\\", "/")
    parts = name.split("/")
    if name.startswith("/") or re.match("[A-Za-z]:", name) or ".." in parts or "\0" in name:
        raise HandInError(
            name, rule="A path in a hand-in stays inside it; this one leaves it.", remedy="Ask for a clean hand-in."
        )
    kind = stat.S_IFMT(info.external_attr >> 16)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR) or info.external_attr & 0x400:
        what = KINDS.get(kind, "a link")
        raise HandInError(name, rule=f"A hand-in holds plain files; this is {what}.", remedy="Ask for a clean hand-in.")
    if info.flag_bits & 1:
        raise HandInError(name, rule="A hand-in is not encrypted.", remedy="Ask for it without a password.")
    return unicodedata.normalize("NFC", "/".join(part for part in parts if part not in ("", ".")))


def _read(archive: zipfile.ZipFile, info: zipfile.ZipInfo, limit: int, place: str) -> bytes:
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise HandInError(
            info.filename, place=place, rule="A hand-in is packed as zips usually are.", remedy="Ask for it again."
        )
    with archive.open(info) as stream:
        # What the table of contents says of the size is somebody's word; what is read is not.
        content = stream.read(limit + 1)
    if len(content) > limit:
        raise HandInError(
            info.filename, place=place, rule=f"This file has at most {limit} bytes.", remedy="Ask for a clean hand-in."
        )
    return content
