"""Scoring: from one submission's journal to a mark for each item of the form that counts.

A submission is data. The journal is read strictly and nothing else in the folder is opened; the folder's name decides
who is marked, and the course side's own record decides which form and which keys count. What a journal claims
otherwise is flagged for a person, and the mark is computed all the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property

from trainkit import journal
from trainkit.forms import Form
from trainkit.items.capstone import rubric_of
from trainkit.items.kinds import Item, Key, ObservedItem, TextKey
from trainkit.items.marking import Mark, no_answer, waiting
from trainkit.items.marking import mark as mark_item
from trainkit.journal import Reading
from trainkit.modules import PlannedItem
from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError, DrawingError
from trainkit_grading.forms import generation
from trainkit_grading.forms.store import KeptForms, KeptKeys, open_forms, open_keys
from trainkit_grading.intake import receipts, submissions
from trainkit_grading.ledger.entries import Provenance
from trainkit_grading.ledger.flags import Flag, attempt_flags, claim_flags, item_flags, problem_flags, time_flags
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.ledger.spoken import WORDED
from trainkit_grading.paper.medium import Paper, paper_of
from trainkit_grading.paper.passes import same_person
from trainkit_grading.record import provenance
from trainkit_grading.record.marked_entry import restored
from trainkit_grading.record.marked_submission import MarkedItem, MarkedSubmission

__all__ = ["Flag", "MarkedItem", "MarkedSubmission", "Scorer", "score"]


@dataclass(frozen=True, slots=True)
class _Attempt:
    number: int
    forms: KeptForms
    keys: KeptKeys
    released: Mapping[str, str]
    given_out: Mapping[str, datetime]
    provenance: Provenance
    planned: Mapping[str, PlannedItem]


class Scorer:
    """Scores the submissions of one module; of forms and keys, only those of the submission are read.

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
        self.passed_over: Mapping[str, frozenset[str]] = {}
        self._attempts = tuple(
            attempt for number in range(current, 0, -1) if (attempt := self._read(number, needed=number == current))
        )

    @cached_property
    def _accounts(self) -> Mapping[str, str]:
        """User names on a shared server, by apprentice: a journal from there says that name."""
        return {person.id: person.account for person in self.course.roster() if person.account}

    def _read(self, number: int, needed: bool) -> _Attempt | None:
        keys = open_keys(self.course.key_file(self.module, number))
        forms = open_forms(self.course.forms_file(self.module, number))
        if keys is not None and forms is not None:
            return _Attempt(
                number,
                forms,
                keys,
                generation.read_released(self.course.released_file(self.module, number)),
                generation.read_given_out(self.course.released_file(self.module, number)),
                Provenance(
                    pack=keys.head.pack_digest,
                    module=provenance.module_digest(self.module, keys.head.plan, keys.head.not_askable),
                    software=provenance.software_digest(),
                ),
                {planned.id: planned for planned in keys.head.plan},
            )
        if needed or keys is not None or forms is not None:
            raise DrawingError(
                self.module,
                rule=f"There are no forms or no keys of attempt {number}.",
                remedy="Run trainkit-course build, or fetch the folders keys/ and forms/ from your backup.",
            )
        return None

    def passing_over(self, journals: Mapping[str, frozenset[str]]) -> Scorer:
        """Return one that scores, in the place of these journals of each apprentice, what was handed in before."""
        other = copy(self)
        other.passed_over = journals
        return other

    def score(self, apprentice: str) -> MarkedSubmission:
        """Mark the latest answer to each item of what an apprentice handed in last.

        Raises
        ------
        CourseError
            If no form was drawn for this apprentice.
        """
        reading = submissions.read_journal(self.course, self.module, apprentice)
        attempt, form = self._counting(apprentice, reading)
        arrived = submissions.arrived(self.course, self.module, apprentice)
        odd = [Flag("folder", text) for text in submissions.oddities(self.course, self.module, apprentice)]
        return self._scored(apprentice, reading, attempt, form, arrived, odd)

    def score_attempts(self, apprentice: str) -> tuple[MarkedSubmission, ...]:
        """Mark every attempt of which something was handed in, in their order.

        The last hand-in is the one under ``submitted/``; of each other attempt it is the latest that was collected.
        One that is passed over is scored only where nothing else of theirs is kept.

        Raises
        ------
        CourseError
            If no form was drawn for this apprentice, or the record of a hand-in cannot be read.
        """
        last = self.score(apprentice)
        passed_over = self.passed_over.get(apprentice, frozenset())
        if len(self._attempts) == 1 and last.journal not in passed_over:
            return (last,)
        found = {} if last.journal in passed_over else {last.attempt: last}
        known = {attempt.number: attempt for attempt in self._attempts}
        for arrival in reversed(receipts.kept(self.course, apprentice, self.module)):
            attempt = known.get(arrival.attempt)
            if attempt is None or arrival.older or arrival.attempt in found or arrival.form not in attempt.forms.codes:
                continue
            if arrival.digest in passed_over:
                continue
            found[arrival.attempt] = self._scored(
                apprentice,
                journal.read(receipts.journal_of(self.course, arrival)),
                attempt,
                attempt.forms.read(arrival.form),
                arrival.arrived.astimezone(UTC).replace(tzinfo=None),
                (),
            )
        return self._by_policy([found[number] for number in sorted(found)] or [last])

    def _by_policy(self, scored: Sequence[MarkedSubmission]) -> tuple[MarkedSubmission, ...]:
        earlier = (None, *(entry.arrived for entry in scored))
        return tuple(
            replace(
                entry,
                flags=(*entry.flags, *attempt_flags(self.course.attempts, entry.attempt, entry.arrived, before)),
            )
            for entry, before in zip(scored, earlier, strict=False)
        )

    def restore(self, entry: Marked) -> MarkedSubmission:
        """Return the marks that stand in the ledger, with the items that the form showed.

        Raises
        ------
        DrawingError
            If the form is no longer at hand.
        """
        attempt = next((known for known in self._attempts if known.number == entry.attempt), None)
        if attempt is None or entry.form not in attempt.forms.codes:
            raise DrawingError(
                entry.form,
                place=self.module,
                rule=f"The ledger has marks of this form, and there is no such form of attempt {entry.attempt}.",
                remedy="Fetch the folder forms/ from your backup.",
            )
        scored = restored(entry, attempt.forms.read(entry.form))
        if not any(of.item.kind == "text" for of in scored.items) or entry.form not in attempt.keys.codes:
            return scored
        keys = attempt.keys.read(entry.form).keys
        items = tuple(replace(of, rubric=_rubric(keys[of.id], of.item)) if of.id in keys else of for of in scored.items)
        return replace(scored, items=items)

    def _scored(
        self,
        apprentice: str,
        reading: Reading,
        attempt: _Attempt,
        form: Form,
        arrived: datetime | None,
        odd: Iterable[Flag],
    ) -> MarkedSubmission:
        own, keys_hash = attempt.keys.read_with_digest(form.code)
        keys = own.keys
        latest = reading.latest()
        items = []
        for shown in form.items:
            # Practical work is signed for by a person; a journal, which the apprentice could write, says nothing of it.
            entry = None if isinstance(shown.item, ObservedItem) else latest.get(shown.id)
            facts = own.facts_of(shown.id, shown.item)
            got = (
                _unanswered(shown.item)
                if entry is None
                else mark_item(shown.item, keys[shown.id], entry.response, facts)
            )
            given, at = (entry.response, entry.at) if entry is not None else (None, "")
            planned = attempt.planned[shown.id]
            items.append(
                MarkedItem(
                    shown.id,
                    shown.item,
                    given,
                    at,
                    _within(got),
                    planned.critical,
                    planned.template,
                    _rubric(keys[shown.id], shown.item),
                    tuple(sorted(facts.could_show)),
                )
            )
        since = attempt.given_out.get(form.code)
        paper = paper_of(self.course, form.code)
        flags = (
            *odd,
            *(self._paper_flags(apprentice, form.code, paper, reading) if paper is not None else ()),
            *problem_flags(reading),
            *claim_flags(reading, apprentice, form.code, self.module, self.course.name, self._accounts.get(apprentice)),
            *item_flags(reading, form),
            *time_flags(reading.entries, arrived, since.astimezone(UTC).replace(tzinfo=None) if since else None),
        )
        form_hash = attempt.released.get(form.code) or generation.form_digest(form)
        return MarkedSubmission(
            self.module,
            apprentice,
            attempt.number,
            form.code,
            tuple(items),
            flags,
            reading.digest,
            arrived,
            replace(attempt.provenance, form=form_hash, keys=keys_hash),
            tuple(sorted({entry.journal for entry in reading.entries})),
            paper.said() if paper is not None and paper.journal == reading.digest else None,
            tuple(of.id for of in items if own.spoken and of.critical and of.item.kind in WORDED),
        )

    def _paper_flags(self, apprentice: str, form: str, paper: Paper, reading: Reading) -> Iterator[Flag]:
        """Tell who typed a sheet alone, and of answers to one form that came both on paper and on screen."""
        on_paper = paper.journal == reading.digest
        if on_paper and same_person(*paper.typed):
            yield Flag("paper", f"Both passes of the sheet were typed by {paper.typed[0]}.")
        of_form = [of for of in receipts.kept(self.course, apprentice, self.module) if of.form == form]
        if len({of.how == "paper" for of in of_form}) > 1 or not on_paper:
            newest = receipts.latest(of_form)
            which = "later" if newest is None or newest.digest == reading.digest else "earlier"
            counts = "on paper" if on_paper else "on screen"
            yield Flag("paper", f"This form was answered on paper and on screen. The {which} hand-in counts, {counts}.")

    def _counting(self, apprentice: str, reading: Reading) -> tuple[_Attempt, Form]:
        """Return the form that counts: the newest one of theirs that the journal speaks of, else the current one."""
        said = {entry.form for entry in reading.entries if entry.module == self.module}
        theirs = [
            (attempt, code)
            for attempt in self._attempts
            if (code := attempt.keys.form_of(apprentice)) is not None and code in attempt.forms.codes
        ]
        if not theirs:
            raise CourseError(
                apprentice,
                place=self.module,
                rule="No form was drawn for this name.",
                remedy="If it belongs to the course, add it to roster.csv, build and assign again.",
            )
        attempt, code = next((found for found in theirs if found[1] in said), theirs[0])
        return attempt, attempt.forms.read(code)


def score(course: Course, module: str, apprentice: str) -> MarkedSubmission:
    """Mark one submission; see :meth:`Scorer.score`."""
    return Scorer(course, module).score(apprentice)


def _unanswered(item: Item) -> Mark:
    """Return the mark of an item without an answer; practical work waits for whoever watches it."""
    if isinstance(item, ObservedItem):
        return waiting(item, "A person watches this work and signs for it.")
    return no_answer(item)


def _rubric(key: Key, item: Item) -> str:
    """Return what a person marks a text by; nothing for what is marked here."""
    return str(rubric_of(key, item.points)) if isinstance(key, TextKey) else ""


def _within(got: Mark) -> Mark:
    """Return the mark with its points as a plain number between nothing and all."""
    points = min(max(float(got.points), 0.0), float(got.out_of))
    if points == got.points and type(got.points) is float:
        return got
    return replace(got, points=points)
