"""The roster without somebody: their line goes, and every comment that names them; all else stays byte for byte."""

from __future__ import annotations

import csv
import re
from typing import TYPE_CHECKING

from trainkit_grading.course import roster
from trainkit_grading.keeping.forget.traces import same

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.keeping.forget.traces import Traces


def roster_without(course: Course, traces: Traces) -> bytes | None:
    """Return the roster without somebody's lines, and without comments that name them; None where there are none."""
    data = course.roster_file.read_bytes()
    parts = re.split(rb"(\r\n|\r|\n)", data)
    lines, ends = parts[0::2], [*parts[1::2], b""]
    header = next((n for n, line in enumerate(lines) if roster.counts(line.decode("utf-8-sig"))), None)
    if header is None:
        return None
    delimiter = max(",;\t", key=lines[header].decode("utf-8-sig").count)
    names = [
        cell.strip().casefold() for cell in next(csv.reader([lines[header].decode("utf-8-sig")], delimiter=delimiter))
    ]
    at = names.index("apprentice")
    kept = b""
    for number, (line, end) in enumerate(zip(lines, ends, strict=True)):
        words = line.decode("utf-8-sig")
        gone = number != header and (
            _cell(words, delimiter, at, traces) if roster.counts(words) else traces.named_in(words)
        )
        kept += b"" if gone else line + end
    return kept if kept != data else None


def _cell(line: str, delimiter: str, at: int, traces: Traces) -> bool:
    try:
        cells = next(csv.reader([line], delimiter=delimiter))
    except csv.Error:
        return traces.named_in(line)
    return len(cells) > at and same(cells[at].strip(), traces.id)
