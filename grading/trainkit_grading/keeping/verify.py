"""Proving a course's records: the ledger is what was written, the gradebook shows it, the journals are those marked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainkit.sentences import counted
from trainkit_grading.decisions import pending
from trainkit_grading.ledger import details
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.ledger.kinds import (
    Change,
    Changed,
    Doubted,
    FeedbackWritten,
    Flagged,
    Forgotten,
    Held,
    Marked,
    Moved,
    SessionHeld,
)
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record import moves
from trainkit_grading.results import proof
from trainkit_grading.signoff import sentences
from trainkit_grading.support.outcome import Outcome, Progress, quiet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainkit_grading.course.folder import Course


def prove(course: Course, progress: Progress = quiet) -> Outcome:
    """Check every entry of the ledger, and everything that reaches a score: gradebook, hand-ins, forms and keys.

    Raises
    ------
    CourseError
        If the database or the seed cannot be used.
    """
    found = proof.prove(course, progress)
    done = [f"{counted(found.entries, 'entry', 'entries')} of the ledger checked."]
    if not found.sealed:
        done.append("This archive was packed without its seed: numbers and words were checked, seals cannot be proven.")
    elif found.proven:
        done.append("Every entry is as it was written, and none is missing. All that reaches a score agrees with them.")
    if found.forgotten:
        done.append(f"{found.forgotten} of them are about people who were forgotten; they name nobody.")
    if found.unchained:
        count = counted(found.unchained, "hand-in")
        done.append(f"{count} came before receipts were chained. Those that were never marked could be missing.")
    if found.entries:
        # Noted down elsewhere, it proves that even the owner of the seed has not written the ledger anew.
        done.append(f"The last one is number {found.entries}, seal {found.seal[:16]}. Note it down for the next time.")
    return Outcome(
        "verify",
        tuple(done),
        (*found.faults, *found.beyond),
        data={"entries": found.entries, "seal": found.seal, "forgotten": found.forgotten},
    )


def still_open(course: Course, module: str = "", apprentice: str = "") -> Outcome:
    """Tell what still waits for a person, a matter a line, with what to do.

    Raises
    ------
    CourseError
        If the database or the seed cannot be used.
    """
    found = [
        each
        for each in pending.of_course(course)
        if (not module or each.module == module) and (not apprentice or each.apprentice == apprentice)
    ]
    lines = (
        f"{each.entry}  {each.since[:16].replace('T', ' ')}  {each.kind}: {_whose(group)}"
        f"{f', {each.module} {each.item}'.rstrip() if each.module else ''}. {each.text} {each.next}"
        for group in pending.grouped(found)
        for each in group[:1]
    )
    return Outcome(
        "ledger", tuple(lines) or ("Nothing waits for a person.",), data={"matters": [each.to_dict() for each in found]}
    )


def _whose(group: Sequence[pending.PendingDecision]) -> str:
    more = f" and {len(group) - 3} more" if len(group) > 3 else ""
    return ", ".join(each.apprentice for each in group[:3]) + more


def tell(course: Course, module: str = "", apprentice: str = "") -> Outcome:
    """Tell what the ledger says, an entry a line.

    Raises
    ------
    CourseError
        If the database or the seed cannot be used.
    """
    with gradebook.opened(course) as engine, engine.begin() as connection:
        entries = list(Ledger(connection, course.seed()).entries(Entry, module=module, apprentice=apprentice))
    return Outcome(
        "ledger",
        tuple(_line(entry) for entry in entries) or ("The ledger says nothing of this yet.",),
        data={"entries": [_plain(entry) for entry in entries]},
    )


def _line(entry: Entry) -> str:
    who = entry.apprentice or "a person who was forgotten"
    why = f" Why: {entry.why}" if entry.why else ""
    said = sentences.entry_sentences(entry, who) or _said(entry, who, why)
    return f"{entry.number}  {entry.at[:16].replace('T', ' ')}  {entry.by}: {said}"


def _said(entry: Entry, who: str, why: str) -> str:
    words = " ".join(note.text or "" for note in entry.notes)
    match entry:
        case SessionHeld():
            return f"session of {entry.module} in {entry.room}, watched by {entry.invigilator}.{why}"
        case Marked():
            flags = f", {len(entry.notes)} to look at" if entry.notes else ""
            attempt = f"{entry.module}, attempt {entry.attempt}, form {entry.form}"
            waiting = sum(row.verdict == "waiting" for row in entry.marks)
            still = f", {waiting} waiting for a person" if waiting else ""
            return f"{who}, {attempt}: {entry.points:g} of {counted(entry.out_of, 'point')}{still}{flags}.{why}"
        case Doubted():
            return f"{who}, {entry.module}: a hand-in waits, it is in doubt whose it is. {words}"
        case Flagged():
            return f"{who}, {entry.module}: to look at. {words}"
        case FeedbackWritten():
            told = ", with the right answers" if entry.answers else ""
            return f"{who}, {entry.module}, attempt {entry.attempt}: feedback written{told}."
        case Held():
            return f"{who}, {entry.module}, attempt {entry.attempt}: a hand-in waits. {words}"
        case Forgotten():
            return f"somebody was forgotten. Why: {words}"
        case Moved():
            return f"{who}: {moves.words(entry.place)}.{why}"
        case Change():
            comment = entry.field == "comment"
            what = "a comment" if comment else entry.field
            change = "" if comment else f" from {_value(entry.before)} to {_value(entry.after)}"
            done = "changed" if isinstance(entry, Changed) else "taken back"
            item = f" {entry.item}" if entry.item else ""
            return f"{who}, {entry.module}{item}: {what} {done}{change}.{why}"
        case _:
            raise AssertionError(entry.kind)  # pragma: no cover - every kind is told here or there


def _value(value: Any) -> str:
    return "none" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


_COLUMNS = ("number", "kind", "at", "by", "why", "apprentice", "module", "attempt", "form", "points", "out_of")


def _plain(entry: Entry) -> dict[str, Any]:
    return {
        **{name: getattr(entry, name) for name in _COLUMNS},
        "detail": details.plain(entry),
        "items": [
            {
                "item": row.item,
                "points": row.points,
                "out_of": row.out_of,
                "verdict": row.verdict,
                "reason": row.reason,
                "misconception": row.misconception or None,
                "critical": row.critical,
            }
            for row in entry.marks
        ],
        "notes": [{"kind": note.kind, "text": note.text} for note in entry.notes],
    }
