"""What must never lie in a folder that is given out.

nbgrader copies every file of ``source/`` to ``release/``, and from there to everybody and back over what was handed
in. A journal that strayed in (a preview, a test run) would overwrite everybody's answers, an ``identity.json`` would
make everybody the same person, a key would end the assessment. Nothing here is repaired: a person put it there.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from trainkit.forms import IDENTITY_FILE
from trainkit.journal import JOURNAL_FILE
from trainkit_grading.outcome import Finding
from trainkit_grading.seeds import Seed

__all__ = ["found_in"]


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
    content = path.read_bytes()
    digits = seed.secret.hex().encode() if seed is not None else b""
    if digits and digits in content.lower():
        return "This file holds the secret seed of the course. Take it out at once."
    # What a file of keys has and nothing that is shown has; a copy under any name is found.
    if b'"working"' in content and b'"template"' in content:
        return "This file holds keys. Take it out at once."
    return ""
