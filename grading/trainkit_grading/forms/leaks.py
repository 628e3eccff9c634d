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

from trainkit.forms import IDENTITY_FILE
from trainkit.journal import JOURNAL_FILE
from trainkit_grading.course import packs
from trainkit_grading.course.seeds import Seed
from trainkit_grading.support.outcome import Finding

# So many lines of a pack are the pack; one alone may be a sentence that a question shows.
_TELLING = 3
_MEMBER = 50_000_000


def found_in(folder: Path, seed: Seed | None = None, shown_from: Path | None = None) -> tuple[Finding, ...]:
    """Return a refusal for each thing in ``folder`` that must not be given out.

    Parameters
    ----------
    folder : Path
        Looked through whole, without following links; absent is as good as empty.
    seed : Seed, optional
        The seed whose digits are looked for in every file.
    shown_from : Path, optional
        Folder from which places are shown.
    """
    base = shown_from or folder.parent
    return tuple(Finding("refused", path.relative_to(base).as_posix(), text) for path, text in _found(folder, seed))


def _found(folder: Path, seed: Seed | None) -> Iterator[tuple[Path, str]]:
    if folder.is_symlink():
        yield folder, "A folder that is given out is no link. Put the folder itself there."
        return
    for parent, folders, files in os.walk(folder):
        folders.sort()
        for name in sorted((*folders, *files)):
            path = Path(parent, name)
            text = _trouble(path, seed)
            if text:
                yield path, text


def _trouble(path: Path, seed: Seed | None) -> str:
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
    return _in_bytes(path.read_bytes(), seed)


def _in_bytes(content: bytes, seed: Seed | None, inner: bool = False) -> str:
    """Say what a file must not hold; of a zip, its members, too."""
    if seed is not None and _tells(content, seed.secret):
        return "This file holds the secret seed of the course. Take it out at once."
    # What a file of keys has and nothing that is shown has; a copy under any name is found.
    if b'"working"' in content and b'"template"' in content:
        return "This file holds keys. Take it out at once."
    if content.startswith(b"SQLite format 3\0"):
        return "This is a database, and marks stand in one. Take it out."
    for name, lines in _assessment_packs().items():
        if sum(line in content for line in lines) >= _TELLING:
            return f"This file holds the pack {name}, which is for assessment only. Take it out at once."
    if content.startswith(b"PK") and not inner:
        return next((text for member in _members(content) if (text := _in_bytes(member, seed, inner=True))), "")
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
def _assessment_packs() -> Mapping[str, frozenset[bytes]]:
    """Return the lines that each pack for assessment has and no pack for practice, nor the empty one to start from."""
    home = resources.files("trainkit.packs")
    open_to_all = [entry for part in (home, home / "data") for entry in part.iterdir() if entry.name.endswith(".toml")]
    closed = tuple(f"{name}-" for name in packs.names())
    earlier = list(packs.earlier().values())
    known = b"\n".join(
        [entry.read_bytes() for entry in open_to_all]
        + [path.read_bytes() for path in earlier if not path.name.startswith(closed)]
    )
    editions = [(name, Path(packs.find_pack(name))) for name in packs.names()]
    editions += [(path.stem, path) for path in earlier if path.name.startswith(closed)]
    return {
        name: frozenset(
            line for line in map(bytes.strip, path.read_bytes().splitlines()) if len(line) > 20 and line not in known
        )
        for name, path in editions
    }
