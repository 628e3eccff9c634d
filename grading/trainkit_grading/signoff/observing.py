"""Recording an observation: from a sheet that was ticked, or the file of a tablet, to the ledger and the gradebook."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from trainkit.journal import now
from trainkit_grading.errors import CourseError, SignOffError
from trainkit_grading.ledger import details
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.kinds import Observed
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record.to_mark import ModuleToMark
from trainkit_grading.record.write import Recorder
from trainkit_grading.signoff.checklists import OUTCOMES
from trainkit_grading.signoff.filling import fill
from trainkit_grading.signoff.judging import same_person
from trainkit_grading.signoff.observations import Observation, SignOff, entry_of, sign_offs
from trainkit_grading.support.outcome import Finding, Outcome

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


# The clock of a tablet and that of this computer may differ by so much.
_CLOCK = timedelta(minutes=10)
# A letter for each outcome, as the printed sheet has it.
LETTERS = {"u": "unprompted", "p": "prompted", "n": "not done", "s": "stopped for safety"}


def ticked(text: str, steps: int) -> dict[int, str]:
    """Read what was ticked: numbers of steps with a letter or word each, parted by commas.

    Parameters
    ----------
    text : str
        Like ``"1-9 u, 10 p, rest u"``: *u* unprompted, *p* prompted, *n* not done, *s* stopped for safety;
        ``rest`` stands for all steps that are not named.
    steps : int
        How many steps the sheet has.

    Raises
    ------
    SignOffError
        If it cannot be read, or names a step twice.

    Examples
    --------
    >>> ticked("2 p, rest u", 3)
    {2: 'prompted', 1: 'unprompted', 3: 'unprompted'}
    """
    found: dict[int, str] = {}
    rest = ""
    for part in re.split("[,;]", text):
        words = part.split()
        if not words:
            continue
        where, said = words[0].replace("–", "-"), " ".join(words[1:]).casefold()
        outcome = LETTERS.get(said, said)
        met = re.fullmatch(r"([0-9]{1,4})(?:-([0-9]{1,4}))?", where)
        if outcome not in OUTCOMES or not (met or where.casefold() == "rest"):
            raise SignOffError(
                part.strip(),
                rule="Steps are numbers with u, p, n or s: unprompted, prompted, not done, stopped for safety.",
                remedy='Write like: --steps "1-9 u, 10 p, rest u"',
            )
        if met is None:
            rest = outcome
            continue
        for number in range(int(met[1]), int(met[2] or met[1]) + 1):
            if found.setdefault(number, outcome) != outcome:
                raise SignOffError(
                    str(number), rule="A step is ticked once.", remedy="Look which of the two stands on the sheet."
                )
    if rest:
        found |= {number: rest for number in range(1, steps + 1) if number not in found}
    return found


def observe(
    course: Course,
    observation: Observation,
    findings: Iterable[Finding] = (),
    clock: Callable[[], datetime] = now,
) -> Outcome:
    """Record an observation in the ledger, and the points it gives in ledger and gradebook, in one transaction.

    The same observation said twice stands there once. Another one of the same work at the same time is a correction
    and says why.

    Parameters
    ----------
    course : Course
        The course folder.
    observation : Observation
        What was observed.
    findings : iterable of Finding, optional
        What was odd about the file it comes from.
    clock : callable, optional
        Returns the time with its time zone.

    Raises
    ------
    SignOffError
        If it cannot be recorded.
    CourseError
        If nobody on the roster has this identifier, or the gradebook cannot be used.
    """
    sheet = observation.checklist
    person = course.roster().find(observation.apprentice)
    if person is None:
        raise CourseError(
            observation.apprentice,
            rule="Nobody on the roster has this identifier.",
            remedy="Check the name, or roster.csv.",
        )
    if sheet.apprentice and sheet.apprentice != person.id:
        raise SignOffError(
            person.id,
            rule=f"The sheet {sheet.code} was made for {sheet.apprentice}.",
            remedy="Record it for them, or make a sheet for this person: trainkit-course checklist",
        )
    if same_person(observation.observer, person.name) or same_person(observation.observer, person.id):
        raise SignOffError(observation.observer, rule="Nobody signs for their own work.", remedy="Name who watched it.")
    if observation.at > clock() + _CLOCK:
        raise SignOffError(
            observation.at.isoformat(timespec="minutes"),
            rule="An observation was made before it is recorded.",
            remedy="Look at the date and time.",
        )
    observation = replace(
        observation, apprentice=person.id, at=observation.at.astimezone(UTC).replace(second=0, microsecond=0)
    )
    found = list(findings)
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        ledger.hold()
        entry = entry_of(observation)
        known = _known(ledger, entry)
        if known is None or not _alike(known, entry):
            if known is not None and not observation.why.strip():
                raise SignOffError(
                    f"{sheet.scope}, {entry.when}",
                    rule=f"Entry {known.number} says otherwise of the same work at the same time.",
                    remedy='If that one was wrong, say why this one is right: --why "…"',
                )
            (entry,) = ledger.add([entry])
            said, filled = "recorded", _fill(connection, course, person.id, found)
        else:
            entry, said, filled = known, "stands in the ledger already", ()
        stands = sign_offs(ledger, person.id).get((person.id, sheet.scope))
    return _told(observation, entry, said, filled, stands, found)


def _told(
    observation: Observation,
    entry: Observed,
    said: str,
    filled: tuple[str, ...],
    stands: SignOff | None,
    found: list[Finding],
) -> Outcome:
    sheet, at = observation.checklist, entry.when
    place = f"{sheet.scope} {observation.apprentice}"
    if same_person(observation.observer, observation.trainer):
        text = (
            "Assessor and trainer are the same person. It is recorded and flagged; "
            f'if it may stand, say so: trainkit-course decide {entry.number} --outcome settled --why "…"'
        )
        found.append(Finding("warning", place, text))
    done = [f"{sheet.title}, {observation.apprentice}, {at.replace('T', ' ')[:16]} UTC: entry {entry.number} {said}."]
    data: dict[str, Any] = {"entry": entry.number, "apprentice": observation.apprentice, "checklist": sheet.scope}
    if stands is None:
        text = "Single steps were shown again, and no observation of the whole is on record."
        found.append(Finding("warning", place, text))
    else:
        if stands.entry != entry.number and entry.number not in stands.again:
            done.append(f"Entry {stands.entry} is the newer one and counts. Say --counts with --why to change that.")
        done.append(f"It shows: {stands.competence}")
        data |= {"verdict": stands.competence.verdict, "rule": stands.competence.rule, "counts": stands.entry}
    done += filled
    return Outcome(
        "observe", tuple(done), tuple(found), "Write the score sheet: trainkit-course report", {"observation": data}
    )


def _known(ledger: Ledger, entry: Observed) -> Observed | None:
    """Return the last entry about the same work at the same time."""
    found = [
        each
        for each in ledger.entries(Observed, apprentice=entry.apprentice, marks=False)
        if (each.checklist, each.when, each.again) == (entry.checklist, entry.when, entry.again)
    ]
    return found[-1] if found else None


def _alike(one: Observed, other: Observed) -> bool:
    def said(entry: Observed) -> tuple[Any, ...]:
        remarks = [note.text for note in entry.notes if note.kind == "remark"]
        return details.plain(entry), remarks, entry.provenance.pack

    return said(one) == said(other)


def _fill(connection: Any, course: Course, apprentice: str, found: list[Finding]) -> tuple[str, ...]:
    """Give the points of observed items in every module that was marked; return what was given, in words."""
    told = []
    for module in course.modules:
        if not (course.release / module.name).is_dir():
            continue
        try:
            recorder = Recorder(connection, ModuleToMark.of(course, module.name))
        except CourseError as error:  # given out elsewhere: its gradebook is another one
            found.append(Finding("note", module.name, str(error)))
            continue
        given = fill(recorder, [apprentice])
        found += recorder.findings
        if given:
            told.append(f"{module.name}: the points of the observed item follow from it.")
    return tuple(told)


def observe_all(
    course: Course,
    observations: Sequence[Observation],
    findings: Iterable[Finding] = (),
    clock: Callable[[], datetime] = now,
) -> Outcome:
    """Record several observations, as a tablet's file holds them; the last one's data stand for all.

    Raises
    ------
    SignOffError
        If one of them cannot be recorded; those before it are on record.
    """
    done: list[str] = []
    met = list(findings)
    outcome = Outcome("observe")
    for observation in observations:
        outcome = observe(course, observation, clock=clock)
        done += outcome.done
        met += outcome.findings
    return replace(outcome, done=tuple(done), findings=tuple(met))
