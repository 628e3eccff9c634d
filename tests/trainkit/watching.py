"""Watching what goes to the disk: writes, forcing and renaming, by the names of the files, in their order."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

__all__ = ["Watched"]


class Watched:
    """Everything that a process does to files below a folder, one line each.

    A write through a stream is not seen by itself; forcing a file tells how long it is by then.
    """

    def __init__(self, monkeypatch: pytest.MonkeyPatch, home: Path) -> None:
        self.lines: list[str] = []
        self._home = home.resolve()
        self._paths: dict[int, str] = {}
        real_open, real_write, real_fsync, real_close = os.open, os.write, os.fsync, os.close

        def opens(path: Any, flags: int, *rest: Any, **more: Any) -> int:
            new = bool(flags & os.O_CREAT) and not Path(path).exists()
            descriptor = real_open(path, flags, *rest, **more)
            self._paths[descriptor] = self.name(path)
            if new:
                self.lines.append(f"create {self.name(path)}")
            return descriptor

        def writes(descriptor: int, data: bytes) -> int:
            self.lines.append(f"write {self._of(descriptor)}")
            return real_write(descriptor, data)

        def forces(descriptor: int) -> None:
            real_fsync(descriptor)
            self.lines.append(f"force {self._of(descriptor)}")

        def closes(descriptor: int) -> None:
            self._paths.pop(descriptor, None)
            real_close(descriptor)

        for name, of in (("open", opens), ("write", writes), ("fsync", forces), ("close", closes)):
            monkeypatch.setattr(os, name, of)
        for name in ("rename", "replace", "mkdir"):
            monkeypatch.setattr(os, name, self._noting(name, getattr(os, name)))

    def name(self, path: Any) -> str:
        """Return a path below the folder; a dot for the folder itself."""
        whole = Path(path).absolute()
        return whole.relative_to(self._home).as_posix() if whole.is_relative_to(self._home) else str(whole)

    def _of(self, descriptor: int) -> str:
        if descriptor in self._paths:
            return self._paths[descriptor]
        # Opened by a stream: it is known by what it is.
        met = os.fstat(descriptor)
        there = (path for path in self._home.rglob("*") if os.path.samestat(path.lstat(), met))
        return next((self.name(path) for path in there), "?")

    def _noting(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def noted(*paths: Any, **more: Any) -> Any:
            done = real(*paths, **more)
            self.lines.append(f"{name} {' '.join(self.name(path) for path in paths if not isinstance(path, int))}")
            return done

        return noted
