"""Packing a course: everything that its figures rest on, with a digest of every file; the same course, the same bytes.

What is derived and made again by a command stays out (marked notebooks, zips that were given out), and so does what
was never taken in. No link is followed: what lies behind one is not the course's.
"""

from __future__ import annotations

import hashlib
import io
import re
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from trainkit_grading.errors import ArchiveError
from trainkit_grading.keeping.archive import portable, sources
from trainkit_grading.keeping.manifest import ARCHIVED, FIGURES, MANIFEST, File, Manifest
from trainkit_grading.ledger import versions
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.reports.exports.export import export
from trainkit_grading.support.files import LOCKS, WORK_FOLDER, files_under, held, regular
from trainkit_grading.support.jinja import template
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet
from trainkit_grading.support.refusals import refusal

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


# Made again by marking and assigning; never taken in; nobody's; archives themselves.
_LEFT_OUT = {"autograded", "zips", "inbox", "preview", "archive", WORK_FOLDER}
_LEFT_OUT_NAMES = {".ipynb_checkpoints", "__pycache__", ".DS_Store", "Thumbs.db", *LOCKS}
_LEFT_OUT_FILES = re.compile(r"gradebook\.db.*|.*\.log|\..*\.tmp|ARCHIVE\.txt")
# Of an archive that was opened and is packed again, what is written anew for each.
_KEPT_ARCHIVED = ("packs", "modules")
_ANEW = {"course.toml", "nbgrader_config.py"}
_NO_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest that a zip can hold
_CHUNK = 1 << 20
_README = "ARCHIVE.txt"


@dataclass(frozen=True, slots=True)
class _Member:
    """What goes into an archive under a path: bytes, or a file."""

    path: str
    content: bytes | Path

    def open(self) -> BinaryIO:
        return self.content.open("rb") if isinstance(self.content, Path) else io.BytesIO(self.content)


def archive(course: Course, file: Path | None = None, *, with_seed: bool = True, progress: Progress = quiet) -> Outcome:
    """Pack a course into a zip.

    Parameters
    ----------
    course : Course
        The course folder; nothing in it is changed but the folder ``archive/``, where the zip goes without ``file``.
    file : Path, optional
        The zip; one that is there is replaced in one step.
    with_seed : bool, optional
        Whether the secret seed comes along; without it no seal can be proven from the archive.
    progress : callable, optional
        Told of each file.

    Raises
    ------
    ArchiveError
        If the course changes meanwhile, or the zip cannot be written.
    CourseError
        If the roster, the seed or the database cannot be used.
    """
    target = (file or course.folder / "archive" / f"{course.name}.zip").absolute()
    with tempfile.TemporaryDirectory() as made:
        work = Path(made)
        number, seal, as_of = _end(course)
        if as_of:
            moment = datetime.fromisoformat(as_of)
            export(course, into=work / "figures", clock=lambda: moment)
        with held(course.folder):
            findings: list[Finding] = []
            there = portable.dump(course, work / "gradebook.db")
            if _end(course)[:2] != (number, seal):
                raise ArchiveError(
                    course.name, rule="Somebody marked while the course was packed.", remedy="Give the command again."
                )
            with gradebook.opened(course) as engine, engine.begin() as connection:
                ledger = there and bool(versions.version(connection))
                found = sources.gather(course, connection if ledger else None)
            findings += found.findings
            members = {member.path: member for member in _own(course, findings, with_seed=with_seed)}
            if there:
                members["gradebook.db"] = _Member("gradebook.db", work / "gradebook.db")
            for path, content in _made(course, found, with_seed=with_seed).items():
                members[path] = _Member(path, content)
            for figure in files_under(work / "figures") if as_of else ():
                members[f"{FIGURES}/{figure.name}"] = _Member(f"{FIGURES}/{figure.name}", figure)
            files = {path: _described(member) for path, member in sorted(members.items())}
            manifest = Manifest(
                course=course.name,
                title=course.title,
                seed=with_seed,
                as_of=as_of,
                entries=number,
                last_seal=seal,
                packs=found.packs,
                modules=found.modules,
                files=files,
            )
            size = _write(target, manifest, members, progress)
    digest = _digest(target)
    done = [f"{len(files)} files of {course.title} are packed into {target} ({size / 1e6:.1f} MB)."]
    done.append(f"Its SHA-256 begins with {digest[:16]}; note it down, and the last seal {seal[:16] or '(none)'}.")
    done.append(
        "It holds the seed and all keys, so it is as secret as the course."
        if with_seed
        else "The seed is not in it, so no seal can be proven from it; keys and names are in it all the same."
    )
    return Outcome(
        "archive",
        tuple(done),
        tuple(findings),
        f"See that it opens: trainkit-course archive --open {target} FOLDER",
        {"file": str(target), "sha256": digest, "bytes": size, "files": len(files)},
    )


def _end(course: Course) -> tuple[int, str, str]:
    """Return number, seal and time of the last entry; nothing where there is no ledger."""
    with gradebook.opened(course) as engine:
        if engine.dialect.name == "sqlite" and not Path(engine.url.database or "").is_file():
            return 0, "", ""
        with engine.begin() as connection:
            if not versions.version(connection):
                return 0, "", ""
            ledger = Ledger(connection, course.seed())
            number, seal = ledger.end()
            return number, seal, ledger.read(Entry, [number], marks=False)[number].at if number else ""


def _own(course: Course, findings: list[Finding], *, with_seed: bool) -> Iterator[_Member]:
    for path in files_under(course.folder):
        inside = path.relative_to(course.folder)
        top = inside.parts[0]
        # What was proven here is proven anew where the archive is opened.
        secret = inside.as_posix() in ("keys/seed", "keys/proven.json")
        if top in _LEFT_OUT or _LEFT_OUT_NAMES & set(inside.parts) or secret:
            continue
        if top == ARCHIVED and inside.parts[1] not in _KEPT_ARCHIVED:
            continue
        if len(inside.parts) == 1 and (_LEFT_OUT_FILES.fullmatch(top) or top in _ANEW):
            continue
        wrong = unsafe_name(inside.as_posix())
        if not regular(path):
            findings.append(Finding("warning", inside.as_posix(), "It is a link or no plain file, and was left out."))
        elif wrong:
            findings.append(Finding("warning", inside.as_posix(), f"It was left out: its name {wrong}."))
        else:
            yield _Member(inside.as_posix(), path)
    if with_seed:
        course.seed()  # refused where it is open to others or damaged
        yield _Member("keys/seed", course.seed_file)


def _made(course: Course, found: sources.Sources, *, with_seed: bool) -> dict[str, bytes]:
    """Return what is written for the archive alone."""
    made = {
        "course.toml": sources.portable_settings(course, found.named),
        f"{ARCHIVED}/original/course.toml": course.file.read_bytes(),
        f"{ARCHIVED}/software.json": sources.software(),
        **sources.supply(),
        **found.files,
    }
    if course.nbgrader_config.is_file():
        # A program: kept to be read, never run from an archive.
        made[f"{ARCHIVED}/original/nbgrader_config.py.txt"] = course.nbgrader_config.read_bytes()
    made[_README] = (template("keeping/archive/readme.txt.j2").render(course=course, seed=with_seed) + "\n").encode()
    return made


def unsafe_name(path: str) -> str:
    """Say what is wrong with a path in an archive, or return nothing.

    Examples
    --------
    >>> unsafe_name("forms/lock-pin/attempt-1.jsonl"), unsafe_name("../x")
    ('', 'leaves the folder')
    """
    parts = path.split("/")
    if not path or path.startswith("/") or any(part in ("", ".", "..") for part in parts):
        return "leaves the folder"
    if any(ord(sign) < 32 or sign in '\\:*?"<>|' for sign in path):
        return "has a sign that not every system can hold"
    if len(path.encode("utf-8", "surrogatepass")) > 1000 or any(0xD800 <= ord(sign) <= 0xDFFF for sign in path):
        return "is too long, or in no known encoding"
    return ""


def _described(member: _Member) -> File:
    total, size = hashlib.sha256(), 0
    with member.open() as stream:
        while chunk := stream.read(_CHUNK):
            total.update(chunk)
            size += len(chunk)
    return File(bytes=size, sha256=total.hexdigest())


def _write(target: Path, manifest: Manifest, members: dict[str, _Member], progress: Progress) -> int:
    beside = target.with_name(f".{target.name}.tmp")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        beside.unlink(missing_ok=True)
        beside.touch(mode=0o600)  # keys are in it
        with zipfile.ZipFile(beside, "w", zipfile.ZIP_DEFLATED) as packed:
            packed.writestr(_info(manifest.course, MANIFEST), manifest.to_bytes())
            for count, (path, member) in enumerate(sorted(members.items()), start=1):
                info = _info(manifest.course, path)
                info.file_size = manifest.files[path].bytes
                with member.open() as stream, packed.open(info, "w") as out:
                    shutil.copyfileobj(stream, out, _CHUNK)
                progress(count, len(members), path)
        beside.replace(target)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise refusal(error, target) from None
    return target.stat().st_size


def _info(course: str, path: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(f"{course}/{path}", _NO_DATE)
    info.compress_type = zipfile.ZIP_DEFLATED
    info.create_system = 3  # so that the permissions below count, wherever it is made
    info.external_attr = (0o100600 if path.startswith("keys/") else 0o100644) << 16
    return info


def _digest(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
