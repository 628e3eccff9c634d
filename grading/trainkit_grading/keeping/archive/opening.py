"""Opening an archive: every byte is held against the manifest before anything is believed, then figures are compared.

An archive is a file that somebody hands over. Nothing in it is run: settings of nbgrader are written anew.
"""

from __future__ import annotations

import contextlib
import csv
import hashlib
import shutil
import stat
import zipfile
from collections.abc import Iterator, Mapping
from datetime import datetime
from itertools import zip_longest
from pathlib import Path
from tempfile import TemporaryDirectory, mkdtemp
from typing import TYPE_CHECKING

from pydantic import ValidationError

from trainkit.sentences import NEWER, newer_format
from trainkit_grading.course import access
from trainkit_grading.course.folder import WITHOUT_SEED, Course
from trainkit_grading.errors import ArchiveError
from trainkit_grading.keeping.archive.packing import unsafe_name
from trainkit_grading.keeping.manifest import FIGURES, MANIFEST, File, Manifest
from trainkit_grading.keeping.verify import prove
from trainkit_grading.nbgrader_bridge.config import config_text
from trainkit_grading.reports.exports.export import export
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet
from trainkit_grading.support.refusals import refusal

if TYPE_CHECKING:
    from os import PathLike


_MANIFEST_LIMIT = 200_000_000
# Deflate packs noughts a thousandfold; files of a course never nearly as much.
_RATIO, _FREE = 300, 10_000_000
_CHUNK = 1 << 20
_AGAIN = "Fetch another copy of the archive."


def open_archive(file: Path, folder: Path, progress: Progress = quiet) -> Outcome:
    """Check an archive, unpack it into a new folder, and work its figures out again.

    Parameters
    ----------
    file : Path
        The zip.
    folder : Path
        A folder that is not there yet, or is empty; it appears whole or not at all.
    progress : callable, optional
        Told of each file.

    Returns
    -------
    Outcome
        Figures that come out otherwise, and seals that do not hold, are findings.

    Raises
    ------
    ArchiveError
        If it is no archive, a byte is another than was packed, or a name in it cannot be.
    """
    folder = folder.expanduser().absolute()
    if folder.is_symlink() or (folder.exists() and (not folder.is_dir() or any(folder.iterdir()))):
        raise ArchiveError(
            str(folder), rule="An archive is opened into a new or an empty folder.", remedy="Name another."
        )
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        work = Path(mkdtemp(prefix=".opening-", dir=folder.parent))
        try:
            with zipfile.ZipFile(file) as packed:
                manifest, members = _checked(packed)
                _unpack(packed, manifest, members, work, progress)
            course = _settle(manifest, work)
            if folder.exists():
                folder.rmdir()
            work.rename(folder)
        finally:
            shutil.rmtree(work, ignore_errors=True)
    except (zipfile.BadZipFile, NotImplementedError, EOFError) as error:
        raise _bad(str(file), f"This is no whole zip ({error})") from None
    except OSError as error:
        raise refusal(error, file) from None
    course = Course.load(folder)
    done = [f"{len(manifest.files)} files, each as it was packed, are in {folder}"]
    findings: list[Finding] = []
    if manifest.as_of:
        differing = _figures(course, manifest)
        findings += differing
        done += [] if differing else ["Its figures come out the same again."]
        proven = prove(course)
        findings += proven.findings
        done += proven.done
    return Outcome(
        "archive",
        tuple(done),
        tuple(findings),
        f"Work in it as in any course: trainkit-course report --course {folder}",
        {"folder": str(folder), "course": manifest.course, "files": len(manifest.files), "seed": manifest.seed},
    )


def _checked(packed: zipfile.ZipFile) -> tuple[Manifest, dict[str, zipfile.ZipInfo]]:
    """Return the manifest and what is to be unpacked; what no archive of ours has is refused before that."""
    infos = packed.infolist()
    if not infos or not infos[0].filename.endswith(f"/{MANIFEST}") or infos[0].file_size > _MANIFEST_LIMIT:
        raise _bad(str(packed.filename), "This is no archive of a course: its first file is not the manifest")
    root = infos[0].filename.removesuffix(MANIFEST)
    manifest = _manifest(packed, infos[0])
    found: dict[str, zipfile.ZipInfo] = {}
    folded: set[str] = set()
    for info in infos[1:]:
        path = info.filename.removeprefix(root)
        wrong = "Its name stands there twice" if path in found else _wrong_member(info, root, manifest)
        if not wrong and path.casefold() in folded:
            wrong = "Its name stands there twice"
        if wrong:
            raise _bad(info.filename, wrong)
        if info.file_size != manifest.files[path].bytes:
            raise _bad(path, "It is not as long as the manifest says")
        found[path] = info
        folded.add(path.casefold())
    for path in manifest.files:
        if path not in found:
            raise _bad(path, "It is in the manifest and not in the archive")
        # A file cannot be a folder, too.
        if any(parent in manifest.files for parent in _parents(path)):
            raise _bad(path, "It lies in a file")
    for path, info in found.items():
        if info.file_size > _FREE + _RATIO * info.compress_size:
            raise _bad(path, "It would unpack into far more than any course holds")
    return manifest, found


def _manifest(packed: zipfile.ZipFile, info: zipfile.ZipInfo) -> Manifest:
    try:
        return Manifest.model_validate_json(_read(packed, info), strict=False)
    except ValidationError as error:
        errors = error.errors(include_url=False)
        if newer := newer_format(errors):
            raise ArchiveError(MANIFEST, rule=newer, remedy=f"Nothing was unpacked. {NEWER}") from None
        first = errors[0]
        place = ".".join(str(part) for part in first["loc"])
        raise _bad(MANIFEST, f"The manifest cannot be read ({place}: {first['msg']})") from None


def _wrong_member(info: zipfile.ZipInfo, root: str, manifest: Manifest) -> str:
    """Return what is wrong with one file of an archive taken by itself; empty where nothing is."""
    if wrong := unsafe_name(info.filename):
        return f"Its name {wrong}"
    if not info.filename.startswith(root):
        return "Its name is not in the folder of the course"
    if stat.S_IFMT(info.external_attr >> 16) not in (0, stat.S_IFREG):
        return "It is a link or of no plain file"
    if info.flag_bits & 0x1:
        return "It is an encrypted file"
    return "" if info.filename.removeprefix(root) in manifest.files else "Its name is not in the manifest"


def _parents(path: str) -> Iterator[str]:
    parts = path.split("/")
    for count in range(1, len(parts)):
        yield "/".join(parts[:count])


def _read(packed: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    with _opened(packed, info) as stream:
        data: bytes = stream.read(_MANIFEST_LIMIT + 1)
    return data


@contextlib.contextmanager
def _opened(packed: zipfile.ZipFile, info: zipfile.ZipInfo) -> Iterator[zipfile.ZipExtFile]:
    import zlib

    try:
        with packed.open(info) as stream:
            yield stream  # type: ignore[misc] # what it returns for reading
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError) as error:
        raise _bad(info.filename.partition("/")[2], f"It is not as it was packed ({error})") from None


def _unpack(
    packed: zipfile.ZipFile,
    manifest: Manifest,
    members: Mapping[str, zipfile.ZipInfo],
    into: Path,
    progress: Progress,
) -> None:
    needed = sum(of.bytes for of in manifest.files.values())
    if needed > shutil.disk_usage(into).free:
        raise ArchiveError(str(into), rule=f"It needs {needed / 1e6:.0f} MB on the disk.", remedy="Make room.")
    for count, (path, info) in enumerate(members.items(), start=1):
        _one(packed, info, path, manifest.files[path], into / path)
        progress(count, len(members), path)


def _one(packed: zipfile.ZipFile, info: zipfile.ZipInfo, path: str, said: File, target: PathLike[str]) -> None:
    target = Path(target)
    secret = path.startswith("keys/")
    target.parent.mkdir(mode=0o700 if secret else 0o755, parents=True, exist_ok=True)
    total, size = hashlib.sha256(), 0
    with _opened(packed, info) as stream, target.open("xb") as out:
        target.chmod(0o600 if secret else 0o644)
        while chunk := stream.read(_CHUNK):
            total.update(chunk)
            size += len(chunk)
            if size > said.bytes:
                break
            out.write(chunk)
    if size != said.bytes or total.hexdigest() != said.sha256:
        raise _bad(path, "It is not as it was packed: its bytes are others than the manifest says")


def _settle(manifest: Manifest, folder: Path) -> Course:
    """Make a course folder of what was unpacked, and return it."""
    keys = folder / "keys"
    keys.mkdir(mode=0o700, exist_ok=True)
    for path in (keys, *(each for each in keys.rglob("*") if each.is_dir())):
        path.chmod(0o700)
    if not manifest.seed:
        # Commands that read need one; a file beside it says that it proves nothing.
        (keys / WITHOUT_SEED).write_text("This archive was packed without its seed: no seal can be proven.\n", "utf-8")
        (keys / "seed").write_text("0" * 64 + "\n", "ascii")
        (keys / "seed").chmod(0o600)
    for name in ("inbox", "release", "source", "submitted", "arrivals"):
        (folder / name).mkdir(exist_ok=True)
    course = Course.load(folder)
    access.close(folder, course.access)
    # As today's software writes it: an archive brings no program.
    (folder / "nbgrader_config.py").write_text(config_text(course), "utf-8")
    return course


def _figures(course: Course, manifest: Manifest) -> list[Finding]:
    """Work the figures out again, as of the same moment, and return a finding for each table that is another one."""
    moment = datetime.fromisoformat(manifest.as_of)
    found = []
    with TemporaryDirectory() as made:
        export(course, into=Path(made), clock=lambda: moment)
        for path in sorted(manifest.files):
            figure = path.startswith(f"{FIGURES}/") and path.endswith(".csv")
            if figure and not _same_table(course.folder / path, Path(made) / Path(path).name):
                text = "This version of the software comes to other figures. Compare the two tables."
                found.append(Finding("warning", path, text))
    return found


def _same_table(then: Path, now: Path) -> bool:
    """Tell whether two tables say the same; a newer release may have added columns at the end."""
    with (
        then.open(encoding="utf-8-sig", newline="") as before,
        now.open(encoding="utf-8-sig", newline="") as after,
    ):
        rows, others = csv.reader(before), csv.reader(after)
        width = len(head := next(rows, []))
        if head != next(others, [])[:width]:
            return False
        return all(
            row is not None and other is not None and row == other[:width] for row, other in zip_longest(rows, others)
        )


def _bad(value: str, rule: str) -> ArchiveError:
    return ArchiveError(value, rule=f"{rule}.", remedy=f"Nothing was unpacked. {_AGAIN}")
