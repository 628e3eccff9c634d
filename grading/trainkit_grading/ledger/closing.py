"""Closed attempts and hand-ins that wait: since when feedback is written, and what was decided of later hand-ins.

Whoever has read their feedback knows what was not right. So what arrives of an attempt after its feedback was written
is kept and scored, but counts only where a person says so; where the feedback told the right answers, it never counts.
A course that began before feedback was recorded has no such entry until feedback is written the next time.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import select

from trainkit_grading.ledger import details
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.kinds import Decided, FeedbackWritten, Held
from trainkit_grading.ledger.tables import ENTRY, PERSON

OUTCOMES = ("counted", "excluded")
"""What can come of a hand-in that waits."""
CLOSED, SPENT, PARTED, LESS = "closed", "spent", "parted", "less"
"""Why a hand-in waits, as its notes have it."""


@dataclass(frozen=True, slots=True)
class Closing:
    """Since when an attempt is closed, and its form spent; ISO times in UTC, empty where it is not."""

    closed: str = ""
    spent: str = ""


@dataclass(frozen=True, slots=True)
class HeldHandIn:
    """A hand-in that is kept beside the marks that stand, and the last decision about it."""

    entry: Held
    decision: Decided | None = None

    @property
    def counted(self) -> bool:
        """Whether a person has let it count."""
        return self.decision is not None and self.decision.became == "counted"

    @property
    def spent(self) -> bool:
        """Whether it can never count, because its feedback had told the right answers."""
        return any(note.kind == SPENT for note in self.entry.notes)


def closings(ledger: Ledger, module: str, apprentices: Sequence[str]) -> dict[tuple[str, int], Closing]:
    """Return since when attempts at a module are closed, by apprentice and attempt; open ones are left out."""
    query = (
        select(PERSON.c.apprentice, ENTRY.c.attempt, ENTRY.c.detail)
        .join(PERSON, PERSON.c.person == ENTRY.c.person)
        .where(
            ENTRY.c.kind == FeedbackWritten.kind,
            ENTRY.c.module == module,
            # On the table itself, too: by its index the database finds the rows of these people alone.
            ENTRY.c.person.in_(select(PERSON.c.person).where(PERSON.c.apprentice.in_(apprentices))),
        )
        .order_by(ENTRY.c.number)
    )
    found: dict[tuple[str, int], Closing] = {}
    for apprentice, attempt, detail in ledger.connection.execute(query):
        said = details.read(FeedbackWritten, detail)
        before = found.get((apprentice, attempt), Closing())
        spent = said.when if said.answers else ""
        found[apprentice, attempt] = Closing(_first(before.closed, said.when), _first(before.spent, spent))
    return found


def _first(*moments: str) -> str:
    return min((moment for moment in moments if moment), default="")


def held(ledger: Ledger, module: str = "", apprentice: str = "") -> tuple[HeldHandIn, ...]:
    """Return the hand-ins that were held, in their order; those of people who were forgotten are left out."""
    found = [entry for entry in ledger.entries(Held, module, apprentice, marks=False) if entry.apprentice]
    if not found:
        return ()
    last = {
        entry.of: entry
        for entry in ledger.entries(Decided, module, apprentice, marks=False)
        if entry.of_kind == Held.kind
    }
    return tuple(HeldHandIn(entry, last.get(entry.number)) for entry in found)


def passed_over(ledger: Ledger, module: str) -> dict[str, frozenset[str]]:
    """Return the journals of a module that do not count, by apprentice."""
    found: dict[str, frozenset[str]] = {}
    for each in held(ledger, module):
        if not each.counted:
            name = each.entry.apprentice
            found[name] = found.get(name, frozenset()) | {each.entry.journal}
    return found


def waiting(ledger: Ledger) -> tuple[HeldHandIn, ...]:
    """Return the hand-ins of which nobody has decided, and that are not older than the marks that stand."""
    undecided = [each for each in held(ledger) if each.decision is None]
    stands = {
        module: ledger.standing(module, [each.entry.apprentice for each in undecided])
        for module in {each.entry.module for each in undecided}
    }
    found = []
    for each in undecided:
        of = stands[each.entry.module].get((each.entry.apprentice, each.entry.attempt))
        if of is None or each.entry.arrived == "" or of.arrived <= each.entry.arrived:
            found.append(each)
    return tuple(found)


def together(found: Iterable[HeldHandIn]) -> tuple[tuple[HeldHandIn, ...], ...]:
    """Return hand-ins in groups that are decided together: they came too late, at one and the same time.

    A zip has no time of its own but that of its collecting: zips that nobody collected in time arrive all at once.
    """
    groups: dict[tuple[object, ...], list[HeldHandIn]] = {}
    for each in found:
        of = each.entry
        why = {note.kind for note in of.notes}
        late = why in ({CLOSED}, {SPENT})
        groups.setdefault((of.module, of.arrived, *why) if late else (of.number,), []).append(each)
    return tuple(map(tuple, groups.values()))


def unsaid(ledger: Ledger, pages: Iterable[FeedbackWritten]) -> tuple[FeedbackWritten, ...]:
    """Return those entries about feedback that the ledger does not say yet.

    Feedback that is written again for the same attempt closes nothing new, unless it is the first that tells the
    right answers.
    """
    new = list(pages)
    known: dict[tuple[str, str, int], Closing] = {}
    for module in {entry.module for entry in new}:
        of_module = closings(ledger, module, [entry.apprentice for entry in new if entry.module == module])
        known |= {(module, *place): of for place, of in of_module.items()}
    found = []
    for entry in new:
        of = known.get((entry.module, entry.apprentice, entry.attempt))
        if of is None or (entry.answers and not of.spent):
            found.append(entry)
    return tuple(found)
