"""What an attack is: what it tries, how it is made, and which answers count all the same."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

__all__ = ["Attack", "Given", "Scene", "chained", "theirs", "written"]

# Which response counts for each item; an item that is not named counts as unanswered.
Given = Mapping[str, dict[str, Any]]


@dataclass(frozen=True)
class Scene:
    """What somebody who attacks has before them.

    ``folder`` is where their hand-in lies under ``submitted/``, ``parts`` what their honest hand-in holds, ``lines``
    their honest journal. ``secret`` is a file outside that nothing may read, ``outside`` the folder around it, which
    nothing may change. ``victim`` is the folder of somebody else, ``theirs`` that person's journal.
    """

    apprentice: str
    course: str
    module: str
    form: str
    folder: Path
    parts: Mapping[str, bytes]
    lines: tuple[dict[str, Any], ...]
    secret: Path
    outside: Path
    victim: Path
    theirs: bytes
    gradebook: Path

    @property
    def honest(self) -> dict[str, dict[str, Any]]:
        """The honest answers."""
        return {line["item"]: line["response"] for line in self.lines}

    @property
    def evil(self) -> str:
        """A program that leaves a file outside, gives itself all points, and stays behind."""
        ran = str(self.outside / f"ran-{self.apprentice}")
        lines = (
            "import sqlite3, subprocess, sys",
            f"open({ran!r}, 'w').write('ran')",
            f"print(open({str(self.secret)!r}).read())",
            f"base = sqlite3.connect({str(self.gradebook)!r})",
            "base.execute('update grade set auto_score = 20, manual_score = 20')",
            "base.commit()",
            "subprocess.Popen([sys.executable, '-c', 'import time; time.sleep(600)'], start_new_session=True)",
        )
        return "\n".join(lines) + "\n"


@dataclass(frozen=True)
class Attack:
    """One submission that tries something.

    Parameters
    ----------
    name : str
        Short; also the identifier of the apprentice who tries it.
    tries : str
        What it tries, in a sentence.
    lay : callable, optional
        Does it to the folder under ``submitted/``.
    write : callable, optional
        Returns the journal that is handed in.
    pack : callable, optional
        Returns the zip that is handed in.
    counts : callable, optional
        Returns the answers that count; the honest ones without.
    refused : str
        What the collector says where it refuses the hand-in; empty where it takes it.
    flagged : str
        What a person is told to look at when it is marked; empty where that says nothing.
    """

    name: str
    tries: str
    lay: Callable[[Scene], None] | None = None
    write: Callable[[Scene], bytes] | None = None
    pack: Callable[[Scene], bytes] | None = None
    counts: Callable[[Scene], Given] = lambda scene: scene.honest
    refused: str = ""
    flagged: str = ""


def theirs(scene: Scene) -> Given:
    """Return the answers of the journal that is somebody else's."""
    return {line["item"]: line["response"] for line in map(json.loads, scene.theirs.splitlines())}


def written(lines: Iterable[Mapping[str, Any]]) -> bytes:
    """Return lines as they stand, one a row, with what ``json`` allows and JSON does not."""
    return b"".join(json.dumps(line, separators=(",", ":")).encode() + b"\n" for line in lines)


def chained(lines: Iterable[Mapping[str, Any]]) -> bytes:
    """Return a journal with its numbers and hashes as an honest one has them."""
    made = b""
    before = b""
    for number, line in enumerate(lines, start=1):
        digest = hashlib.sha256(before).hexdigest()[:16] if before else ""
        before = json.dumps({**line, "n": number, "before": digest}, ensure_ascii=False, separators=(",", ":")).encode()
        made += before + b"\n"
    return made
