"""Proving that the ledger is what was written: every seal is computed again, and nothing may be missing.

What a seal covers is said in :mod:`trainkit_grading.ledger.entries`. The last number and seal stand in a row of their
own, under a seal that stands nowhere else, so that entries cannot be cut off at the end; noted down elsewhere, they
also prove that nobody who has the seed wrote the ledger anew, or put back an older copy of all of it. Which entry the
gradebook shows follows from the rest and carries no seal; here it is held against the entry that it names.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Row, and_, func, or_, select

from trainkit_grading.ledger import details
from trainkit_grading.ledger.entries import Sealer, digest
from trainkit_grading.ledger.kinds import Forgotten, Marked
from trainkit_grading.ledger.rows import ENTRY_COLUMNS, covered
from trainkit_grading.ledger.tables import ENTRY, HEAD, MARK, NOTE, PERSON, SHOWN

if TYPE_CHECKING:
    from trainkit_grading.course.seeds import Seed


_SOME = 500


@dataclass(frozen=True, slots=True)
class Proof:
    """What verifying found.

    Parameters
    ----------
    entries : int
        How many entries there are.
    seal : str
        The seal of the last one.
    faults : tuple of str
        What is wrong, a sentence each; empty for a ledger that is what was written.
    forgotten : int
        Entries of people whose row has been taken out.
    """

    entries: int
    seal: str
    faults: tuple[str, ...] = ()
    forgotten: int = 0


def verify(
    connection: Connection, seed: Seed, at_most: int = 50, *, sealed: bool = True, since: tuple[int, str] = (0, "")
) -> Proof:
    """Check every row of the ledger.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the course's database.
    seed : Seed
        The course's secret.
    at_most : int, optional
        How many faults are told.
    sealed : bool, optional
        Whether seals are held against the seed; without it (an archive that was packed without its seed) only numbers,
        the chain of seals and words are checked, which somebody with the database alone can make fit.
    since : tuple of int and str, optional
        Number and seal of an entry: it and those before it are known to be what was written, and are not read.
    """
    sealer = Sealer(seed)
    faults: list[str] = []
    expected, seal = since[0] + 1, since[1]
    forgotten = _nobodys(connection, since[0])
    people = set()
    emptied = _emptied(connection)
    for person, apprentice, of_person in connection.execute(select(PERSON)):
        people.add(person)
        if sealed and sealer.person(person, apprentice) != of_person:
            faults.append(f"The identifier {person} does not stand for the person that it was given to.")
    after = select(ENTRY).where(ENTRY.c.number > since[0]) if since[0] else select(ENTRY)
    in_order = connection.execute(after.order_by(ENTRY.c.number), execution_options={"yield_per": _SOME})
    for some in in_order.partitions(_SOME):
        first, last = some[0].number, some[-1].number
        marks = _by_entry(connection, MARK, first, last)
        notes = _by_entry(connection, NOTE, first, last)
        for row in some:
            if row.number != expected:
                faults.append(_gap(expected, row.number))
            own_marks, own_notes = marks.get(row.number, []), notes.get(row.number, [])
            if row.before != seal and row.number == expected:
                faults.append(f"Entry {row.number} does not follow the one before it: one of them was exchanged.")
            if sealed and _computed(sealer, row, own_marks, own_notes) != row.seal:
                faults.append(f"Entry {row.number} ({_about(row)}) was changed after it was written.")
            gone = bool(row.person) and row.person not in people
            forgotten += gone
            faults += _words(row, own_marks, own_notes, emptied, gone=gone)
            expected, seal = row.number + 1, row.seal
    faults += _strays(connection)
    faults += _shown(connection)
    faults += _unshown(connection)
    faults += _end(connection, sealer if sealed else None, expected - 1, seal)
    return Proof(expected - 1, seal, tuple(faults[:at_most]), forgotten)


def _nobodys(connection: Connection, last: int) -> int:
    """Return how many entries up to this one are about people who were forgotten."""
    if not last:
        return 0
    query = select(func.count()).where(
        ENTRY.c.number <= last, ENTRY.c.person != "", ENTRY.c.person.not_in(select(PERSON.c.person))
    )
    return int(connection.execute(query).scalar_one())


def _computed(sealer: Sealer, row: Row[Any], marks: Sequence[Row[Any]], notes: Sequence[Row[Any]]) -> str | None:
    """Return the seal that an entry ought to have, or None where its values are none that anything here writes."""
    try:
        own = row[: len(ENTRY_COLUMNS)]  # before and seal stand behind them
        return sealer.seal(*covered(own, map(tuple, marks), map(tuple, notes)), row.before)
    except (TypeError, ValueError):  # bytes, or what is no number
        return None


def _by_entry(connection: Connection, table: Any, first: int, last: int) -> dict[int, list[Any]]:
    rows = connection.execute(
        select(table).where(table.c.entry.between(first, last)).order_by(table.c.entry, table.c.place)
    )
    return {number: list(of) for number, of in itertools.groupby(rows, key=lambda row: int(row.entry))}


def _gap(expected: int, met: int) -> str:
    if met < expected:
        return f"Entry {met} stands there twice."
    return f"Entry {expected} is missing." if met == expected + 1 else f"Entries {expected} to {met - 1} are missing."


def _about(row: Row[Any]) -> str:
    parts = [row.kind, row.module, f"attempt {row.attempt}" if row.attempt else ""]
    return ", ".join(part for part in parts if part)


def _emptied(connection: Connection) -> frozenset[tuple[int, int]]:
    """Return which notes were emptied because they named somebody who was forgotten: entry and place."""
    query = select(ENTRY.c.detail).where(ENTRY.c.kind == Forgotten.kind)
    try:
        said = [details.read(Forgotten, detail) for (detail,) in connection.execute(query)]
        return frozenset(place for of in said for place in of.emptied)
    except (ValueError, TypeError, AttributeError):  # such an entry was changed, and its seal says so
        return frozenset()


def _words(
    row: Row[Any], marks: Sequence[Any], notes: Sequence[Any], emptied: frozenset[tuple[int, int]], *, gone: bool
) -> Iterator[str]:
    """Compare the words with their digests; only of people who were forgotten, or about them, may they be missing."""
    kept = [(f"the answer to {mark.item}", mark.response, mark.response_hash, gone) for mark in marks]
    kept += [
        (f"a note ({note.kind})", note.text, note.text_hash, gone or (row.number, note.place) in emptied)
        for note in notes
    ]
    for what, text, known, free in kept:
        if text is None and known and not free:
            yield f"Entry {row.number}: {what} was taken out, and the person is still known."
        elif text is not None and (not isinstance(text, str) or digest(text) != known):
            yield f"Entry {row.number}: {what} was changed after it was written."


def _strays(connection: Connection) -> Iterator[str]:
    for table, what in ((MARK, "mark"), (NOTE, "note")):
        query = select(func.count()).select_from(table).where(table.c.entry.not_in(select(ENTRY.c.number)))
        count = connection.execute(query).scalar_one()
        if count:
            yield f"{count} {what} rows belong to no entry."


def _shown(connection: Connection) -> Iterator[str]:
    query = (
        select(SHOWN.c.entry, SHOWN.c.module)
        .join(ENTRY, ENTRY.c.number == SHOWN.c.entry, isouter=True)
        .where(
            or_(
                ENTRY.c.number.is_(None),
                ENTRY.c.kind != Marked.kind,
                ENTRY.c.module != SHOWN.c.module,
                ENTRY.c.person != SHOWN.c.person,
            )
        )
        .order_by(SHOWN.c.module, SHOWN.c.entry)
    )
    for row in connection.execute(query):
        yield f"The gradebook is said to show entry {row.entry} in {row.module}, which holds no marks of that person."


def _unshown(connection: Connection) -> Iterator[str]:
    query = (
        select(ENTRY.c.module, ENTRY.c.person)
        .join(PERSON, PERSON.c.person == ENTRY.c.person)
        .join(SHOWN, and_(SHOWN.c.module == ENTRY.c.module, SHOWN.c.person == ENTRY.c.person), isouter=True)
        .where(ENTRY.c.kind == Marked.kind, SHOWN.c.entry.is_(None))
        .distinct()
        .order_by(ENTRY.c.module, ENTRY.c.person)
    )
    for row in connection.execute(query):
        yield f"The gradebook is not said to show anything of {row.person} in {row.module}, and marks were written."


def _end(connection: Connection, sealer: Sealer | None, number: int, seal: str) -> Iterator[str]:
    heads = connection.execute(select(HEAD)).all()
    if len(heads) != 1:
        yield f"There is one row with the last number and seal; {len(heads)} are there."
    elif heads[0].id != 1:
        yield f"The row with the last number and seal is numbered {heads[0].id}, and 1 was written."
    elif heads[0].number != number:
        yield f"The ledger ends with entry {number}, and it once ended with {heads[0].number}."
    elif heads[0].seal != seal:
        yield f"Entry {number} is not the one that the ledger ended with."
    elif sealer is not None and heads[0].closing != sealer.closing(number, seal):
        yield f"The ledger did not end with entry {number}: entries were cut off at its end."
