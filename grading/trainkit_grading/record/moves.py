"""Who was in which cohort since when: what the roster says of people goes into the ledger when it changes.

The roster says how it is now, and anybody may edit it. Giving modules out and marking compare it with what the ledger
says last and add an entry for whoever is in another cohort, has come or left, or has other extra time than before. Of
people about whom the roster has never said any of this, the ledger says nothing either.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from typing import TYPE_CHECKING

from trainkit_grading.ledger import versions
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.kinds import Moved, RosterPlace
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.roster import Apprentice
    from trainkit_grading.course.seeds import Seed


NOWHERE = RosterPlace()
"""What is known of somebody of whom the roster has said nothing yet."""


def place_of(person: Apprentice) -> RosterPlace:
    """Return where somebody is by the roster.

    Examples
    --------
    >>> from trainkit_grading.course.roster import Apprentice
    >>> place_of(Apprentice("amir", "Amir Shah", "autumn", extra_percent=25)).cohort
    'autumn'
    """
    return RosterPlace(
        person.cohort,
        person.joined.isoformat() if person.joined is not None else "",
        person.left.isoformat() if person.left is not None else "",
        float(person.extra_percent),
    )


def record(course: Course, people: Iterable[Apprentice], seed: Seed) -> list[Finding]:
    """Add what has changed since the ledger said it last, and return a note on each.

    Raises
    ------
    CourseError
        If the database cannot be used.
    """
    known = list(people)
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        if all(place_of(person) == NOWHERE for person in known) and not versions.version(connection):
            return []  # there is no ledger yet, and nothing to say
        ledger = Ledger(connection, seed)
        made, findings = news(ledger, known)
        ledger.add(made)
    return findings


def news(ledger: Ledger, people: Iterable[Apprentice]) -> tuple[tuple[Moved, ...], list[Finding]]:
    """Return the entries that record what the ledger does not say yet, and a note on each."""
    last = {entry.apprentice: entry.place for entry in ledger.entries(Moved, marks=False)}
    made = []
    findings = []
    known = list(people)
    gone = ledger.forgotten(person.id for person in known)
    for person in known:
        if person.id in gone:
            text = f"They were forgotten, and this roster has them. Say: trainkit-course forget {person.id}"
            findings.append(Finding("warning", f"roster.csv {person.id}", text))
            continue
        now, before = place_of(person), last.get(person.id, NOWHERE)
        if now != before:
            made.append(Moved(person.id, why="So says the roster.", **asdict(now)))
            if person.id in last:
                findings.append(Finding("note", person.id, f"The roster says something new: {words(now, before)}."))
    return tuple(made), findings


def history(ledger: Ledger, apprentice: str = "") -> dict[str, list[tuple[str, RosterPlace]]]:
    """Return, by apprentice, since when the ledger says what of them, in its order."""
    found: dict[str, list[tuple[str, RosterPlace]]] = {}
    for entry in ledger.entries(Moved, apprentice=apprentice, marks=False):
        found.setdefault(entry.apprentice, []).append((entry.at, entry.place))
    return found


def words(now: RosterPlace, old: RosterPlace = NOWHERE) -> str:
    """Say where somebody is, or what is new about it.

    Examples
    --------
    >>> words(RosterPlace("autumn", extra_percent=25.0))
    'cohort autumn, extra time 25 %'
    """
    parts = []
    if now.cohort != old.cohort:
        moved = f", before {old.cohort}" if old.cohort else ""
        parts.append((f"cohort {now.cohort}" if now.cohort else "no cohort") + moved)
    for what, new, before in (("joined", now.joined, old.joined), ("left", now.left, old.left)):
        if new != before:
            parts.append(f"{what} {new}" if new else f"no longer said when they {what}")
    if now.extra_percent != old.extra_percent:
        parts.append(f"extra time {now.extra_percent:g} %")
    return ", ".join(parts) or "no cohort"
