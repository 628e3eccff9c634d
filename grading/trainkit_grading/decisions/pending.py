"""What still waits for a person: appeals, spoken checks, hand-ins, flags, overrides, second marks, texts, practice."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from trainkit.sentences import counted as count_of
from trainkit_grading.decisions.double_marking.comparing import pairs
from trainkit_grading.ledger import closing, doubts, spoken
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.details import kinds
from trainkit_grading.ledger.kinds import Appealed, Change, Decided, Flagged, Marked, Observed, SecondJudged, item_of
from trainkit_grading.ledger.tables import ENTRY, MARK, PERSON, SHOWN
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record.marked_submission import BY_PERSON

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.ledger.entries import Entry


KINDS = {
    "appeal": "an appeal that nobody has decided",
    "spoken check": "one worded answer bars a pass: ask whether it was meant",
    "origin": "it is in doubt who handed something in",
    "hand-in": "a later hand-in does not count by itself",
    "disagreement": "first and second marker are far apart",
    "same person": "who assessed or decided also trained or marked",
    "flag": "something about a hand-in is to be looked at",
    "override": "a person changed points that a machine gave",
    "text": "a text waits for its marker",
    "observation": "practical work waits to be watched",
}
"""What can wait, and what it is."""


@dataclass(frozen=True, slots=True)
class PendingDecision:
    """One thing that waits for a person.

    Parameters
    ----------
    kind : str
        One of :data:`KINDS`.
    entry : int
        Number of the entry of the ledger that it stands in.
    apprentice, module, item : str
        Whom and what it is about; empty where it is about no module or item.
    since : str
        ISO time in UTC of that entry.
    text : str
        What it is, in words.
    next : str
        What to do, in words or as a command.
    """

    kind: str
    entry: int
    apprentice: str
    module: str
    item: str
    since: str
    text: str
    next: str

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain JSON data."""
        return asdict(self)


def pending_decisions(ledger: Ledger) -> tuple[PendingDecision, ...]:
    """Return everything that waits for a person, the kinds in the order of :data:`KINDS`, the oldest first.

    What was decided once is not told again, unless something new was said after it. Nothing is told of people who
    were forgotten.

    Parameters
    ----------
    ledger : Ledger
        The course's ledger.
    """
    decisions = list(ledger.entries(Decided, marks=False))
    settled = {entry.of for entry in decisions if entry.became not in spoken.OUTCOMES}
    found = [
        *_appeals(ledger, settled),
        *_spoken_checks(ledger),
        *_origins(ledger),
        *_hand_ins(ledger),
        *_disagreements(ledger, decisions),
        *_same_person(ledger, decisions, settled),
        *_flags(ledger, settled),
        *_overrides(ledger, settled),
        *_waiting(ledger),
    ]
    rank = {kind: place for place, kind in enumerate(KINDS)}
    kept = (each for each in found if each.apprentice)
    return tuple(sorted(kept, key=lambda each: (rank[each.kind], each.entry, each.item)))


def of_course(course: Course) -> tuple[PendingDecision, ...]:
    """Return everything of a course that waits for a person; see :func:`pending_decisions`.

    Raises
    ------
    CourseError
        If the database or the seed cannot be used.
    """
    with gradebook.opened(course) as engine, engine.begin() as connection:
        return pending_decisions(Ledger(connection, course.seed()))


def summed(pending: Iterable[PendingDecision]) -> str:
    """Return how many of each kind wait, in words.

    Examples
    --------
    >>> one = PendingDecision("appeal", 3, "amir", "capstone", "A8", "2027-03-01T08:00:00", "Appeal.", "")
    >>> summed([one, one])
    'Waiting for a decision: 2 appeals'
    """
    return "Waiting for a decision: " + ", ".join(counted(pending))


def counted(pending: Iterable[PendingDecision]) -> tuple[str, ...]:
    """Return how many of each kind wait, in words, one text for each kind.

    Examples
    --------
    >>> counted([PendingDecision("text", 3, "amir", "capstone", "A11", "2027-03-01T08:00:00", "A text waits.", "")])
    ('1 text',)
    """
    counts = Counter(each.kind for each in pending)
    return tuple(f"{count} {_COUNTED[kind][count != 1]}" for kind, count in counts.items())


# One of them, and several.
_COUNTED = {
    "appeal": ("appeal", "appeals"),
    "spoken check": ("spoken check", "spoken checks"),
    "origin": ("hand-in in doubt", "hand-ins in doubt"),
    "hand-in": ("later hand-in", "later hand-ins"),
    "disagreement": ("disagreement of markers", "disagreements of markers"),
    "same person": ("time one person in both roles", "times one person in both roles"),
    "flag": ("flagged hand-in", "flagged hand-ins"),
    "override": ("override", "overrides"),
    "text": ("text", "texts"),
    "observation": ("piece of practical work", "pieces of practical work"),
}


def _decide(number: int, outcome: str = "settled") -> str:
    return f'trainkit-course decide {number} --outcome {outcome} --why "…"'


def _appeals(ledger: Ledger, settled: set[int]) -> Iterator[PendingDecision]:
    for entry in ledger.entries(Appealed, marks=False):
        if entry.number not in settled:
            words = " ".join(note.text or "" for note in entry.notes)
            text = f"Appeal: {words}" if words.strip() else "Appeal."
            yield _pending("appeal", entry, text, _decide(entry.number, "upheld|rejected"))


def _spoken_checks(ledger: Ledger) -> Iterator[PendingDecision]:
    due = spoken.due(ledger)
    waiting = due.items() - spoken.checks(ledger, due.items()).keys()
    entries = ledger.read(Marked, (number for number, _ in waiting), marks=False)
    for number, item in waiting:
        of = entries[number]
        yield PendingDecision(
            "spoken check", number, of.apprentice, of.module, item, of.at, _ASK, _decide(number, "confirmed|slip")
        )


_ASK = "Unsafe answer, and nothing else bars a pass. Ask what they would do, and why; write down what they say."


def _origins(ledger: Ledger) -> Iterator[PendingDecision]:
    for entry in doubts.waiting(ledger):
        text = " ".join(note.text or "" for note in entry.notes)
        yield _pending("origin", entry, f"{text} Ask.", _decide(entry.number, "|".join(doubts.OUTCOMES)))


def _hand_ins(ledger: Ledger) -> Iterator[PendingDecision]:
    """Tell of later hand-ins; those that are decided together all name the entry of the first of them."""
    for group in closing.together(closing.waiting(ledger)):
        first = group[0]
        following = _decide(first.entry.number, "excluded" if first.spent else "counted|excluded")
        many = "" if len(group) == 1 else f" {count_of(len(group), 'hand-in')} came at this time. {_MANY}"
        for each in group:
            of = each.entry
            text = " ".join(note.text or "" for note in of.notes)
            yield PendingDecision(
                "hand-in", first.entry.number, of.apprentice, of.module, "", of.at, f"{text}{many}", following
            )


_MANY = "A zip arrives when it is collected: if these lay there before the feedback, let them count."


def grouped(pending: Iterable[PendingDecision]) -> tuple[tuple[PendingDecision, ...], ...]:
    """Return what waits in groups that one decision settles; most have one member."""
    return tuple(
        tuple(group) for _, group in itertools.groupby(pending, key=lambda each: (each.kind, each.entry, each.item))
    )


def _disagreements(ledger: Ledger, decisions: list[Decided]) -> Iterator[PendingDecision]:
    entries = {entry.number: entry for entry in ledger.entries(SecondJudged, marks=False)}
    for pair in pairs(entries.values(), decisions):
        if pair.differs and not pair.decided:
            text = f"{pair.first:g} and {pair.second:g} of {count_of(pair.out_of, 'point')} by first and second marker."
            yield _pending("disagreement", entries[pair.entry], text, _decide(pair.entry))


def _same_person(ledger: Ledger, decisions: list[Decided], settled: set[int]) -> Iterator[PendingDecision]:
    # Most observations have no note, and each is long: those are not even read.
    noted = select(ENTRY.c.number).where(ENTRY.c.kind == Observed.kind, ENTRY.c.notes_hash != "")
    observed = ledger.read(Observed, ledger.connection.execute(noted).scalars(), marks=False)
    for entry in (*observed.values(), *decisions):
        said = " ".join(note.text or "" for note in entry.notes if note.kind == "assessor")
        if said and entry.number not in settled:
            yield _pending("same person", entry, said, _decide(entry.number))


def _flags(ledger: Ledger, settled: set[int]) -> Iterator[PendingDecision]:
    """Tell of flags of hand-ins that the gradebook shows; of others nothing hangs on them any more."""
    connection = ledger.connection
    numbers = connection.execute(
        select(SHOWN.c.entry).join(ENTRY, ENTRY.c.number == SHOWN.c.entry).where(ENTRY.c.notes_hash != "")
    ).scalars()
    beside = list(ledger.entries(Flagged, marks=False))
    journals: Mapping[tuple[str, str], str] = {}
    if beside:
        query = (
            select(PERSON.c.apprentice, ENTRY.c.module, ENTRY.c.journal)
            .join(PERSON, PERSON.c.person == ENTRY.c.person)
            .join(SHOWN, SHOWN.c.entry == ENTRY.c.number)
        )
        journals = {(name, module): journal for name, module, journal in connection.execute(query)}
    still = [each for each in beside if journals.get((each.apprentice, each.module)) == each.journal]
    for entry in (*ledger.read(Marked, numbers, marks=False).values(), *still):
        text = " ".join(note.text or "" for note in entry.notes)
        if text.strip() and entry.number not in settled:
            yield _pending("flag", entry, text, _decide(entry.number))


def _overrides(ledger: Ledger, settled: set[int]) -> Iterator[PendingDecision]:
    last: dict[tuple[str, str, int, str], Change] = {}
    for entry in ledger.entries(Change, marks=False):
        if entry.field == "points" and entry.apprentice:
            last[entry.apprentice, entry.module, entry.attempt, entry.item] = entry
    given = {
        key: entry
        for key, entry in last.items()
        # Points that an observation or a decision gave have their own record.
        if entry.after is not None and entry.entry is None and entry.number not in settled
    }
    if not given:
        return
    modules = {module for _, module, _, _ in given}
    query = (
        select(PERSON.c.apprentice, SHOWN.c.module, ENTRY.c.attempt, MARK.c.item, MARK.c.points)
        .join(SHOWN, SHOWN.c.person == PERSON.c.person)
        .join(ENTRY, ENTRY.c.number == SHOWN.c.entry)
        .join(MARK, MARK.c.entry == SHOWN.c.entry)
        .where(SHOWN.c.module.in_(modules), PERSON.c.person.in_(select(ENTRY.c.person).where(_CHANGED)))
        .where(MARK.c.kind.not_in(BY_PERSON))
    )
    for apprentice, module, attempt, item, points in ledger.connection.execute(query):
        made = given.get((apprentice, module, attempt, item))
        if made is not None and made.after is not None:
            text = f"{count_of(float(made.after), 'point')} in place of {points:g}, by {made.by}."
            yield _pending("override", made, text, _decide(made.number))


_CHANGED = ENTRY.c.kind.in_(kinds(Change))


def _waiting(ledger: Ledger) -> Iterator[PendingDecision]:
    query = (
        select(
            PERSON.c.apprentice, SHOWN.c.module, ENTRY.c.attempt, ENTRY.c.number, ENTRY.c.at, MARK.c.item, MARK.c.kind
        )
        .join(SHOWN, SHOWN.c.person == PERSON.c.person)
        .join(ENTRY, ENTRY.c.number == SHOWN.c.entry)
        .join(MARK, MARK.c.entry == SHOWN.c.entry)
        .where(MARK.c.verdict == "waiting")
    )
    rows = ledger.connection.execute(query).all()
    judged = {module: ledger.judged(module) for module in {row.module for row in rows}}
    for apprentice, module, attempt, number, at, item, kind in rows:
        if item in judged[module].get((apprentice, attempt), {}):
            continue
        if kind == "text":
            told = ("text", "A text waits for its marker.", "Mark it in formgrader.")
        else:
            said = f"trainkit-course checklist {module} --apprentice {apprentice}, then observe"
            told = ("observation", "Practical work waits to be watched.", said)
        yield PendingDecision(told[0], number, apprentice, module, item, at, *told[1:])


def _pending(kind: str, entry: Entry, text: str, following: str) -> PendingDecision:
    return PendingDecision(
        kind, entry.number, entry.apprentice, entry.module, item_of(entry), entry.at, text.strip(), following
    )
