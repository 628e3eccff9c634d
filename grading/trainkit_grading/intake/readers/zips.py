"""Reading zips that somebody else made; nothing is unpacked."""

from __future__ import annotations

import io
import os
import re
import stat
import unicodedata
import zipfile
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from trainkit.forms import IDENTITY_FILE
from trainkit.journal import FILE_LIMIT, JOURNAL_FILE
from trainkit_grading.course.folder import Limits
from trainkit_grading.errors import HandInError
from trainkit_grading.intake.readers.base import BUNDLE, IDENTITY_LIMIT, KINDS, HandIn, too_much
from trainkit_grading.intake.readers.costs import DEEPEST, TOLD, Budget, and_more, files_listed
from trainkit_grading.support.outcome import Finding

_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class _Member:
    """One entry of a table of contents: under which name it is looked up, and why it is refused, if it is."""

    name: str
    info: zipfile.ZipInfo
    wrong: HandInError | None


@dataclass(slots=True)
class _Unit:
    """One hand-in: the members of a folder, or a zip in the zip."""

    name: str
    zipped: bool = False
    members: list[_Member] = field(default_factory=list)

    @property
    def size(self) -> int:
        return sum(member.info.file_size for member in self.members)


def read_zip(
    stream: io.BufferedIOBase, place: str, when: datetime, limits: Limits, budget: Budget | None = None
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
    budget : Budget, optional
        What all of it may cost; without it, what a file of this size may.
    """
    if budget is None:
        budget = Budget.of(stream.seek(0, os.SEEK_END), limits)
    yield from _read_zip(stream, place, when, limits, budget, nested=False)
    if budget.refusals > TOLD:
        yield Finding("refused", place, and_more(budget.refusals - TOLD))


def _read_zip(
    stream: io.BufferedIOBase, place: str, when: datetime, limits: Limits, budget: Budget, *, nested: bool
) -> Iterator[HandIn | Finding]:
    """Read a zip; a nested one is one hand-in, and no further zip in it is looked at."""
    most = limits.hand_in_files * (1 if nested else BUNDLE)
    files = most  # that many are counted for a table that is too long: looking at it was not for nothing
    try:
        try:
            files = files_listed(stream, place, limits, most)
        finally:
            budget.count(files, place)
        with zipfile.ZipFile(stream) as archive:
            yield from _hand_ins(archive, place, when, limits, budget, nested=nested)
    except HandInError as error:
        yield from budget.refuse(error, place)
    except Exception as error:  # noqa: BLE001 - a broken archive makes zipfile fail in more ways than it documents
        rule = f"The zip is damaged ({type(error).__name__})."
        yield from budget.refuse(HandInError(place, rule=rule, remedy="Ask for it again."), place)


def _hand_ins(
    archive: zipfile.ZipFile, place: str, when: datetime, limits: Limits, budget: Budget, *, nested: bool
) -> Iterator[HandIn | Finding]:
    members = _listed(archive)
    units, loose = _sorted_out(members, nested=nested)
    if len(units) <= 1:
        # One hand-in: whatever is wrong with any of it is wrong with it.
        _fit(members, place, limits)
    elif nested:
        raise HandInError(
            place, rule="A zip in a zip holds one hand-in; this one holds more.", remedy="Collect it by itself."
        )
    if not units:
        raise HandInError(
            place,
            rule=f"A hand-in holds {JOURNAL_FILE}; this zip does not.",
            remedy="Ask for the file that the workbook makes when it is handed in.",
        )
    for member in loose:
        if member.wrong is not None:
            yield from budget.refuse(member.wrong, f"{place} › {member.info.orig_filename}")
    # The small ones first: what somebody fills to the brim costs the others nothing.
    for unit in sorted(units, key=lambda unit: (unit.size, unit.name)):
        where = place if len(units) == 1 and not unit.zipped else f"{place} › {unit.name}"
        try:
            budget.check(where)
            _fit(unit.members, where, limits)
            if not unit.zipped:
                yield _hand_in(archive, unit, where, when, limits, budget)
                continue
            content = _read(archive, unit.members[0].info, limits.hand_in_bytes, where, budget)
        except HandInError as error:
            yield from budget.refuse(error, where)
            continue
        yield from _read_zip(io.BytesIO(content), where, when, limits, budget, nested=True)


def _sorted_out(members: Sequence[_Member], *, nested: bool) -> tuple[list[_Unit], list[_Member]]:
    """Return what is one hand-in each, and the members that lie in none."""
    homes = {_parent(member.name) for member in members if member.name.rpartition("/")[2] == JOURNAL_FILE}
    units = {home: _Unit(home) for home in homes}
    loose = []
    for member in members:
        if not nested and _is_zip(member.name) and _parent(member.name) not in homes:
            units.setdefault(member.name, _Unit(member.name, zipped=True)).members.append(member)
        elif (home := _home(member.name, homes)) is not None:
            units[home].members.append(member)
        else:
            loose.append(member)
    return list(units.values()), loose


def _listed(archive: zipfile.ZipFile) -> list[_Member]:
    members = []
    for info in archive.infolist():
        try:
            members.append(_Member(_safe_name(info), info, None))
        except HandInError as error:
            members.append(_Member(_shortened(info), info, error))
    count = Counter(member.name for member in members if member.wrong is None)
    return [
        replace(member, wrong=_twin(member.name)) if member.wrong is None and count[member.name] > 1 else member
        for member in members
    ]


def _twin(name: str) -> HandInError:
    return HandInError(name, rule="Each file in a zip has a name of its own.", remedy="Ask for it again.")


def _is_zip(name: str) -> bool:
    # Hidden files are programs' own, like the second halves that some systems pack beside each file.
    return name.casefold().endswith(".zip") and not name.rpartition("/")[2].startswith(".")


def _parent(name: str) -> str:
    return name.rpartition("/")[0] or "."


def _home(name: str, homes: Collection[str]) -> str | None:
    """Return the hand-in that a member lies in: the innermost one."""
    parts = name.split("/")
    above = ("/".join(parts[:count]) for count in range(len(parts) - 1, max(0, len(parts) - 1 - DEEPEST), -1))
    return next((path for path in above if path in homes), "." if "." in homes else None)


def _fit(members: Sequence[_Member], place: str, limits: Limits) -> None:
    """Refuse a hand-in for the first of its members that is unfit, or if there is too much of it."""
    for member in members:
        if member.wrong is not None:
            raise member.wrong
    if len(members) > limits.hand_in_files or sum(member.info.file_size for member in members) > limits.hand_in_bytes:
        raise too_much(place, limits)


def _hand_in(
    archive: zipfile.ZipFile,
    unit: _Unit,
    place: str,
    when: datetime,
    limits: Limits,
    budget: Budget,
) -> HandIn:
    known = {member.name: member.info for member in unit.members}
    beside = "" if unit.name == "." else f"{unit.name}/"
    identity = known.get(beside + IDENTITY_FILE)
    journal = _read(archive, known[beside + JOURNAL_FILE], FILE_LIMIT, place, budget)
    budget.keep(journal, place, limits)
    return HandIn(
        place=place,
        journal=journal,
        identity=_read(archive, identity, IDENTITY_LIMIT, place, budget) if identity is not None else None,
        when=when,
        how="zip",
    )


def _safe_name(info: zipfile.ZipInfo) -> str:
    """Return the name of a member with plain slashes, or refuse what no honest zip has."""
    # The name as it was written: zipfile shortens and translates the one it offers.
    name = info.orig_filename.replace("\\", "/")
    if name.startswith("/") or re.match("[A-Za-z]:", name) or "/../" in f"/{name}/" or "\0" in name:
        raise HandInError(
            name, rule="A path in a hand-in stays inside it; this one leaves it.", remedy="Ask for a clean hand-in."
        )
    kind = stat.S_IFMT(info.external_attr >> 16)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR) or info.external_attr & 0x400:
        what = KINDS.get(kind, "a link")
        raise HandInError(name, rule=f"A hand-in holds plain files; this is {what}.", remedy="Ask for a clean hand-in.")
    if info.flag_bits & 1:
        raise HandInError(name, rule="A hand-in is not encrypted.", remedy="Ask for it without a password.")
    return _cleaned(name)


def _cleaned(name: str) -> str:
    """Return a name without parts that lead nowhere; few have any, and taking long names apart costs time."""
    if "//" in f"/{name}/" or "/./" in f"/{name}/":
        name = "/".join(part for part in name.split("/") if part not in ("", "."))
    return unicodedata.normalize("NFC", name)


def _shortened(info: zipfile.ZipInfo) -> str:
    """Return the part of an unfit name that tells which hand-in it lies in; nothing of it is opened.

    A question mark stands for what leads elsewhere, so that it is never taken for a part of somebody else's.
    """
    path = re.sub("^[A-Za-z]:/*|^/+", "?/", info.orig_filename.replace("\\", "/"))
    inside, up, _ = f"/{path}/".partition("/../")
    return _cleaned(f"{inside}/?" if up else path)


def _read(archive: zipfile.ZipFile, info: zipfile.ZipInfo, limit: int, place: str, budget: Budget) -> bytes:
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise HandInError(
            info.filename, place=place, rule="A hand-in is packed as zips usually are.", remedy="Ask for it again."
        )
    content = bytearray()
    try:
        with archive.open(info) as stream:
            # What the table of contents says of the size is somebody's word; what is read is not.
            while len(content) <= limit and (chunk := stream.read(min(_CHUNK, limit + 1 - len(content)))):
                budget.unpack(len(chunk), place)
                content += chunk
    except HandInError:
        raise
    except Exception as error:  # noqa: BLE001 - a broken member makes zipfile fail in more ways than it documents
        raise HandInError(
            info.filename, rule=f"This file is damaged ({type(error).__name__}).", remedy="Ask for it again."
        ) from None
    if len(content) > limit:
        raise HandInError(
            info.filename, place=place, rule=f"This file has at most {limit} bytes.", remedy="Ask for a clean hand-in."
        )
    return bytes(content)
