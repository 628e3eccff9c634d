"""Observations: who saw which step done and how, as the ledger keeps it, and which of several counts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from trainkit_grading.errors import SignOffError
from trainkit_grading.ledger.entries import Note, Provenance
from trainkit_grading.ledger.kinds import Observed, ObservedStep
from trainkit_grading.record import provenance
from trainkit_grading.signoff.checklists import OUTCOMES, Checklist
from trainkit_grading.signoff.judging import Competence, judge, outcome_of, same_person

if TYPE_CHECKING:
    from trainkit_grading.ledger.book import Ledger


_SAME = "Assessor and trainer are the same person."
_LONGEST = 2000


@dataclass(frozen=True, slots=True)
class Observation:
    """One piece of work as it was observed.

    Parameters
    ----------
    apprentice : str
        Who did it.
    checklist : Checklist
        What was to be done.
    outcomes : mapping of int to str
        One of :data:`~trainkit_grading.signoff.checklists.OUTCOMES` by the number of the step, from 1.
    observer, trainer : str
        Who watched and signs for it, and who trained the apprentice.
    engine : str
        Number of the engine or set.
    at : datetime
        When, with its time zone; to the minute.
    medium : str
        ``"paper"`` or ``"tablet"``.
    remark : str
        In the observer's words.
    again : bool
        Whether single steps were shown again, after an observation of the whole.
    counts : bool
        Whether it counts though a newer one is on record.
    why : str
        Why something that is on record is said otherwise.
    """

    apprentice: str
    checklist: Checklist
    outcomes: Mapping[int, str] = field(hash=False)
    observer: str
    trainer: str
    engine: str
    at: datetime
    medium: str = "paper"
    remark: str = ""
    again: bool = False
    counts: bool = False
    why: str = ""

    def __post_init__(self) -> None:
        for what in ("observer", "trainer", "engine"):
            said = getattr(self, what)
            if not said.strip() or not said.isprintable() or len(said) > 80:
                raise SignOffError(
                    said, rule=f"The {what} is a text of 1 to 80 characters.", remedy=f"Say it with --{what}."
                )
        if self.at.tzinfo is None:
            raise SignOffError(
                self.at.isoformat(), rule="A time has a time zone.", remedy="Say --at like 2027-04-01T09:00."
            )
        if len(self.remark) > _LONGEST or len(self.why) > _LONGEST:
            raise SignOffError(
                f"{max(len(self.remark), len(self.why))} characters",
                rule=f"A remark has at most {_LONGEST} characters.",
                remedy="Shorten it.",
            )
        if self.counts and not self.why.strip():
            raise SignOffError(
                self.checklist.code, rule="The newest observation counts.", remedy="If another is to count, say --why."
            )
        self._check_outcomes()

    def _check_outcomes(self) -> None:
        numbers = set(range(1, len(self.checklist.steps) + 1))
        strange = sorted(set(self.outcomes) - numbers)
        wrong = sorted(number for number, outcome in self.outcomes.items() if outcome not in OUTCOMES)
        if strange or wrong:
            raise SignOffError(
                ", ".join(map(str, strange or wrong)),
                rule=f"The sheet has steps 1 to {len(numbers)}, each {', '.join(OUTCOMES[:-1])} or {OUTCOMES[-1]}.",
                remedy="Look at the number of the step and at what was ticked.",
            )
        missing = sorted(numbers - set(self.outcomes))
        if missing and not (self.again and self.outcomes):
            raise SignOffError(
                f"steps {spans(missing)}",
                rule="An observation says of every step what became of it.",
                remedy="Add these steps, or say --again where single steps were shown again.",
            )

    @property
    def steps(self) -> tuple[ObservedStep, ...]:
        """The steps that were observed, in the order of the sheet."""
        return tuple(
            ObservedStep(step.id, step.text, step.critical, self.outcomes[number])
            for number, step in enumerate(self.checklist.steps, start=1)
            if number in self.outcomes
        )


def entry_of(observation: Observation) -> Observed:
    """Return the entry that records an observation."""
    sheet = observation.checklist
    notes = []
    if same_person(observation.observer, observation.trainer):
        notes.append(Note("assessor", _SAME))
    if observation.remark.strip():
        notes.append(Note("remark", observation.remark.strip()))
    if observation.why.strip():
        # In a note, not in the column: words about a person can be taken out one day.
        notes.append(Note("why", observation.why.strip()))
    return Observed(
        observation.apprentice,
        sheet.module,
        form=sheet.form,
        provenance=Provenance(pack=sheet.pack_digest, software=provenance.software_digest()),
        notes=tuple(notes),
        checklist=sheet.scope,
        title=sheet.title,
        code=sheet.code,
        pack=sheet.pack,
        item=sheet.item,
        steps=observation.steps,
        observer=observation.observer.strip(),
        trainer=observation.trainer.strip(),
        engine=observation.engine.strip(),
        when=observation.at.astimezone(UTC).isoformat(timespec="minutes"),
        medium=observation.medium,
        again=observation.again,
        counts=observation.counts,
    )


@dataclass(frozen=True, slots=True)
class SignOff:
    """The observation of one piece of work that counts, and what it shows.

    Parameters
    ----------
    apprentice, checklist, title : str
        Who, and what was observed.
    competence : Competence
        What it shows, with the rule.
    steps : tuple of ObservedStep
        Every step of the observation that counts.
    entry : int
        Number of that observation in the ledger.
    again : tuple of int
        Numbers of those in which steps were shown again after it.
    earlier : tuple of int
        Numbers of all others of the same piece of work.
    observer, trainer, engine, at, medium : str
        Who watched, who trained, on which engine, when (ISO, UTC), and on paper or a tablet.
    pack, pack_digest : str
        Name of the pack and SHA-256 of its file.
    same_person : bool
        Whether assessor and trainer are the same person.
    shown_again : tuple of ObservedStep
        Single steps that were shown again afterwards, in the order of time.
    """

    apprentice: str
    checklist: str
    title: str
    competence: Competence
    steps: tuple[ObservedStep, ...]
    entry: int
    again: tuple[int, ...]
    earlier: tuple[int, ...]
    observer: str
    trainer: str
    engine: str
    at: str
    medium: str
    pack: str
    pack_digest: str
    same_person: bool
    shown_again: tuple[ObservedStep, ...] = ()

    def outcome(self, step: str) -> str:
        """Return what stands of a step, what was shown again counted in; empty for a step that is not on the sheet."""
        return outcome_of(step, self.steps, self.shown_again)


def standing(entries: Iterable[Observed]) -> tuple[Observed, tuple[Observed, ...]] | None:
    """Return which of the observations of one piece of work counts, and what was shown again after it.

    The newest one counts, by the time it was made; of two that say the same time, what was said last. One that was
    recorded as counting all the same counts until a newer one is recorded.
    """
    counting: Observed | None = None
    again: dict[str, Observed] = {}
    for entry in sorted(entries, key=lambda each: each.number):
        if entry.again:
            again[entry.when] = entry
        elif counting is None or entry.when >= counting.when or entry.counts:
            counting = entry
    if counting is None:
        return None
    after = tuple(entry for when, entry in sorted(again.items()) if when >= counting.when)
    return counting, after


def sign_offs(ledger: Ledger, apprentice: str = "") -> dict[tuple[str, str], SignOff]:
    """Return what practical work shows, by apprentice and checklist; of those who were forgotten nothing.

    Parameters
    ----------
    ledger : Ledger
        The course's ledger.
    apprentice : str, optional
        Only this person.
    """
    found: dict[tuple[str, str], list[Observed]] = {}
    for entry in ledger.entries(Observed, apprentice=apprentice, marks=False):
        if entry.apprentice:
            found.setdefault((entry.apprentice, entry.checklist), []).append(entry)
    return dict(_signed(found))


def _signed(found: Mapping[tuple[str, str], list[Observed]]) -> Iterator[tuple[tuple[str, str], SignOff]]:
    for (apprentice, checklist), entries in found.items():
        chosen = standing(entries)
        if chosen is None:
            continue
        entry, after = chosen
        used = {entry.number, *(each.number for each in after)}
        again = tuple(step for each in after for step in each.steps)
        yield (
            (apprentice, checklist),
            SignOff(
                apprentice,
                checklist,
                entry.title,
                judge(entry.steps, again),
                entry.steps,
                entry.number,
                tuple(each.number for each in after),
                tuple(each.number for each in entries if each.number not in used),
                entry.observer,
                entry.trainer,
                entry.engine,
                entry.when,
                entry.medium,
                entry.pack,
                entry.provenance.pack,
                same_person(entry.observer, entry.trainer),
                again,
            ),
        )


def spans(numbers: Iterable[int]) -> str:
    """Return numbers as people write them.

    Examples
    --------
    >>> spans([1, 2, 3, 7, 9, 10])
    '1-3, 7, 9-10'
    """
    parts: list[list[int]] = []
    for number in sorted(numbers):
        if parts and number == parts[-1][1] + 1:
            parts[-1][1] = number
        else:
            parts.append([number, number])
    return ", ".join(f"{one}-{other}" if one != other else str(one) for one, other in parts)
