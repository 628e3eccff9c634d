"""Folders that whoever marks may not read: told in words, and never a fault."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.intake import submissions

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="rights are another matter on Windows")

NOBODY = 65534


@pytest.fixture
def home() -> Iterator[Path]:
    """A folder in which everybody may work, unlike those of pytest."""
    with tempfile.TemporaryDirectory() as made:
        Path(made).chmod(0o777)
        yield Path(made)


def as_nobody(course: Course) -> dict[str, Any]:
    """Look at a submission as somebody without the rights of an administrator does."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:  # pragma: no cover - in the other process
        try:
            if os.geteuid() == 0:
                os.setgid(NOBODY)
                os.setuid(NOBODY)
            reading = submissions.read_journal(course, "m", "amir")
            said = {
                "oddities": submissions.oddities(course, "m", "amir"),
                "answers": len(reading.entries),
                "problems": [problem.kind for problem in reading.problems],
                "digest": submissions.journal_digest(course, "m", "amir"),
                "names": submissions.names(course, "m"),
            }
            os.write(writer, json.dumps(said).encode())
        finally:
            os._exit(0)
    os.close(writer)
    with os.fdopen(reader, "rb") as stream:
        content = stream.read()
    os.waitpid(child, 0)
    told: dict[str, Any] = json.loads(content)
    return told


@pytest.mark.parametrize(
    ("shut", "says"),
    [
        ("answers.jsonl", ["answers.jsonl cannot be read."]),
        ("", ["m cannot be read."]),
        ("deep", ["deep cannot be read."]),
    ],
)
def test_what_may_not_be_read_is_told(home: Path, shut: str, says: list[str]) -> None:
    course = Course(folder=home, name="c", title="C", modules=())
    folder = submissions.folder(course, "m", "amir")
    folder.mkdir(parents=True)
    (folder / "answers.jsonl").write_text("no answer\n", "utf-8")
    if shut == "deep":
        (folder / "deep").mkdir()
    (folder / shut).chmod(0)
    told = as_nobody(course)
    (folder / shut).chmod(0o700)
    assert told["oddities"] == says
    assert told["problems"] == (["unreadable"] if shut == "deep" else ["place"])
    assert told["names"] == ["amir"]
    assert bool(told["digest"]) == (shut == "deep")
