"""Deciding about later hand-ins, which wait beside the marks that stand: whether they count."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.sentences import counted
from trainkit_grading.errors import SignOffError
from trainkit_grading.ledger import closing
from trainkit_grading.ledger.entries import Note
from trainkit_grading.ledger.kinds import Decided, Held
from trainkit_grading.support.outcome import Outcome

if TYPE_CHECKING:
    from trainkit_grading.ledger.book import Ledger
    from trainkit_grading.ledger.closing import HeldHandIn


def settle(ledger: Ledger, of: Held, outcome: str, words: str, apprentice: str = "") -> Outcome:
    """Record a decision about a hand-in, and about those that wait together with it.

    Parameters
    ----------
    ledger : Ledger
        The ledger, held.
    of : Held
        The hand-in, or the first of several.
    outcome : str
        ``"counted"`` or ``"excluded"``.
    words : str
        The reason.
    apprentice : str, optional
        Only theirs.

    Raises
    ------
    SignOffError
        If it cannot count, counts already, or is not of that person.
    """
    members = [each for each in _with(ledger, of) if apprentice in ("", each.entry.apprentice)]
    if not members:
        raise SignOffError(
            apprentice,
            rule=f"No hand-in of this person waits together with entry {of.number}.",
            remedy="See what waits: trainkit-course ledger --open",
        )
    entries = [
        Decided(
            each.entry.apprentice,
            each.entry.module,
            each.entry.attempt,
            each.entry.form,
            notes=(Note("decision", words),),
            of=each.entry.number,
            of_kind=Held.kind,
            became=outcome,
        )
        for each in members
        if _checked(ledger, each, outcome) and not _said(each, outcome, words)
    ]
    added = ledger.add(entries)
    done = [f"{each.apprentice}: the hand-in of entry {each.of} is {outcome}: entry {each.number}." for each in added]
    return Outcome(
        "decide",
        tuple(done) or (f"{counted(len(members), 'hand-in')}: that stands in the ledger already.",),
        next_step=f"Mark what counts now: trainkit-course mark {of.module}" if outcome == "counted" else "",
        data={"entry": added[0].number if added else of.number, "entries": [entry.number for entry in added]},
    )


def _with(ledger: Ledger, of: Held) -> tuple[HeldHandIn, ...]:
    """Return the hand-ins that wait together with this one, itself among them; one that is decided is alone."""
    for group in closing.together(closing.waiting(ledger)):
        if any(each.entry.number == of.number for each in group):
            return group
    return tuple(each for each in closing.held(ledger, of.module, of.apprentice) if each.entry.number == of.number)


def _said(each: HeldHandIn, outcome: str, words: str) -> bool:
    """Tell whether the ledger says this of a hand-in already."""
    last = each.decision
    return last is not None and last.became == outcome and [note.text for note in last.notes][:1] == [words]


def _checked(ledger: Ledger, each: HeldHandIn, outcome: str) -> bool:
    of = each.entry
    if outcome == "counted" and each.spent:
        raise SignOffError(
            f"entry {of.number}",
            rule="It arrived after feedback had told the right answers, so its form is spent.",
            remedy="Say --outcome excluded. For another try give out another attempt.",
        )
    stands = ledger.standing(of.module, [of.apprentice]).get((of.apprentice, of.attempt))
    if outcome == "excluded" and stands is not None and stands.journal == of.journal:
        raise SignOffError(
            f"entry {of.number}",
            rule="You let this hand-in count, and its points are on record.",
            remedy="Change its points in formgrader, or decide an appeal.",
        )
    return True
