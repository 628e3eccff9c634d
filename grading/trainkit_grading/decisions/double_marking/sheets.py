"""What a second marker gets: a page with what was asked, answered and looked for, and a table for the points.

Neither says whose work it is nor what the first marker gave.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit import figures
from trainkit.items.capstone import rubric_of
from trainkit.items.kinds import ObservedItem, TextKey
from trainkit.widgets.paper import paragraphs
from trainkit_grading.errors import SignOffError
from trainkit_grading.forms.store import open_forms, open_keys
from trainkit_grading.ledger.kinds import Marked, Observed
from trainkit_grading.support.jinja import template

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.decisions.double_marking.sampling import Drawn
    from trainkit_grading.ledger.book import Ledger
    from trainkit_grading.ledger.kinds import SampleLine


COLUMNS = ("sheet", "line", "module", "item", "out_of", "points", "remark")


@dataclass(frozen=True, slots=True)
class WorkShown:
    """One line of the sheet, as it is shown: what was asked, what was done, what is looked for."""

    line: SampleLine
    title: str
    prompt: tuple[str, ...]
    given: tuple[tuple[str, str], ...]
    answer: tuple[str, ...]
    steps: tuple[tuple[str, bool, str], ...]
    rubric: str


def works(course: Course, ledger: Ledger, drawn: Drawn) -> tuple[WorkShown, ...]:
    """Return what each line of a sample shows; lines of people who were forgotten are left out.

    Raises
    ------
    SignOffError
        If a form or its keys are not there.
    """
    lines = [line for line in drawn.lines if line.apprentice]
    marked = ledger.read(Marked, {line.marked for line in lines})
    observed = ledger.read(Observed, {line.observed for line in lines if line.observed}, marks=False)
    return tuple(_work(course, line, marked[line.marked], observed.get(line.observed)) for line in lines)


def _work(course: Course, line: SampleLine, marked: Marked, observed: Observed | None) -> WorkShown:
    forms = open_forms(course.forms_file(line.module, line.attempt))
    keys = open_keys(course.key_file(line.module, line.attempt))
    if forms is None or keys is None or line.form not in forms.codes or line.form not in keys.codes:
        raise SignOffError(
            line.form,
            place=line.module,
            rule="The form of this mark, or its keys, are not there.",
            remedy="Fetch the folders forms/ and keys/ from your backup.",
        )
    item = forms.read(line.form).item(line.item)
    key = keys.read(line.form).keys[line.item]
    row = next(row for row in marked.marks if row.item == line.item)
    said = json.loads(row.response) if row.response else {}
    here = {step.text for step in item.steps} if isinstance(item, ObservedItem) else set()
    steps = [step for step in observed.steps if step.text in here] if observed is not None else []
    remarks = [note.text for note in observed.notes if note.kind == "remark" and note.text] if observed else []
    return WorkShown(
        line,
        course.workbook(course.module(line.module)).blueprint.title,
        tuple(paragraphs(item.prompt)),
        tuple((each.label, each.value) for each in item.given if not each.label.startswith("Caution: ")),
        tuple(str(said.get("text", "")).splitlines() or remarks),
        tuple((step.text, step.critical, step.outcome) for step in steps),
        str(rubric_of(key, item.points)) if isinstance(key, TextKey) else "",
    )


def html_text(course: Course, drawn: Drawn, shown: tuple[WorkShown, ...]) -> str:
    """Return the sheet as one self-contained page."""
    return template("decisions/double_marking/second.html.j2").render(
        title=course.title, drawn=drawn, works=shown, sign=figures.warning_sign(24)
    )


def table_text(drawn: Drawn) -> str:
    """Return the table to be filled in, as CSV."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for line in drawn.lines:
        if line.apprentice:
            writer.writerow([drawn.sheet, line.line, line.module, line.item, f"{line.out_of:g}", "", ""])
    return buffer.getvalue()
