"""Spoken checks: whether somebody meant an unsafe answer that alone keeps them from passing.

A choice can be a slip of the hand or of the eye; an order of six steps, or a pin that was forced at the bench, is not.
So where a bar rests on one worded question, the instructor asks the person. What they said stands in the ledger as a
decision about the marks: *confirmed* (they meant it, the bar stays) or *slip* (the bar is lifted, the points stay).

Only marks of forms that were drawn since there are spoken checks say of which items this holds; for marks before
that, a bar stays what it was.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from sqlalchemy import select

from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.harm import said_unsafe
from trainkit_grading.ledger.kinds import Decided, Marked
from trainkit_grading.ledger.tables import MARK, SHOWN

OUTCOMES = ("confirmed", "slip")
"""What can come of a spoken check."""
WORDED = ("choice", "several", "grid")
"""The kinds of questions that are answered by choosing among words."""


def alone(bars: Collection[str], spoken: Collection[str]) -> str:
    """Return the one item that a bar rests on, if it is one that a spoken check is held of; else nothing.

    Parameters
    ----------
    bars : collection of str
        Critical items with an unsafe answer.
    spoken : collection of str
        Critical items of worded questions.

    Examples
    --------
    >>> alone(["A3"], ["A3", "A5"]), alone(["A3", "A5"], ["A3", "A5"]), alone(["A9"], ["A3"])
    ('A3', '', '')
    """
    (item,) = bars if len(bars) == 1 else ("",)
    return item if item in spoken else ""


def checks(ledger: Ledger, answers: Collection[tuple[int, str]]) -> dict[tuple[int, str], Decided]:
    """Return the last spoken check of each of these answers that has one.

    An answer that is marked again keeps its check, as long as it is the same answer.

    Parameters
    ----------
    ledger : Ledger
        The course's ledger.
    answers : collection of (int, str)
        Numbers of entries, and of each an item.
    """
    held = [entry for entry in ledger.entries(Decided, marks=False) if entry.became in OUTCOMES and entry.apprentice]
    if not held or not answers:
        return {}
    entries = ledger.read(Marked, {*(number for number, _ in answers), *(entry.of for entry in held)})
    last = {_answer(entries[entry.of], entry.item): entry for entry in held if entry.of in entries}
    found = {}
    for number, item in answers:
        check = last.get(_answer(entries[number], item)) if number in entries else None
        if check is not None:
            found[number, item] = check
    return found


def due(ledger: Ledger, numbers: Iterable[int] | None = None) -> dict[int, str]:
    """Return which item a bar rests on where a spoken check is held of it, by the number of the entry that counts.

    Those that were held are among them.

    Parameters
    ----------
    ledger : Ledger
        The course's ledger.
    numbers : iterable of int, optional
        Only of these entries.
    """
    query = select(SHOWN.c.entry, MARK.c.item).join(MARK, MARK.c.entry == SHOWN.c.entry).where(MARK.c.critical)
    unsafe: dict[int, list[str]] = {}
    for number, item in ledger.connection.execute(query):
        unsafe.setdefault(number, []).append(item)
    wanted = unsafe.keys() if numbers is None else unsafe.keys() & set(numbers)
    entries = {number: entry for number, entry in ledger.read(Marked, wanted).items() if entry.spoken}
    for number, item in said_unsafe(ledger.connection, {entry.module for entry in entries.values()}):
        unsafe.setdefault(number, []).append(item)
    judged = {module: ledger.judged(module) for module in {entry.module for entry in entries.values()}}
    found = {}
    for number, entry in entries.items():
        given = judged[entry.module].get((entry.apprentice, entry.attempt), {})
        most = {row.item: row.out_of for row in entry.marks}
        # Who gives all the points has judged otherwise.
        bars = [
            item
            for item in unsafe[number]
            if item in entry.critical and not (item in given and given[item].points >= most[item])
        ]
        if item := alone(bars, entry.spoken):
            found[number] = item
    return found


def _answer(entry: Marked, item: str) -> tuple[str, str, int, str, str]:
    """Return what an answer is, whichever entry holds it."""
    answer = next((row.answer for row in entry.marks if row.item == item), "")
    return entry.apprentice, entry.module, entry.attempt, item, answer
