"""Answers that nobody has saved yet, kept in a file of their own beside the journal.

A draft is no answer: nothing that marks or hands in reads this file. It lies in the opened folder so that on a shared
laptop nothing of a person stays in the profile of the machine. Losing it costs typing, never an answer, so whatever
is wrong with the file is taken for an empty one.
"""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from pathlib import Path
from typing import Annotated

from pydantic import Field, TypeAdapter, ValidationError

from trainkit.items.kinds import Response, Value
from trainkit.journal.lines import LINE_LIMIT

DRAFTS_FILE = "drafts.json"
# As many questions as a workbook may have with room to spare, each as long as an answer may be at most.
_DRAFTS_LIMIT = 60
_FILE_LIMIT = 524_288


class Draft(Value):
    """An answer as it was typed.

    Parameters
    ----------
    response : Response
        What would be saved.
    base : int
        Number of the recorded answer that it would replace, 0 for none.
    """

    response: Annotated[Response, Field(discriminator="kind")]
    base: Annotated[int, Field(ge=0, le=1_000_000)] = 0


_FILE = TypeAdapter(dict[Annotated[str, Field(max_length=80)], Draft])


class Drafts:
    """The drafts of one folder.

    Parameters
    ----------
    folder : Path
        The folder of the notebook.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from trainkit.items.kinds import ChoiceResponse
    >>> with tempfile.TemporaryDirectory() as home:
    ...     drafts = Drafts(Path(home))
    ...     kept = drafts.keep("a1", Draft(response=ChoiceResponse(option="b")))
    ...     (kept, drafts.of("a1").response.option)
    (True, 'b')
    """

    def __init__(self, folder: Path) -> None:
        self.path = Path(folder) / DRAFTS_FILE

    def of(self, key: str) -> Draft | None:
        """Return the draft that is kept under a name, or None."""
        return self._read().get(key)

    def keep(self, key: str, draft: Draft | None) -> bool:
        """Keep a draft under a name, or with None keep none; return whether the folder could be written."""
        known = self._read()
        if known.get(key) == draft:
            return True
        # The latest stands last, so that the oldest goes where there are too many.
        kept = {name: each for name, each in known.items() if name != key} | ({key: draft} if draft else {})
        while len(kept) > _DRAFTS_LIMIT:
            del kept[next(iter(kept))]
        try:
            if not kept:
                self.path.unlink(missing_ok=True)
                return True
            content = json.dumps({name: each.model_dump(mode="json") for name, each in kept.items()}).encode()
            if (draft and len(draft.model_dump_json()) > LINE_LIMIT) or len(content) > _FILE_LIMIT:
                return False
            self._write(content)
        except OSError:
            return False
        return True

    def _read(self) -> dict[str, Draft]:
        try:
            if self.path.is_symlink() or self.path.stat().st_size > _FILE_LIMIT:
                return {}
            return _FILE.validate_json(self.path.read_bytes())
        except (OSError, ValidationError):
            return {}

    def _write(self, content: bytes) -> None:
        descriptor, name = tempfile.mkstemp(prefix=".drafts-", dir=self.path.parent)
        try:
            with os.fdopen(descriptor, "wb") as stream:
                stream.write(content)
            Path(name).replace(self.path)
        finally:
            with contextlib.suppress(OSError):
                Path(name).unlink(missing_ok=True)
