"""The ledger itself: adding entries to it and reading them.

Everything happens on the connection, and so in the transaction, of the caller: what goes into nbgrader's gradebook and
what goes into the ledger are committed together or not at all.
"""

from __future__ import annotations

import getpass
import os
import secrets
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import ColumnElement, Connection, Row, Table, bindparam, func, insert, select, update

from trainkit_grading.errors import LedgerError
from trainkit_grading.ledger import details, versions
from trainkit_grading.ledger.entries import Entry, MarkRow, Note, Sealer, printable
from trainkit_grading.ledger.kinds import Changed, Forgotten, Marked, Voided
from trainkit_grading.ledger.rows import ENTRY_COLUMNS, MARK_VALUES, NOTE_VALUES, covered, entry_of, rows_of
from trainkit_grading.ledger.tables import ENTRY, HEAD, MARK, NOTE, PERSON, SHOWN
from trainkit_grading.support.bulk_sql import insert_rows

if TYPE_CHECKING:
    from trainkit_grading.course.seeds import Seed


E = TypeVar("E", bound=Entry)

_SOME = 500  # values in one IN (...), well under what every database takes


def actor() -> str:
    """Return who is at work here: the name on the hub, else that of the account."""
    try:
        name = os.environ.get("JUPYTERHUB_USER") or getpass.getuser()
    except (OSError, KeyError):  # an account without a name
        name = "unknown"
    return printable(name)[:128]


@dataclass(frozen=True, slots=True)
class Standing:
    """The newest marks of one attempt: what is needed to compare and to choose, without the items."""

    apprentice: str
    number: int
    attempt: int
    form: str
    journal: str
    arrived: str
    points: float
    out_of: float
    outcome: str
    notes_hash: str
    counts: bool


# The columns that are values of it as they are.
_STANDING = tuple(field.name for field in fields(Standing))[1:-1]


@dataclass(frozen=True, slots=True)
class PointsByHand:
    """Points that a person has given for an item: how many, for which answer, and in which entry it says so."""

    points: float
    answer: str
    entry: int


class Ledger:
    """The ledger of a course, on an open connection.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that the caller commits.
    seed : Seed
        The course's secret, from which the key of the seals comes.
    """

    def __init__(self, connection: Connection, seed: Seed) -> None:
        self._connection = connection
        self._sealer = Sealer(seed)
        self._seed = seed
        versions.ensure(connection)

    @property
    def connection(self) -> Connection:
        """The connection it stands on, for questions that read columns alone."""
        return self._connection

    def end(self) -> tuple[int, str]:
        """Return number and seal of the last entry."""
        row = self._connection.execute(select(HEAD.c.number, HEAD.c.seal)).one()
        return row.number, row.seal

    def hold(self) -> tuple[int, str]:
        """Keep others from adding until the transaction ends; return number and seal of the last entry.

        Raises
        ------
        LedgerError
            If the ledger does not tell its last entry.
        """
        # Setting the number to itself takes the lock that reading would not take.
        self._connection.execute(update(HEAD).values(number=HEAD.c.number))
        rows = self._connection.execute(select(HEAD.c.number, HEAD.c.seal)).all()
        if len(rows) != 1:
            raise LedgerError(
                f"{len(rows)} rows",
                rule="One row of the ledger tells its last entry; somebody has taken it out or added another.",
                remedy="Nothing was written. Restore the database from a copy.",
            )
        return rows[0].number, rows[0].seal

    def add(self, entries: Sequence[E]) -> tuple[E, ...]:
        """Add entries in their order; return them with their numbers."""
        if not entries:
            return ()
        number, seal = self.hold()
        people = self.people(entry.apprentice for entry in entries)
        now = datetime.now(UTC).isoformat(timespec="microseconds")
        by = actor()
        rows: list[tuple[Any, ...]] = []
        marks: list[tuple[Any, ...]] = []
        notes: list[tuple[Any, ...]] = []
        for place, entry in enumerate(entries, start=number + 1):
            row, own_marks, own_notes = rows_of(entry, place, people.get(entry.apprentice, ""), now, by)
            before, seal = seal, self._sealer.seal(*covered(row, own_marks, own_notes), seal)
            rows.append((*row, before, seal))
            marks += own_marks
            notes += own_notes
        insert_rows(self._connection, ENTRY, (*ENTRY_COLUMNS, "before", "seal"), rows)
        insert_rows(self._connection, MARK, MARK.columns.keys(), marks)
        insert_rows(self._connection, NOTE, NOTE.columns.keys(), notes)
        last = number + len(entries)
        closing = self._sealer.closing(last, seal)
        self._connection.execute(update(HEAD).values(number=last, seal=seal, closing=closing))
        return tuple(replace(entry, number=row[0], at=now) for entry, row in zip(entries, rows, strict=True))

    def standing(self, module: str, apprentices: Sequence[str] | None = None) -> dict[tuple[str, int], Standing]:
        """Return the newest marks of each attempt at a module, by apprentice and attempt."""
        newest = (
            select(func.max(ENTRY.c.number).label("number"))
            .where(ENTRY.c.kind == Marked.kind, ENTRY.c.module == module, *_of(ENTRY, apprentices))
            .group_by(ENTRY.c.person, ENTRY.c.attempt)
            .subquery()
        )
        own = (ENTRY.c[name] for name in _STANDING)
        query = (
            select(PERSON.c.apprentice, *own, ENTRY.c.detail)
            .join(newest, newest.c.number == ENTRY.c.number)
            .join(PERSON, PERSON.c.person == ENTRY.c.person)
        )
        rows = ([*row[:-1], details.counts(row.detail)] for row in self._connection.execute(query))
        found = [Standing(*values) for values in rows]
        return {(of.apprentice, of.attempt): of for of in found}

    def judged(
        self, module: str, apprentices: Sequence[str] | None = None, *, forgotten: bool = False
    ) -> dict[tuple[str, int], dict[str, PointsByHand]]:
        """Return the points that people have given and not taken back, by apprentice and attempt, then by item.

        With ``forgotten`` those of people who were forgotten, too, by their random identifiers.
        """
        query = (
            select(ENTRY.c.number, ENTRY.c.attempt, ENTRY.c.detail, ENTRY.c.person, PERSON.c.apprentice)
            .join(PERSON, PERSON.c.person == ENTRY.c.person, isouter=forgotten)
            .where(ENTRY.c.kind.in_((Changed.kind, Voided.kind)), ENTRY.c.module == module, *_of(ENTRY, apprentices))
            .order_by(ENTRY.c.number)
        )
        found: dict[tuple[str, int], dict[str, PointsByHand]] = {}
        for row in self._connection.execute(query):
            said = details.read(Changed, row.detail)
            if said.field != "points":
                continue
            of = found.setdefault((row.apprentice or row.person, row.attempt), {})
            if said.after is None:
                of.pop(said.item, None)
            else:
                of[said.item] = PointsByHand(float(said.after), said.answer, row.number)
        return found

    def marked(self) -> list[tuple[str, str]]:
        """Return who was marked in which module; people who were forgotten are left out."""
        query = (
            select(PERSON.c.apprentice, ENTRY.c.module)
            .join(PERSON, PERSON.c.person == ENTRY.c.person)
            .where(ENTRY.c.kind == Marked.kind)
            .distinct()
        )
        return sorted((apprentice, module) for apprentice, module in self._connection.execute(query))

    def shown(self, module: str, apprentices: Sequence[str] | None = None) -> dict[str, int]:
        """Return the number of the entry that nbgrader's gradebook shows of each apprentice."""
        query = (
            select(PERSON.c.apprentice, SHOWN.c.entry)
            .join(PERSON, PERSON.c.person == SHOWN.c.person)
            .where(SHOWN.c.module == module, *_of(SHOWN, apprentices))
        )
        return {row.apprentice: row.entry for row in self._connection.execute(query)}

    def show(self, module: str, entries: Mapping[str, int]) -> None:
        """Note which entry the gradebook shows of each apprentice from now on."""
        before = self.shown(module, list(entries))
        people = self.people(entries)
        new = [
            {"module": module, "person": people[name], "entry": entry}
            for name, entry in entries.items()
            if name not in before
        ]
        moved = [
            {"of": people[name], "to": entry}
            for name, entry in entries.items()
            if name in before and before[name] != entry
        ]
        if new:
            self._connection.execute(insert(SHOWN), new)
        if moved:
            self._connection.execute(
                update(SHOWN)
                .where(SHOWN.c.module == module, SHOWN.c.person == bindparam("of"))
                .values(entry=bindparam("to")),
                moved,
            )

    def entries(
        self,
        kind: type[E],
        module: str | Sequence[str] = "",
        apprentice: str | Sequence[str] = "",
        marks: bool = True,
    ) -> Iterator[E]:
        """Read the entries of a kind (all of them for :class:`Entry`) in their order; of modules, of people."""
        query = select(ENTRY, PERSON.c.apprentice).join(PERSON, PERSON.c.person == ENTRY.c.person, isouter=True)
        wanted = details.kinds(kind)
        # One person has few entries, and a kind may have many: the database must not go by the kind then.
        if wanted and not (apprentice and isinstance(apprentice, str)):
            query = query.where(ENTRY.c.kind.in_(wanted))
        if module:
            query = query.where(ENTRY.c.module.in_([module] if isinstance(module, str) else module))
        if apprentice:
            one = select(PERSON.c.person).where(PERSON.c.apprentice == apprentice).scalar_subquery()
            query = query.where(*((ENTRY.c.person == one,) if isinstance(apprentice, str) else _of(ENTRY, apprentice)))
        for some in self._connection.execute(query.order_by(ENTRY.c.number)).partitions(_SOME):
            yield from self._whole(some, kind, marks)

    def read(self, kind: type[E], numbers: Iterable[int], marks: bool = True) -> dict[int, E]:
        """Read the entries of these numbers; those of another kind are left out."""
        wanted = sorted(set(numbers))
        found: dict[int, E] = {}
        for begin in range(0, len(wanted), _SOME):
            rows = self._connection.execute(
                select(ENTRY, PERSON.c.apprentice)
                .join(PERSON, PERSON.c.person == ENTRY.c.person, isouter=True)
                .where(ENTRY.c.number.in_(wanted[begin : begin + _SOME]))
            ).all()
            found |= {entry.number: entry for entry in self._whole(rows, kind, marks)}
        return found

    def _whole(self, found: Sequence[Row[Any]], kind: type[E], with_marks: bool) -> Iterator[E]:
        wanted = details.kinds(kind)
        rows = [row for row in found if row.kind in wanted] if wanted else found
        numbers = [row.number for row in rows]
        marks: dict[int, list[MarkRow]] = {}
        notes: dict[int, list[Note]] = {}
        if with_marks and numbers:
            query = select(MARK.c.entry, *MARK_VALUES).where(MARK.c.entry.in_(numbers))
            for number, *values in self._connection.execute(query.order_by(MARK.c.entry, MARK.c.place)):
                marks.setdefault(number, []).append(MarkRow(*values))
        if numbers:
            query = select(NOTE.c.entry, *NOTE_VALUES).where(NOTE.c.entry.in_(numbers))
            for number, *values in self._connection.execute(query.order_by(NOTE.c.entry, NOTE.c.place)):
                notes.setdefault(number, []).append(Note(*values))
        for row in rows:
            entry = entry_of(row, tuple(marks.get(row.number, ())), tuple(notes.get(row.number, ())))
            if isinstance(entry, kind):
                yield entry

    def sign(self, apprentice: str) -> str:
        """Return what an entry about forgetting keeps of an identifier: with the seed alone it can be compared."""
        return self._seed.digest("forgotten", apprentice).hex()

    def forgotten(self, apprentices: Iterable[str]) -> frozenset[str]:
        """Return which of these identifiers are those of people who were forgotten."""
        query = select(ENTRY.c.detail).where(ENTRY.c.kind == Forgotten.kind)
        signs = {details.read(Forgotten, detail).sign for (detail,) in self._connection.execute(query)}
        return frozenset(name for name in apprentices if self.sign(name) in signs) if signs else frozenset()

    def people(self, apprentices: Iterable[str]) -> dict[str, str]:
        """Return the random identifier of each person; who has none yet gets one, in a transaction that holds.

        Raises
        ------
        LedgerError
            If somebody without one was forgotten under this identifier.
        """
        named = sorted({name for name in apprentices if name})
        known: dict[str, str] = {}
        for begin in range(0, len(named), _SOME):
            query = select(PERSON).where(PERSON.c.apprentice.in_(named[begin : begin + _SOME]))
            known |= {row.apprentice: row.person for row in self._connection.execute(query)}
        new = {name: secrets.token_hex(16) for name in named if name not in known}
        if new:
            # Codes of forms hang on the identifier: given to it again, old marks would have a name again.
            for name in self.forgotten(new):
                raise LedgerError(
                    name,
                    rule="Somebody with this identifier was forgotten, so nothing more is recorded under it.",
                    remedy=f"Clear this folder of them: trainkit-course forget {name}. Somebody else gets another one.",
                )
            rows = [
                {"person": person, "apprentice": name, "seal": self._sealer.person(person, name)}
                for name, person in new.items()
            ]
            self._connection.execute(insert(PERSON), rows)
        return known | new

    def names(self, people: Iterable[str]) -> dict[str, str]:
        """Return whom random identifiers stand for; those of people who were forgotten are left out."""
        wanted = sorted(set(people))
        found: dict[str, str] = {}
        for begin in range(0, len(wanted), _SOME):
            query = select(PERSON).where(PERSON.c.person.in_(wanted[begin : begin + _SOME]))
            found |= {row.person: row.apprentice for row in self._connection.execute(query)}
        return found


def _of(table: Table, apprentices: Sequence[str] | None) -> tuple[ColumnElement[bool], ...]:
    """Return the condition that a row is about one of these people; none where it may be about anybody.

    It stands on the table itself: a join alone would let the database look through everybody's rows for each few.
    """
    if apprentices is None or len(apprentices) > _SOME:
        return ()
    return (table.c.person.in_(select(PERSON.c.person).where(PERSON.c.apprentice.in_(apprentices))),)
