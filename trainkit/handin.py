"""The hand-in file: a zip of the journal, and of ``identity.json`` where there is one, beside the notebook.

It holds nothing else. The notebook itself stays where it is: the course side puts its own copy beside the journal.
"""

from __future__ import annotations

import os
import re
import tempfile
import zipfile
from pathlib import Path

from trainkit.errors import JournalError
from trainkit.forms import IDENTITY_FILE, Identity
from trainkit.journal import FILE_LIMIT, JOURNAL_FILE, read, sync_folder

__all__ = ["SUFFIX", "file_name", "pack"]

SUFFIX = ".handin.zip"


def pack(folder: Path) -> Path:
    """Make the hand-in file of the answers in ``folder`` and return its path.

    The file is replaced in one step; the same answers give the same bytes.

    Parameters
    ----------
    folder : Path
        The folder of the notebook.

    Returns
    -------
    Path
        ``<module>-<apprentice>-<form>.handin.zip`` in that folder.

    Raises
    ------
    JournalError
        If there is no answer in it, or the file cannot be written.
    FormError
        If ``identity.json`` is there but cannot be used.
    """
    folder = Path(folder)
    journal = folder / JOURNAL_FILE
    reading = read(journal)
    if not reading.entries:
        raise JournalError(
            str(journal), rule="There is no answer to hand in yet.", remedy="Answer a question, then hand in."
        )
    last = reading.entries[-1]
    identity = Identity.read(folder)
    path = folder / file_name(last.module, identity.apprentice if identity else last.apprentice, last.form)
    # Read once and whole: an answer given meanwhile is in the next hand-in, never half in this one.
    with journal.open("rb") as stream:
        files = {JOURNAL_FILE: stream.read(FILE_LIMIT)}
    if identity is not None:
        files[IDENTITY_FILE] = (folder / IDENTITY_FILE).read_bytes()
    try:
        _write(path, files)
    except OSError as error:
        raise JournalError(
            path.name,
            rule=f"The hand-in file could not be written ({error.strerror or error}).",
            remedy="Make room or allow writing there, then hand in again. The answers themselves are safe.",
        ) from None
    return path


def file_name(module: str, apprentice: str, form: str) -> str:
    """Return the name of a hand-in file.

    Letters and digits of any script stay; whatever a file system might refuse becomes ``_``.

    Examples
    --------
    >>> file_name("lock-pin", "O'Neill Zoë", "K7")
    'lock-pin-O_Neill_Zoë-K7.handin.zip'
    """
    parts = (re.sub(r"[^\w-]+", "_", part)[:60].strip("_") or "_" for part in (module, apprentice, form))
    return "-".join(parts) + SUFFIX


def _write(path: Path, files: dict[str, bytes]) -> None:
    descriptor, name = tempfile.mkstemp(prefix=".handin-", dir=path.parent)
    temporary = Path(name)
    try:
        with os.fdopen(descriptor, "wb") as stream:
            with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
                for member, content in files.items():
                    # A fixed date: the same answers make the same file.
                    archive.writestr(zipfile.ZipInfo(member, (1980, 1, 1, 0, 0, 0)), content, zipfile.ZIP_DEFLATED)
            stream.flush()
            os.fsync(stream.fileno())
        temporary.replace(path)
        sync_folder(path.parent)
    finally:
        temporary.unlink(missing_ok=True)
