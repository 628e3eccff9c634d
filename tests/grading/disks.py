"""Commands on disks that refuse: full, or read only. A program that runs in a world of mounts of its own.

It gets orders as JSON, one a line: which words a command gets, how many bytes of the disk are free, whether it can be
written. For each it answers with the status and what was said.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

START = ("unshare", "--mount", *(() if getattr(os, "geteuid", lambda: 1)() == 0 else ("--user", "--map-root-user")))


def possible() -> bool:
    """Tell whether this system lets a program have mounts of its own."""
    if shutil.which("unshare") is None:
        return False
    done = subprocess.run([*START, "mount", "-t", "tmpfs", "tmpfs", "/mnt"], capture_output=True, check=False)
    return done.returncode == 0


class Disk:
    """A small disk that lives in memory, seen by one other program only; a course is copied onto it.

    Parameters
    ----------
    home : Path
        An empty folder at whose place the disk lies.
    course : Path
        The course folder; on the disk it is ``course``.
    """

    def __init__(self, home: Path, course: Path, megabytes: int = 40) -> None:
        self.course = home / "course"
        words = [*START, sys.executable, "-m", __spec__.name, str(home), str(course), str(megabytes)]
        self._process = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def run(self, *words: str | Path, free: int | None = None, readonly: bool = False) -> tuple[int, str]:
        """Run a command with so many bytes free; return its status and what it said."""
        status, said = self.order(words=[*map(str, words)], free=free, readonly=readonly)
        return int(status), str(said)

    def order(self, **order: Any) -> Any:
        """Give any order and return the answer."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(order) + "\n")
        self._process.stdin.flush()
        line = self._process.stdout.readline()
        assert line, "The program on the disk ended; its words are above."
        return json.loads(line)

    def __enter__(self) -> Disk:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.communicate(timeout=30)


def _mount(*words: str) -> None:
    subprocess.run(["mount", *words], check=True, capture_output=True)


@contextmanager
def _refusing(home: Path, free: int | None, readonly: bool) -> Iterator[None]:
    filler = home / "filler"
    if free is not None:
        room = os.statvfs(home)
        with filler.open("wb") as stream:
            os.posix_fallocate(stream.fileno(), 0, max(1, room.f_bavail * room.f_frsize - free))
    if readonly:
        _mount("-o", "remount,ro", str(home))
    try:
        yield
    finally:
        if readonly:
            _mount("-o", "remount,rw", str(home))
        filler.unlink(missing_ok=True)


def _ran(words: list[str]) -> tuple[int, str]:
    from typer.testing import CliRunner

    from trainkit_grading.cli import app

    done = CliRunner().invoke(app, words)
    said = done.output
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        said += "".join(traceback.format_exception(done.exception))
    return done.exit_code, said


def _serve(home: Path, course: Path, megabytes: int) -> None:
    _mount("-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(home))
    at = home / "course"
    out = os.dup(1)
    os.dup2(2, 1)
    for line in sys.stdin:
        order = json.loads(line)
        if order.get("afresh"):
            shutil.rmtree(at, ignore_errors=True)
            shutil.copytree(course, at)
            answer: Any = []
        elif "tree" in order:
            answer = sorted(str(path.relative_to(at)) for path in (at / order["tree"]).rglob("*") if path.is_file())
        else:
            os.chdir(at)
            with _refusing(home, order["free"], order["readonly"]):
                answer = _ran(order["words"])
            os.chdir("/")
        os.write(out, json.dumps(answer).encode() + b"\n")


if __name__ == "__main__":
    _serve(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
