"""Appeals against marks, and decisions: on appeals, second marks that differ, spoken checks, hand-ins, what is flagged.

Both stand in the ledger. Points that a decision gives go the way of points that a person gives in formgrader, so that
ledger and gradebook agree. Words of the apprentice and of whoever decides stand in notes, which can be emptied.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.sentences import counted
from trainkit_grading.decisions import hand_ins
from trainkit_grading.errors import SignOffError
from trainkit_grading.ledger import closing, doubts, spoken
from trainkit_grading.ledger.book import Ledger, actor
from trainkit_grading.ledger.entries import Entry, Note
from trainkit_grading.ledger.kinds import Appealed, Changed, Decided, Held, Marked, SecondDrawn, SecondJudged, item_of
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record.manual_points import ManualPoints
from trainkit_grading.record.to_mark import ModuleToMark
from trainkit_grading.record.write import Recorder
from trainkit_grading.support.outcome import Finding, Outcome

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from trainkit_grading.course.folder import Course


# What can come of it, by the kind of entry that is decided.
OUTCOMES = {
    "appealed": ("upheld", "rejected"),
    "second": ("settled",),
    "observed": ("settled",),
    "flagged": ("settled",),
    "doubted": doubts.OUTCOMES,
    "held": closing.OUTCOMES,
    "marked": ("settled", *spoken.OUTCOMES),
    "changed": ("settled",),
    "decided": ("settled",),
}
_LONGEST = 2000
_NEXT = {"doubted": "Take it in and mark it: trainkit-course collect, trainkit-course mark"}


def appeal(course: Course, apprentice: str, module: str, item: str = "", why: str = "") -> Outcome:
    """Record that somebody asks for a mark to be looked at again; the same appeal said twice stands there once.

    Parameters
    ----------
    course : Course
        The course folder.
    apprentice, module : str
        Whose result.
    item : str, optional
        Which item; without one the whole result.
    why : str
        Why, in their words.

    Raises
    ------
    SignOffError
        If there are no such marks, or another appeal of the same is open.
    """
    words = _words(why)
    course.module(module)
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        ledger.hold()
        number = ledger.shown(module, [apprentice]).get(apprentice)
        if number is None:
            raise SignOffError(
                apprentice,
                place=module,
                rule="Nothing of this person was marked in this module.",
                remedy="Check the identifier, or mark it first.",
            )
        marked = ledger.read(Marked, [number])[number]
        points, answer = marked.points, ""
        if item:
            row = next((row for row in marked.marks if row.item == item), None)
            if row is None:
                raise SignOffError(
                    item,
                    rule=f"The items are {', '.join(row.item for row in marked.marks)}.",
                    remedy="Name one of them.",
                )
            judged = ledger.judged(module, [apprentice]).get((apprentice, marked.attempt), {}).get(item)
            points, answer = judged.points if judged is not None else row.points, row.answer
        entry = Appealed(
            apprentice,
            module,
            marked.attempt,
            marked.form,
            notes=(Note("appeal", words),),
            item=item,
            stood=points,
            marked=number,
            answer=answer,
        )
        before = _open_appeal(ledger, entry)
        if before is None:
            (entry,) = ledger.add([entry])
        elif [note.text for note in before.notes] != [words]:
            raise SignOffError(
                f"{module} {item}".strip(),
                rule=f"An appeal of this is open already: entry {before.number}.",
                remedy=f"Decide it first: trainkit-course decide {before.number} --outcome …",
            )
        else:
            entry = before
    said = "stands in the ledger already" if before is not None else "recorded"
    return Outcome(
        "appeal",
        (f"{apprentice}, {f'{module} {item}'.strip()}: appeal {said} as entry {entry.number}.",),
        next_step=f"Look at it, then: trainkit-course decide {entry.number} --outcome upheld|rejected "
        f"{'--points … ' if item else ''}--why …",
        data={"entry": entry.number},
    )


def decide(
    course: Course, number: int, outcome: str, points: float | None = None, why: str = "", apprentice: str = ""
) -> Outcome:
    """Record a decision, and the points it gives; the same decision said twice stands there once.

    Parameters
    ----------
    course : Course
        The course folder.
    number : int
        The entry that is decided.
    outcome : str
        ``"upheld"`` or ``"rejected"`` for an appeal, ``"confirmed"`` or ``"slip"`` for a spoken check, ``"settled"``
        for anything else; of hand-ins that wait ``"counted"`` or ``"excluded"``.
    points : float, optional
        What the item is worth from now on; without, what stands stays.
    why : str
        The reason.
    apprentice : str, optional
        Of hand-ins that wait together only theirs.

    Raises
    ------
    SignOffError
        If there is nothing to decide in that entry, or the points cannot be.
    """
    words = _words(why)
    findings: list[Finding] = []
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        ledger.hold()
        of = _checked(ledger.read(Entry, [number]).get(number), number, outcome, points)
        if isinstance(of, Held):
            return hand_ins.settle(ledger, of, outcome, words, apprentice)
        checking = outcome in spoken.OUTCOMES
        item = _spoken_of(ledger, number) if checking else item_of(of)
        before = _decided(ledger, number, checking=checking)
        _not_taken_back(of, before, outcome)
        known = before is not None and (before.became, before.given) == (outcome, points)
        known = known and before is not None and [note.text for note in before.notes][:1] == [words]
        if before is None or not known:
            notes = [Note("decision", words)]
            giver = _giver(ledger, of, item)
            if of.kind == "appealed" and giver == actor():
                notes.append(Note("assessor", "Whoever gave the points decided the appeal."))
                findings.append(Finding("warning", f"entry {number}", "Whoever gave the points decided the appeal."))
            (entry,) = ledger.add(
                [
                    Decided(
                        of.apprentice,
                        of.module,
                        of.attempt,
                        of.form,
                        notes=tuple(notes),
                        of=number,
                        of_kind=of.kind,
                        became=outcome,
                        item=item,
                        given=points,
                    )
                ]
            )
            if points is not None:
                _give(connection, course, of, item, points, entry.number, findings)
        else:
            entry = before
    given = f", {counted(points, 'point')}" if points is not None else ""
    what = f"Entry {number} is {outcome}{given}: entry {entry.number}."
    return Outcome(
        "decide",
        (f"{what[:-1]} stands in the ledger already." if known else what,),
        tuple(findings),
        _NEXT.get(of.kind, "Write feedback and score sheet again: trainkit-course feedback, trainkit-course report"),
        {"entry": entry.number},
    )


def _checked(of: Entry | None, number: int, outcome: str, points: float | None) -> Entry:
    """Return what is decided, or refuse it."""
    if of is None or of.kind not in OUTCOMES or isinstance(of, SecondDrawn):
        raise SignOffError(
            str(number),
            rule="Appeals, second marks, observations, changes, later hand-ins and whatever is flagged are decided.",
            remedy="See trainkit-course ledger for their numbers.",
        )
    if outcome not in OUTCOMES[of.kind]:
        raise SignOffError(
            outcome,
            rule=f"What comes of this is {' or '.join(OUTCOMES[of.kind])}.",
            remedy="Say it with --outcome.",
        )
    if not of.apprentice:
        raise SignOffError(
            str(number),
            rule="The person was forgotten; nothing is decided about them.",
            remedy="Nothing is to be done.",
        )
    item = item_of(of) if isinstance(of, Appealed | SecondJudged | Changed) else ""
    if points is not None and (not item or outcome == "rejected"):
        raise SignOffError(
            counted(points, "point"),
            rule="Points are given for one item, and not where an appeal is rejected.",
            remedy="Leave --points out, or appeal for the item.",
        )
    if points is None and item and outcome == "upheld":
        raise SignOffError(
            str(number), rule="An appeal that is upheld changes points.", remedy="Say how many with --points."
        )
    return of


def _not_taken_back(of: Entry, before: Decided | None, outcome: str) -> None:
    """Refuse to take back that a hand-in in doubt counts: it may have been marked since."""
    if of.kind == "doubted" and before is not None and before.became == doubts.COUNTED and outcome != doubts.COUNTED:
        raise SignOffError(
            str(of.number),
            rule="This hand-in was let count, and may have been marked since.",
            remedy="If that was wrong, let the person hand in again: trainkit-course collect --from ZIP --apprentice "
            "NAME",
        )


def _give(
    connection: Connection,
    course: Course,
    of: Entry,
    item: str,
    points: float,
    number: int,
    findings: list[Finding],
) -> None:
    recorder = Recorder(connection, ModuleToMark.of(course, of.module))
    most = recorder.items.get(item, 0.0)
    if not 0 <= points <= most:
        raise SignOffError(
            f"{points:g}", rule=f"{item} has 0 to {most:g} points.", remedy="Say another number with --points."
        )
    why = f"Decided: entry {number}."
    recorder.give([ManualPoints(of.apprentice, of.attempt, item, points, why, number)])
    findings += recorder.findings


def _giver(ledger: Ledger, of: Entry, item: str) -> str:
    """Return who gave the points that stand, where a person did."""
    judged = ledger.judged(of.module, [of.apprentice]).get((of.apprentice, of.attempt), {}).get(item)
    if judged is None:
        return ""
    return ledger.read(Changed, [judged.entry], marks=False)[judged.entry].by


def _open_appeal(ledger: Ledger, entry: Appealed) -> Appealed | None:
    found = [
        each
        for each in ledger.entries(Appealed, module=entry.module, apprentice=entry.apprentice, marks=False)
        if (each.attempt, each.item) == (entry.attempt, entry.item)
    ]
    return found[-1] if found and _decided(ledger, found[-1].number) is None else None


def _decided(ledger: Ledger, number: int, *, checking: bool = False) -> Decided | None:
    """Return the last decision about an entry; what was flagged of marks and a spoken check are decided apart."""
    found = [
        entry
        for entry in ledger.entries(Decided, marks=False)
        if entry.of == number and (entry.became in spoken.OUTCOMES) == checking
    ]
    return found[-1] if found else None


def _spoken_of(ledger: Ledger, number: int) -> str:
    """Return which item a spoken check is held of, or refuse it."""
    found = spoken.due(ledger, [number])
    if number not in found:
        raise SignOffError(
            str(number),
            rule="A spoken check is held where the marks that count are barred by one worded question alone.",
            remedy="See what waits: trainkit-course ledger --open",
        )
    return found[number]


def _words(why: str) -> str:
    words = why.strip()
    if not words or len(words) > _LONGEST:
        raise SignOffError(
            words[:80], rule=f"A reason is a text of 1 to {_LONGEST} characters.", remedy='Say it: --why "…"'
        )
    return words
