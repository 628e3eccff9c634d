"""What must never lie in a folder that is given out.

nbgrader copies every file of ``source/`` to ``release/``, and from there to everybody and back over what was handed
in. A journal that strayed in (a preview, a test run) would overwrite everybody's answers, an ``identity.json`` would
make everybody the same person, a key or the pack of the assessment would end it, a database holds everybody's marks.
Nothing here is repaired: a person put it there.
"""

from __future__ import annotations

import base64
import io
import os
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

from trainkit.errors import TrainkitError
from trainkit.forms import IDENTITY_FILE
from trainkit.journal import JOURNAL_FILE
from trainkit_grading.course import packs
from trainkit_grading.course.folder import PACK_COPY
from trainkit_grading.course.practice_packs import place_of
from trainkit_grading.course.seeds import Seed
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course

# So many lines of a pack are the pack; one alone may be a sentence that a question shows.
_TELLING = 3
_LONG = 20  # bytes; a shorter line may stand anywhere
_MEMBER = 50_000_000


# By the name of each pack for assessment, the lines that no pack has which everybody may read.
Lines = Mapping[str, frozenset[bytes]]


def found_in(
    folder: Path, seed: Seed | None = None, shown_from: Path | None = None, own: Lines | None = None
) -> tuple[Finding, ...]:
    """Return a refusal for each thing in ``folder`` that must not be given out.

    Parameters
    ----------
    folder : Path
        Looked through whole, without following links; absent is as good as empty.
    seed : Seed, optional
        The seed whose digits are looked for in every file.
    shown_from : Path, optional
        Folder from which places are shown.
    own : mapping of str to frozenset of bytes, optional
        The packs of the course itself that its assessments are drawn from (:func:`own_packs`).
    """
    base = shown_from or folder.parent
    closed = {**_assessment_packs(), **(own or {})}
    found = _found(folder, seed, closed)
    return tuple(Finding("refused", path.relative_to(base).as_posix(), text) for path, text in found)


def own_packs(course: Course) -> Lines:
    """Return the packs of a course's own that assessments are or were drawn from, by their places in the course.

    A pack that somebody wrote for the course and copies of earlier attempts count, whatever their names are. Lines
    that stand in a pack which everybody has, or which the course gives out to practise on, tell nothing.
    """
    named: dict[Path, None] = {}
    practised: list[bytes] = []
    for entry in course.modules:
        if entry.pack.endswith(".toml"):
            named[course.folder / entry.pack] = None
        try:
            if entry.practise_on.endswith(".toml"):
                practised.append(Path(place_of(course, entry)).read_bytes())
        except (OSError, TrainkitError):
            continue  # build says what is wrong with it
    named.update(dict.fromkeys(sorted(course.folder.glob(f"forms/*/attempt-*/{PACK_COPY}"))))
    known = b"\n".join([_open_to_all(), *practised])
    found: dict[str, frozenset[bytes]] = {}
    for path in named:
        lines = _only_in(path, known) if path.is_file() else frozenset()
        if lines and lines not in found.values():
            found[path.relative_to(course.folder).as_posix()] = lines
    return found


def _found(folder: Path, seed: Seed | None, closed: Lines) -> Iterator[tuple[Path, str]]:
    if folder.is_symlink():
        yield folder, "A folder that is given out is no link. Put the folder itself there."
        return
    for parent, folders, files in os.walk(folder):
        folders.sort()
        for name in sorted((*folders, *files)):
            path = Path(parent, name)
            text = _trouble(path, seed, closed)
            if text:
                yield path, text


def _trouble(path: Path, seed: Seed | None, closed: Lines) -> str:
    name = path.name.casefold()
    if path.is_symlink():
        return "A link is followed when it is copied, wherever it leads. Take it out, or put the file itself there."
    if name == JOURNAL_FILE:
        return "This journal would overwrite the answers of every apprentice. Take it out; keep it elsewhere."
    if name == IDENTITY_FILE:
        return "This identity would make every apprentice the same person. Take it out."
    if name.endswith(".handin.zip"):
        return "A hand-in belongs into inbox/. Move it there."
    if not path.is_file():
        return "" if path.is_dir() else "This is neither a file nor a folder. Take it out."
    return _in_bytes(path.read_bytes(), seed, closed)


def _in_bytes(content: bytes, seed: Seed | None, closed: Lines, inner: bool = False) -> str:
    """Say what a file must not hold; of a zip, its members, too."""
    if seed is not None and _tells(content, seed.secret):
        return "This file holds the secret seed of the course. Take it out at once."
    # In a notebook each quotation mark of what was pasted into it has a backslash before it.
    bare = content.replace(b"\\", b"") if b"\\" in content else content
    # What a file of keys has and nothing that is shown has; a copy under any name is found.
    if b'"working"' in bare and b'"template"' in bare:
        return "This file holds keys. Take it out at once."
    if content.startswith(b"SQLite format 3\0"):
        return "This is a database, and marks stand in one. Take it out."
    for name, lines in closed.items():
        if sum(line in bare for line in lines) >= _TELLING:
            return f"This file holds the pack {name}, which is for assessment only. Take it out at once."
    if content.startswith(b"PK") and not inner:
        return next((text for member in _members(content) if (text := _in_bytes(member, seed, closed, inner=True))), "")
    return ""


def _tells(content: bytes, secret: bytes) -> bool:
    """Tell whether a seed stands in a file, in one of the ways in which people and programs write one down."""
    coded = (base64.b64encode(secret), base64.urlsafe_b64encode(secret))
    return (
        secret in content
        or secret.hex().encode() in content.lower()
        or any(code.rstrip(b"=") in content for code in coded)
    )


def _members(content: bytes) -> Iterator[bytes]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            for info in archive.infolist():
                with archive.open(info) as stream:
                    yield stream.read(_MEMBER)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, zlib.error, OSError, ValueError):
        # No zip after all, or one that nobody can look into; it came from the instructor's own hand.
        return


@lru_cache(maxsize=1)
def _open_to_all() -> bytes:
    """Return the packs for practice in all their editions, and the one to start from."""
    home = resources.files("trainkit.packs")
    open_to_all = [entry for part in (home, home / "data") for entry in part.iterdir() if entry.name.endswith(".toml")]
    earlier = [path for path in packs.earlier().values() if not path.name.startswith(_closed())]
    return b"\n".join([each.read_bytes() for each in (*open_to_all, *earlier)])


def _closed() -> tuple[str, ...]:
    """Return how the names of earlier editions of packs for assessment begin."""
    return tuple(f"{name}-" for name in packs.names())


def _only_in(path: Path, known: bytes) -> frozenset[bytes]:
    lines = map(bytes.strip, path.read_bytes().splitlines())
    return frozenset(line for line in lines if len(line) > _LONG and line not in known)


@lru_cache(maxsize=1)
def _assessment_packs() -> Lines:
    """Return the lines that each pack for assessment has and no pack for practice, nor the empty one to start from."""
    editions = [(name, Path(packs.find_pack(name))) for name in packs.names()]
    editions += [(path.stem, path) for path in packs.earlier().values() if path.name.startswith(_closed())]
    return {name: _only_in(path, _open_to_all()) for name, path in editions}
