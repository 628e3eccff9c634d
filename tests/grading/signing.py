"""What people sign for: practical work that was observed, and points that a second marker gives."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from trainkit import packs
from trainkit_grading.course.folder import Course
from trainkit_grading.decisions.double_marking.sampling import drawn
from trainkit_grading.ledger.kinds import SampleLine
from trainkit_grading.signoff.checklists import Checklist, of_item, of_pack
from trainkit_grading.signoff.observations import Observation

from .makers import FIRST, MODULE, ledger_of

AT = datetime(2027, 3, 3, 9, 30, tzinfo=UTC)


def item_sheet(course: Course, person: str = FIRST, module: str = MODULE) -> Checklist:
    """Return the sheet for the practical work in somebody's form."""
    known = course.roster().find(person)
    assert known is not None
    return of_item(course, course.module(module), known, course.seed())


def pack_sheet(course: Course, configuration: str = "") -> Checklist:
    """Return the sheet for all steps of a pack."""
    return of_pack(packs.load("dunlin"), course.seed(), course.name, configuration)


def watched(sheet: Checklist, changes: Mapping[int, str] | None = None, **more: Any) -> Observation:
    """Observe work that needed no prompt, but for these changes; of work that is shown again, they are all there is."""
    outcomes = {} if more.get("again") else dict.fromkeys(range(1, len(sheet.steps) + 1), "unprompted")
    said = {"observer": "P. Tidewell", "trainer": "M. Orrin", "engine": "Set 4", "at": AT, "apprentice": FIRST}
    return Observation(checklist=sheet, outcomes=outcomes | dict(changes or {}), **{**said, **more})


def second_marks(course: Course, sheet: str, points: Callable[[SampleLine], str]) -> Path:
    """Fill the table in as a second marker does; it names nobody, so the lines are found by their number."""
    path = course.folder / "second" / f"{sheet}.csv"
    with ledger_of(course) as ledger:
        *_, (_, sample) = drawn(ledger)
    lines = {line.line: line for line in sample.lines}
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, rows[0].keys())
        writer.writeheader()
        writer.writerows({**row, "points": points(lines[int(row["line"])])} for row in rows)
    return path
