"""Which later hand-ins wait for a person instead of taking the place of the marks that stand, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.sentences import counted
from trainkit_grading.ledger.closing import CLOSED, LESS, PARTED, SPENT, Closing
from trainkit_grading.ledger.entries import Note
from trainkit_grading.ledger.kinds import Held, Marked

if TYPE_CHECKING:
    from trainkit_grading.ledger.book import Standing


def hold(entry: Marked, known: Standing, closing: Closing, *, continues: bool, retyped: bool = False) -> Held | None:
    """Return the entry that keeps a later hand-in beside the marks that stand; None where it may take their place.

    Parameters
    ----------
    entry : Marked
        What the later hand-in would earn.
    known : Standing
        The marks that stand of the same attempt, for another journal.
    closing : Closing
        Since when the attempt is closed.
    continues : bool
        Whether the later journal begins with all lines of the earlier one.
    retyped : bool
        Whether both came on paper: what course staff type again is another journal, and no hand-in of the apprentice's.

    Examples
    --------
    >>> from trainkit_grading.ledger.book import Standing
    >>> known = Standing("amir", 3, 1, "F", "j" * 64, "2027-03-01T08:00:00", 2.0, 6.0, "", "", True)
    >>> later = Marked("amir", "m", 1, "F", "k" * 64, "2027-03-02T08:00:00")
    >>> held = hold(later, known, Closing("2027-03-01T12:00:00"), continues=True)
    >>> [note.kind for note in held.notes]
    ['closed', 'less']
    """
    why = []
    if _after(entry.arrived, closing.spent):
        why.append(Note(SPENT, f"{_came(entry)} after feedback had told the right answers. It cannot count."))
    elif _after(entry.arrived, closing.closed):
        why.append(Note(CLOSED, f"{_came(entry)} after feedback on attempt {entry.attempt} was written."))
    if not (continues or retyped):
        why.append(Note(PARTED, "It does not continue the hand-in before it."))
    if entry.points < known.points and not retyped:
        why.append(Note(LESS, "It earns less than the hand-in before it."))
    if not why:
        return None
    would = f"It would earn {entry.points:g} of {counted(entry.out_of, 'point')}; on record: {known.points:g}."
    why[-1] = Note(why[-1].kind, f"{why[-1].text} {would}")
    return Held(
        entry.apprentice,
        entry.module,
        entry.attempt,
        entry.form,
        entry.journal,
        entry.arrived,
        notes=tuple(why),
        over=known.number,
        earns=entry.points,
    )


def _after(arrived: str, moment: str) -> bool:
    """Tell whether something arrived after a moment, if there is one; what has no time of arrival did."""
    return bool(moment) and (not arrived or arrived > moment)


def _came(entry: Marked) -> str:
    if not entry.arrived:
        return "A later hand-in without a time of arrival came"
    return f"A later hand-in arrived {entry.arrived[:16].replace('T', ' ')} UTC,"
