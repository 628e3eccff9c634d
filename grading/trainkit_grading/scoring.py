"""Scoring: from one submission's journal to a mark for each item of the form that counts.

A submission is data. The journal is read strictly and nothing else in the folder is opened; the folder's name decides
who is marked, and the course side's own record decides which form and which keys count. What a journal claims
otherwise is flagged for a person, and the mark is computed all the same.
"""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from trainkit.forms import Form
from trainkit.items.item import Item, ObservedItem
from trainkit.items.marking import Mark, no_answer, waiting
from trainkit.items.marking import mark as mark_item
from trainkit.items.responses import Response
from trainkit.journal import Entry, Reading
from trainkit_grading import drawing, submissions
from trainkit_grading.course import Course
from trainkit_grading.errors import CourseError, DrawingError

__all__ = ["Flag", "Marked", "Scored", "Scorer", "score"]

# A workshop laptop's clock may be this far out; more is worth a question.
_CLOCK = timedelta(minutes=10)


@dataclass(frozen=True, slots=True)
class Flag:
    """Something about a submission that a person should look at; it changes no mark.

    Parameters
    ----------
    kind : str
        ``"name"``, ``"form"``, ``"module"``, ``"course"``, ``"item"``, ``"times"``, ``"folder"``, or the kind of a
        journal's problem (:class:`trainkit.journal.Problem`).
    text : str
        What it is, whole sentences.
    """

    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Marked:
    """One item: what was shown, what was given (the latest answer), and what it earned.

    ``critical`` says whether the blueprint counts it as critical: only there does an answer that would do harm bar
    passing. Elsewhere it is told in the feedback and costs its points.
    """

    id: str
    item: Item
    response: Response | None
    at: str
    mark: Mark
    critical: bool = False


@dataclass(frozen=True, slots=True)
class Scored:
    """One submission, marked.

    Parameters
    ----------
    module, apprentice : str
        Who is marked, as the course side has it.
    attempt : int
        Which attempt counts.
    form : str
        Code of the form that counts.
    items : tuple of Marked
        One for each item of the form, in its order.
    flags : tuple of Flag
        What a person should look at.
    """

    module: str
    apprentice: str
    attempt: int
    form: str
    items: tuple[Marked, ...]
    flags: tuple[Flag, ...] = ()

    @property
    def points(self) -> float:
        """Sum of the points earned."""
        return round(sum(entry.mark.points for entry in self.items), 2)

    @property
    def out_of(self) -> float:
        """Sum of the points possible."""
        return round(sum(entry.mark.out_of for entry in self.items), 2)

    @property
    def critical(self) -> tuple[str, ...]:
        """Identifiers of the critical items whose answer would hurt the engine or a person."""
        return tuple(entry.id for entry in self.items if entry.critical and entry.mark.critical)

    def to_dict(self) -> dict[str, Any]:
        """Return the marks as plain JSON data."""
        return {
            "module": self.module,
            "apprentice": self.apprentice,
            "attempt": self.attempt,
            "form": self.form,
            "points": self.points,
            "out_of": self.out_of,
            "items": [{"id": entry.id, **entry.mark.to_dict()} for entry in self.items],
            "critical": list(self.critical),
            "flags": [{"kind": flag.kind, "text": flag.text} for flag in self.flags],
        }


@dataclass(frozen=True, slots=True)
class _Attempt:
    number: int
    forms: Mapping[str, Form]
    keys: drawing.KeyFile


class Scorer:
    """Scores the submissions of one module; forms and keys are read once.

    Raises
    ------
    CourseError
        If the course does not run the module.
    DrawingError
        If no forms have been drawn, or their files cannot be used.
    """

    def __init__(self, course: Course, module: str) -> None:
        current = course.module(module).attempt
        self.course = course
        self.module = module
        self._attempts = tuple(
            attempt for number in range(current, 0, -1) if (attempt := self._read(number, needed=number == current))
        )

    def _read(self, number: int, needed: bool) -> _Attempt | None:
        keys = drawing.read_keys(self.course.key_file(self.module, number))
        forms = drawing.read_forms(self.course.forms_file(self.module, number))
        if keys is not None and forms is not None:
            return _Attempt(number, {form.code: form for form in forms.forms}, keys)
        if needed or keys is not None or forms is not None:
            raise DrawingError(
                self.module,
                rule=f"There are no forms or no keys of attempt {number}.",
                remedy="Run trainkit-course build, or fetch the folders keys/ and forms/ from your backup.",
            )
        return None

    def score(self, apprentice: str) -> Scored:
        """Mark the latest answer to each item in one apprentice's journal.

        Raises
        ------
        CourseError
            If no form was drawn for this apprentice.
        """
        reading = submissions.read_journal(self.course, self.module, apprentice)
        attempt, form = self._counting(apprentice, reading)
        keys = attempt.keys.forms[form.code].keys
        critical = {planned.id for planned in attempt.keys.plan if planned.critical}
        latest = reading.latest()
        items = []
        for shown in form.items:
            # Practical work is signed for by a person; a journal, which the apprentice could write, says nothing of it.
            entry = None if isinstance(shown.item, ObservedItem) else latest.get(shown.id)
            got = _unanswered(shown.item) if entry is None else mark_item(shown.item, keys[shown.id], entry.response)
            given, at = (entry.response, entry.at) if entry is not None else (None, "")
            items.append(Marked(shown.id, shown.item, given, at, _within(got), shown.id in critical))
        flags = (*_folder_flags(self.course, self.module, apprentice), *self._flags(reading, form, apprentice))
        return Scored(self.module, apprentice, attempt.number, form.code, tuple(items), flags)

    def _counting(self, apprentice: str, reading: Reading) -> tuple[_Attempt, Form]:
        """Return the form that counts: the newest one of theirs that the journal speaks of, else the current one."""
        said = {entry.form for entry in reading.entries if entry.module == self.module}
        theirs = [
            (attempt, attempt.forms[code])
            for attempt in self._attempts
            if (code := attempt.keys.form_of(apprentice)) is not None and code in attempt.forms
        ]
        for attempt, form in theirs:
            if form.code in said:
                return attempt, form
        if not theirs:
            raise CourseError(
                apprentice,
                place=self.module,
                rule="No form was drawn for this name.",
                remedy="If it belongs to the course, add it to roster.csv, build and assign again.",
            )
        return theirs[0]

    def _flags(self, reading: Reading, form: Form, apprentice: str) -> Iterable[Flag]:
        # A last line cut off by a power cut is what journals are made for; it is no reason for a talk.
        odd = Counter(problem.kind for problem in reading.problems if problem.kind != "torn")
        for kind, count in odd.items():
            first = next(problem for problem in reading.problems if problem.kind == kind)
            where = f"Line {first.line}: " if first.line else ""
            more = f" {count} lines are like this." if count > 1 else ""
            yield Flag(kind, f"{where}{first.text}{more}")
        claims: Mapping[str, tuple[str, str, str]] = {
            "name": ("apprentice", apprentice, "name"),
            "form": ("form", form.code, "form"),
            "module": ("module", self.module, "module"),
            "course": ("course", self.course.name, "course"),
        }
        for kind, (field, ours, word) in claims.items():
            others = Counter(
                claimed for entry in reading.entries if _same(claimed := getattr(entry, field)) != _same(ours)
            )
            for claimed, count in others.most_common(3):
                answers = "1 answer claims" if count == 1 else f"{count} answers claim"
                yield Flag(kind, f"{answers} the {word} “{claimed}”; here it is “{ours}”. It was marked as “{ours}”.")
        watched = {shown.id for shown in form.items if isinstance(shown.item, ObservedItem)}
        claimed_work = sorted({entry.item for entry in reading.entries} & watched)
        if claimed_work:
            yield Flag("item", f"The journal answers practical work, {', '.join(claimed_work)}; it was passed over.")
        unknown = sorted({entry.item for entry in reading.entries} - {shown.id for shown in form.items})
        if unknown:
            yield Flag("item", f"The form has no item {', '.join(f'“{name}”' for name in unknown[:5])}.")
        arrived = submissions.arrived(self.course, self.module, apprentice)
        yield from _time_flags(reading.entries, arrived)


def score(course: Course, module: str, apprentice: str) -> Scored:
    """Mark one submission; see :meth:`Scorer.score`."""
    return Scorer(course, module).score(apprentice)


def _unanswered(item: Item) -> Mark:
    """Return the mark of an item without an answer; practical work waits for whoever watches it."""
    if isinstance(item, ObservedItem):
        return waiting(item, "A person watches this work and signs for it.")
    return no_answer(item)


def _within(got: Mark) -> Mark:
    """Return the mark with its points as a plain number between nothing and all."""
    points = min(max(float(got.points), 0.0), float(got.out_of))
    if points == got.points and type(got.points) is float:
        return got
    return Mark(points, got.out_of, got.verdict, got.reason, got.misconception, got.critical)


def _folder_flags(course: Course, module: str, apprentice: str) -> Iterable[Flag]:
    return [Flag("folder", text) for text in submissions.oddities(course, module, apprentice)]


def _time_flags(entries: Sequence[Entry], arrived: datetime | None) -> Iterable[Flag]:
    if not entries:
        return
    times = [entry.when.astimezone(UTC).replace(tzinfo=None) for entry in entries]
    back = next((number for number in range(1, len(times)) if times[number] < times[number - 1] - _CLOCK), None)
    if back is not None:
        yield Flag("times", f"Answer {back + 1} is dated {entries[back].at}, before the answer above it.")
    if arrived is not None and max(times) > arrived + _CLOCK:
        yield Flag("times", f"An answer is dated {max(times):%Y-%m-%d %H:%M} UTC, after the hand-in arrived.")


def _same(name: str) -> str:
    return unicodedata.normalize("NFC", name)
