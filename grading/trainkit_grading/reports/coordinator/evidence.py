"""What stands behind one person's results: each answer with its marks, the observation, the session, the software.

Everything is read from the ledger by the person, so that it takes no longer in a course of ten thousand.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.errors import TrainkitError
from trainkit.items.reading import read_response
from trainkit_grading.forms.store import open_forms
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.support.markup import said

if TYPE_CHECKING:
    from trainkit.forms import Form
    from trainkit_grading.course.folder import Course
    from trainkit_grading.forms.store import KeptForms
    from trainkit_grading.ledger.book import Ledger, PointsByHand
    from trainkit_grading.ledger.entries import MarkRow


@dataclass(frozen=True, slots=True)
class AnswerEvidence:
    """One answer.

    Parameters
    ----------
    item, template, verdict, reason : str
        What it is an answer to, what became of it, and why.
    asked : str
        The beginning of the question; empty where the form is not at hand any more.
    answer : tuple of str
        What was answered, in words, a line each.
    points, out_of : float
        What counts; what a person gave goes before what was marked.
    judged : bool
        Whether a person gave the points.
    """

    item: str
    template: str
    verdict: str
    reason: str
    asked: str
    answer: tuple[str, ...]
    points: float
    out_of: float
    judged: bool


@dataclass(frozen=True, slots=True)
class ModuleEvidence:
    """What stands behind one result: which entry of the ledger, from which versions, and the single answers."""

    entry: int
    at: str
    by: str
    versions: Mapping[str, str]
    answers: tuple[AnswerEvidence, ...]


class Evidences:
    """Reads evidence; forms of a module are opened once.

    Parameters
    ----------
    course : Course
        The course folder.
    ledger : Ledger
        Its ledger, open.
    """

    def __init__(self, course: Course, ledger: Ledger) -> None:
        self._course = course
        self._ledger = ledger
        self._forms: dict[tuple[str, int], KeptForms | None] = {}

    def of(self, apprentice: str, entries: Mapping[str, int]) -> dict[str, ModuleEvidence]:
        """Return what stands behind one person's results, by module.

        Parameters
        ----------
        apprentice : str
            The person.
        entries : mapping of str to int
            Number of the entry that counts, by module.
        """
        found = self._ledger.read(Marked, [number for number in entries.values() if number])
        return {
            module: self._module(
                found[number], self._ledger.judged(module, [apprentice]).get((apprentice, found[number].attempt), {})
            )
            for module, number in entries.items()
            if number in found
        }

    def _module(self, entry: Marked, judged: Mapping[str, PointsByHand]) -> ModuleEvidence:
        form = self._form(entry)
        of = entry.provenance
        versions = {"pack": of.pack, "module": of.module, "form": of.form, "keys": of.keys, "software": of.software}
        return ModuleEvidence(
            entry.number,
            entry.at,
            entry.by,
            {name: digest[:12] for name, digest in versions.items() if digest},
            tuple(_answer(row, form, judged.get(row.item)) for row in entry.marks),
        )

    def _form(self, entry: Marked) -> Form | None:
        where = (entry.module, entry.attempt)
        try:
            if where not in self._forms:
                self._forms[where] = open_forms(self._course.forms_file(*where))
            forms = self._forms[where]
            return forms.read(entry.form) if forms is not None and entry.form in forms.codes else None
        except TrainkitError:
            return None  # the marks stand without it; what was asked is then not said


def _answer(row: MarkRow, form: Form | None, judged: PointsByHand | None) -> AnswerEvidence:
    item = form.item(row.item) if form is not None else None
    answer: tuple[str, ...] = ()
    if row.response is not None and item is not None:
        answer = said(item, read_response(json.loads(row.response)))
    elif row.response is not None:
        answer = (row.response,)
    return AnswerEvidence(
        row.item,
        row.template,
        row.verdict if judged is None else "set by a person",
        row.reason,
        item.prompt.split("\n\n")[0] if item is not None else "",
        answer,
        row.points if judged is None else judged.points,
        row.out_of,
        judged is not None,
    )
