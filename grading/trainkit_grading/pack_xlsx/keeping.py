"""Writing a file where one may be: never over it unless that is asked for, and then with a copy of what was there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit_grading.errors import PackSheetError
from trainkit_grading.support.files import write_atomically
from trainkit_grading.support.refusals import refusal

if TYPE_CHECKING:
    from pathlib import Path


def put(file: Path, content: bytes, *, replace: bool) -> tuple[str, ...]:
    """Write a file and say what became of the one that was there.

    Raises
    ------
    PackSheetError
        If there is one and it is not to be replaced, or it cannot be written.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "a.toml")
    ...     put(file, b"1", replace=False), put(file, b"2", replace=True)[0].endswith("a.toml.old.")
    ((), True)
    """
    try:
        if file.is_dir() or (file.exists() and not replace):
            raise PackSheetError(
                str(file),
                rule="Something is there, and nothing is ever written over unasked.",
                remedy="Choose another name, or add --replace: a copy of the old file is kept.",
            )
        if not file.exists():
            write_atomically(file, content)
            return ()
        old = file.read_bytes()
        if old == content:
            return ()
        number = 1
        while (copy := file.with_name(f"{file.name}.old{'' if number == 1 else number}")).exists():
            number += 1
        write_atomically(copy, old)
        write_atomically(file, content)
    except OSError as error:
        raise refusal(error, file) from None
    return (f"What was there before is kept as {copy}.",)
