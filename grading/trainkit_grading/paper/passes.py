"""What was typed from a sheet, as it stands on the disk: ``entered/<code>.jsonl``, one line for each thing typed.

A line is written, flushed and forced to the disk before the next thing is asked. So whatever stopped the typing, the
same command goes on where it stopped. A last line that was cut off costs itself alone.

========  ===============================================================================
``do``    what it says
========  ===============================================================================
begin     ``by`` begins pass ``number``; 3 is whoever settles what the two passes differ in
typed     in pass ``number``, ``text`` stands for ``what``
end       pass ``number`` is complete
why       why a sheet that was taken is typed again: ``text``
========  ===============================================================================
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit.journal import now, sync_folder
from trainkit_grading.errors import PaperError

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


LIMIT = 400_000
"""The largest file that is read, in bytes."""
PASSES = (1, 2, 3)


@dataclass(slots=True)
class Pass:
    """One pass over a sheet: who typed it, what, and whether it is complete; ``every`` has all that was ever typed."""

    by: str = ""
    texts: dict[str, str] = field(default_factory=dict)
    every: dict[str, list[str]] = field(default_factory=dict)
    ended: bool = False

    def digest(self, code: str, number: int) -> str:
        """Return the SHA-256 of the pass as plain JSON, its names sorted."""
        said = {"form": code, "pass": number, "by": self.by, "typed": self.texts}
        return hashlib.sha256(json.dumps(said, sort_keys=True, ensure_ascii=True).encode()).hexdigest()


class Typing:
    """What was typed from the sheet of one form.

    Parameters
    ----------
    home : Path
        The folder ``entered``.
    code : str
        The form.

    Raises
    ------
    PaperError
        If the file is there and is none of these.
    """

    def __init__(self, home: Path, code: str) -> None:
        self.code = code
        self.path = home / f"{code}.jsonl"
        self._size = 0
        self.why = ""
        self.passes: dict[int, Pass] = {number: Pass() for number in PASSES}
        for line in self._lines():
            self._take(line)

    def _lines(self) -> list[bytes]:
        try:
            with self.path.open("rb") as stream:
                content = stream.read(LIMIT + 1)
        except FileNotFoundError:
            return []
        except OSError as error:
            raise self._unusable(str(error.strerror)) from None
        if len(content) > LIMIT:
            raise self._unusable("it is too long")
        # What stands after the last end of a line was cut off while it was written.
        *lines, torn = content.split(b"\n")
        self._size = len(content) - len(torn)
        return lines

    def _take(self, line: bytes) -> None:
        try:
            said = json.loads(line)
            number, do = said["number"], said["do"]
            of = self.passes[number]
            if do == "begin":
                # What was typed a third time counts as a reading whoever typed it.
                self.passes[number] = Pass(by=str(said["by"]), every=of.every if number == 3 else {})
            elif do == "typed":
                of.texts[str(said["what"])] = str(said["text"])
                of.every.setdefault(str(said["what"]), []).append(str(said["text"]))
            elif do == "end":
                of.ended = True
            elif do == "why":
                self.why = str(said["text"])
            else:
                raise ValueError(do)
        except (ValueError, KeyError, TypeError) as error:
            raise self._unusable(f"a line of it is damaged, {type(error).__name__}") from None

    def _unusable(self, said: str) -> PaperError:
        return PaperError(
            str(self.path),
            rule=f"What was typed is kept in a file of its own, and this one cannot be used ({said}).",
            remedy="Fetch it from your backup, or rename it and type the sheet again.",
        )

    @property
    def digests(self) -> tuple[str, str]:
        """SHA-256 of the first and the second pass."""
        return self.passes[1].digest(self.code, 1), self.passes[2].digest(self.code, 2)

    def anew(self, why: str) -> None:
        """Put what was typed aside, and begin from an empty sheet."""
        aside = next(p for n in range(1, 1000) if not (p := self.path.with_name(f"{self.code}.{n}.jsonl")).exists())
        self.path.rename(aside)
        self._size = 0
        self.passes = {number: Pass() for number in PASSES}
        self._append({"do": "why", "number": 1, "text": why})

    def begin(self, number: int, by: str) -> None:
        """Begin a pass."""
        self._append({"do": "begin", "number": number, "by": by})

    def typed(self, number: int, what: str, text: str) -> None:
        """Keep what was typed; when this returns, it is on the disk."""
        self._append({"do": "typed", "number": number, "what": what, "text": text})

    def end(self, number: int) -> None:
        """Say that a pass is complete."""
        self._append({"do": "end", "number": number})

    def _append(self, said: Mapping[str, Any]) -> None:
        told = {"format": 1, "form": self.code, **said, "at": now().isoformat(timespec="seconds")}
        line = json.dumps(told, ensure_ascii=False)
        try:
            with self.path.open("r+b" if self.path.exists() else "x+b") as stream:
                # A line that was cut off is taken away: it was never acknowledged.
                if (whole := stream.read().rfind(b"\n") + 1) != self._size:
                    raise PaperError(
                        self.path.name,
                        rule="Somebody else types this sheet at the same time.",
                        remedy="Let one of you finish; then give the command again.",
                    )
                stream.truncate(whole)
                stream.seek(0, os.SEEK_END)
                self._size += stream.write(line.encode() + b"\n")
                stream.flush()
                os.fsync(stream.fileno())
            sync_folder(self.path.parent)
        except OSError as error:
            raise PaperError(
                self.path.name,
                rule=f"What was typed could not be written to the disk ({error.strerror or error}).",
                remedy="Make room or allow writing there, then give the command again; all before it is safe.",
            ) from None
        self._take(line.encode())


def folder(course: Course) -> Path:
    """Return where it is kept what was typed."""
    return course.folder / "entered"


def same_person(one: str, other: str) -> bool:
    """Tell whether two names are the same but for capitals and spaces.

    Examples
    --------
    >>> same_person("P. Tidewell", "p.tidewell")
    True
    """

    def plain(name: str) -> str:
        return "".join(name.casefold().split())

    return plain(one) == plain(other)
