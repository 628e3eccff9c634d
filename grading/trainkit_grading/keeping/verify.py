"""Proving a course's records: the ledger is what was written, the gradebook shows it, the journals are those marked."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from trainkit.sentences import counted
from trainkit_grading.decisions import pending
from trainkit_grading.intake import receipts
from trainkit_grading.keeping import agreement
from trainkit_grading.keeping.manifest import WITHOUT_SEED
from trainkit_grading.ledger import details
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.ledger.kinds import Change, Changed, Doubted, Flagged, Forgotten, Marked, Moved, SessionHeld
from trainkit_grading.ledger.verifying import verify
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record import moves
from trainkit_grading.signoff import sentences
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


def prove(course: Course, progress: Progress = quiet) -> Outcome:
    """Check every entry of the ledger, what the gradebook shows of it, and the journals that were kept.

    Raises
    ------
    CourseError
        If the database or the seed cannot be used.
    """
    with gradebook.opened(course) as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        sealed = not (course.keys / WITHOUT_SEED).exists()
        proof = verify(connection, course.seed(), sealed=sealed)
        marked = ledger.marked()
    findings = [Finding("refused", "ledger", fault) for fault in proof.faults]
    findings += agreement.compare(course)
    findings += _journals(course, marked, progress)
    done = [f"{counted(proof.entries, 'entry', 'entries')} of the ledger checked."]
    if not sealed:
        done.append("This archive was packed without its seed: numbers and words were checked, seals cannot be proven.")
    elif not proof.faults:
        done.append("Every entry is as it was written, and none is missing.")
    if proof.forgotten:
        done.append(f"{proof.forgotten} of them are about people who were forgotten; they name nobody.")
    if proof.entries:
        # Noted down elsewhere, it proves that even the owner of the seed has not written the ledger anew.
        done.append(f"The last one is number {proof.entries}, seal {proof.seal[:16]}. Note it down for the next time.")
    return Outcome(
        "verify",
        tuple(done),
        tuple(findings),
        data={"entries": proof.entries, "seal": proof.seal, "forgotten": proof.forgotten},
    )


def _journals(course: Course, people: Sequence[tuple[str, str]], progress: Progress) -> Iterator[Finding]:
    """Compare the journals that were kept with their records; one that was never collected is not kept."""
    for number, (apprentice, module) in enumerate(people, start=1):
        progress(number, len(people), apprentice)
        for arrival in receipts.kept(course, apprentice, module, waiting=True):
            place = f"arrivals/{apprentice}/{module}/{arrival.folder_name}"
            try:
                met = hashlib.sha256(receipts.journal_of(course, arrival)).hexdigest()
            except OSError as error:
                text = f"The journal that was kept cannot be read ({error.strerror}). Fetch it from your backup."
                yield Finding("refused", place, text)
                continue
            if met != arrival.digest:
                text = "The journal is not the one that was collected. Fetch it from your backup."
                yield Finding("refused", place, text)


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
        f"{each.entry}  {each.since[:16].replace('T', ' ')}  {each.kind}: {each.apprentice}"
        f"{f', {each.module} {each.item}'.rstrip() if each.module else ''}. {each.text} {each.next}"
        for each in found
    )
    return Outcome(
        "ledger", tuple(lines) or ("Nothing waits for a person.",), data={"matters": [each.to_dict() for each in found]}
    )


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
            return f"{who}, {attempt}: {entry.points:g} of {entry.out_of:g} points{still}{flags}.{why}"
        case Doubted():
            return f"{who}, {entry.module}: a hand-in waits, it is in doubt whose it is. {words}"
        case Flagged():
            return f"{who}, {entry.module}: to look at. {words}"
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
