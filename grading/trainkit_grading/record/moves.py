"""Who was in which cohort since when: what the roster says of people goes into the ledger when it changes.

The roster says how it is now, and anybody may edit it. Giving modules out and marking compare it with what the ledger
says last and add an entry for whoever is in another cohort, has come or left, or has other extra time than before. Of
people about whom the roster has never said any of this, the ledger says nothing either.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from trainkit_grading.ledger import versions
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.roster import Apprentice
    from trainkit_grading.course.seeds import Seed

__all__ = ["history", "place_of", "record", "record_in", "words"]

_NOTHING: Mapping[str, Any] = {"cohort": "", "joined": "", "left": "", "extra_percent": 0.0}


def place_of(person: Apprentice) -> dict[str, Any]:
    """Return what an entry says of somebody, as plain JSON data.

    Examples
    --------
    >>> from trainkit_grading.course.roster import Apprentice
    >>> place_of(Apprentice("amir", "Amir Shah", "autumn", extra_percent=25))["cohort"]
    'autumn'
    """
    return {
        "cohort": person.cohort,
        "joined": person.joined.isoformat() if person.joined is not None else "",
        "left": person.left.isoformat() if person.left is not None else "",
        "extra_percent": float(person.extra_percent),
    }


def record(course: Course, people: Iterable[Apprentice], seed: Seed) -> list[Finding]:
    """Add what has changed since the ledger said it last, and return a note on each.

    Raises
    ------
    CourseError
        If the database cannot be used.
    """
    known = list(people)
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        if all(place_of(person) == _NOTHING for person in known) and not versions.version(connection):
            return []  # there is no ledger yet, and nothing to say
        return record_in(Ledger(connection, seed), known)


def record_in(ledger: Ledger, people: Iterable[Apprentice]) -> list[Finding]:
    """Add what has changed, in the caller's transaction; see :func:`record`."""
    last = {entry.apprentice: entry.detail for entry in ledger.entries(["moved"], marks=False)}
    news = []
    findings = []
    known = list(people)
    gone = ledger.forgotten(person.id for person in known)
    for person in known:
        if person.id in gone:
            text = f"They were forgotten, and this roster has them. Say: trainkit-course forget {person.id}"
            findings.append(Finding("warning", f"roster.csv {person.id}", text))
            continue
        now, before = place_of(person), last.get(person.id, _NOTHING)
        if any(before.get(name) != value for name, value in now.items()):
            news.append(Entry("moved", person.id, detail=now, why="So says the roster."))
            if person.id in last:
                findings.append(Finding("note", person.id, f"The roster says something new: {words(now, before)}."))
    ledger.add(news)
    return findings


def history(ledger: Ledger, apprentice: str = "") -> dict[str, list[tuple[str, dict[str, Any]]]]:
    """Return, by apprentice, since when the ledger says what of them, in its order."""
    found: dict[str, list[tuple[str, dict[str, Any]]]] = {}
    for entry in ledger.entries(["moved"], apprentice=apprentice, marks=False):
        found.setdefault(entry.apprentice, []).append((entry.at, dict(entry.detail)))
    return found


def words(now: Mapping[str, Any], before: Mapping[str, Any] | None = None) -> str:
    """Say where somebody is, or what is new about it.

    Examples
    --------
    >>> words({"cohort": "autumn", "joined": "", "left": "", "extra_percent": 25.0})
    'cohort autumn, extra time 25 %'
    """
    old = before or _NOTHING
    parts = []
    if now["cohort"] != old["cohort"]:
        moved = f", before {old['cohort']}" if old["cohort"] else ""
        parts.append((f"cohort {now['cohort']}" if now["cohort"] else "no cohort") + moved)
    parts += [
        f"{name} {now[name]}" if now[name] else f"no longer said when they {name}"
        for name in ("joined", "left")
        if now[name] != old[name]
    ]
    if now["extra_percent"] != old["extra_percent"]:
        parts.append(f"extra time {now['extra_percent']:g} %")
    return ", ".join(parts) or "no cohort"
