"""What marks come from: packs and modules as files of their own, and the software with its versions."""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import platform
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomlkit
from sqlalchemy import select

from trainkit import modules as shipped
from trainkit import packs
from trainkit_grading.course import packs as own_packs
from trainkit_grading.course import practice_packs
from trainkit_grading.forms.generation import open_keys
from trainkit_grading.keeping.manifest import ARCHIVED
from trainkit_grading.ledger.tables import ENTRY
from trainkit_grading.record.provenance import module_digest, software_digest
from trainkit_grading.support.files import files_under, regular
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from trainkit_grading.course.folder import Course, CourseModule


_OURS = ("trainkit-workbooks", "trainkit-grading")


@dataclass(frozen=True)
class Sources:
    """Files that come along although they do not lie in the course folder, and what of the ledger they meet.

    Parameters
    ----------
    files : dict of str to bytes
        By path in the archive.
    named : dict of (str, str) to str
        By module and setting of ``course.toml``, what it says in the archive.
    packs, modules : dict of str to str
        See :class:`~trainkit_grading.keeping.manifest.Manifest`.
    findings : tuple of Finding
        What is not at hand any more.
    """

    files: dict[str, bytes] = field(default_factory=dict)
    named: dict[tuple[str, str], str] = field(default_factory=dict)
    packs: dict[str, str] = field(default_factory=dict)
    modules: dict[str, str] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


def gather(course: Course, connection: Connection | None) -> Sources:
    """Gather packs and modules of a course; ``connection`` leads to its ledger, if there is one.

    Raises
    ------
    TrainkitError
        If a module or a pack that the course names cannot be used.
    """
    found = Sources()
    known: dict[str, str] = {}
    for entry in course.modules:
        _module(course, entry, found)
        _pack(course, entry, found, known)
    for where in _all_packs(course):
        content, _ = packs.bytes_of(where)
        known.setdefault(hashlib.sha256(content).hexdigest(), _place(course, where, content, None))
    used = _used(connection, "pack_hash")
    for digest in used:
        found.packs[digest] = known.get(digest, "")
    for where in _all_packs(course):
        content, _ = packs.bytes_of(where)
        digest = hashlib.sha256(content).hexdigest()
        if digest in used and not _inside(course, where):
            found.files[found.packs[digest]] = content
    for path in sorted(course.keys.glob("*/attempt-*.jsonl")):
        keys = open_keys(path)
        if keys is not None:
            digest = module_digest(keys.head.module, keys.head.plan, keys.head.not_askable)
            found.modules.setdefault(digest, path.relative_to(course.folder).as_posix())
    plans = _used(connection, "module_hash")
    findings = [
        Finding("warning", "packs", f"Marks come from a pack that is not at hand any more (SHA-256 {digest[:16]}…).")
        for digest, path in found.packs.items()
        if not path
    ] + [
        Finding("warning", "keys", f"Marks come from items whose keys are not at hand any more ({digest[:16]}…).")
        for digest in plans
        if digest not in found.modules
    ]
    return Sources(found.files, found.named, found.packs, found.modules, tuple(findings))


def _used(connection: Connection | None, column: str) -> list[str]:
    if connection is None:
        return []
    of = ENTRY.c[column]
    return sorted(connection.execute(select(of).where(of != "").distinct()).scalars())


def _module(course: Course, entry: CourseModule, found: Sources) -> None:
    home = course.folder / entry.folder if entry.folder else shipped.folder() / entry.name
    if entry.folder and _inside(course, home):
        return
    module = course.present_workbook(entry)
    into = f"{ARCHIVED}/modules/{entry.name}"
    found.files[f"{into}/module.toml"] = (home / "module.toml").read_bytes()
    found.files[f"{into}/{module.notebook.name}"] = module.notebook.read_bytes()
    found.named[entry.name, "folder"] = into


def _pack(course: Course, entry: CourseModule, found: Sources, known: dict[str, str]) -> None:
    where = course.pack_of(entry, course.present_workbook(entry).blueprint)
    places: list[tuple[str, str | Path]] = [("pack", where)]
    if entry.practise_on:
        places.append(("practise_on", practice_packs.place_of(course, entry)))
    for setting, place in places:
        content, _ = packs.bytes_of(place)
        inside = _place(course, place, content, found)
        known.setdefault(hashlib.sha256(content).hexdigest(), inside)
        # A pack to practise on that comes with the workbooks keeps its name: its file would be given out otherwise.
        if not _inside(course, place) and setting == "pack":
            found.named[entry.name, setting] = inside


def _place(course: Course, where: str | Path, content: bytes, found: Sources | None) -> str:
    """Return where in the archive a pack lies; one from outside the course folder is put there."""
    if _inside(course, where):
        return Path(where).absolute().relative_to(course.folder).as_posix()
    name = where.stem if isinstance(where, Path) else where
    inside = f"{ARCHIVED}/packs/{name}-{hashlib.sha256(content).hexdigest()[:12]}.toml"
    if found is not None:
        found.files[inside] = content
    return inside


def _inside(course: Course, where: str | Path) -> bool:
    return isinstance(where, Path) and ".." not in where.parts and where.absolute().is_relative_to(course.folder)


def _all_packs(course: Course) -> Iterator[str | Path]:
    """Yield every pack that marks could come from: those of both distributions, and files in the course folder."""
    yield from packs.shipped()
    yield from (own_packs.find_pack(name) for name in own_packs.names())
    yield from own_packs.earlier().values()
    for path in files_under(course.folder):
        # What was handed in is no source of marks.
        mine = path.relative_to(course.folder).parts[0] not in ("inbox", "submitted", "arrivals", "autograded")
        if mine and path.suffix == ".toml" and path.name != "module.toml" and path != course.file and regular(path):
            yield path


def portable_settings(course: Course, named: Mapping[tuple[str, str], str]) -> bytes:
    """Return ``course.toml`` as it is in an archive: marks in a file, no shared disk, packs and modules its own."""
    said = tomlkit.parse(course.file.read_text("utf-8-sig"))
    said.pop("database", None)
    exchange: Any = said.get("exchange")
    if exchange is not None and "root" in exchange:
        exchange["root"] = ""
    of_modules: Any = said.get("modules", [])
    for module in of_modules:
        for (name, setting), value in named.items():
            if name == str(module["name"]):
                module[setting] = value
    return tomlkit.dumps(said).encode()


def software() -> bytes:
    """Return what is installed of both distributions and all that they need: versions, and digests of their records."""
    waiting, met = list(_OURS), {}
    while waiting:
        name = re.sub(r"[-_.]+", "-", waiting.pop()).casefold()
        if name in met:
            continue
        try:
            of = importlib.metadata.distribution(name)
        except importlib.metadata.PackageNotFoundError:
            continue
        record = of.read_text("RECORD") or ""
        met[name] = {"version": of.version, "record_sha256": hashlib.sha256(record.encode()).hexdigest()}
        waiting += [
            re.split(r"[\s;<>=!~\[(]", need, maxsplit=1)[0] for need in of.requires or () if "extra ==" not in need
        ]
    said = {
        "format": 1,
        "python": platform.python_version(),
        "source_sha256": software_digest(),
        "distributions": dict(sorted(met.items())),
    }
    return (json.dumps(said, indent=1) + "\n").encode()


def supply() -> dict[str, bytes]:
    """Return the releases that this software was proven with, their digests, and the licence of each."""
    folder = Path(__file__).parents[2] / "supply"
    return {f"{ARCHIVED}/{path.name}": path.read_bytes() for path in sorted(folder.iterdir())}
