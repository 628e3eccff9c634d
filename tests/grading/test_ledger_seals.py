"""Nothing in the ledger can be changed, added or taken out without being found, not even past its triggers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Boolean, Column, Connection, Float, Integer, Table, delete, insert, select, update
from sqlalchemy.exc import DBAPIError

from trainkit_grading.course.seeds import Seed
from trainkit_grading.errors import LedgerError
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Entry, MarkRow, Note, Sealer, digest
from trainkit_grading.ledger.kinds import Changed
from trainkit_grading.ledger.tables import ENTRY, HEAD, MARK, NOTE, PERSON, SHOWN
from trainkit_grading.ledger.verifying import verify

from .ledgers import (
    MODULE,
    SEED,
    TABLES,
    fill,
    found_out,
    marked,
    open_database,
    proof,
    row_where,
    rows_of,
    without_triggers,
)
from .makers import ON_BOTH

# Returns the address of a filled ledger, by the kind of its database.
Filled = Callable[[str], str]


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Filled:
    """Make a filled ledger once for each database, and return its address."""
    made: dict[str, str] = {}

    def of(where: str) -> str:
        if where not in made:
            if where == "sqlite":
                made[where] = f"sqlite:///{tmp_path_factory.mktemp('ledger') / 'marks.db'}"
            else:
                server = request.getfixturevalue("postgres")
                made[where] = server.address(server.new_database())
            with open_database(made[where]) as connection:
                fill(connection)
                connection.commit()
        return made[where]

    return of


@pytest.fixture
def ledger(where: str, filled: Filled) -> Iterator[Connection]:
    """An open, filled ledger without its triggers; whatever a test does to it is rolled back."""
    with open_database(filled(where)) as connection:
        without_triggers(connection)
        yield connection
        connection.rollback()


@contextmanager
def undone(connection: Connection) -> Iterator[None]:
    """Try something that is rolled back afterwards."""
    with connection.begin_nested() as point:
        yield
        point.rollback()


def another(column: Column[Any], value: Any) -> Any:
    """Return some other value that the column can hold."""
    if isinstance(column.type, Boolean):
        return not value
    if isinstance(column.type, Integer):
        return value + 1000
    if isinstance(column.type, Float):
        return value + 0.25
    if value is None:
        return "{}"
    # As long as before where the column is full.
    return value[:-1] + ("0" if value[-1:] != "0" else "1") if value else "x"


@ON_BOTH
def test_an_untouched_ledger_is_proven(ledger: Connection) -> None:
    seen = proof(ledger)
    assert (seen.entries, seen.faults, seen.forgotten) == (6, (), 0)
    assert seen.seal == ledger.execute(select(ENTRY.c.seal).where(ENTRY.c.number == 6)).scalar_one()
    assert not found_out(ledger)


@ON_BOTH
@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_change_of_a_single_cell_is_found(ledger: Connection, table: Table, where: str) -> None:
    rows = rows_of(ledger, table)
    assert rows
    # Every row where it costs little; what the databases could do differently shows in the first and the last.
    for row in rows if where == "sqlite" else (rows[0], rows[-1]):
        for column in table.columns:
            with undone(ledger):
                changed = update(table).where(row_where(table, row))
                ledger.execute(changed.values({column.name: another(column, row[column.name])}))
                assert found_out(ledger), (table.name, column.name, row)
    assert not found_out(ledger)


@ON_BOTH
@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_row_that_is_taken_out_is_found(ledger: Connection, table: Table) -> None:
    for row in rows_of(ledger, table):
        with undone(ledger):
            ledger.execute(delete(table).where(row_where(table, row)))
            assert found_out(ledger), (table.name, row)


@ON_BOTH
@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_row_that_is_added_is_found(ledger: Connection, table: Table) -> None:
    # A copy under the next free key, which is as much as can be made without the course's secret.
    for row in rows_of(ledger, table):
        with undone(ledger):
            key = list(table.primary_key.columns)[-1]
            copy = {**row, key.name: another(key, row[key.name])}
            if table is ENTRY:
                copy["number"], copy["before"] = 7, rows_of(ledger, ENTRY)[-1]["seal"]
            if table is PERSON:
                copy["apprentice"] = f"{row['apprentice']} again"
            ledger.execute(insert(table).values(copy))
            assert found_out(ledger), (table.name, row)


@ON_BOTH
def test_an_entry_added_at_the_end_with_a_seal_of_another_secret_is_found(ledger: Connection) -> None:
    Ledger(ledger, Seed(bytes(32))).add([marked("amir", attempt=2, points=2.0)])
    seen = proof(ledger)
    assert seen.faults == (
        "Entry 7 (marked, bench-order, attempt 2) was changed after it was written.",
        "The ledger did not end with entry 7: entries were cut off at its end.",
    )


def swaps(connection: Connection, table: Table, one: dict[str, Any], other: dict[str, Any], names: list[str]) -> None:
    """Exchange some columns of two rows."""
    away = {name: "?" * len(value) if isinstance(value := one[name], str) else -1 for name in names}
    connection.execute(update(table).where(row_where(table, one)).values(away))
    of_one = row_where(table, {**one, **away})
    connection.execute(update(table).where(row_where(table, other)).values({name: one[name] for name in names}))
    connection.execute(update(table).where(of_one).values({name: other[name] for name in names}))


@ON_BOTH
@pytest.mark.parametrize(
    ("table", "names"),
    [
        (PERSON, ["apprentice"]),
        (PERSON, ["person"]),
        (ENTRY, ["number"]),
        (ENTRY, ["number", "before"]),
        (ENTRY, ["person"]),
        (ENTRY, ["points", "out_of", "outcome"]),
        (ENTRY, ["seal"]),
        (MARK, ["entry"]),
        (MARK, ["response"]),
        (MARK, ["response", "response_hash"]),
        (NOTE, ["entry"]),
        (NOTE, ["text", "text_hash"]),
        (SHOWN, ["entry"]),
        (SHOWN, ["person"]),
    ],
    ids=lambda value: getattr(value, "name", None) or "+".join(value),
)
def test_two_rows_that_change_places_are_found(ledger: Connection, where: str, table: Table, names: list[str]) -> None:
    rows = rows_of(ledger, table)
    tried = 0
    for one in rows:
        for other in rows:
            if where != "sqlite" and tried > 1:
                return  # the other database has shown them all
            differing = [name for name in names if one[name] != other[name]]
            if one is other or len(differing) < len(names) or any(one[name] is None for name in names):
                continue
            if table is MARK and names == ["entry"] and one["place"] != other["place"]:
                continue
            with undone(ledger):
                swaps(ledger, table, one, other, names)
                # Two rows that say the same can change places: nothing is another afterwards.
                differ = rows_of(ledger, table) != rows
                assert found_out(ledger) == differ, (one, other)
            tried += differ
    assert tried


@ON_BOTH
@pytest.mark.parametrize("mended", ["not at all", "number", "number and seal", "an older end"])
def test_entries_that_are_cut_off_at_the_end_are_found(ledger: Connection, mended: str) -> None:
    rows = rows_of(ledger, ENTRY)
    for left in (0, 1, 3, 5):
        with undone(ledger):
            for table, column in ((ENTRY, ENTRY.c.number), (MARK, MARK.c.entry), (NOTE, NOTE.c.entry)):
                ledger.execute(delete(table).where(column > left))
            ledger.execute(delete(SHOWN).where(SHOWN.c.entry > left))
            # Whoever cuts off also tidies up: nobody is known of whom there are no marks.
            ledger.execute(delete(PERSON).where(PERSON.c.person.not_in(select(ENTRY.c.person))))
            seal = rows[left - 1]["seal"] if left else ""
            values: dict[str, dict[str, Any]] = {
                "not at all": {},
                "number": {"number": left},
                "number and seal": {"number": left, "seal": seal},
                "an older end": {"number": left, "seal": seal, "closing": rows[left]["seal"]},
            }
            if values[mended]:
                ledger.execute(update(HEAD).values(values[mended]))
            assert found_out(ledger), left


@ON_BOTH
def test_a_value_that_is_no_number_is_a_fault_and_no_crash(ledger: Connection, where: str) -> None:
    nothing = float("inf") if where == "sqlite" else float("nan")
    ledger.execute(update(ENTRY).where(ENTRY.c.number == 2).values(points=nothing))
    assert proof(ledger).faults == ("Entry 2 (marked, bench-order, attempt 1) was changed after it was written.",)


@ON_BOTH
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_random_tampering_is_found(ledger: Connection, data: st.DataObject) -> None:
    """Several hands in several places: unless everything is as it was in the end, it is found."""
    before = {table.name: rows_of(ledger, table) for table in TABLES}
    with undone(ledger):
        for _ in range(data.draw(st.integers(1, 4))):
            table = data.draw(st.sampled_from(TABLES))
            rows = rows_of(ledger, table)
            if not rows:
                continue
            row = data.draw(st.sampled_from(rows))
            if data.draw(st.integers(0, 3)) == 0:
                ledger.execute(delete(table).where(row_where(table, row)))
                continue
            keys = {column.name for column in table.primary_key.columns} | {"apprentice"}
            column = data.draw(st.sampled_from([column for column in table.columns if column.name not in keys]))
            # Values that are met in the table already are the ones that a forger would take.
            value = data.draw(st.sampled_from([row[column.name] for row in rows] + [another(column, row[column.name])]))
            ledger.execute(update(table).where(row_where(table, row)).values({column.name: value}))
        after = {table.name: rows_of(ledger, table) for table in TABLES}
        # Which of a person's own marks is shown follows from the rest; it is compared by `agreement`, not sealed.
        shown_alike = after | {"trainkit_shown": before["trainkit_shown"]} == before
        changed = after != before and not (shown_alike and _own_marks(after))
        assert found_out(ledger) == changed


def _own_marks(rows: dict[str, list[dict[str, Any]]]) -> bool:
    entries = {row["number"]: row for row in rows["trainkit_entry"]}
    shown = rows["trainkit_shown"]
    own = [
        row["entry"] in entries
        and entries[row["entry"]]["kind"] == "marked"
        and (entries[row["entry"]]["person"], entries[row["entry"]]["module"]) == (row["person"], row["module"])
        for row in shown
    ]
    return all(own) and len(shown) == 3


REFUSED = (
    "UPDATE trainkit_entry SET points = 9 WHERE number = 1",
    "UPDATE trainkit_entry SET seal = '' WHERE number = 1",
    "UPDATE trainkit_mark SET points = 9 WHERE entry = 1",
    "UPDATE trainkit_mark SET response = 'another' WHERE entry = 1 AND place = 0",
    "UPDATE trainkit_mark SET response = NULL, reason = 'another' WHERE entry = 1 AND place = 0",
    "UPDATE trainkit_note SET text = 'another' WHERE entry = 1",
    "UPDATE trainkit_note SET text_hash = '' WHERE entry = 1",
    "DELETE FROM trainkit_entry WHERE number = 6",
    "DELETE FROM trainkit_mark WHERE entry = 1",
    "DELETE FROM trainkit_note WHERE entry = 1",
)


@ON_BOTH
def test_triggers_refuse_what_would_change_a_row(filled: Filled, where: str) -> None:
    with open_database(filled(where)) as connection:
        for statement in REFUSED:
            with undone(connection), pytest.raises(DBAPIError, match="rows of the ledger are never"):
                connection.exec_driver_sql(statement)
        assert proof(connection).faults == ()
        connection.rollback()


@ON_BOTH
def test_words_can_be_emptied_and_a_person_forgotten(filled: Filled, where: str) -> None:
    with open_database(filled(where)) as connection:
        person = connection.execute(select(PERSON.c.person).where(PERSON.c.apprentice == "amir")).scalar_one()
        theirs = select(ENTRY.c.number).where(ENTRY.c.person == person)
        connection.execute(update(MARK).where(MARK.c.entry.in_(theirs)).values(response=None))
        connection.execute(update(NOTE).where(NOTE.c.entry.in_(theirs)).values(text=None))
        # As long as the person is known, somebody has to answer for words that are gone.
        faults = proof(connection).faults
        assert "Entry 1: the answer to A1 was taken out, and the person is still known." in faults
        assert len(faults) == 5
        connection.execute(delete(PERSON).where(PERSON.c.person == person))
        seen = proof(connection)
        assert (seen.faults, seen.forgotten, seen.entries) == ((), 3, 6)
        # Nothing else is taken for it: other people's words are still held against their digests.
        connection.execute(update(MARK).where(MARK.c.entry == 2).values(response=None))
        assert proof(connection).faults == ("Entry 2: the answer to A1 was taken out, and the person is still known.",)
        connection.rollback()


@ON_BOTH
def test_who_comes_back_after_being_forgotten_is_another_person(ledger: Connection) -> None:
    person = ledger.execute(select(PERSON.c.person).where(PERSON.c.apprentice == "amir")).scalar_one()
    ledger.execute(delete(PERSON).where(PERSON.c.person == person))
    book = Ledger(ledger, SEED)
    (entry,) = book.add([marked("amir")])
    book.show(MODULE, {"amir": entry.number})
    assert proof(ledger).forgotten == 3
    assert set(book.standing(MODULE, ["amir"])) == {("amir", 1)}
    assert [entry.number for entry in book.entries(Entry, apprentice="amir")] == [7]


@ON_BOTH
def test_nothing_is_added_to_a_ledger_that_does_not_tell_its_end(ledger: Connection) -> None:
    ledger.execute(delete(HEAD))
    with pytest.raises(LedgerError, match="Restore the database"):
        Ledger(ledger, SEED).add([marked("amir")])


ODD = (
    "a\x00b",
    "\ud800",
    "😀 🏴‍☠️ e\u0301",
    "\u202eright to left",
    "'; DROP TABLE trainkit_entry; --",
    "x" * 100_000,
    "line\nline\r\n\ttab",
    "",
)


@ON_BOTH
@pytest.mark.parametrize("words", ODD, ids=[ascii(words[:12]) for words in ODD])
def test_any_words_can_be_written_and_are_proven(ledger: Connection, words: str) -> None:
    marks = (MarkRow("A1", "t/t", "text", '{"text":"' + "ü" * 1000 + '"}', "", 0.0, 1.0, "waiting", words, "", words),)
    book = Ledger(ledger, SEED)
    (entry,) = book.add(
        [Changed("amir", MODULE, 1, marks=marks, notes=(Note("comment", words),), why=words, by=words[:200])]
    )
    assert proof(ledger).faults == ()
    back = book.read(Changed, [entry.number])[entry.number]
    # NUL and half a pair of surrogates are written out, because no database holds them; all else comes back.
    written = words.replace("\x00", "\\x00").replace("\ud800", "\\ud800")
    assert (back.why, back.marks[0].reason, back.marks[0].method, back.notes[0].text) == (written,) * 4
    assert back.notes[0].text_hash == digest(written)
    assert len(back.by) <= 128


def test_a_seal_hangs_on_everything_that_it_covers() -> None:
    sealer = Sealer(SEED)
    values: tuple[list[Any], list[list[Any]], list[list[Any]], str] = ([1, "a"], [[1, 0.5]], [["x"]], "b" * 64)
    seals = {
        sealer.seal(*values),
        sealer.seal([1, "b"], *values[1:]),
        sealer.seal(values[0], [[1, 0.25]], *values[2:]),
        sealer.seal(*values[:2], [["y"]], values[3]),
        sealer.seal(*values[:3], "c" * 64),
        sealer.seal([1], [["a"], [1, 0.5]], *values[2:]),
        Sealer(Seed(bytes(32))).seal(*values),
        sealer.person("a" * 32, "amir"),
        sealer.person("amir", "a" * 32),
        sealer.closing(1, "a" * 64),
    }
    assert len(seals) == 10


def test_the_wrong_seed_proves_nothing(filled: Filled) -> None:
    with open_database(filled("sqlite")) as connection:
        seen = verify(connection, Seed(bytes(32)), at_most=4)
    assert len(seen.faults) == 4
