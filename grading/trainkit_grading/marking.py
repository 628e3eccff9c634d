"""Marking: journals in, marks out, into nbgrader's gradebook and readable notebooks.

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

from trainkit.errors import TrainkitError
from trainkit.forms import Form
from trainkit.items.item import Item
from trainkit.items.marking import Mark, no_answer
from trainkit.items.marking import mark as mark_item
from trainkit.items.responses import Response
from trainkit.journal import Entry, Reading
from trainkit_grading import drawing, submissions
from trainkit_grading.bridge import gradebook
from trainkit_grading.course import Course
from trainkit_grading.errors import CourseError, DrawingError
from trainkit_grading.files import held
from trainkit_grading.outcome import Finding, Outcome, Progress, quiet, refused

__all__ = ["Flag", "Marked", "Scored", "Scorer", "mark", "score"]

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
    """One item: what was shown, what was given (the latest answer), and what it earned."""

    id: str
    item: Item
    response: Response | None
    at: str
    mark: Mark


@dataclass(frozen=True, slots=True)
class Scored:
    """One submission, marked.

    Parameters
    ----------
    module, apprentice, form : str
        What counts, as the course side has it.
    items : tuple of Marked
        One for each item of the form, in its order.
    flags : tuple of Flag
        What a person should look at.
    """

    module: str
    apprentice: str
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
        """Identifiers of the items whose answer would hurt the engine or a person."""
        return tuple(entry.id for entry in self.items if entry.mark.critical)

    def to_dict(self) -> dict[str, Any]:
        """Return the marks as plain JSON data."""
        return {
            "module": self.module,
            "apprentice": self.apprentice,
            "form": self.form,
            "points": self.points,
            "out_of": self.out_of,
            "items": [{"id": entry.id, **entry.mark.to_dict()} for entry in self.items],
            "flags": [{"kind": flag.kind, "text": flag.text} for flag in self.flags],
        }


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
        entry = course.module(module)
        keys = drawing.read_keys(course.key_file(module, entry.attempt))
        forms = drawing.read_forms(course.forms_file(module, entry.attempt))
        if keys is None or forms is None:
            raise DrawingError(
                module,
                rule=f"There are no forms and keys of attempt {entry.attempt}.",
                remedy="Run trainkit-course build, or fetch the folders keys/ and forms/ from your backup.",
            )
        self.course = course
        self.module = module
        self._keys = keys
        self._forms = {form.code: form for form in forms.forms}

    def score(self, apprentice: str) -> Scored:
        """Mark the latest answer to each item in one apprentice's journal.

        Raises
        ------
        CourseError
            If no form was drawn for this apprentice.
        """
        code = self._keys.form_of(apprentice)
        form = self._forms.get(code) if code is not None else None
        if code is None or form is None:
            raise CourseError(
                apprentice,
                place=self.module,
                rule="No form was drawn for this name.",
                remedy="If it belongs to the course, add it to roster.csv, build and assign again.",
            )
        keys = self._keys.forms[code].keys
        reading = submissions.read_journal(self.course, self.module, apprentice)
        latest = reading.latest()
        items = []
        for shown in form.items:
            entry = latest.get(shown.id)
            got = no_answer(shown.item) if entry is None else mark_item(shown.item, keys[shown.id], entry.response)
            items.append(
                Marked(shown.id, shown.item, entry.response if entry else None, entry.at if entry else "", _within(got))
            )
        flags = (*_folder_flags(self.course, self.module, apprentice), *self._flags(reading, form, apprentice))
        return Scored(self.module, apprentice, code, tuple(items), flags)

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
        unknown = sorted({entry.item for entry in reading.entries} - {shown.id for shown in form.items})
        if unknown:
            yield Flag("item", f"The form has no item {', '.join(f'“{name}”' for name in unknown[:5])}.")
        arrived = submissions.arrived(self.course, self.module, apprentice)
        yield from _time_flags(reading.entries, arrived)


def score(course: Course, module: str, apprentice: str) -> Scored:
    """Mark one submission; see :meth:`Scorer.score`."""
    return Scorer(course, module).score(apprentice)


def mark(
    course: Course,
    module: str,
    apprentices: Sequence[str] | None = None,
    progress: Progress = quiet,
) -> Outcome:
    """Mark what was handed in for a module, into the gradebook and the marked notebooks.

    Marking again gives the same. The gradebook takes all marks in one transaction; the notebooks are made from it
    afterwards, each in one step, and are made again by the next marking if this one is cut off.

    Parameters
    ----------
    course : Course
        The course folder.
    module : str
        Name of the module.
    apprentices : sequence of str, optional
        Only these; without it, everybody with a folder under ``submitted/``.
    progress : callable, optional
        Told of each submission.

    Returns
    -------
    Outcome
        ``data["submissions"]`` holds the marks; what could not be marked is a finding.

    Raises
    ------
    CourseError
        If the module or its gradebook cannot be used; then nothing was changed.
    """
    with held(course.folder):
        scorer = Scorer(course, module)
        scored, findings = _score_all(scorer, apprentices, progress)
        if scored:
            gradebook.project(
                course,
                module,
                [
                    gradebook.Projected(
                        entry.apprentice,
                        {marked.id: marked.mark.points for marked in entry.items},
                        submissions.arrived(course, module, entry.apprentice),
                    )
                    for entry in scored
                ],
            )
            findings += _write_notebooks(course, scored)
    for entry in scored:
        findings += [Finding("warning", f"{module} {entry.apprentice}", flag.text) for flag in entry.flags]
    handed_in = {entry.apprentice for entry in scored}
    missing = () if apprentices is not None else [p.id for p in course.roster() if p.id not in handed_in]
    done = f"{module}: {_counted(len(scored), 'submission')} marked" + (
        f", {len(missing)} missing." if missing else "."
    )
    return Outcome(
        "mark",
        done=(done,),
        findings=tuple(findings),
        next_step="trainkit-course report",
        data={"module": module, "submissions": [entry.to_dict() for entry in scored], "missing": list(missing)},
    )


def _score_all(
    scorer: Scorer, apprentices: Sequence[str] | None, progress: Progress
) -> tuple[list[Scored], list[Finding]]:
    course, module = scorer.course, scorer.module
    roster = course.roster()
    wanted = submissions.names(course, module) if apprentices is None else apprentices
    scored: list[Scored] = []
    findings: list[Finding] = []
    for number, name in enumerate(wanted, start=1):
        place = f"submitted/{name}/{module}"
        try:
            if name not in roster:
                raise CourseError(
                    name,
                    rule="This folder's name is not on the roster; it was not marked.",
                    remedy="Rename the folder to the apprentice's identifier, or add them to roster.csv.",
                )
            scored.append(scorer.score(name))
        except TrainkitError as error:
            findings.append(refused(error, place))
        except Exception as error:  # noqa: BLE001 - one bad submission must never stop the others; it is told of
            findings.append(
                Finding("refused", place, f"{type(error).__name__}: {error}. It was not marked; please report this.")
            )
        progress(number, len(wanted), name)
    return scored, findings


def _write_notebooks(course: Course, scored: Iterable[Scored]) -> list[Finding]:
    from trainkit_grading.bridge import notebooks

    findings = []
    for entry in scored:
        try:
            notebooks.write(course, entry)
        except OSError as error:
            findings.append(
                Finding(
                    "refused",
                    f"autograded/{entry.apprentice}/{entry.module}",
                    f"The marks stand, but the marked notebook could not be written ({error.strerror}). "
                    "Make room or allow writing there, then mark again.",
                )
            )
    return findings


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


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
